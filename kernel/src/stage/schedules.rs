//! The schedules stage: parts, seams and findings as tables.

use super::{Stage, any};
use crate::drawing::signed_area;
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::output::Output;
use crate::part::{Part, PartKind};
use crate::registry::Registry;
use crate::seam::Seam;
use crate::table::{Cell, Table, table};
use crate::template::Template;
use crate::work::Work;

/// The registry row.
pub const ROW: Stage = Stage {
    name: "schedules",
    summary: "tables of parts, seams and findings for the workshop",
    settings: &[],
    check: any,
    run,
};

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    let tables = [parts(work, output), seams(work), findings(work, output)];
    output.tables.extend(tables);
    Ok(())
}

fn parts(work: &Work, output: &Output) -> Table {
    let columns = [
        "part",
        "face",
        "made of",
        "pieces",
        "thickness mm",
        "area mm²",
        "mass kg",
        "cut length mm",
        "template length mm",
        "template width mm",
    ];
    let rows = work.parts.iter().enumerate().map(|(i, part)| part_row(part, template_size(i, output)));
    table("parts", "Parts to cut", &columns, rows.collect())
}

fn part_row(part: &Part, size: Option<[f64; 2]>) -> Vec<Cell> {
    let (made_of, thickness) = match &part.kind {
        PartKind::Sheet { profile, .. } if profile.depth() > 0.0 => {
            let name = profile.kind().replace('_', " ");
            (format!("{name} {} × {}", profile.pitch(), profile.depth()), profile.thickness())
        }
        PartKind::Sheet { profile, .. } => ("flat sheet".to_owned(), profile.thickness()),
        PartKind::Closure { thickness } => ("closure strip, flat sheet".to_owned(), *thickness),
    };
    let pieces = part.outlines.iter().filter(|o| signed_area(o) > 0.0).count();
    let length = |x: Option<f64>| x.map_or(Cell::Empty, |x| Cell::Number(x, 1));
    vec![
        Cell::Text(part.id.clone()),
        Cell::Text(part.face.clone()),
        Cell::Text(made_of),
        #[allow(clippy::cast_precision_loss, reason = "a handful of pieces")]
        Cell::Number(pieces as f64, 0),
        Cell::Number(thickness, 2),
        Cell::Number(part.area, 0),
        Cell::Number(part.mass, 2),
        Cell::Number(part.cut_length, 1),
        length(size.map(|s| s[0])),
        length(size.map(|s| s[1])),
    ]
}

/// Overall size of what is cut of a part, the longer side first, mm; none if no template was made.
fn template_size(part: usize, output: &Output) -> Option<[f64; 2]> {
    let made = output.templates.iter().find(|t| t.part == part)?;
    let [width, height] = cut_size(&made.templates[made.to_cut()?])?;
    Some([width.max(height), width.min(height)])
}

fn cut_size(template: &Template) -> Option<[f64; 2]> {
    let mut points = template.drawing.true_outlines().flat_map(|p| &p.points);
    let first = *points.next()?;
    let [lo, hi] = points.fold([first, first], |[lo, hi], p| {
        [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
    });
    Some([hi[0] - lo[0], hi[1] - lo[1]])
}

fn seams(work: &Work) -> Table {
    let columns = [
        "seam",
        "joint",
        "nominal length mm",
        "length mm",
        "wobble peak mm",
        "wobble rms mm",
        "dihedral degrees",
        "mismatch mm",
        "runs",
    ];
    table("seams", "Seams", &columns, work.seams.iter().map(seam_row).collect())
}

fn seam_row(seam: &Seam) -> Vec<Cell> {
    vec![
        Cell::Text(seam.id.clone()),
        Cell::Text(seam.joint.to_string()),
        Cell::Number(seam.nominal_length, 1),
        Cell::Number(seam.length, 1),
        Cell::Number(seam.wobble_peak, 1),
        Cell::Number(seam.wobble_rms, 1),
        Cell::Number(seam.dihedral, 2),
        Cell::Number(seam.mismatch, 6),
        #[allow(clippy::cast_precision_loss, reason = "a handful of runs")]
        Cell::Number(seam.runs.len() as f64, 0),
    ]
}

/// The word for a level.
pub(crate) fn level_word(level: Level) -> &'static str {
    match level {
        Level::Error => "error",
        Level::Warning => "warning",
        Level::Note => "note",
    }
}

fn findings(work: &Work, output: &Output) -> Table {
    let mut all: Vec<&Finding> = work.findings.iter().chain(&output.findings).collect();
    all.sort_by_key(|f| f.level);
    let row = |f: &Finding| {
        [level_word(f.level), &f.code, &f.place, &f.message, &f.remedy]
            .map(|t| Cell::Text(t.to_owned()))
            .to_vec()
    };
    let columns = ["level", "code", "where", "message", "remedy"];
    table("findings", "Findings", &columns, all.into_iter().map(row).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::job::samples;

    fn tables(output: &mut Output) -> Vec<Table> {
        run(&samples::work(), &Registry::standard(), output).expect("runs");
        output.tables.clone()
    }

    #[test]
    fn there_is_a_row_for_each_part_seam_and_finding_and_rows_fit_their_columns() {
        let tables = tables(&mut Output::default());
        let shape: Vec<(&str, usize)> = tables.iter().map(|t| (t.name.as_str(), t.rows.len())).collect();
        assert_eq!(shape, [("parts", 2), ("seams", 1), ("findings", 2)]);
        for t in &tables {
            assert!(t.rows.iter().all(|r| r.len() == t.columns.len()), "{}", t.name);
        }
    }

    #[test]
    fn the_size_of_a_part_is_that_of_its_blank_and_empty_without_templates() {
        let column = |t: &Table, name: &str| t.columns.iter().position(|c| c.name == name).expect("column");
        let mut bare = Output::default();
        let parts = &tables(&mut bare)[0];
        assert_eq!(parts.rows[0][column(parts, "template length mm")], Cell::Empty);
        let mut output = Output { templates: samples::templates(), ..Output::default() };
        let parts = &tables(&mut output)[0];
        assert_eq!(parts.rows[0][column(parts, "template length mm")], Cell::Number(1450.0, 1));
        assert_eq!(parts.rows[0][column(parts, "template width mm")], Cell::Number(1100.0, 1));
    }
}
