//! The job book: for the workshop wall, as one HTML file that fetches nothing and as a PDF file of the same content.
//!
//! Chapters are made of what the stages left: a table or drawing that no chapter asks for, of a stage from anywhere,
//! gets a place of its own. Two runs give the same bytes; the revision on the cover stands for what the book says.

use super::book_content::{Book, Chapter, PAGE_HEIGHT, PAGE_WIDTH};
use super::book_elements::Elements;
use super::book_picture::{Picture, SMALLEST_LETTERS};
use super::job::all_findings;
use super::{
    Writer, book_coat, book_content, book_cover, book_frame, book_html, book_lift, book_pdf, book_spine,
    book_stand, book_tables, book_welds, glb,
};
use crate::drawing::Drawing;
use crate::error::Result;
use crate::table::Table;
use crate::work::{OutFile, Output, Work};
use std::collections::BTreeSet;

/// The registry row.
pub const ROW: Writer = Writer {
    name: "book",
    summary: "the job book as HTML and PDF: pictures, elements, schedules, findings and cautions",
    write,
};

/// Tables of chapters that are written here.
const OWN_CHAPTER: [&str; 3] = ["parts", "seams", "findings"];
/// Tables and drawings of the chapter on sheets.
const SHEETS: [&str; 3] = ["sheets", "sheet_use", "offcuts"];
const SHEET_DRAWINGS: &str = "sheet-";
/// Drawings of seams seen edge-on begin so.
const SEAM_DRAWINGS: &str = "seams-";
/// Width and height that drawings of a full page may take, mm.
const FULL: [f64; 2] = [PAGE_WIDTH, PAGE_HEIGHT - 12.0];
/// The same for drawings beside others.
const HALF: [f64; 2] = [PAGE_WIDTH, PAGE_HEIGHT / 2.0 - 12.0];

fn write(work: &Work, output: &Output) -> Result<Vec<OutFile>> {
    if output.views.is_empty() && output.tables.is_empty() {
        return Ok(Vec::new());
    }
    let book = book_of(work, output);
    let chapters = book_html::chapters(&book);
    let revision = revision(&chapters);
    let model = output.mesh.as_ref().filter(|mesh| !mesh.triangles.is_empty());
    let (page, pdf) = rayon::join(
        || -> Result<String> {
            let model = model.map(|mesh| glb::glb_bytes(&work.sculpture.name, mesh)).transpose()?;
            Ok(book_html::page(&book, &chapters, &revision, model.as_deref()))
        },
        || book_pdf::pages(&book, &revision),
    );
    let file = |path: &str, bytes| OutFile { path: path.to_owned(), bytes };
    Ok(vec![file("book.html", page?.into_bytes()), file("book.pdf", pdf?)])
}

/// Eight letters that stand for what the chapters say (FNV-1a, 64 bits, folded to 32; Fowler, Noll and Vo).
fn revision(chapters: &[String]) -> String {
    const START: u64 = 0xcbf2_9ce4_8422_2325;
    const PRIME: u64 = 0x0100_0000_01b3;
    let bytes = chapters.iter().flat_map(|c| c.as_bytes());
    let hash = bytes.fold(START, |h, &b| (h ^ u64::from(b)).wrapping_mul(PRIME));
    format!("{:08x}", (hash >> 32) ^ (hash & 0xffff_ffff))
}

/// All chapters.
fn book_of<'a>(work: &'a Work, output: &'a Output) -> Book<'a> {
    let findings = all_findings(work, output);
    let mut chapters = vec![book_cover::cover(work, output, &findings)];
    chapters.extend(book_cover::outside(output));
    chapters.push(book_cover::findings_chapter(&findings));
    chapters.extend(book_cover::stack(output));
    chapters.extend(Elements::new(work, output).chapters());
    chapters.extend(seams_edge_on(output));
    chapters.extend(sheets(output));
    chapters.extend(book_welds::chapters(output));
    chapters.extend(book_stand::chapter(output, &findings));
    chapters.extend(book_spine::chapter(output, &findings));
    chapters.extend(book_frame::chapter(output, &findings));
    chapters.extend(book_lift::chapters(output));
    chapters.extend(book_coat::chapters(output));
    the_rest(&mut chapters, output);
    chapters.push(book_cover::how_to_read());
    chapters.push(book_cover::cautions());
    Book { title: work.sculpture.name.clone(), chapters }
}

fn seams_edge_on(output: &Output) -> Option<Chapter<'_>> {
    let drawings: Vec<&Drawing> =
        output.drawings.iter().filter(|d| d.name.starts_with(SEAM_DRAWINGS)).collect();
    if drawings.is_empty() {
        return None;
    }
    let mut chapter = Chapter::new("seams-edge-on", "Seams seen edge-on");
    chapter.text("Each at the place named below it, cut square to the seam; outside up.");
    for (k, drawing) in drawings.into_iter().enumerate() {
        let room = if k == 0 { [FULL[0], FULL[1] - 30.0] } else { FULL };
        chapter.picture(Picture::fitted(drawing, room, SMALLEST_LETTERS));
    }
    Some(chapter)
}

fn sheets(output: &Output) -> Option<Chapter<'_>> {
    let tables: Vec<&Table> =
        SHEETS.iter().filter_map(|name| output.tables.iter().find(|t| t.name == *name)).collect();
    let drawings: Vec<&Drawing> =
        output.drawings.iter().filter(|d| d.name.starts_with(SHEET_DRAWINGS)).collect();
    if tables.is_empty() && drawings.is_empty() {
        return None;
    }
    let mut chapter = Chapter::new("sheets", "Sheets to cut");
    for table in tables {
        book_tables::titled(&mut chapter, table);
    }
    for drawing in drawings {
        chapter.picture(Picture::fitted(drawing, FULL, SMALLEST_LETTERS));
    }
    Some(chapter)
}

/// Tables and drawings that no chapter has shown: a drawing goes with the table whose name its own begins with.
fn the_rest<'a>(chapters: &mut Vec<Chapter<'a>>, output: &'a Output) {
    let shown = Shown::of(chapters);
    let mut drawings: Vec<&Drawing> =
        output.drawings.iter().chain(&output.views).filter(|d| !shown.drawings.contains(&d.name)).collect();
    for table in output.tables.iter().filter(|t| !shown.tables.contains(&t.name)) {
        if OWN_CHAPTER.contains(&table.name.as_str()) && table.rows.is_empty() {
            continue;
        }
        let mut chapter = book_tables::chapter(table);
        let stem = table.name.split(['-', '_']).next().unwrap_or_default();
        let (own, rest) = drawings.into_iter().partition(|d| d.name.starts_with(stem));
        drawings = rest;
        pictures(&mut chapter, own);
        chapters.push(chapter);
    }
    if !drawings.is_empty() {
        let mut chapter = Chapter::new("drawings", "Further drawings");
        pictures(&mut chapter, drawings);
        chapters.push(chapter);
    }
}

fn pictures<'a>(chapter: &mut Chapter<'a>, drawings: Vec<&'a Drawing>) {
    for drawing in drawings {
        chapter.picture(Picture::fitted(drawing, HALF, SMALLEST_LETTERS));
    }
}

/// Names of the tables and drawings that chapters show.
struct Shown {
    tables: BTreeSet<String>,
    drawings: BTreeSet<String>,
}

impl Shown {
    fn of(chapters: &[Chapter<'_>]) -> Self {
        use book_content::Block;
        let mut shown = Self { tables: BTreeSet::new(), drawings: BTreeSet::new() };
        for block in chapters.iter().flat_map(|c| &c.blocks) {
            match block {
                Block::Grid(grid) => shown.tables.extend(grid.shows.iter().cloned()),
                Block::Picture(p) | Block::Turning(p) => shown.drawings.extend(p.shows.clone()),
                Block::Pictures { pictures, .. } => {
                    shown.drawings.extend(pictures.iter().filter_map(|p| p.shows.clone()));
                }
                _ => {}
            }
        }
        shown
    }
}
