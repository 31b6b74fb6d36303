//! The kit: the work as a small model to cut out and fold from card, and to print in plastic.
//!
//! Elements are unfolded as the flat convex solids they are, whole or face by face; or each part is developed along
//! its corrugation. Lengths on paper are mm in model size; scale N says that the work is N times as large.

mod flat;
mod front;
mod label;
mod options;
mod pages;
mod piece;
mod print;
mod ribbed;
mod shape;
mod stand;
mod tab;
#[cfg(test)]
mod tests;
mod tracing;
mod unfold;

pub use options::{KitOptions, Nets, ROWS, Size};
pub use pages::{MARGIN, Page, STRIP, window};
pub use piece::Piece;
pub use ribbed::develop;
pub use shape::{FlatEdge, FlatFace, Shape};
pub use tab::Tab;
pub use unfold::{Net, fold_up};

use crate::element::Solid;
use crate::error::{Error, Result};
use crate::export::OutFile;
use crate::export::csv::csv_bytes;
use crate::export::pdf::pages_to_pdf;
use crate::export::stl::file_stem;
use crate::export::svg::page_to_svg;
use crate::finding::{Finding, Level};
use crate::part::PartKind;
use crate::table::{Cell, Table, columns_of};
use crate::work::Work;
use piece::Signs;
use rayon::prelude::*;
use ribbed::{LEAST_STRIP, Sheeted};
use tab::Tabs;
use unfold::{Sheet, unfold, whole};

/// A kit, ready to be written.
#[derive(Debug, Clone)]
pub struct Kit {
    /// The work is as many times as large.
    pub scale: f64,
    /// Paper, upright, mm.
    pub paper: [f64; 2],
    /// Width, depth and height of the model, mm.
    pub size: [f64; 3],
    /// The elements in model size, in order.
    pub shapes: Vec<Shape>,
    /// In plain kits: the net of each piece in turn, with the index of its shape; loose strips follow after them.
    pub nets: Vec<(usize, Net)>,
    /// What is cut out.
    pub pieces: Vec<Piece>,
    /// Contents, footprint and pieces.
    pub pages: Vec<Page>,
    /// What there is to say.
    pub findings: Vec<Finding>,
    edges: Table,
    tracings: Vec<OutFile>,
}

/// Scales to choose from, as times 1, 10, 100: those of architects' and engineers' rules.
const SCALES: [f64; 9] = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5, 10.0];
/// Largest scale chosen by itself.
const MOST_SCALE: f64 = 10_000.0;

/// Makes the kit of a work.
///
/// # Errors
/// A scale at which a piece takes too many pages; paper without sheets.
pub fn make_kit(work: &Work, options: &KitOptions) -> Result<Kit> {
    let paper = options.paper.size().ok_or_else(|| {
        Error::input("a kit is printed on sheets, not on a roll").remedy("choose A4, A3 or letter")
    })?;
    let solids: Vec<&Solid> = work.sculpture.elements.iter().map(|e| &e.solid).collect();
    let Some([lo, hi]) = stand::bounds(&solids) else {
        return Err(Error::input("the work has no elements").at(work.sculpture.name.clone()));
    };
    let [low, high] = window(paper);
    let sheet = Sheet { window: [high[0] - low[0], high[1] - low[1]], tab: options.tab };
    let scale = match options.size {
        Size::OneTo(scale) => scale,
        Size::Height(height) => (hi.z - lo.z) / height,
        Size::Fitting => fitting(&solids, options, &sheet)?,
    };
    let extent = hi - lo;
    let mut first = 1;
    let mut shapes = Vec::with_capacity(solids.len());
    for solid in &solids {
        let shape = Shape::new(solid, scale, first)?;
        first += u32::try_from(shape.edges.len()).unwrap_or(u32::MAX);
        shapes.push(shape);
    }
    let title = scale_text(scale);
    let mut kit = Kit {
        scale,
        paper,
        size: [extent.x, extent.y, extent.z].map(|x| x / scale),
        tracings: tracing::tracings(&shapes, &work.sculpture.elements, &work.faces, &title)?,
        shapes,
        nets: Vec::new(),
        pieces: Vec::new(),
        pages: Vec::new(),
        findings: Vec::new(),
        edges: Table { name: "edges".into(), title: "Edges".into(), columns: Vec::new(), rows: Vec::new() },
    };
    if options.ribs {
        kit.ribbed(work, options, &sheet, first)?
    } else {
        kit.plain(&solids, options, &sheet)
    }
    let thinnest: Vec<(String, f64)> = kit.shapes.iter().map(|s| (s.name.clone(), s.least_width())).collect();
    kit.findings.extend(print::too_fine(work, &thinnest, scale, options.feature));
    kit.say_unwritten(&work.sculpture.name);
    let name = &work.sculpture.name;
    let size = stand::size_of(&solids);
    let base = [front::base(&stand::footprint(&solids, scale, size))];
    let mut rest = pages::paginate(&base, paper, options.overlap)?;
    let count = kit.pieces.len();
    rest.iter_mut().flat_map(|p| &mut p.placed).for_each(|(index, _)| *index += count);
    rest.extend(pages::paginate(&kit.pieces, paper, options.overlap)?);
    kit.pieces.extend(base);
    let about = front::About {
        name,
        scale: &title,
        size: kit.size,
        paper: &options.paper.name(),
        ribs: options.ribs,
        overlap: options.overlap,
    };
    kit.pages = front::contents(&about, &rest, paper);
    kit.pages.extend(rest);
    pages::finish(&mut kit.pages, name, &title, paper);
    Ok(kit)
}

/// `1:20`; with up to three decimals where it is not whole.
pub fn scale_text(scale: f64) -> String {
    let text = format!("{scale:.3}");
    format!("1:{}", text.trim_end_matches('0').trim_end_matches('.'))
}

/// The least round scale at which the tallest element fits a page: unfolded whole, or face by face.
fn fitting(solids: &[&Solid], options: &KitOptions, sheet: &Sheet) -> Result<f64> {
    let height = |s: &Solid| {
        let [lo, hi] = s.bounding_box();
        hi.z - lo.z
    };
    let mut tallest = solids[0];
    for solid in solids {
        if height(solid) > height(tallest) {
            tallest = solid;
        }
    }
    // A solid that has no net in one piece is judged by its faces.
    let whole_net = options.nets == Nets::Elements
        && !options.ribs
        && whole(&Shape::new(tallest, MOST_SCALE, 1)?, sheet).is_some();
    let mut decade = 1.0;
    while decade < MOST_SCALE {
        for step in SCALES {
            let shape = Shape::new(tallest, step * decade, 1)?;
            // Corrugation makes a face wider by up to its web's slope; a quarter is usual.
            let wide = if options.ribs { 1.25 } else { 1.0 };
            let faces_fit = shape.faces.iter().all(|f| {
                let (_, size) = Net::best_turn(&f.polygon, sheet);
                sheet.holds(size.map(|x| x * wide))
            });
            if faces_fit && (!whole_net || whole(&shape, sheet).is_some()) {
                return Ok(step * decade);
            }
        }
        decade *= 10.0;
    }
    Ok(MOST_SCALE)
}

impl Kit {
    fn plain(&mut self, solids: &[&Solid], options: &KitOptions, sheet: &Sheet) {
        let names: Vec<String> = solids.iter().map(|s| s.name.clone()).collect();
        let size = stand::size_of(solids);
        let made: Vec<_> = self
            .shapes
            .par_iter()
            .enumerate()
            .map(|(own, shape)| {
                let nets = match options.nets {
                    Nets::Elements => unfold(shape, sheet),
                    Nets::Faces => (0..shape.faces.len()).map(Net::single).collect(),
                };
                let tabs = tab::tabs(shape, &nets, options.tab);
                let stands = stand::stands(shape, own, solids, size);
                let signs = Signs { names: &names, own, stands: &stands };
                let pieces: Vec<Piece> = nets
                    .iter()
                    .enumerate()
                    .map(|(n, net)| {
                        let own_tabs: Vec<_> = tabs.placed.iter().filter(|t| t.net == n).collect();
                        let name = match net.faces[..] {
                            [(face, _)] => shape.faces[face].id.clone(),
                            _ if nets.len() == 1 => shape.name.clone(),
                            _ => format!("{}.{}", shape.name, n + 1),
                        };
                        Piece::plain(name, shape, net, &own_tabs, &signs, sheet)
                    })
                    .collect();
                (nets, tabs, pieces)
            })
            .collect();
        let mut rows = Vec::new();
        let mut strips = Vec::new();
        for (index, (nets, tabs, pieces)) in made.into_iter().enumerate() {
            self.list_edges(index, &nets, &tabs, &mut rows);
            let shape = &self.shapes[index];
            let of = |k: usize| shape.edges[k].number;
            strips.extend(tabs.loose.iter().map(|(k, halves)| Piece::strip(of(*k), halves)));
            if !tabs.bare.is_empty() {
                let numbers: Vec<String> = tabs.bare.iter().map(|&k| of(k).to_string()).collect();
                self.findings.push(Finding::new(
                    Level::Note,
                    "kit-no-tab",
                    shape.name.clone(),
                    format!("these edges have no room for a tab or strip: {}", numbers.join(", ")),
                    "glue them edge to edge, or print larger",
                ));
            }
            self.nets.extend(nets.into_iter().map(|net| (index, net)));
            self.pieces.extend(pieces);
        }
        self.pieces.extend(strips);
        let heads = ["edge", "face", "other face", "length mm", "joined by", "tab on"];
        self.edges.columns = columns_of(&heads);
        self.edges.rows = rows;
    }

    fn list_edges(&self, index: usize, nets: &[Net], tabs: &Tabs, rows: &mut Vec<Vec<Cell>>) {
        let shape = &self.shapes[index];
        for (k, edge) in shape.edges.iter().enumerate() {
            let [a, b] = edge.sides.map(|(face, _)| shape.faces[face].id.clone());
            let tab = tabs.placed.iter().find(|t| t.tab.number == edge.number);
            let how = if nets.iter().any(|n| n.folds(k)) {
                "fold"
            } else if tab.is_some() {
                "tab"
            } else if tabs.loose.iter().any(|(e, _)| *e == k) {
                "loose strip"
            } else {
                "edge to edge"
            };
            let on = tab.map(|t| shape.faces[nets[t.net].faces[t.at].0].id.clone());
            rows.push(vec![
                Cell::Number(f64::from(edge.number), 0),
                Cell::Text(a),
                Cell::Text(b),
                Cell::Number(edge.length, 2),
                Cell::Text(how.to_owned()),
                on.map_or(Cell::Empty, Cell::Text),
            ]);
        }
    }

    fn ribbed(&mut self, work: &Work, options: &KitOptions, sheet: &Sheet, first: u32) -> Result<()> {
        let mut numbers = Vec::with_capacity(work.seams.len());
        let mut next = first;
        for seam in &work.seams {
            let ids = seam.between.map(|f| work.faces[f].id.as_str());
            // A seam on an edge of one solid has that edge's number; all others count on from there.
            let own = self.shapes.iter().find_map(|shape| {
                let is = |e: &&FlatEdge| {
                    let of = e.sides.map(|(face, _)| shape.faces[face].id.as_str());
                    of == ids || [of[1], of[0]] == ids
                };
                shape.edges.iter().find(is).filter(|e| !numbers.contains(&e.number)).map(|e| e.number)
            });
            numbers.push(own.unwrap_or_else(|| {
                next += 1;
                next - 1
            }));
        }
        let mut sheets: Vec<Sheeted<'_>> =
            work.parts.par_iter().map(|part| Sheeted::new(part, self.scale)).collect::<Result<_>>()?;
        let mut rows = Vec::new();
        for (seam, number) in numbers.iter().enumerate() {
            let sides: Vec<usize> =
                (0..sheets.len()).filter(|&i| sheets[i].runs.iter().any(|r| r.seam == seam)).collect();
            let mut best: Option<(f64, usize, Vec<_>)> = None;
            // All parts of one face are one side; a face by itself (its neighbour open) closes nothing.
            let face_of = |i: usize| sheets[i].part.face.as_str();
            let two = sides.len() > 1;
            for &i in sides.iter().filter(|_| two) {
                let others = sides.iter().any(|&k| face_of(k) != face_of(i)) || sides.len() == 2;
                let tabs = sheets[i].tabs_on(seam, *number, options.tab);
                let length: f64 = tabs
                    .iter()
                    .map(|(_, t)| flat::distance(t.corners[0], t.corners[t.corners.len() - 3]))
                    .sum();
                if others && best.as_ref().is_none_or(|(most, ..)| length > *most) {
                    best = Some((length, i, tabs));
                }
            }
            let length = sides.first().map_or(0.0, |&i| sheets[i].length_on(seam));
            let on = best.filter(|(length, ..)| *length > 0.0).map(|(_, i, tabs)| {
                // The other parts of that face need tabs of their own.
                let face = sheets[i].part.face.clone();
                let splice = sides.iter().all(|&k| sheets[k].part.face == face);
                let more: Vec<usize> = sides
                    .iter()
                    .copied()
                    .filter(|&k| k != i && !splice && sheets[k].part.face == face)
                    .collect();
                sheets[i].take(tabs);
                for k in more {
                    let tabs = sheets[k].tabs_on(seam, *number, options.tab);
                    sheets[k].take(tabs);
                }
                sheets[i].part.id.clone()
            });
            let ids = work.seams[seam].between.map(|f| work.faces[f].id.clone());
            let [a, b] = ids;
            rows.push(vec![
                Cell::Number(f64::from(*number), 0),
                Cell::Text(a),
                Cell::Text(b),
                Cell::Number(length, 2),
                Cell::Text(if on.is_some() { "tabs" } else { "edge to edge" }.to_owned()),
                on.map_or(Cell::Empty, Cell::Text),
            ]);
        }
        let mut narrow = 0.0_f64;
        let mut left_out = 0;
        let number = |seam: usize| numbers[seam];
        let kept: Vec<&Sheeted<'_>> = sheets
            .iter()
            .filter(|s| {
                let keep = matches!(s.part.kind, PartKind::Sheet { .. }) || s.width() >= LEAST_STRIP;
                if !keep {
                    narrow = narrow.max(s.width());
                    left_out += 1;
                }
                keep
            })
            .collect();
        self.pieces = kept.par_iter().map(|s| s.piece(&number, sheet)).collect();
        if left_out > 0 {
            self.findings.push(Finding::new(
                Level::Note,
                "kit-strips",
                work.sculpture.name.clone(),
                format!("{left_out} closure strips, at most {narrow:.1} mm wide on paper, are left out"),
                "the seams there stay open by so much, or print larger",
            ));
        }
        if work.parts.iter().any(|p| matches!(&p.kind, PartKind::Sheet { wander: Some(_), .. })) {
            self.findings.push(Finding::new(
                Level::Note,
                "kit-nominal",
                work.sculpture.name.clone(),
                "the kit is folded from the nominal profile, not from the sheets as surveyed",
                "nothing to do: at model size the difference is below the width of a cut",
            ));
        }
        let heads = ["edge", "face", "other face", "length mm", "joined by", "tabs on"];
        self.edges.columns = columns_of(&heads);
        self.edges.rows = rows;
        Ok(())
    }

    fn say_unwritten(&mut self, name: &str) {
        let all: Vec<&str> = self.pieces.iter().flat_map(|p| &p.unwritten).map(String::as_str).collect();
        if !all.is_empty() {
            self.findings.push(Finding::new(
                Level::Note,
                "kit-unwritten",
                name,
                format!(
                    "{} found no room in writing that can be read: {}",
                    plural(all.len()),
                    all.join(", ")
                ),
                "see edges.csv and the tracings for them, or print larger",
            ));
        }
    }

    /// The list of pages: number, tile and what is on each.
    fn list(&self) -> Table {
        let rows = (1_u32..).zip(&self.pages).map(|(number, page)| {
            vec![
                Cell::Number(f64::from(number), 0),
                page.tile.clone().map_or(Cell::Empty, Cell::Text),
                Cell::Text(page.holds.join(", ")),
            ]
        });
        Table {
            name: "pages".into(),
            title: "Pages".into(),
            columns: columns_of(&["page", "tile", "holds"]),
            rows: rows.collect(),
        }
    }

    /// All files: `kit.pdf`, its pages as SVG, lists, tracings, and the model for printing in plastic.
    ///
    /// # Errors
    /// A drawing or model that cannot be written.
    pub fn files(&mut self, work: &Work) -> Result<Vec<OutFile>> {
        let title = scale_text(self.scale);
        let drawings: Vec<_> = self.pages.iter().map(|p| p.drawing.clone()).collect();
        let name = format!("{}, {title}", work.sculpture.name);
        let mut files =
            vec![OutFile { path: "kit.pdf".into(), bytes: pages_to_pdf(&name, &drawings, self.paper)? }];
        let pages: Vec<OutFile> = drawings
            .par_iter()
            .map(|d| {
                let text = page_to_svg(d, self.paper)?;
                Ok(OutFile { path: format!("pages/{}.svg", d.name), bytes: text.into_bytes() })
            })
            .collect::<Result<_>>()?;
        files.extend(pages);
        for table in [&self.list(), &self.edges] {
            let bytes = csv_bytes(table)
                .map_err(|e| Error::bug(format!("list cannot be written: {e}")).at(table.name.clone()))?;
            files.push(OutFile { path: format!("{}.csv", table.name), bytes });
        }
        files.extend(self.tracings.iter().cloned());
        let stem = format!("{}-1-{}", file_stem(&work.sculpture.name), &title[2..]);
        files.extend(print::files(work, &stem, self.scale, &name, &mut self.findings)?);
        self.findings.sort();
        Ok(files)
    }
}

fn plural(count: usize) -> String {
    if count == 1 { "one name or number".to_owned() } else { format!("{count} names and numbers") }
}
