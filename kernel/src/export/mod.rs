//! Writers: drawings, tables and meshes as the bytes of files. Nothing here touches the file system.

pub mod book;
mod book_bends;
mod book_coat;
mod book_content;
mod book_cover;
mod book_elements;
mod book_findings;
mod book_flow;
mod book_fonts;
mod book_forecast;
mod book_frame;
mod book_html;
mod book_lift;
mod book_pdf;
mod book_picture;
mod book_spine;
mod book_stand;
mod book_tables;
mod book_welds;
pub mod csv;
pub mod dxf;
pub mod estimate;
pub mod glb;
pub mod job;
pub mod pdf;
pub mod record;
pub mod stl;
pub mod svg;
pub(crate) mod web_page;

use crate::error::{Error, Result};
use crate::output::Output;
use crate::registry::{Registry, named_row};
use crate::template::{PartTemplates, Template};
use crate::work::Work;
use rayon::prelude::*;

/// A file to be written, with a path relative to the output folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutFile {
    /// Relative path with forward slashes: `cut/A_east.dxf`.
    pub path: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// A registry row: one writer.
#[derive(Clone, Copy)]
pub struct Writer {
    /// The word for it.
    pub name: &'static str,
    /// One line on what it writes.
    pub summary: &'static str,
    /// The files, given what the stages left in `Output` (nothing, if its stage did not run).
    pub write: fn(&Work, &Output) -> Result<Vec<OutFile>>,
}

named_row!(Writer, without settings);

/// One file for each part, made from its template of that kind, or from its first where it has none.
fn one_per_part(
    output: &Output,
    choose: impl Fn(&PartTemplates) -> Option<&Template> + Sync,
    path: impl Fn(&str) -> String + Sync,
    make: impl Fn(&Template) -> Result<Vec<u8>> + Sync,
) -> Result<Vec<OutFile>> {
    output
        .templates
        .par_iter()
        .filter_map(|part| {
            let template = choose(part)?;
            Some((part, template))
        })
        .map(|(part, template)| {
            let path = path(&part.stem);
            let bytes = output.memo.file(&path, &template.drawing, || make(template));
            let bytes = bytes.map_err(|e| e.at(path.as_str()))?;
            Ok(OutFile { path, bytes })
        })
        .collect()
}

/// Makes the files of every writer whose stages have run, in the order of the registry.
///
/// # Errors
/// A writer that cannot write what it was given, or two writers that want the same file.
pub fn write_files(work: &Work, output: &Output, registry: &Registry) -> Result<Vec<OutFile>> {
    let sets: Vec<Result<Vec<OutFile>>> =
        registry.writers.par_iter().map(|writer| (writer.write)(work, output)).collect();
    let mut files = Vec::new();
    for set in sets {
        files.extend(set?);
    }
    let mut paths: Vec<&str> = files.iter().map(|f| f.path.as_str()).collect();
    paths.sort_unstable();
    if let Some(pair) = paths.windows(2).find(|p| p[0] == p[1]) {
        return Err(Error::bug(format!("two writers made {}", pair[0])));
    }
    Ok(files)
}
