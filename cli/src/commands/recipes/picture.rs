//! A drawing as dots on a terminal: eight to a character, by the Braille patterns of Unicode (U+2800 and on).

use ribwright_kernel::drawing::Drawing;

/// Most characters across and down.
const MOST: [usize; 2] = [64, 30];
/// Dots in a character across and down.
const DOTS: [usize; 2] = [2, 4];
/// The bit of each dot, by row and column (Unicode chapter 21.1; from memory).
const BITS: [[u32; 2]; 4] = [[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]];

/// The drawing as lines of characters; empty if there is nothing to draw.
pub(super) fn dots(drawing: &Drawing) -> String {
    let Some([low, high]) = drawing.bounds() else { return String::new() };
    let size = [high[0] - low[0], high[1] - low[1]];
    #[allow(clippy::cast_precision_loss, reason = "a few hundred")]
    let most = [(MOST[0] * DOTS[0] - 1) as f64, (MOST[1] * DOTS[1] - 1) as f64];
    let fits = [most[0] / size[0], most[1] / size[1]];
    let scale = fits.into_iter().filter(|x| x.is_finite()).fold(f64::INFINITY, f64::min);
    if !scale.is_finite() {
        return String::new();
    }
    let mut cells = vec![vec![0_u32; MOST[0]]; MOST[1]];
    for [a, b] in drawing.paths.iter().flat_map(|path| path.segments()) {
        let at = |p: [f64; 2]| [(p[0] - low[0]) * scale, (high[1] - p[1]) * scale];
        let (a, b) = (at(a), at(b));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few hundred dots")]
        let steps = ((b[0] - a[0]).abs().max((b[1] - a[1]).abs()).ceil() as u32).clamp(1, 1000);
        for step in 0..=steps {
            let share = f64::from(step) / f64::from(steps);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "inside the picture")]
            let [x, y] = [0, 1].map(|k| (a[k] + (b[k] - a[k]) * share).round().max(0.0) as usize);
            if let Some(cell) = cells.get_mut(y / DOTS[1]).and_then(|row| row.get_mut(x / DOTS[0])) {
                *cell |= BITS[y % DOTS[1]][x % DOTS[0]];
            }
        }
    }
    let line = |row: &Vec<u32>| {
        let text: String = row.iter().map(|bits| char::from_u32(0x2800 + bits).unwrap_or(' ')).collect();
        text.trim_end_matches('\u{2800}').to_owned()
    };
    let lines: Vec<String> = cells.iter().map(line).collect();
    lines.join("\n").trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use ribwright_kernel::drawing::{Layer, Path};

    #[test]
    fn a_square_is_drawn_with_its_corners() {
        let square = vec![[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]];
        let drawing = Drawing { paths: vec![Path::closed(Layer::Cut, square)], ..Drawing::default() };
        let text = dots(&drawing);
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), MOST[1], "it is as high as allowed");
        assert!(lines[0].starts_with('⡏') && lines[0].ends_with('⢹'), "{text}");
        assert!(lines[29].starts_with('⣇'), "{text}");
        assert_eq!(dots(&Drawing::default()), "");
    }
}
