//! The job book: for the workshop wall, as one HTML file that fetches nothing and as a PDF file of the same content.
//!
//! Chapters are made of what the stages left: a table or drawing that no chapter asks for, of a stage from anywhere,
//! gets a place of its own. Two runs give the same bytes; the revision on the cover stands for what the book says.

use super::book_content::{Book, Chapter, PAGE_HEIGHT, PAGE_WIDTH};
use super::book_elements::Elements;
use super::book_picture::{Picture, SMALLEST_LETTERS};
use super::job::all_findings;
use super::{
    OutFile, Writer, book_bends, book_coat, book_content, book_cover, book_findings, book_forecast,
    book_frame, book_html, book_lift, book_pdf, book_spine, book_stand, book_tables, book_welds, glb,
};
use crate::drawing::Drawing;
use crate::error::Result;
use crate::output::Output;
use crate::random;
use crate::table::Table;
use crate::work::Work;
use std::collections::BTreeSet;

/// The registry row.
pub const ROW: Writer = Writer {
    name: "book",
    summary: "the job book as HTML and PDF: pictures, elements, schedules, findings and cautions",
    write,
};

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

/// Eight letters that stand for what the chapters say.
fn revision(chapters: &[String]) -> String {
    let hash = random::hash(chapters.iter().flat_map(|c| c.bytes()));
    format!("{:08x}", (hash >> 32) ^ (hash & 0xffff_ffff))
}

/// All chapters.
fn book_of<'a>(work: &'a Work, output: &'a Output) -> Book<'a> {
    let findings = all_findings(work, output);
    let mut chapters = vec![book_cover::cover(work, output, &findings)];
    chapters.extend(book_cover::outside(output));
    chapters.push(book_findings::chapter(&findings));
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
    chapters.extend(book_forecast::chapter(output));
    chapters.extend(book_bends::chapter(output));
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

/// Tables and drawings that no chapter has shown: a drawing goes with the table whose name its own begins with, and
/// tables whose names begin alike make one chapter, under the title of the first.
fn the_rest<'a>(chapters: &mut Vec<Chapter<'a>>, output: &'a Output) {
    let shown = Shown::of(chapters);
    let mut drawings: Vec<&Drawing> =
        output.drawings.iter().chain(&output.views).filter(|d| !shown.drawings.contains(&d.name)).collect();
    let left = || output.tables.iter().filter(|t| !shown.tables.contains(&t.name));
    let stem = |table: &Table| table.name.split(['-', '_']).next().unwrap_or_default().to_owned();
    let mut before = None;
    for table in left().filter(|t| !t.rows.is_empty()) {
        let of = stem(table);
        let (own, rest) = drawings.into_iter().partition(|d| d.name.starts_with(&of));
        drawings = rest;
        if let Some(chapter) = chapters.last_mut().filter(|_| before.as_ref() == Some(&of)) {
            book_tables::titled(chapter, table);
            pictures(chapter, own);
            continue;
        }
        let mut chapter = book_tables::chapter(table, caution(&of));
        pictures(&mut chapter, own);
        chapters.push(chapter);
        before = Some(of);
    }
    if !drawings.is_empty() {
        let mut chapter = Chapter::new("drawings", "Further drawings");
        pictures(&mut chapter, drawings);
        chapters.push(chapter);
    }
    let empty: Vec<&Table> = left().filter(|t| t.rows.is_empty()).collect();
    if !empty.is_empty() {
        let mut chapter = Chapter::new("empty", "Schedules without a row");
        chapter.list(empty.into_iter().map(|t| book_content::Line::from(t.title.as_str())));
        chapters.push(chapter);
    }
}

/// What work by the tables whose names begin so can do to people. Common practice, no source: a reminder.
fn caution(stem: &str) -> Option<&'static str> {
    match stem {
        "cutting" => Some(
            "Cutting gives off fume and sparks, edges are sharp, and pieces tip or drop as they come free. Shield eyes and \
             hands, extract the fume, clear away what burns, keep watch for fire after the last cut. Test salvaged sheet \
             for zinc, lead and other coatings first. Local rules and the machine's own papers decide.",
        ),
        "surface" => Some(
            "Blasting throws off dust that kills: blaster's helmet with fed air, hearing protection, a closed room, and no \
             abrasive with free silica. Old paint may hold lead or chromate: have it tested. Lash every piece; thin \
             sheet warps under the jet. Trained people and local rules decide.",
        ),
        _ => None,
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
        shown.drawings.extend(chapters.iter().flat_map(|c| c.named.iter().cloned()));
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Registry;
    use crate::drawing::{Label, Layer, Path};
    use crate::element::Solid;
    use crate::export::job::samples::work;
    use crate::finding::{Finding, Level};
    use crate::profile::{Piece, Profile};
    use crate::sculpture::{Element, Sculpture};
    use crate::table::{Cell, Column};
    use nalgebra::{Point3, Vector3};
    use std::sync::Arc;

    /// Two boxes of flat sheet, one on the other, with everything that the stages find out.
    fn stacked() -> (Work, Output) {
        let mut sculpture = Sculpture::new("Two boxes");
        let flat = Profile::from_pieces("flat", vec![Piece::Flat { length: 100.0 }], 2.0, 0.0).expect("flat");
        let flat = Arc::new(flat);
        for (name, size, foot) in
            [("low", [600.0, 500.0, 400.0], 0.0), ("high", [400.0, 300.0, 500.0], 400.0)]
        {
            let mut planes = Vec::new();
            for (axis, [less, more]) in
                [["west", "east"], ["south", "north"], ["bottom", "top"]].iter().enumerate()
            {
                for (label, way) in [(less, -1.0), (more, 1.0)] {
                    let (mut p, mut n) = (Point3::new(0.0, 0.0, foot + size[2] / 2.0), Vector3::zeros());
                    (p[axis], n[axis]) = (p[axis] + way * size[axis] / 2.0, way);
                    planes.push(((*label).to_owned(), p, n));
                }
            }
            let mut element = Element::new(Solid::from_planes(name, planes).expect("a solid"));
            element.clad(&flat);
            sculpture.add(element).expect("added");
        }
        "true".clone_into(&mut sculpture.joint.kind);
        let registry = Registry::standard();
        let work = crate::work_out(&sculpture, &registry).expect("worked out");
        let mut output = crate::run_stages(&work, &registry, &[]).expect("stages run");
        // What a stage from elsewhere may add.
        output.tables.push(Table {
            name: "rust".to_owned(),
            title: "Rust by year".to_owned(),
            columns: vec![Column { name: "year".to_owned() }],
            rows: vec![vec![Cell::Number(3.0, 0)]],
        });
        for name in ["rust-map", "elsewhere"] {
            let path = Path {
                layer: Layer::Cut,
                points: vec![[0.0, 0.0], [100.0, 0.0], [50.0, 80.0]],
                closed: true,
            };
            let label =
                Label { at: [50.0, 30.0], height: 5.0, angle: 30.0, centred: true, text: name.to_owned() };
            output.drawings.push(Drawing {
                name: name.to_owned(),
                title: format!("Map {name}"),
                paths: vec![path],
                labels: vec![label],
                ..Drawing::default()
            });
        }
        (work, output)
    }

    fn files(work: &Work, output: &Output) -> (String, Vec<u8>) {
        let files = write(work, output).expect("writes");
        let paths: Vec<&str> = files.iter().map(|f| f.path.as_str()).collect();
        assert_eq!(paths, ["book.html", "book.pdf"]);
        (String::from_utf8(files[0].bytes.clone()).expect("UTF-8"), files[1].bytes.clone())
    }

    fn sample() -> Output {
        let mut output = Output { templates: crate::export::job::samples::templates(), ..Output::default() };
        for stage in [crate::stage::schedules::ROW, crate::stage::views::ROW] {
            (stage.run)(&work(), &Registry::standard(), &mut output).expect("runs");
        }
        output
    }

    #[test]
    fn every_table_drawing_and_finding_stands_in_both_books() {
        let (work, output) = stacked();
        let (page, pdf) = files(&work, &output);
        let pdf = String::from_utf8_lossy(&pdf);
        let shown: BTreeSet<&str> = page
            .split("data-shows=\"")
            .skip(1)
            .filter_map(|s| s.split('"').next())
            .flat_map(|s| s.split(' '))
            .collect();
        let tables = output.tables.iter().filter(|t| !t.rows.is_empty());
        let mut count = [0; 2];
        for table in tables {
            count[0] += 1;
            assert!(shown.contains(table.name.as_str()), "no table {} on the page", table.name);
            assert!(pdf.contains(&format!("(table-{})", table.name)), "no table {} in the file", table.name);
        }
        for drawing in output.drawings.iter().chain(&output.views) {
            count[1] += 1;
            let id = format!("drawing-{}", drawing.name);
            assert_eq!(page.matches(&format!("id=\"{id}\"")).count(), 1, "{id} on the page");
            assert!(pdf.contains(&format!("({id})")), "{id} in the file");
        }
        assert!(count[0] > 15 && count[1] > 20, "{count:?} tables and drawings: the stages did not run");
        let findings = all_findings(&work, &output);
        assert!(!findings.is_empty(), "something to say");
        let chapters = book_of(&work, &output).chapters;
        let rows = chapters.iter().find(|c| c.id == "findings").map(|c| match &c.blocks[..] {
            [book_content::Block::Grid(grid)] => {
                // A heading over many of a kind says how many there are.
                let heading = |row: &&book_content::Row<'_>| {
                    let place = &row.cells[1].line.0;
                    matches!(&place[..], [book_content::Span::Bold(text)] if text.ends_with(" places"))
                };
                grid.rows.iter().filter(|row| !heading(row)).count()
            }
            _ => 0,
        });
        assert_eq!(rows, Some(findings.len()));
        for part in &work.parts {
            assert!(page.contains(&part.id.replace('/', "/<wbr>").replace('~', "~<wbr>")), "{}", part.id);
        }
    }

    #[test]
    fn elements_stand_in_building_order_with_parts_seams_and_pictures() {
        let (work, output) = stacked();
        let (page, _) = files(&work, &output);
        let places: Vec<usize> = ["Element low</h2>", "Element high</h2>", "Map elsewhere", "Cautions</h2>"]
            .iter()
            .map(|text| page.find(text).unwrap_or_else(|| panic!("no {text}")))
            .collect();
        assert!(places.is_sorted(), "{places:?}");
        let low = &page[places[0]..places[1]];
        for text in
            ["drawing-where-low", "low taken apart", "part-low_top", "Put together", "class=\"seams\""]
        {
            assert!(low.contains(text), "{text}");
        }
        let seam = "high/<wbr>east~<wbr>low/<wbr>top";
        assert!(
            !low.contains(&format!("<b>{seam}</b></td><td>true")),
            "a seam stands with the later element"
        );
        assert!(page[places[1]..].contains(&format!("<b>{seam}</b></td><td>true")), "{seam}");
    }

    #[test]
    fn both_are_the_same_every_time_and_tell_one_revision() {
        let (work, output) = stacked();
        let (page, pdf) = files(&work, &output);
        assert_eq!((page.clone(), pdf), files(&work, &output));
        let revision = |page: &str| page.split("revision ").nth(1).map(|s| s[..8].to_owned());
        let mut other = work.clone();
        other.findings.push(Finding::new(Level::Note, "word", "low", "a new word", "read it"));
        assert_ne!(revision(&page), revision(&files(&other, &output).0), "another book, another revision");
    }

    #[test]
    fn it_is_one_file_that_fetches_nothing_and_its_pictures_are_read_by_others() {
        let (work, output) = stacked();
        let (page, _) = files(&work, &output);
        for word in ["src=", "url(", "@import", "<link", "http:", "https:", "fetch(", "XMLHttp"] {
            assert!(!page.contains(word), "{word}");
        }
        let links: Vec<&str> = page.split("href=\"").skip(1).collect();
        assert!(
            links.len() > 10 && links.iter().all(|l| l.starts_with('#')),
            "links lead into the page only"
        );
        for link in links {
            let id = link[1..].split('"').next().expect("ends");
            assert_eq!(page.matches(&format!(" id=\"{id}\"")).count(), 1, "{id}");
        }
        for svg in page.split("<svg").skip(1) {
            let svg = svg.split_inclusive("</svg>").next().expect("ends");
            let svg = format!("<svg xmlns=\"http://www.w3.org/2000/svg\"{svg}");
            usvg::Tree::from_str(&svg, &usvg::Options::default()).expect("an SVG reader takes it");
        }
    }

    #[test]
    fn without_a_model_nothing_turns_and_without_stages_there_is_no_book() {
        let (page, pdf) = files(&work(), &sample());
        assert!(!page.contains("<script"), "no shell, no script");
        assert!(pdf.starts_with(b"%PDF-"), "a PDF file");
        assert!(write(&work(), &Output::default()).expect("writes").is_empty(), "nothing to show");
    }

    #[test]
    fn names_cannot_break_out_of_their_place() {
        let mut work = work();
        work.sculpture.name = "</title><script>alert('x')</script>".to_owned();
        work.sculpture.elements[0].solid.name = "<b>&".to_owned();
        assert!(!files(&work, &sample()).0.contains("<script"), "escaped");
    }

    #[test]
    fn an_error_is_said_on_the_cover() {
        let mut broken = work();
        broken.findings.insert(0, Finding::new(Level::Error, "open", "A", "not closed", "shift the ribs"));
        assert!(files(&broken, &sample()).0.contains("Do not build from this"), "said");
        assert!(!files(&work(), &sample()).0.contains("Do not build from this"), "only then");
    }
}
