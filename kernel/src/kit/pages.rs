//! Pages: pieces packed on shelves, larger ones tiled, and what stands on every page.
//!
//! Packing is first fit by decreasing height on shelves (E. Coffman, M. Garey, D. Johnson, R. Tarjan, "Performance
//! bounds for level-oriented two-dimensional packing algorithms", 1980); what a piece leaves under itself is a shelf for
//! smaller ones. Neighbouring tiles share a band; a dashed
//! line runs along its middle with a cross at each end: lay cross on cross, line on line.

use super::flat::clip;
use super::label::line_of;
use super::piece::Piece;
use crate::drawing::{Drawing, Layer, Path};
use crate::error::{Error, Result};
use crate::export::svg::scale_bar;
use crate::lettering;

/// Edge that printers leave white, mm.
pub const MARGIN: f64 = 10.0;
/// Height of the strip at the foot with name and scale bar, mm.
pub const STRIP: f64 = 14.0;
/// Space between pieces, mm.
const GAP: f64 = 4.0;
/// Longest half of a registration mark's strokes, mm.
const CROSS: f64 = 4.0;
/// More pages are surely a mistake of scale.
const MOST_PAGES: f64 = 500.0;
/// Height of the writing at the foot and how far it stands above the bar, mm.
const FOOT_TEXT: f64 = 3.5;
const ABOVE_BAR: f64 = 7.0;

/// One page of the kit.
#[derive(Debug, Clone, Default)]
pub struct Page {
    /// What is on it, in words.
    pub holds: Vec<String>,
    /// The piece and where its (0, 0) lies on the paper; for a tile it may lie outside.
    pub placed: Vec<(usize, [f64; 2])>,
    /// `B2` of a piece larger than a page: rows from the top, columns from the left.
    pub tile: Option<String>,
    /// Everything on it; (0, 0) is the lower left corner of the paper, mm.
    pub drawing: Drawing,
}

/// The window of a page: lower left and upper right corner, mm.
pub fn window(paper: [f64; 2]) -> [[f64; 2]; 2] {
    [[MARGIN, MARGIN + STRIP], [paper[0] - MARGIN, paper[1] - MARGIN]]
}

/// A row of pieces, from the left; `bottom` is measured from the top of the page.
struct Shelf {
    page: usize,
    left: f64,
    width: f64,
    bottom: f64,
    height: f64,
    used: f64,
}

/// Pages for pieces (the second says which pages come first).
///
/// # Errors
/// A piece that takes more than 500 pages.
pub(super) fn paginate(pieces: &[Piece], paper: [f64; 2], overlap: f64) -> Result<Vec<Page>> {
    let [low, high] = window(paper);
    let room = [high[0] - low[0], high[1] - low[1]];
    let mut order: Vec<usize> = (0..pieces.len()).collect();
    order.sort_by(|&i, &k| pieces[k].size[1].total_cmp(&pieces[i].size[1]).then(i.cmp(&k)));
    let (mut pages, mut shelves, mut tops): (Vec<Page>, Vec<Shelf>, Vec<f64>) = Default::default();
    let mut tiled = Vec::new();
    for index in order {
        let piece = &pieces[index];
        let [w, h] = piece.size;
        if w > room[0] || h > room[1] {
            tiled.push(index);
            continue;
        }
        let fits = |s: &&mut Shelf| h <= s.height && s.used + w <= s.width;
        let shelf = match shelves.iter_mut().find(fits) {
            Some(shelf) => shelf,
            None => {
                let page = (0..pages.len()).find(|&p| tops[p] + h <= room[1]).unwrap_or_else(|| {
                    pages.push(Page::default());
                    tops.push(0.0);
                    pages.len() - 1
                });
                shelves.push(Shelf {
                    page,
                    left: 0.0,
                    width: room[0],
                    bottom: tops[page],
                    height: h,
                    used: 0.0,
                });
                tops[page] += h + GAP;
                let last = shelves.len() - 1;
                &mut shelves[last]
            }
        };
        // Shelves are filled from the top of the page.
        let at = [low[0] + shelf.left + shelf.used, high[1] - shelf.bottom - h];
        // What is left under a lower piece is a shelf too.
        let under = Shelf {
            page: shelf.page,
            left: shelf.left + shelf.used,
            width: w,
            bottom: shelf.bottom + h + GAP,
            height: shelf.height - h - GAP,
            used: 0.0,
        };
        shelf.used += w + GAP;
        let page = &mut pages[shelf.page];
        if under.height > 0.0 {
            shelves.push(under);
        }
        page.placed.push((index, at));
        page.holds.push(piece.name.clone());
        add(&mut page.drawing, &piece.drawing, at);
    }
    tiled.sort_unstable();
    for index in tiled {
        pages.extend(tiles(index, &pieces[index], paper, overlap)?);
    }
    Ok(pages)
}

/// Adds a drawing with its (0, 0) at a place.
pub(super) fn add(to: &mut Drawing, drawing: &Drawing, at: [f64; 2]) {
    let shift = |p: &[f64; 2]| [p[0] + at[0], p[1] + at[1]];
    to.paths.extend(
        drawing.paths.iter().map(|p| Path { points: p.points.iter().map(shift).collect(), ..p.clone() }),
    );
    to.labels.extend(drawing.labels.iter().map(|l| crate::drawing::Label { at: shift(&l.at), ..l.clone() }));
}

/// The tiles of a piece that is larger than a page.
fn tiles(index: usize, piece: &Piece, paper: [f64; 2], overlap: f64) -> Result<Vec<Page>> {
    let view = window(paper);
    let room = [0, 1].map(|i| view[1][i] - view[0][i]);
    let counts = [0, 1].map(|i| ((piece.size[i] - room[i]) / (room[i] - overlap)).ceil().max(0.0) + 1.0);
    if counts[0] * counts[1] > MOST_PAGES {
        return Err(Error::input(format!(
            "takes {} × {} pages (allowed: {MOST_PAGES} in all)",
            counts[0], counts[1]
        ))
        .at(piece.name.clone())
        .remedy("choose a smaller scale or larger paper"));
    }
    let step = room.map(|r| r - overlap);
    // The windows together stand even about the piece.
    let start = [0, 1].map(|i| (piece.size[i] - counts[i] * step[i] - overlap) / 2.0);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most 500")]
    let counts = counts.map(|n| n as usize);
    let mut lines: Vec<(Layer, Vec<[f64; 2]>)> = piece
        .drawing
        .paths
        .iter()
        .map(|path| {
            let mut points = path.points.clone();
            if path.closed {
                points.push(points[0]);
            }
            (path.layer, points)
        })
        .collect();
    // Writing that crosses from tile to tile is cut like every other line.
    lines.extend(piece.drawing.labels.iter().flat_map(lettering::strokes).map(|s| (Layer::Text, s)));
    let mut pages = Vec::new();
    for row in (0..counts[1]).rev() {
        for column in 0..counts[0] {
            let place = [column, row];
            #[allow(clippy::cast_precision_loss, reason = "at most 500")]
            let shift = [0, 1].map(|i| view[0][i] - start[i] - place[i] as f64 * step[i]);
            let mut drawing = Drawing::default();
            for (layer, points) in &lines {
                let moved: Vec<[f64; 2]> =
                    points.iter().map(|p| [p[0] + shift[0], p[1] + shift[1]]).collect();
                drawing.paths.extend(clipped(&moved, view).into_iter().map(|p| Path::open(*layer, p)));
            }
            if drawing.paths.is_empty() {
                continue;
            }
            register(&mut drawing, view, overlap, [0, 1].map(|i| [place[i] > 0, place[i] + 1 < counts[i]]));
            let name = format!("{}{}", letters(counts[1] - row), column + 1);
            pages.push(Page {
                holds: vec![format!("{} tile {name}", piece.name)],
                placed: vec![(index, shift)],
                tile: Some(name),
                drawing,
            });
        }
    }
    Ok(pages)
}

/// A, B, … Z, AA, … from 1.
fn letters(mut n: usize) -> String {
    let mut text = String::new();
    while n > 0 {
        #[allow(clippy::cast_possible_truncation, reason = "below 26")]
        text.insert(0, char::from(b'A' + ((n - 1) % 26) as u8));
        n = (n - 1) / 26;
    }
    text
}

/// What of a polyline lies in a box.
fn clipped(points: &[[f64; 2]], view: [[f64; 2]; 2]) -> Vec<Vec<[f64; 2]>> {
    let mut pieces: Vec<Vec<[f64; 2]>> = Vec::new();
    let mut joined = false;
    for pair in points.windows(2) {
        let Some([a, b]) = clip([pair[0], pair[1]], view) else {
            joined = false;
            continue;
        };
        match pieces.last_mut() {
            Some(last) if joined && a == pair[0] => last.push(b),
            _ => pieces.push(vec![a, b]),
        }
        joined = b == pair[1];
    }
    pieces
}

/// Registration marks along the middle of each band that is shared.
fn register(drawing: &mut Drawing, view: [[f64; 2]; 2], overlap: f64, joins: [[bool; 2]; 2]) {
    let arm = CROSS.min(overlap / 2.0);
    let line = [0, 1].map(|i| [view[0][i] + overlap / 2.0, view[1][i] - overlap / 2.0]);
    let mut draw = |layer, a: [f64; 2], b: [f64; 2]| drawing.paths.push(Path::open(layer, vec![a, b]));
    for side in 0..2 {
        if joins[0][side] {
            draw(Layer::Helper, [line[0][side], line[1][0] + arm], [line[0][side], line[1][1] - arm]);
        }
        if joins[1][side] {
            draw(Layer::Helper, [line[0][0] + arm, line[1][side]], [line[0][1] - arm, line[1][side]]);
        }
    }
    for i in 0..2 {
        for k in 0..2 {
            if joins[0][i] || joins[1][k] {
                let [x, y] = [line[0][i], line[1][k]];
                draw(Layer::Mark, [x - arm, y], [x + arm, y]);
                draw(Layer::Mark, [x, y - arm], [x, y + arm]);
            }
        }
    }
}

/// What stands on every page: bar of 100 mm, the work's name, its scale, the page.
pub(super) fn finish(pages: &mut [Page], name: &str, scale: &str, paper: [f64; 2]) {
    let count = pages.len();
    for (i, page) in pages.iter_mut().enumerate() {
        page.drawing.name = format!("{:03}", i + 1);
        page.drawing.title = format!("{name}, {scale}, page {} of {count}", i + 1);
        let bar = scale_bar([MARGIN, MARGIN], 1.0);
        page.drawing.paths.extend(bar.paths);
        page.drawing.labels.extend(bar.labels);
        let room = paper[0] - 2.0 * MARGIN;
        let right = format!("page {} of {count}", i + 1);
        let wide = lettering::width(&right, FOOT_TEXT);
        let y = MARGIN + ABOVE_BAR;
        let left = format!(
            "{name}   {scale}   {}",
            page.holds.first().filter(|_| page.tile.is_some()).map_or("", |h| h)
        );
        let label = line_of(left.trim_end(), [MARGIN, y], FOOT_TEXT, room - wide - 6.0);
        page.drawing.labels.push(label);
        page.drawing.labels.push(line_of(&right, [paper[0] - MARGIN - wide, y], FOOT_TEXT, wide));
        let said = "measures 100 mm where printed true";
        let at = [paper[0] - MARGIN - lettering::width(said, 2.2), MARGIN + 0.5];
        page.drawing.labels.push(line_of(said, at, 2.2, room));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plate(w: f64, h: f64) -> Piece {
        let corners = vec![[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
        let mut piece = Piece { name: "plate".into(), outlines: vec![corners.clone()], ..Piece::default() };
        piece.drawing.paths.push(Path::closed(Layer::Cut, corners));
        piece.measure();
        piece
    }

    const A4: [f64; 2] = [210.0, 297.0];

    #[test]
    fn pieces_on_shelves_lie_in_the_window_and_apart() {
        let pieces: Vec<Piece> =
            (1..40_u32).map(|i| plate(f64::from(i * 37 % 91 + 5), f64::from(i * 53 % 120 + 4))).collect();
        let pages = paginate(&pieces, A4, 10.0).expect("paged");
        let [lo, hi] = window(A4);
        let mut seen = vec![0; pieces.len()];
        for page in &pages {
            for (n, &(i, at)) in page.placed.iter().enumerate() {
                seen[i] += 1;
                for k in 0..2 {
                    assert!(at[k] >= lo[k] && at[k] + pieces[i].size[k] <= hi[k] + 1e-9, "{i} at {at:?}");
                }
                for &(j, other) in &page.placed[..n] {
                    let apart = (0..2).any(|k| {
                        at[k] >= other[k] + pieces[j].size[k] + GAP - 1e-9
                            || other[k] >= at[k] + pieces[i].size[k] + GAP - 1e-9
                    });
                    assert!(apart, "{i} and {j}");
                }
            }
        }
        assert!(seen.iter().all(|n| *n == 1), "{seen:?}");
        // Small ones go under larger ones: a tall plate, one half as tall, and one that fits under that.
        let three = [plate(100.0, 240.0), plate(80.0, 110.0), plate(80.0, 120.0)];
        assert_eq!(paginate(&three, A4, 10.0).expect("paged").len(), 1);
    }

    #[test]
    fn tiles_cover_the_piece_and_share_the_stated_band() {
        for overlap in [4.0, 10.0, 25.0] {
            let piece = plate(500.0, 700.0);
            let pages = paginate(&[piece], A4, overlap).expect("paged");
            let [lo, hi] = window(A4);
            let shifts: Vec<[f64; 2]> = pages.iter().map(|p| p.placed[0].1).collect();
            for i in 0..2 {
                let mut places: Vec<f64> = shifts.iter().map(|s| s[i]).collect();
                places.sort_by(f64::total_cmp);
                places.dedup();
                assert!(places.len() > 1, "tiled");
                for pair in places.windows(2) {
                    let step = pair[1] - pair[0];
                    assert!((hi[i] - lo[i] - step - overlap).abs() < 1e-9, "{overlap}: a step of {step}");
                }
            }
            // Every point of the rim is printed, and what two tiles print of it is the same place.
            for page in &pages {
                for p in page.drawing.paths.iter().flat_map(|p| &p.points) {
                    assert!((0..2).all(|i| p[i] >= lo[i] && p[i] <= hi[i]), "{p:?} is off the window");
                }
            }
            let length: f64 = 2.0 * (500.0 + 700.0);
            let mut covered = vec![false; 2400];
            for page in &pages {
                let shift = page.placed[0].1;
                for [a, b] in page.drawing.on(Layer::Cut).flat_map(Path::segments) {
                    for (s, seen) in covered.iter_mut().enumerate() {
                        let s = s as f64 + 0.5;
                        let p = match s {
                            s if s < 500.0 => [s, 0.0],
                            s if s < 1200.0 => [500.0, s - 500.0],
                            s if s < 1700.0 => [1700.0 - s, 700.0],
                            s => [0.0, length - s],
                        };
                        let q = [p[0] + shift[0], p[1] + shift[1]];
                        let d = super::super::flat::distance;
                        *seen |= d(a, q) + d(q, b) - d(a, b) < 1e-9;
                    }
                }
            }
            assert!(covered.iter().all(|c| *c), "the rim is not whole");
        }
    }

    #[test]
    fn endless_pieces_are_refused_with_a_remedy() {
        let error = paginate(&[plate(1e5, 1e5)], A4, 10.0).expect_err("refused").to_string();
        assert!(error.contains("500 in all") && error.contains("smaller scale"), "{error}");
    }
}
