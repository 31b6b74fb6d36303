//! Section properties: area and inertia of one pitch and per metre of width.
//!
//! Two models. Thin: all steel lies on the middle skin. Thick: flats are quadrilaterals with mitred ends at
//! sharp folds, bends are sectors of a ring; own-thickness terms are included, nothing overlaps. Bending is
//! about the level axis through the neutral axis (ribs span the bending direction). For a sine the arcs of
//! its pieces stand for the wave. For preliminary design; the licensed engineer decides.

use super::{Piece, Profile, corner_turns};

/// Section properties of a profile; "per metre" is per metre of plan width across the ribs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// Plan width they are for: one pitch, mm.
    pub pitch: f64,
    /// Length of the middle skin over one pitch, mm.
    pub developed: f64,
    /// Area of steel of one pitch, mm².
    pub area: f64,
    /// Height of the neutral axis over mid-depth, mm.
    pub neutral_axis: f64,
    /// Second moment of area of one pitch about the neutral axis, mm⁴.
    pub inertia: f64,
}

impl Section {
    /// Developed length over pitch.
    pub fn width_factor(&self) -> f64 {
        self.developed / self.pitch
    }

    /// Area per metre of width, mm²/m.
    pub fn area_per_metre(&self) -> f64 {
        self.area / self.pitch * 1000.0
    }

    /// Second moment of area per metre of width, mm⁴/m.
    pub fn inertia_per_metre(&self) -> f64 {
        self.inertia / self.pitch * 1000.0
    }

    /// Radius of gyration, mm.
    pub fn radius_of_gyration(&self) -> f64 {
        (self.inertia / self.area).sqrt()
    }

    /// Mass per plan area, kg/m², for a density in kg/m³.
    pub fn mass_per_area(&self, density: f64) -> f64 {
        self.area_per_metre() * 1.0e-6 * density
    }
}

/// Area, and first and second moment about mid-depth.
#[derive(Default)]
struct Moments([f64; 3]);

impl Moments {
    fn add(&mut self, area: f64, first: f64, second: f64) {
        self.0[0] += area;
        self.0[1] += first;
        self.0[2] += second;
    }

    fn section(&self, profile: &Profile) -> Section {
        let [area, first, second] = self.0;
        Section {
            pitch: profile.pitch(),
            developed: profile.developed_length(0.0),
            area,
            neutral_axis: first / area,
            inertia: second - first * first / area,
        }
    }
}

impl Profile {
    /// Section properties with all steel on the middle skin.
    pub fn thin_section(&self) -> Section {
        let thickness = self.thickness();
        let mut sum = Moments::default();
        self.each_piece(|piece, angle, h, _| match piece {
            Piece::Flat { length } => {
                let rise = length * angle.sin();
                let (area, middle) = (length * thickness, h + rise / 2.0);
                sum.add(area, area * middle, area * (middle * middle + rise * rise / 12.0));
            }
            Piece::Bend { radius, turn } => {
                let (centre, side, [span, cos1, cos2]) = ring(radius, turn, angle, h);
                let arm = side * radius;
                let strip = thickness * radius;
                sum.add(
                    strip * span,
                    strip * (centre * span + arm * cos1),
                    strip * (centre * centre * span + 2.0 * centre * arm * cos1 + arm * arm * cos2),
                );
            }
        });
        sum.section(self)
    }

    /// Section properties of the sheet with its true thickness.
    pub fn section(&self) -> Section {
        let half = self.thickness() / 2.0;
        let mut sum = Moments::default();
        self.each_piece(|piece, angle, h, ends| match piece {
            Piece::Flat { length } => {
                let (sin, cos) = angle.sin_cos();
                let corner = |along: f64, out: f64| [along * cos - out * sin, h + along * sin + out * cos];
                let [start, end] = ends.map(|turn| half * (turn / 2.0).tan());
                quadrilateral(
                    &mut sum,
                    [
                        corner(start, -half),
                        corner(length - end, -half),
                        corner(length + end, half),
                        corner(-start, half),
                    ],
                );
            }
            Piece::Bend { radius, turn } => {
                let (centre, side, [span, cos1, cos2]) = ring(radius, turn, angle, h);
                let (inner, outer) = (radius - half, radius + half);
                let power = |n: i32| (outer.powi(n) - inner.powi(n)) / f64::from(n);
                sum.add(
                    power(2) * span,
                    centre * power(2) * span + side * power(3) * cos1,
                    centre * centre * power(2) * span
                        + 2.0 * centre * side * power(3) * cos1
                        + power(4) * cos2,
                );
            }
        });
        sum.section(self)
    }

    /// Calls `visit` for each flat and each bend with radius: piece, direction (radians) and height at its
    /// start, and for a flat the turns of the sharp corners at its ends.
    fn each_piece(&self, mut visit: impl FnMut(Piece, f64, f64, [f64; 2])) {
        let corners = corner_turns(self.pieces());
        let mut angle = 0.0;
        for (index, piece) in self.pieces().iter().enumerate() {
            if let Some(strip) = self.strips().iter().find(|s| s.piece == index) {
                visit(*piece, angle, strip.h[0], corners[index]);
            }
            if let Piece::Bend { turn, .. } = piece {
                angle -= turn;
            }
        }
    }
}

/// Height of a bend's centre, the side its ring lies on (+1 above the centre), and over its span the
/// integrals of 1, cos and cos² of the direction.
fn ring(radius: f64, turn: f64, angle: f64, h: f64) -> (f64, f64, [f64; 3]) {
    let side = turn.signum();
    let centre = h - side * radius * angle.cos();
    let (low, high) = (angle.min(angle - turn), angle.max(angle - turn));
    let cos1 = high.sin() - low.sin();
    let cos2 = (high - low) / 2.0 + ((2.0 * high).sin() - (2.0 * low).sin()) / 4.0;
    (centre, side, [high - low, cos1, cos2])
}

/// Adds a counter-clockwise quadrilateral (Green's theorem over its edges).
fn quadrilateral(sum: &mut Moments, corners: [[f64; 2]; 4]) {
    for k in 0..4 {
        let (a, b) = (corners[k], corners[(k + 1) % 4]);
        let cross = a[0] * b[1] - b[0] * a[1];
        sum.add(
            cross / 2.0,
            cross * (a[1] + b[1]) / 6.0,
            cross * (a[1] * a[1] + a[1] * b[1] + b[1] * b[1]) / 12.0,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::super::{arc_tangent, sine};
    use super::*;
    use crate::settings::{Value, Values};
    use std::collections::BTreeMap;

    #[track_caller]
    fn near(got: f64, want: f64, within: f64) {
        assert!((got - want).abs() <= within, "{got} is not {want} ± {within}");
    }

    /// Rows of: base thickness, A in²/ft, TL in, Δ degrees, I in⁴/in × 1000, r in, developed width factor.
    #[track_caller]
    fn check_table(pitch: f64, depth: f64, radius: f64, rows: &[[f64; 7]], r_digits: f64, i_rounding: f64) {
        for [base, area, tangent, degrees, inertia, gyration, factor] in rows.iter().copied() {
            let [angle, length] = arc_tangent::tangents(pitch, depth, radius + base / 2.0).unwrap();
            let section = arc_tangent::shape(pitch, depth, radius, base).unwrap().section();
            near(section.area / pitch * 12.0, area, 0.51e-3);
            near(length, tangent, 0.51e-3);
            near(angle.to_degrees(), degrees, 0.51e-2);
            // Printed inertia: reproduced to 0.03 % or its last digit.
            near(section.inertia / pitch * 1000.0, inertia, f64::max(3.5e-4 * inertia, i_rounding));
            near(section.radius_of_gyration(), gyration, 0.51 * r_digits);
            near(section.width_factor(), factor, 0.51e-4);
        }
    }

    // Section properties of arc-and-tangent corrugations, ASTM A796 and the AISI / NCSPA handbooks (from
    // memory); the inertia of 1-1/2 x 1/4 also in Highway Engineering Handbook, table 5.18. Base metal
    // thickness, inside radius. The last column is recomputed.
    #[test]
    fn handbook_tables_of_arc_and_tangent_sheet_are_reproduced() {
        check_table(
            1.5,
            0.25,
            9.0 / 32.0,
            &[
                [0.0478, 0.608, 0.566, 21.52, 0.344, 0.0824, 1.0597],
                [0.0598, 0.761, 0.560, 21.61, 0.439, 0.0832, 1.0598],
                [0.0747, 0.950, 0.554, 21.71, 0.566, 0.0846, 1.0600],
                [0.1046, 1.331, 0.540, 21.94, 0.8565, 0.0879, 1.0604],
                [0.1345, 1.712, 0.526, 22.17, 1.206, 0.0919, 1.0608],
            ],
            1e-4,
            0.51e-3,
        );
        check_table(
            8.0 / 3.0,
            0.5,
            11.0 / 16.0,
            &[
                [0.0359, 0.465, 0.785, 26.56, 1.122, 0.1702, 1.0795],
                [0.0478, 0.619, 0.778, 26.65, 1.503, 0.1707, 1.0797],
                [0.0598, 0.775, 0.770, 26.74, 1.894, 0.1712, 1.0798],
                [0.0747, 0.968, 0.760, 26.86, 2.389, 0.1721, 1.0800],
                [0.1046, 1.356, 0.740, 27.11, 3.425, 0.1741, 1.0804],
                [0.1345, 1.744, 0.720, 27.37, 4.533, 0.1766, 1.0808],
                [0.1644, 2.133, 0.699, 27.65, 5.728, 0.1795, 1.0812],
            ],
            1e-4,
            0.51e-3,
        );
        check_table(
            3.0,
            1.0,
            9.0 / 16.0,
            &[
                [0.0478, 0.711, 0.951, 44.39, 6.890, 0.3410, 1.2398],
                [0.0598, 0.890, 0.938, 44.60, 8.661, 0.3417, 1.2404],
                [0.0747, 1.113, 0.922, 44.87, 10.887, 0.3427, 1.2411],
                [0.1046, 1.560, 0.889, 45.42, 15.455, 0.3448, 1.2427],
                [0.1345, 2.008, 0.855, 46.02, 20.178, 0.3472, 1.2443],
                [0.1644, 2.458, 0.819, 46.65, 25.082, 0.3499, 1.2460],
            ],
            1e-4,
            0.51e-3,
        );
        check_table(
            6.0,
            2.0,
            1.125,
            &[
                [0.1046, 1.556, 1.893, 44.47, 60.416, 0.682, 1.2400],
                [0.1345, 2.003, 1.861, 44.73, 78.158, 0.684, 1.2407],
                [0.1644, 2.449, 1.828, 45.00, 96.153, 0.686, 1.2415],
                [0.1838, 2.739, 1.807, 45.18, 107.974, 0.688, 1.2420],
                [0.2145, 3.199, 1.773, 45.47, 126.934, 0.690, 1.2428],
                [0.2451, 3.658, 1.738, 45.77, 146.163, 0.692, 1.2437],
                [0.2758, 4.119, 1.702, 46.09, 165.812, 0.695, 1.2445],
            ],
            1e-3,
            0.51e-3,
        );
    }

    // The tabulated "5 x 1" is the metric 125 x 26 x R40 sheet; the nominal inch size does not reproduce it.
    #[test]
    fn five_by_one_table_is_the_metric_sheet() {
        let metric = arc_tangent::shape(125.0, 26.0, 40.0, 0.0598 * 25.4).unwrap().section();
        near(metric.area / 125.0 * 12.0 / 25.4, 0.794, 0.51e-3);
        near(metric.inertia / 125.0 / 25.4_f64.powi(3) * 1000.0, 8.850, 4e-4 * 8.85);
        near(metric.radius_of_gyration() / 25.4, 0.3657, 0.51e-4);
        near(metric.width_factor(), 1.1064, 0.51e-4);
        let [angle, length] = arc_tangent::tangents(125.0, 26.0, 40.0 + 0.0598 * 25.4 / 2.0).unwrap();
        near(angle.to_degrees(), 35.58, 0.51e-2);
        near(length / 25.4, 0.730, 1.1e-3);

        let nominal = arc_tangent::shape(5.0, 1.0, 1.5625, 0.0598).unwrap().section();
        near(nominal.area / 5.0 * 12.0, 0.787, 0.51e-3);
        near(nominal.inertia / 5.0 * 1000.0, 8.209, 0.51e-3);
    }

    // Recomputed metric sizes: pitch, depth, R, t; Δ, TL, factor, A mm²/mm, I mm⁴/mm, r.
    #[test]
    fn metric_arc_and_tangent_sheets_come_out() {
        let rows = [
            [67.73, 12.7, 17.46, 1.6, 26.770, 19.507, 1.07987, 1.7278, 32.752, 4.354],
            [76.2, 25.4, 14.29, 1.6, 44.659, 23.741, 1.24054, 1.9849, 149.705, 8.685],
            [125.0, 26.0, 40.0, 1.6, 35.628, 18.413, 1.10646, 1.7703, 152.827, 9.291],
            [152.4, 50.8, 28.58, 3.0, 44.590, 47.695, 1.24034, 3.7210, 1120.99, 17.357],
        ];
        for [p, d, r, t, degrees, tangent, factor, area, inertia, gyration] in rows {
            let [angle, length] = arc_tangent::tangents(p, d, r + t / 2.0).unwrap();
            let section = arc_tangent::shape(p, d, r, t).unwrap().section();
            near(angle.to_degrees(), degrees, 0.51e-3);
            near(length, tangent, 0.51e-3);
            near(section.width_factor(), factor, 0.51e-5);
            near(section.area / p, area, 0.51e-4);
            near(section.inertia / p, inertia, if inertia > 1000.0 { 0.51e-2 } else { 0.51e-3 });
            near(section.radius_of_gyration(), gyration, 0.51e-3);
        }
    }

    fn trapezoid(pitch: f64, depth: f64, crest: f64, valley: f64, thickness: f64) -> Profile {
        let map: BTreeMap<String, Value> = [
            ("pitch", pitch),
            ("depth", depth),
            ("crest", crest),
            ("valley", valley),
            ("thickness", thickness),
        ]
        .map(|(k, v)| (k.to_owned(), Value::Number(v)))
        .into();
        let row = super::super::trapezoid::ROW;
        (row.build)(&Values::check(row.name, row.settings, &map).unwrap()).unwrap()
    }

    // Freight-container panels (dimensions from memory, a typical factory specification); figures recomputed.
    #[test]
    fn container_panels_have_the_listed_properties() {
        for (sizes, developed, area, axis, inertia, mass) in [
            ([278.0, 36.0, 72.0, 70.0, 1.6], 295.88307, 1702.9, 18.122, 360_420.0, 13.368),
            ([278.0, 36.0, 72.0, 70.0, 2.0], 295.88307, 2128.7, 18.122, 450_525.0, 16.710),
            ([250.0, 45.6, 110.0, 104.0, 2.0], 312.04815, 2496.4, 23.238, 1_025_405.0, 19.597),
        ] {
            let [pitch, depth, crest, valley, thickness] = sizes;
            let section = trapezoid(pitch, depth, crest, valley, thickness).thin_section();
            near(section.developed, developed, 0.51e-5);
            near(section.area_per_metre(), area, 0.051);
            near(section.neutral_axis + depth / 2.0, axis, 0.51e-3);
            near(section.inertia_per_metre(), inertia, 0.51);
            near(section.mass_per_area(7850.0), mass, 0.51e-3);
        }
    }

    #[test]
    fn thick_section_of_flat_sheet_is_a_rectangle() {
        let points = [[0.0, 0.0], [50.0, 0.0]].map(|p| Value::List(p.map(Value::Number).to_vec()));
        let map = BTreeMap::from([("points".to_owned(), Value::List(points.to_vec()))]);
        let row = super::super::outline::ROW;
        let sheet = (row.build)(&Values::check(row.name, row.settings, &map).unwrap()).unwrap();
        near(sheet.section().inertia, 50.0 * 8.0 / 12.0, 1e-9);
        near(sheet.thin_section().inertia, 0.0, 1e-9);
    }

    #[test]
    fn thick_section_of_folded_sheet_has_the_area_between_its_skins() {
        // Second method: both skins as polylines, and ∫ (top³ − bottom³)/3 dt over half a pitch by slices.
        let rib = trapezoid(200.0, 40.0, 70.0, 70.0, 4.0);
        let section = rib.section();
        near(section.area, rib.developed_length(0.0) * 4.0, 1e-9 * section.area);
        near(section.neutral_axis, 0.0, 1e-9);
        let miter = 2.0 * ((40.0_f64).atan2(30.0) / 2.0).tan();
        let skin = |t: f64, side: f64| {
            let along = ((t - (35.0 + side * miter)) / 30.0).clamp(0.0, 1.0);
            20.0 - 40.0 * along + side * 2.0
        };
        let steps = 40_000;
        let dt = 100.0 / f64::from(steps);
        let half: f64 = (0..steps)
            .map(|k| (f64::from(k) + 0.5) * dt)
            .map(|t| (skin(t, 1.0).powi(3) - skin(t, -1.0).powi(3)) / 3.0 * dt)
            .sum();
        near(section.inertia, 2.0 * half, 1e-6 * section.inertia);
        assert!(section.inertia > rib.thin_section().inertia);
    }

    #[test]
    fn sine_sheet_has_the_inertia_of_its_wave() {
        // Second method: ∫ h² ds by the midpoint rule along the wave.
        let (pitch, depth) = (76.2, 18.0);
        let section = sine::shape(pitch, depth, 1.0).unwrap().thin_section();
        let (steps, rate) = (20_000, std::f64::consts::TAU / pitch);
        let inertia: f64 = (0..steps)
            .map(|k| {
                let x = (f64::from(k) + 0.5) * pitch / f64::from(steps);
                let ds = 1.0_f64.hypot(9.0 * rate * (rate * x).sin()) * pitch / f64::from(steps);
                (9.0 * (rate * x).cos()).powi(2) * ds
            })
            .sum();
        near(section.inertia, inertia, 2e-3 * inertia);
        near(section.neutral_axis, 0.0, 1e-9);
    }
}
