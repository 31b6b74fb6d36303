//! Offcuts: what is left of a sheet as one rectangle, over its full width or its full length.

/// A rectangle worth keeping.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offcut {
    /// Index of the sheet.
    pub sheet: usize,
    /// Least and greatest (along, across), mm.
    pub bounds: [[f64; 2]; 2],
}

impl Offcut {
    /// Area, mm².
    pub fn area(&self) -> f64 {
        let [length, width] = self.size();
        length * width
    }

    /// Along and across, mm.
    pub fn size(&self) -> [f64; 2] {
        let [lo, hi] = self.bounds;
        [hi[0] - lo[0], hi[1] - lo[1]]
    }
}

/// The largest rectangle over the full width or the full length of a sheet that keeps clear of boxes by `room`, if
/// both its sides are at least `least`.
pub(crate) fn offcut(
    sheet: usize,
    size: [f64; 2],
    boxes: &[[[f64; 2]; 2]],
    room: f64,
    least: f64,
) -> Option<Offcut> {
    let gap = |axis: usize| {
        let mut taken: Vec<[f64; 2]> = boxes.iter().map(|b| [b[0][axis] - room, b[1][axis] + room]).collect();
        taken.sort_by(|a, b| a[0].total_cmp(&b[0]));
        taken.push([size[axis]; 2]);
        let (mut from, mut best) = (0.0_f64, [0.0_f64; 2]);
        for [a, b] in taken {
            if a - from > best[1] - best[0] {
                best = [from, a];
            }
            from = from.max(b);
        }
        let mut bounds = [[0.0; 2], size];
        (bounds[0][axis], bounds[1][axis]) = (best[0], best[1]);
        Offcut { sheet, bounds }
    };
    let (along, across) = (gap(0), gap(1));
    // A full width is kept where both are as large: its ends are square already.
    let best = if across.area() > along.area() { across } else { along };
    best.size().iter().all(|&side| side >= least).then_some(best)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_larger_of_full_width_and_full_length_is_kept() {
        let found =
            offcut(0, [3000.0, 1000.0], &[[[15.0, 15.0], [1200.0, 900.0]]], 10.0, 300.0).expect("one");
        assert_eq!(found.bounds, [[1210.0, 0.0], [3000.0, 1000.0]]);
        let strip = [[[15.0, 15.0], [2900.0, 200.0]]];
        let found = offcut(0, [3000.0, 1000.0], &strip, 10.0, 300.0).expect("one");
        assert_eq!(found.bounds, [[0.0, 210.0], [3000.0, 1000.0]]);
    }

    #[test]
    fn what_is_too_small_is_no_offcut() {
        assert_eq!(offcut(0, [1000.0, 1000.0], &[[[15.0, 15.0], [800.0, 800.0]]], 10.0, 300.0), None);
        let between = [[[0.0, 0.0], [300.0, 900.0]], [[700.0, 0.0], [1000.0, 900.0]]];
        let found = offcut(0, [1000.0, 1000.0], &between, 10.0, 300.0).expect("one in the middle");
        assert_eq!(found.bounds, [[310.0, 0.0], [690.0, 1000.0]]);
    }
}
