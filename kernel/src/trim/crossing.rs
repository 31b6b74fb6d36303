//! Crossings: where a straight segment passes through a corrugated sheet.
//!
//! Along a segment D and T of a sheet are linear in λ, so D − h(T) is piecewise linear with one vertex per
//! fold: its zeros are found fold by fold, only where D lies between valley and crest.

use crate::cladding::Sheet;

/// Where a whole segment lies with respect to one sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    /// Below the sheet all along.
    Inside,
    /// Above it all along.
    Outside,
    /// It passes through.
    Crosses,
}

/// Linear along a segment: value at λ = 0 and λ = 1.
pub(crate) type Along = [f64; 2];

fn at(a: Along, lambda: f64) -> f64 {
    a[0] + (a[1] - a[0]) * lambda
}

/// Finds the zeros of D − h(T) on 0 < λ < 1, pushing them to `zeros` in ascending order.
pub(crate) fn crossings(sheet: &Sheet, d: Along, s: Along, t: Along, zeros: &mut Vec<f64>) -> Side {
    let (least, most) = if d[0] < d[1] { (d[0], d[1]) } else { (d[1], d[0]) };
    if most < sheet.low {
        return Side::Inside;
    }
    if least > sheet.high {
        return Side::Outside;
    }
    // The part of the segment whose D lies between valley and crest.
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    let rise = d[1] - d[0];
    if rise != 0.0 {
        let a = (sheet.low - d[0]) / rise;
        let b = (sheet.high - d[0]) / rise;
        let (a, b) = if a < b { (a, b) } else { (b, a) };
        from = from.max(a);
        to = to.min(b);
        if from > to {
            // Rounding on a band of no height.
            from = from.min(1.0);
            to = from;
        }
    }
    let value = |lambda: f64| at(d, lambda) - sheet.height(at(s, lambda), at(t, lambda));
    let before = zeros.len();
    let first = if from > 0.0 {
        // Entering the band from below the valleys is inside, from above the crests outside.
        if d[0] < sheet.low { -f64::MIN_POSITIVE } else { f64::MIN_POSITIVE }
    } else {
        value(0.0)
    };
    let starts_inside = first <= 0.0;
    let mut last = (from, if from > 0.0 { value(from) } else { first });
    if (last.1 <= 0.0) != starts_inside {
        zeros.push(from);
    }
    let mut step = |lambda: f64, f: f64, zeros: &mut Vec<f64>| {
        if (f <= 0.0) != (last.1 <= 0.0) {
            let share = last.1 / (last.1 - f);
            zeros.push((last.0 + (lambda - last.0) * share).clamp(last.0, lambda));
        }
        last = (lambda, f);
    };
    if let Some(loft) = &sheet.loft {
        let mut passes = Vec::new();
        loft.passes(s, t, from, to, &mut passes);
        for lambda in passes {
            step(lambda, value(lambda), zeros);
        }
    } else {
        folds_between(sheet, t, [from, to], |lambda, height| step(lambda, at(d, lambda) - height, zeros));
    }
    step(to, value(to), zeros);
    if to < 1.0 {
        let inside = d[1] < sheet.low;
        if inside != (last.1 <= 0.0) {
            zeros.push(to);
        }
    }
    if zeros.len() > before {
        Side::Crosses
    } else if starts_inside {
        Side::Inside
    } else {
        Side::Outside
    }
}

/// Every fold that a segment passes between two shares of it, in its direction, with the height there.
fn folds_between(sheet: &Sheet, t: Along, [from, to]: [f64; 2], mut pass: impl FnMut(f64, f64)) {
    let (t_from, t_to) = (at(t, from), at(t, to));
    let run = t[1] - t[0];
    let (i, j) = (sheet.strip_of(t_from), sheet.strip_of(t_to));
    let mut fold = |index: i64| {
        let lambda = ((sheet.fold(index) - t[0]) / run).clamp(from, to);
        pass(lambda, sheet.fold_height(index));
    };
    if j > i {
        (i + 1..=j).for_each(&mut fold);
    } else {
        (j + 1..=i).rev().for_each(&mut fold);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::part::Frame;
    use crate::profile::{Piece, Profile};
    use nalgebra::{Point3, Vector3};

    fn sheet() -> Sheet {
        let web = (30.0_f64 * 30.0 + 40.0 * 40.0).sqrt();
        let turn = (40.0_f64 / 30.0).atan();
        let pieces = [
            Piece::Flat { length: 35.0 },
            Piece::Bend { radius: 0.0, turn },
            Piece::Flat { length: web },
            Piece::Bend { radius: 0.0, turn: -turn },
            Piece::Flat { length: 70.0 },
            Piece::Bend { radius: 0.0, turn: -turn },
            Piece::Flat { length: web },
            Piece::Bend { radius: 0.0, turn },
            Piece::Flat { length: 35.0 },
        ];
        let profile =
            Profile::from_pieces("trapezoid", pieces.to_vec(), 2.0, 0.0).expect("a plain trapezoid");
        let frame = Frame { origin: Point3::origin(), u: Vector3::x(), v: Vector3::y(), n: Vector3::z() };
        Sheet::new(0, &frame, Point3::origin(), 0.0, Some(&profile))
    }

    #[test]
    fn the_middle_of_a_crest_is_no_fold() {
        let sheet = sheet();
        assert_eq!(sheet.strip_of(-1.0), sheet.strip_of(1.0), "one crest, one strip");
        assert_eq!(sheet.strip_of(36.0), sheet.strip_of(1.0) + 1, "the web follows the crest");
        assert!((sheet.height(0.0, 0.0) - 20.0).abs() < 1e-12, "a crest lies at half the depth");
        assert!((sheet.height(0.0, -400.0 + 100.0) + 20.0).abs() < 1e-12, "a valley half a pitch on");
    }

    #[test]
    fn a_level_segment_at_mid_depth_crosses_every_web() {
        let sheet = sheet();
        let mut zeros = Vec::new();
        let side = crossings(&sheet, [0.0, 0.0], [0.0; 2], [0.0, 2000.0], &mut zeros);
        assert_eq!(side, Side::Crosses);
        assert_eq!(zeros.len(), 20, "two webs per pitch, ten pitches");
        assert!((zeros[0] * 2000.0 - 50.0).abs() < 1e-9, "the middle of the first web");
        // The same segment walked backwards crosses at the mirrored places.
        let mut back = Vec::new();
        crossings(&sheet, [0.0, 0.0], [0.0; 2], [2000.0, 0.0], &mut back);
        for (a, b) in zeros.iter().zip(back.iter().rev()) {
            assert!((a + b - 1.0).abs() < 1e-12, "{a} and {b}");
        }
    }

    #[test]
    fn crossings_agree_with_dense_sampling() {
        let sheet = sheet();
        let mut state = 7_u64;
        let mut random = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 53) as f64
        };
        for _ in 0..500 {
            let d = [random() * 120.0 - 60.0, random() * 120.0 - 60.0];
            let t = [random() * 900.0 - 450.0, random() * 900.0 - 450.0];
            let mut zeros = Vec::new();
            crossings(&sheet, d, [0.0; 2], t, &mut zeros);
            let inside = |l: f64| at(d, l) <= sheet.height(0.0, at(t, l));
            let mut state_now = inside(0.0);
            let mut edges = vec![0.0];
            edges.extend(&zeros);
            edges.push(1.0);
            for pair in edges.windows(2) {
                assert_eq!(inside((pair[0] + pair[1]) / 2.0), state_now, "{d:?} {t:?} {zeros:?}");
                state_now = !state_now;
            }
        }
    }
}
