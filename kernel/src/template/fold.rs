//! Folding a blank back up: the flat outline and its bend lines, as a brake would bend them.
//!
//! Nothing of the profile is used: only the drawing, the bend lines (place, angle, direction, inside radius
//! and the length each bend takes) and the thickness. A walk across the blank keeps flats straight and lays
//! the length of each bend evenly round a true arc of the middle radius, inside radius + thickness / 2; a
//! bend line without length is a sharp corner of the middle skin. What comes out is the middle skin.

use super::Template;
use crate::drawing::{Layer, signed_area};
use crate::error::{Error, Result};
use nalgebra::Point3;

/// A blank, folded: x across the ribs, y along them, z towards the viewer of the outside. Its left edge lies
/// at x = z = 0 and begins level.
#[derive(Debug, Clone, PartialEq)]
pub struct Folded {
    /// The outlines of the blank on the middle skin, vertex by vertex, mm.
    pub outlines: Vec<Vec<Point3<f64>>>,
    /// For each bend the middle skin's cross-section [x, z] where it begins, at its line and where it ends, mm.
    pub bends: Vec<[[f64; 2]; 3]>,
    /// Area of the middle skin, true arcs, mm².
    pub middle_area: f64,
    /// Area on the neutral line: bends counted with the radius on which their length is their angle's arc, mm².
    pub neutral_area: f64,
}

/// Bends may overlap by this much before they are refused: rounding of a blank without a flat between, mm.
const OVERLAP: f64 = 1.0e-6;

/// Folds the cut outlines of a blank along its bend lines.
///
/// # Errors
/// A bend that does not fit between its neighbours, a negative radius or length, or a turn of 180 degrees.
pub fn fold_up(template: &Template, thickness: f64) -> Result<Folded> {
    let cuts: Vec<&[[f64; 2]]> = template.drawing.on(Layer::Cut).map(|p| p.points.as_slice()).collect();
    let left = cuts.iter().flat_map(|c| c.iter()).map(|p| p[0]).fold(f64::INFINITY, f64::min);
    let section = Section::new(template, thickness, left)?;
    let outlines = cuts
        .iter()
        .map(|cut| {
            cut.iter()
                .map(|p| {
                    let [x, z] = section.at(p[0]);
                    Point3::new(x, p[1], z)
                })
                .collect()
        })
        .collect();
    let bends = section
        .bends
        .iter()
        .map(|b| [section.at(b.from), section.at(f64::midpoint(b.from, b.to)), section.at(b.to)])
        .collect();
    // Sheet between two upright lines of the blank, mm².
    let between = |from: f64, to: f64| cuts.iter().map(|c| signed_area(&band(c, from, to))).sum::<f64>();
    let (mut middle_area, mut neutral_area) = (0.0, 0.0);
    let mut x = left;
    for bend in &section.bends {
        let flat = between(x, bend.from);
        let bent = between(bend.from, bend.to);
        let length = bend.to - bend.from;
        middle_area += flat + if length > 0.0 { bent * bend.radius * bend.turn.abs() / length } else { 0.0 };
        neutral_area += flat + bent;
        x = bend.to;
    }
    let rest = between(x, f64::INFINITY);
    Ok(Folded { outlines, bends, middle_area: middle_area + rest, neutral_area: neutral_area + rest })
}

/// A bend on the blank.
#[derive(Debug, Clone, Copy)]
struct Zone {
    from: f64,
    to: f64,
    /// Radians; positive folds away from the viewer.
    turn: f64,
    /// Of the middle skin, mm.
    radius: f64,
    /// Where the cross-section stands at `from`, and which way it goes there (radians, falling is negative).
    start: [f64; 2],
    angle: f64,
}

/// The cross-section of the middle skin over the blank.
struct Section {
    left: f64,
    bends: Vec<Zone>,
}

impl Section {
    fn new(template: &Template, thickness: f64, left: f64) -> Result<Self> {
        let mut section = Self { left, bends: Vec::new() };
        // A part may begin within a bend: the walk then begins where that bend does.
        if let Some(first) = template.bends.first() {
            section.left = section.left.min(first.across - first.allowance / 2.0);
        }
        let mut end = section.left;
        for bend in &template.bends {
            let (from, to) = (bend.across - bend.allowance / 2.0, bend.across + bend.allowance / 2.0);
            let usable = bend.allowance >= 0.0 && bend.radius >= 0.0 && (0.0..180.0).contains(&bend.angle);
            if !usable || from < end - OVERLAP || from.is_nan() {
                return Err(Error::input(format!(
                    "bend {} at {:.3} mm cannot be folded: it takes {:.3} mm, turns {:.3} degrees and the bend \
                     before it ends at {end:.3} mm",
                    bend.number, bend.across, bend.allowance, bend.angle
                ))
                .at(template.part.as_str())
                .remedy("make the inside radius smaller or the flat between the bends wider"));
            }
            let turn = bend.angle.to_radians() * if bend.up { -1.0 } else { 1.0 };
            let radius = if bend.allowance > 0.0 { bend.radius + thickness / 2.0 } else { 0.0 };
            let (start, angle) = (section.at(from), section.angle_after());
            section.bends.push(Zone { from, to, turn, radius, start, angle });
            end = to;
        }
        Ok(section)
    }

    fn angle_after(&self) -> f64 {
        self.bends.last().map_or(0.0, |b| b.angle - b.turn)
    }

    /// Cross-section over a place on the blank.
    fn at(&self, x: f64) -> [f64; 2] {
        let passed = self.bends.partition_point(|b| b.from <= x);
        let Some(bend) = passed.checked_sub(1).map(|i| &self.bends[i]) else {
            return [x - self.left, 0.0];
        };
        let length = bend.to - bend.from;
        let share = if length > 0.0 { ((x - bend.from) / length).clamp(0.0, 1.0) } else { 1.0 };
        let turned = bend.turn * share;
        // Chord of the arc so far: 2 R sin(turned / 2) long, along the mean direction.
        let chord = 2.0 * bend.radius * (turned.abs() / 2.0).sin();
        let (rise, run) = (bend.angle - turned / 2.0).sin_cos();
        let beyond = (x - bend.to).max(0.0);
        let (sin, cos) = (bend.angle - turned).sin_cos();
        [bend.start[0] + chord * run + beyond * cos, bend.start[1] + chord * rise + beyond * sin]
    }
}

/// The part of a closed outline between two upright lines. Stretches outside are laid onto the lines: the
/// outline may then run along them to and fro, which encloses no area.
fn band(outline: &[[f64; 2]], from: f64, to: f64) -> Vec<[f64; 2]> {
    let mut cut = outline.to_vec();
    for (limit, keep_right) in [(from, true), (to, false)] {
        if !limit.is_finite() {
            continue;
        }
        let inside = |p: &[f64; 2]| if keep_right { p[0] >= limit } else { p[0] <= limit };
        let mut kept = Vec::with_capacity(cut.len());
        for (i, a) in cut.iter().enumerate() {
            let b = &cut[(i + 1) % cut.len()];
            if inside(a) {
                kept.push(*a);
            }
            if inside(a) != inside(b) {
                kept.push([limit, a[1] + (b[1] - a[1]) * (limit - a[0]) / (b[0] - a[0])]);
            }
        }
        cut = kept;
    }
    cut
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::Solid;
    use crate::part::{Part, PartKind};
    use crate::profile::bend::{DeductionTable, HandbookMaterial, Rule};
    use crate::profile::{CHORD_TOLERANCE, Piece, Profile};
    use crate::registry::Registry;
    use crate::sculpture::{Element, Sculpture};
    use crate::settings::{Value, Values};
    use crate::template::{BendLine, blank};
    use crate::work_out;
    use nalgebra::{Matrix3, Vector3};
    use std::collections::BTreeMap;
    use std::sync::Arc;

    type V = Vector3<f64>;

    /// What folding up may cost, relative to the size of the part or its area.
    const EXACT: f64 = 1.0e-9;

    fn number(name: &str, x: f64) -> (String, Value) {
        (name.to_owned(), Value::Number(x))
    }

    fn trapezoid([pitch, depth, crest, valley]: [f64; 4], thickness: f64, bend_radius: f64) -> Arc<Profile> {
        let given = [
            ("pitch", pitch),
            ("depth", depth),
            ("crest", crest),
            ("valley", valley),
            ("thickness", thickness),
            ("bend_radius", bend_radius),
        ];
        let row = crate::profile::trapezoid::ROW;
        let given = given.iter().map(|&(n, x)| number(n, x)).collect();
        Arc::new(
            (row.build)(&Values::check(row.name, row.settings, &given).expect("allowed")).expect("possible"),
        )
    }

    fn ridge() -> Arc<Profile> {
        let row = crate::profile::outline::ROW;
        let points = [[0.0, 30.0], [40.0, 0.0], [80.0, 0.0], [120.0, 30.0]];
        let list =
            points.iter().map(|p| Value::List(p.iter().map(|x| Value::Number(*x)).collect())).collect();
        let given =
            [number("thickness", 3.0), number("bend_radius", 3.0), ("points".to_owned(), Value::List(list))];
        let values = Values::check(row.name, row.settings, &given.into()).expect("allowed");
        Arc::new((row.build)(&values).expect("possible"))
    }

    /// A leaning block whose ribs run every which way, far from the origin or not.
    fn block(sheet: &Arc<Profile>, at: V) -> Vec<Part> {
        let planes = [
            ("east", V::new(450.0, 0.0, 0.0), V::new(1.0, 0.1, 0.2)),
            ("west", V::new(-450.0, 0.0, 0.0), V::new(-1.0, 0.2, 0.1)),
            ("north", V::new(0.0, 400.0, 0.0), V::new(0.1, 1.0, -0.15)),
            ("south", V::new(0.0, -400.0, 0.0), V::new(0.0, -1.0, 0.1)),
            ("top", V::new(0.0, 0.0, 900.0), V::new(0.1, 0.2, 1.0)),
            ("bottom", V::zeros(), -V::z()),
        ];
        let planes = planes.iter().map(|&(label, p, n)| (label.to_owned(), (p + at).into(), n)).collect();
        let mut block = Element::new(Solid::from_planes("A", planes).expect("a solid"));
        block.clad(sheet);
        for (label, along, phase) in
            [("south", V::new(1.0, 0.0, 0.5), 40.0), ("top", V::new(1.0, 0.3, 0.0), -25.0)]
        {
            let cladding = block.face_mut(label).expect("there");
            (cladding.along, cladding.phase) = (Some(along), phase);
        }
        let mut sculpture = Sculpture::new("work");
        sculpture.add(block).expect("added");
        work_out(&sculpture, &Registry::standard()).expect("worked out").parts
    }

    /// The four rules, as settings and as what they stand for.
    fn rules() -> Vec<(BTreeMap<String, Value>, Rule)> {
        let word = |w: &str| ("rule".to_owned(), Value::Text(w.to_owned()));
        let rows = vec![[5.0, 0.02], [40.0, 0.9], [60.0, 1.9], [90.0, 4.1]];
        let list = |r: &[f64; 2]| Value::List(r.iter().map(|x| Value::Number(*x)).collect());
        let table = ("table".to_owned(), Value::List(rows.iter().map(list).collect()));
        vec![
            ([number("k_factor", 0.41)].into(), Rule::KFactor(0.41)),
            ([word("din_6935")].into(), Rule::Din6935),
            ([word("handbook")].into(), Rule::Handbook(HandbookMaterial::SoftSteel)),
            ([word("shop_table"), table].into(), Rule::Table(DeductionTable::new(rows).expect("a table"))),
        ]
    }

    fn blank_of(part: &Part, given: &BTreeMap<String, Value>) -> Template {
        let values = Values::check("blank", blank::ROW.settings, given).expect("allowed");
        (blank::ROW.develop)(part, &values).expect("developed")
    }

    /// Turn and shift that bring `from` best onto `to` (Kabsch, "A solution for the best rotation to relate two
    /// sets of vectors", 1976): a rotation, never a mirror image.
    fn best_fit(from: &[Point3<f64>], to: &[Point3<f64>]) -> impl Fn(&Point3<f64>) -> Point3<f64> {
        let mean = |points: &[Point3<f64>]| {
            points.iter().map(|p| p.coords).sum::<V>() / f64::from(u32::try_from(points.len()).expect("few"))
        };
        let (a, b) = (mean(from), mean(to));
        let products: Matrix3<f64> =
            from.iter().zip(to).map(|(p, q)| (q.coords - b) * (p.coords - a).transpose()).sum();
        let svd = products.svd(true, true);
        let (u, v_t) = (svd.u.expect("asked for"), svd.v_t.expect("asked for"));
        let mut sign = Matrix3::identity();
        sign[(2, 2)] = (u * v_t).determinant().signum();
        let turn = u * sign * v_t;
        move |p| Point3::from(turn * (p.coords - a) + b)
    }

    /// Area on the neutral line, strip by strip from the part as it lies in space: flats by their slope, each
    /// strip of a bend by its share of what the rule gives the whole bend.
    fn neutral_area(part: &Part, profile: &Profile, phase: f64, rule: &Rule) -> f64 {
        let turned: Vec<Vec<[f64; 2]>> =
            part.outlines.iter().map(|o| o.iter().map(|p| [p[1] - phase, p[0]]).collect()).collect();
        let ts = || turned.iter().flatten().map(|p| p[0]);
        let (low, high) = (ts().fold(f64::INFINITY, f64::min), ts().fold(f64::NEG_INFINITY, f64::max));
        let count = i64::try_from(profile.strips().len()).expect("few");
        let pieces = profile.pieces();
        let wrapped = matches!(pieces[0], Piece::Bend { .. });
        let mut sum = 0.0;
        for k in profile.strip_index(low)..=profile.strip_index(high) {
            let strip = profile.strips()[usize::try_from(k.rem_euclid(count)).expect("within")];
            let (from, to) = (profile.fold_t(k), profile.fold_t(k + 1));
            let width = match pieces[strip.piece] {
                Piece::Bend { radius, turn } => {
                    let ends = strip.piece == 0 || strip.piece == pieces.len() - 1;
                    let whole = turn.abs() * if wrapped && ends { 2.0 } else { 1.0 };
                    let inside = radius - profile.thickness() / 2.0;
                    rule.allowance(whole, inside, profile.thickness()).expect("allowed") * strip.gain.abs()
                        / whole
                }
                Piece::Flat { .. } => (to - from).hypot(strip.h[1] - strip.h[0]),
            };
            // t to the right and s up is a mirror image of s, t: areas change sign.
            sum -= turned.iter().map(|o| signed_area(&band(o, from, to))).sum::<f64>() * width / (to - from);
        }
        sum
    }

    #[track_caller]
    fn folds_back(part: &Part, given: &BTreeMap<String, Value>, rule: &Rule) -> usize {
        let PartKind::Sheet { profile, phase, .. } = &part.kind else { return 0 };
        let what = format!("{} by {rule:?}", part.id);
        let blank = blank_of(part, given);
        let folded = fold_up(&blank, part.thickness()).expect("folded");
        let (mut ours, mut theirs) = (Vec::new(), Vec::new());
        let mut within_bends = Vec::new();
        for (outline, points) in part.outlines.iter().zip(&folded.outlines) {
            for (at, p) in outline.iter().zip(points) {
                let k = profile.strip_index(at[1] - phase);
                let count = i64::try_from(profile.strips().len()).expect("few");
                let piece = profile.strips()[usize::try_from(k.rem_euclid(count)).expect("within")].piece;
                let at_fold = [k, k + 1].iter().any(|&k| (profile.fold_t(k) + phase - at[1]).abs() < 1e-7);
                if at_fold || matches!(profile.pieces()[piece], Piece::Flat { .. }) {
                    ours.push(*p);
                    theirs.push(part.position(*at, 0.0));
                } else {
                    // In the middle of a chord the part lies within the chord's tolerance of the true arc.
                    within_bends.push((*p, part.position(*at, 0.0)));
                }
            }
        }
        let place = best_fit(&ours, &theirs);
        let off = |p: &Point3<f64>, q: &Point3<f64>| (place(p) - q).norm();
        let size = part.cut_length;
        let worst = ours.iter().zip(&theirs).map(|(p, q)| off(p, q)).fold(0.0, f64::max);
        // The promise is 0.02 mm; what is lost is rounding.
        assert!(worst <= EXACT * size, "{what}: fold lines lie {worst} mm off");
        let worst = within_bends.iter().map(|(p, q)| off(p, q)).fold(0.0, f64::max);
        assert!(worst <= CHORD_TOLERANCE + EXACT * size, "{what}: a corner in a bend lies {worst} mm off");
        let near = |name: &str, a: f64, b: f64| {
            assert!((a - b).abs() <= EXACT * part.area.max(1.0), "{what}: {name} {a} is not {b}");
        };
        near("middle area", folded.middle_area, part.area);
        near("neutral area", folded.neutral_area, blank.area);
        near("neutral area", blank.area, neutral_area(part, profile, *phase, rule));
        ours.len()
    }

    #[test]
    fn folding_a_blank_up_gives_the_part_back() {
        for sheet in [
            trapezoid([200.0, 40.0, 70.0, 70.0], 2.0, 6.0),
            trapezoid([200.0, 40.0, 70.0, 70.0], 2.0, 0.0),
            trapezoid([278.0, 36.0, 72.0, 70.0], 1.6, 3.0),
            // A rounded ridge: one bend at the crest, split by the end of the pitch.
            ridge(),
        ] {
            for at in [V::zeros(), V::new(3.0e5, -2.0e5, 1.0e5)] {
                let mut checked = 0;
                for part in &block(&sheet, at) {
                    for (given, rule) in rules() {
                        checked += folds_back(part, &given, &rule);
                    }
                }
                assert!(checked > 500, "only {checked} vertices on folds and flats");
            }
        }
    }

    /// 45 pitches: what is lost at each bend would add up.
    #[test]
    fn many_pitches_fold_up_without_drift() {
        let checked: usize = block(&trapezoid([20.0, 8.0, 6.0, 6.0], 0.8, 1.0), V::zeros())
            .iter()
            .map(|part| folds_back(part, &BTreeMap::new(), &Rule::KFactor(0.5)))
            .sum();
        assert!(checked > 1000, "only {checked} vertices");
    }

    /// A strip 100 long and 10 high with bend lines as told.
    fn strip(bends: &[(f64, f64, bool, f64, f64)]) -> Template {
        let corners = vec![[0.0, 0.0], [100.0, 0.0], [100.0, 10.0], [0.0, 10.0]];
        let line = |(number, &(across, angle, up, radius, allowance))| BendLine {
            across,
            angle,
            up,
            radius,
            number,
            allowance,
            drawn: true,
        };
        Template {
            datum: None,
            kind: "blank".to_owned(),
            part: "strip".to_owned(),
            drawing: crate::drawing::Drawing {
                paths: vec![crate::drawing::Path::closed(Layer::Cut, corners)],
                ..crate::drawing::Drawing::default()
            },
            area: 1000.0,
            cut_length: 220.0,
            bends: (1..).zip(bends).map(line).collect(),
        }
    }

    #[test]
    fn a_square_bend_is_a_quarter_circle_of_the_middle_radius() {
        // r = s = 2, DIN 6935: the bend takes 4.1626 mm and runs round a middle radius of 3.
        let folded = fold_up(&strip(&[(50.0, 90.0, true, 2.0, 4.1626)]), 2.0).expect("folded");
        let leg = 50.0 - 4.1626 / 2.0;
        let end = folded.outlines[0][1];
        assert!((end - Point3::new(leg + 3.0, 0.0, leg + 3.0)).norm() < 1e-12, "{end}");
        let [from, line, to] = folded.bends[0];
        assert!((from[0] - leg).abs() < 1e-12 && from[1] == 0.0, "{from:?}");
        let eighth = std::f64::consts::FRAC_PI_4;
        assert!((line[0] - leg - 3.0 * eighth.sin()).abs() < 1e-12, "{line:?}");
        assert!((to[0] - leg - 3.0).abs() < 1e-12 && (to[1] - 3.0).abs() < 1e-12, "{to:?}");
        assert!((folded.middle_area - 10.0 * (2.0 * leg + 3.0 * std::f64::consts::FRAC_PI_2)).abs() < 1e-9);
    }

    #[test]
    fn bends_that_overlap_or_turn_back_are_refused() {
        for bends in [
            &[(50.0, 90.0, true, 2.0, 4.0), (53.0, 90.0, false, 2.0, 4.0)][..],
            &[(50.0, 180.0, true, 2.0, 4.0)],
            &[(50.0, 90.0, true, -1.0, 4.0)],
            &[(f64::NAN, 90.0, true, 2.0, 4.0)],
        ] {
            let says = fold_up(&strip(bends), 2.0).expect_err("refused").to_string();
            assert!(says.contains("cannot be folded"), "{says}");
        }
    }
}
