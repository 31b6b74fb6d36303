//! The chapter of the job book on the gaps to expect: one row a seam, and pictures of the seams with the widest gaps.
//!
//! A picture of every seam would fill more pages than the rest of the book; their files are named instead.

use super::book_content::{Block, Chapter, Column, Grid, Line, PAGE_HEIGHT, PAGE_WIDTH, Row};
use super::book_picture::{Picture, SMALLEST_LETTERS};
use super::book_tables;
use crate::drawing::Drawing;
use crate::output::Output;
use crate::table::{Cell, Table};
use crate::text::fixed;

/// The tables shown here; the first is set anew, a row a seam.
const TABLES: [&str; 4] = ["forecast", "forecast_totals", "forecast_sources", "forecast_basis"];
/// Ways of making templates, as the table names them.
const WAYS: [&str; 2] = ["nominal", "surveyed"];
/// How many seams are shown, widest gap first: three pages.
const PICTURES: usize = 6;
/// Room for the bars, and for a picture of a seam, mm.
const PAGE: [f64; 2] = [PAGE_WIDTH, PAGE_HEIGHT - 10.0];
const ROOM: [f64; 2] = [PAGE_WIDTH, PAGE_HEIGHT / 2.0 - 12.0];

/// The chapter, if gaps were forecast.
pub(super) fn chapter(output: &Output) -> Option<Chapter<'_>> {
    let table = |name: &str| output.tables.iter().find(|t| t.name == name && !t.rows.is_empty());
    let gaps = table(TABLES[0])?;
    let mut chapter = Chapter::new("forecast", gaps.title.as_str());
    chapter.text(
        "A forecast from the survey and from the errors set for cutting and placing, not a measurement. Greatest: 95 of \
         100 works stay below. Tack with a gap gauge at hand, and do not pull sheet over a wider gap than the welding \
         procedure takes.",
    );
    let seams = Seam::all(gaps);
    if seams.is_empty() {
        book_tables::push(&mut chapter, gaps);
    } else {
        chapter.blocks.push(Block::Grid(grid(gaps, &seams)));
        chapter.text(
            Line::from("Middle figures, their errors and the share of each seam above the gap set are in ")
                .code("schedules/forecast.csv")
                .text("."),
        );
    }
    for table in TABLES[1..].iter().filter_map(|name| table(name)) {
        book_tables::titled(&mut chapter, table);
    }
    pictures(&mut chapter, output, &seams);
    Some(chapter)
}

/// The forecast of one seam, by both ways: greatest and mean gap, mm, and filler, kg.
struct Seam<'a> {
    name: &'a str,
    length: f64,
    ways: [Option<[f64; 3]>; 2],
}

impl<'a> Seam<'a> {
    fn all(table: &'a Table) -> Vec<Self> {
        let at = |name: &str| table.columns.iter().position(|c| c.name == name);
        let names = ["seam", "templates", "length mm", "greatest 95 % mm", "mean mm", "filler kg"].map(at);
        let [Some(seam), Some(way), Some(length), Some(greatest), Some(mean), Some(filler)] = names else {
            return Vec::new();
        };
        let mut all: Vec<Seam<'a>> = Vec::new();
        for row in &table.rows {
            let number = |k: usize| match row[k] {
                Cell::Number(x, _) => Some(x),
                _ => None,
            };
            let (Cell::Text(name), Cell::Text(of)) = (&row[seam], &row[way]) else { continue };
            let Some(k) = WAYS.iter().position(|w| w == of) else { continue };
            let figures = number(greatest).zip(number(mean)).zip(number(filler));
            let figures = figures.map(|((greatest, mean), filler)| [greatest, mean, filler]);
            let length = number(length).unwrap_or_default();
            match all.last_mut().filter(|s| s.name == name) {
                Some(seam) => seam.ways[k] = figures,
                None => {
                    let mut ways = [None; 2];
                    ways[k] = figures;
                    all.push(Seam { name, length, ways });
                }
            }
        }
        all
    }

    /// The greatest gap that the work meets: that of templates of the very sheets, where they are known.
    fn greatest(&self) -> f64 {
        self.ways[1].or(self.ways[0]).map_or(0.0, |w| w[0])
    }
}

fn grid<'a>(table: &Table, seams: &[Seam<'_>]) -> Grid<'a> {
    let mut columns = vec![Column::words("Seam"), Column::figures("Length", "mm")];
    for way in WAYS {
        columns.push(Column::figures(&format!("Greatest, {way}"), "mm"));
        columns.push(Column::figures("mean", "mm"));
        columns.push(Column::figures("filler", "g"));
    }
    let row = |seam: &Seam<'_>| {
        let mut cells: Vec<Line> = vec![Line::new().bold(seam.name), fixed(seam.length, 0).into()];
        for way in seam.ways {
            cells.extend(match way {
                Some([greatest, mean, filler]) => {
                    [fixed(greatest, 1).into(), fixed(mean, 1).into(), fixed(filler * 1000.0, 0).into()]
                }
                None => [Line::new(), Line::new(), Line::new()],
            });
        }
        Row::body(cells)
    };
    let rows = seams.iter().map(row).collect();
    Grid { shows: vec![table.name.clone()], class: "forecast", columns, rows }
}

/// Drawings of single seams begin so; those of all seams together do not.
const OF_SEAM: &str = "forecast-";

/// The bars of the seams that take most, and pictures of the seams with the widest gaps; the files of the others are named.
fn pictures<'a>(chapter: &mut Chapter<'a>, output: &'a Output, seams: &[Seam<'_>]) {
    let own: Vec<&Drawing> = output.drawings.iter().filter(|d| d.name.starts_with(TABLES[0])).collect();
    let (of_all, mut of_seams): (Vec<&Drawing>, Vec<&Drawing>) =
        own.into_iter().partition(|d| !d.name.starts_with(OF_SEAM));
    let mut of_all = of_all.into_iter();
    if let Some(first) = of_all.next() {
        chapter.picture(Picture::fitted(first, PAGE, SMALLEST_LETTERS));
    }
    let greatest = |d: &Drawing| {
        let of = seams.iter().find(|s| d.title.strip_suffix(s.name).is_some_and(|t| t.ends_with(' ')));
        of.map_or(0.0, Seam::greatest)
    };
    of_seams.sort_by(|a, b| greatest(b).total_cmp(&greatest(a)));
    let rest = of_seams.split_off(PICTURES.min(of_seams.len()));
    if of_seams.is_empty() {
        return;
    }
    chapter.heading("The seams with the widest gaps");
    let mut words = Line::from("Widest first.");
    if !rest.is_empty() {
        words = words.text(format!(" The other {} are in the files ", rest.len()));
        words = words.code("drawings/forecast-….svg").text(".");
    }
    if of_all.len() > 0 {
        words = words.text(" The bars of the others are in ").code("drawings/forecast_….svg").text(".");
    }
    chapter.text(words);
    for drawing in of_seams {
        chapter.picture(Picture::fitted(drawing, ROOM, SMALLEST_LETTERS));
    }
    chapter.named.extend(of_all.chain(rest).map(|d| d.name.clone()));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::{Layer, Path};

    #[test]
    fn a_seam_takes_one_row_and_only_the_widest_gaps_take_pictures() {
        let names = ["seam", "templates", "length mm", "greatest 95 % mm", "mean mm", "filler kg"];
        let mut output = Output::default();
        let mut rows = Vec::new();
        for k in 0..20_u32 {
            let seam = format!("A/side{k}~A/top");
            for (way, gap) in WAYS.iter().zip([9.0, f64::from(k)]) {
                let mut row = vec![Cell::Text(seam.clone()), Cell::Text((*way).to_owned())];
                row.extend([600.0, gap, gap / 3.0, 0.012].map(|x| Cell::Number(x, 3)));
                rows.push(row);
            }
            let points = vec![[0.0, 0.0], [100.0, 0.0], [50.0, 10.0]];
            output.drawings.push(Drawing {
                name: format!("forecast-A_side{k}_A_top"),
                title: format!("Gap forecast, seam {seam}"),
                paths: vec![Path { layer: Layer::Cut, points, closed: true }],
                ..Drawing::default()
            });
        }
        let columns = names.map(|n| crate::table::Column { name: n.to_owned() }).to_vec();
        output.tables.push(Table { name: "forecast".into(), title: "Gaps to expect".into(), columns, rows });
        let chapter = chapter(&output).expect("a chapter");
        let rows: usize =
            chapter.blocks.iter().map(|b| if let Block::Grid(g) = b { g.rows.len() } else { 0 }).sum();
        assert_eq!(rows, 20, "one row a seam");
        let shown: Vec<&str> = chapter
            .blocks
            .iter()
            .filter_map(|b| if let Block::Picture(p) = b { p.shows.as_deref() } else { None })
            .collect();
        let widest: Vec<String> = (14..20).rev().map(|k| format!("forecast-A_side{k}_A_top")).collect();
        assert_eq!(shown, widest, "the widest of the templates that are used");
        assert_eq!(chapter.named.len(), 14, "the others are named");
    }
}
