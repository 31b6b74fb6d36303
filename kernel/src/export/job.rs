//! `job.json`: everything about the work, for machines.
//!
//! Schema `ribwright-job-1`: fields may be added, never renamed. Numbers are written with as many digits as it
//! takes to read the same number back. Units are in the names: mm, mm², mm³, kg, degrees.

use super::web_page::MADE_BY;
use super::{OutFile, Writer};
use crate::choice::{Chosen, Pick};
use crate::drawing::signed_area;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::lay::CutSheet;
use crate::output::{FlatPiece, Output};
use crate::part::{Part, PartKind};
use crate::seam::{Seam, SeamRun};
use crate::template::PartTemplates;
use crate::work::{FaceReport, Work};
use nalgebra::{Point3, Vector3};
use serde::Serialize;

/// The registry row.
pub const ROW: Writer = Writer { name: "job", summary: "everything about the work as JSON", write };

/// Name of the file's schema.
pub const SCHEMA: &str = "ribwright-job-1";

#[derive(Serialize)]
struct Job<'a> {
    schema: &'static str,
    made_by: &'static str,
    sculpture: SculptureEntry<'a>,
    /// What the script leaves open, with the values it was made with.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    choices: Vec<ChoiceEntry<'a>>,
    elements: Vec<ElementEntry<'a>>,
    faces: Vec<FaceEntry<'a>>,
    seams: Vec<SeamEntry<'a>>,
    parts: Vec<PartEntry<'a>>,
    /// Sheets that are cut; only where parts are laid.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    sheets: Vec<SheetEntry<'a>>,
    /// Flat pieces beside the cladding: base plate, skirt, inside plates, lugs.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    flat_pieces: Vec<FlatEntry<'a>>,
    /// Masses by element and kind, where the stage `mass` ran.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    masses: Vec<MassEntry<'a>>,
    /// The tube inside, where the stage `spine` found one.
    #[serde(skip_serializing_if = "Option::is_none")]
    spine: Option<SpineEntry<'a>>,
    findings: Vec<&'a Finding>,
}

#[derive(Serialize)]
struct ChoiceEntry<'a> {
    name: &'a str,
    value: &'a Pick,
    unit: &'a str,
    picked: bool,
}

fn choice_entry(chosen: &Chosen) -> ChoiceEntry<'_> {
    let Chosen { choice, value, picked } = chosen;
    ChoiceEntry { name: &choice.name, value, unit: &choice.unit, picked: *picked }
}

/// Points of the axis from the base up; legs lie between them.
#[derive(Serialize)]
struct SpineEntry<'a> {
    outside_mm: f64,
    wall_mm: f64,
    grade: &'a str,
    length_mm: f64,
    mass_kg: f64,
    /// Least gap between the tube and any sheet; left out where nothing is near.
    #[serde(skip_serializing_if = "Option::is_none")]
    clearance_mm: Option<f64>,
    points_mm: Vec<[f64; 3]>,
    crossings: Vec<CrossingEntry<'a>>,
    template_files: Vec<String>,
}

#[derive(Serialize)]
struct CrossingEntry<'a> {
    face: &'a str,
    at_mm: [f64; 3],
}

fn spine_entry(output: &Output) -> Option<SpineEntry<'_>> {
    let built = output.spine.as_ref()?;
    let files = output
        .papers
        .iter()
        .flat_map(|p| ["svg", "pdf", "dxf"].map(|kind| format!("templates/{}.{kind}", p.stem)));
    Some(SpineEntry {
        outside_mm: built.tube.outside(),
        wall_mm: built.tube.wall(),
        grade: built.material.name,
        length_mm: built.length(),
        mass_kg: built.tube.mass_per_metre(built.material.density) * built.length() / 1000.0,
        clearance_mm: built.clearance.is_finite().then_some(built.clearance),
        points_mm: built.points.iter().map(point).collect(),
        crossings: built
            .crossings
            .iter()
            .map(|c| CrossingEntry { face: &c.name, at_mm: point(&c.at) })
            .collect(),
        template_files: files.collect(),
    })
}

/// The inertia tensor is about the centre; its entries are xx, yy, zz, xy, xz, yz, the last three minus ∫ xy dm.
#[derive(Serialize)]
struct MassEntry<'a> {
    /// None is what stays on the ground.
    element: Option<&'a str>,
    kind: &'static str,
    mass_kg: f64,
    centre_mm: [f64; 3],
    inertia_kg_mm2: [f64; 6],
}

fn mass_entries<'a>(work: &'a Work, output: &Output) -> Vec<MassEntry<'a>> {
    let parts = &output.mass.parts;
    let mut keys: Vec<_> = parts.iter().map(|c| (c.element.is_none(), c.element, c.kind)).collect();
    keys.sort_unstable();
    keys.dedup();
    let entries = keys.into_iter().map(|(_, element, kind)| {
        let body = output.mass.body(|c| c.element == element && c.kind == kind);
        let i = &body.inertia;
        MassEntry {
            element: element.and_then(|e| work.sculpture.elements.get(e)).map(|e| e.solid.name.as_str()),
            kind: kind.word(),
            mass_kg: body.mass,
            centre_mm: point(&body.centre),
            inertia_kg_mm2: [i[(0, 0)], i[(1, 1)], i[(2, 2)], i[(0, 1)], i[(0, 2)], i[(1, 2)]]
                .map(|x| x + 0.0),
        }
    });
    entries.collect()
}

#[derive(Serialize)]
struct SheetEntry<'a> {
    name: &'a str,
    file: String,
    length_mm: f64,
    width_mm: f64,
    profile: &'a str,
    thickness_mm: f64,
    crests_mm: &'a [f64],
    damage_mm: &'a [Vec<[f64; 2]>],
    used_share: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    offcut_mm: Option<[[f64; 2]; 2]>,
    parts: Vec<LaidEntry<'a>>,
}

/// A point (s, t) of the part lies at `at_mm` + `matrix` · (s, t), along and across the sheet.
#[derive(Serialize)]
struct LaidEntry<'a> {
    id: &'a str,
    along_mm: [f64; 2],
    across_mm: [f64; 2],
    #[serde(skip_serializing_if = "Option::is_none")]
    rib: Option<i64>,
    lies: &'a str,
    misfit_mm: f64,
    matrix: [[f64; 2]; 2],
    at_mm: [f64; 2],
}

fn sheet_entry(sheet: &CutSheet) -> SheetEntry<'_> {
    let parts = sheet.parts.iter().map(|p| {
        let [lo, hi] = p.bounds;
        LaidEntry {
            id: &p.id,
            along_mm: [lo[0], hi[0]],
            across_mm: [lo[1], hi[1]],
            rib: p.rib,
            lies: &p.lies,
            misfit_mm: p.misfit,
            matrix: p.matrix,
            at_mm: p.at,
        }
    });
    SheetEntry {
        name: &sheet.name,
        file: format!("cut/sheet_{}.dxf", sheet.stem),
        length_mm: sheet.size[0],
        width_mm: sheet.size[1],
        profile: &sheet.profile,
        thickness_mm: sheet.thickness,
        crests_mm: &sheet.crests,
        damage_mm: &sheet.damage,
        used_share: sheet.used,
        offcut_mm: sheet.offcut,
        parts: parts.collect(),
    }
}

#[derive(Serialize)]
struct FlatEntry<'a> {
    id: &'a str,
    file: String,
    thickness_mm: f64,
    /// How many pieces the file cuts, and the area of one side and the mass of all of them.
    pieces: usize,
    area_mm2: f64,
    mass_kg: f64,
}

fn flat_entry(flat: &FlatPiece) -> FlatEntry<'_> {
    FlatEntry {
        id: &flat.id,
        file: format!("cut/{}.dxf", flat.stem),
        thickness_mm: flat.thickness,
        pieces: flat.pieces,
        area_mm2: flat.area,
        mass_kg: flat.mass,
    }
}

#[derive(Serialize)]
struct SculptureEntry<'a> {
    name: &'a str,
    enclosed_volume_mm3: f64,
    shell_area_mm2: f64,
    shell_centroid_mm: [f64; 3],
    /// Of the faces left open, which the models close: they are no part of the shell's area and centroid.
    #[serde(skip_serializing_if = "Option::is_none")]
    open_area_mm2: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    open_centroid_mm: Option<[f64; 3]>,
    mass_kg: f64,
    centre_of_mass_mm: [f64; 3],
    /// Least and greatest corner of the shell; left out when there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    bounds_mm: Option<[[f64; 3]; 2]>,
    /// Where the origin of STL and GLB lies in the work, see `Mesh::file_origin`.
    model_origin_mm: [f64; 3],
}

#[derive(Serialize)]
struct ElementEntry<'a> {
    name: &'a str,
    volume_mm3: f64,
}

#[derive(Serialize)]
struct FaceEntry<'a> {
    id: &'a str,
    nominal_area_mm2: f64,
    area_mm2: f64,
    pieces_mm2: &'a [f64],
    profile: &'a str,
    profile_pitch_mm: f64,
    profile_depth_mm: f64,
    thickness_mm: f64,
    rib_direction: [f64; 3],
    normal: [f64; 3],
    origin_mm: [f64; 3],
    phase_mm: f64,
}

#[derive(Serialize)]
struct SeamEntry<'a> {
    id: &'a str,
    between: [&'a str; 2],
    joint: &'a str,
    nominal_length_mm: f64,
    length_mm: f64,
    wobble_mm: Wobble,
    dihedral_deg: f64,
    mismatch_mm: f64,
    /// The longest run; a closed one repeats its first point.
    polyline_mm: Vec<[f64; 3]>,
    /// All runs, as found; `length_mm` is all of them together.
    runs_mm: Vec<Vec<[f64; 3]>>,
}

#[derive(Serialize)]
struct Wobble {
    peak: f64,
    rms: f64,
}

#[derive(Serialize)]
struct PartEntry<'a> {
    id: &'a str,
    face: &'a str,
    /// `sheet` or `closure`.
    kind: &'static str,
    thickness_mm: f64,
    placement: PlacementEntry,
    outlines: usize,
    template_files: Vec<String>,
    cut_length_mm: f64,
    area_mm2: f64,
    /// Of a part cut from a surveyed sheet: its sheet, and the area of its cut as seen square to the face.
    #[serde(skip_serializing_if = "Option::is_none")]
    surveyed_sheet: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    plan_area_mm2: Option<f64>,
    mass_kg: f64,
}

/// Where a part lies in the work: a point (s, t) of its outline lies at origin + s·along + t·across, a sheet's
/// middle skin `lift` + its profile's height at t − phase further outward. A closure strip's front lies in the
/// plane and its thickness behind it.
#[derive(Serialize)]
struct PlacementEntry {
    origin_mm: [f64; 3],
    along: [f64; 3],
    across: [f64; 3],
    outward: [f64; 3],
    #[serde(skip_serializing_if = "Option::is_none")]
    phase_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    lift_mm: Option<f64>,
    /// What lies at (0, 0) of a drawing developed along the middle skin: s and, counted along that skin from
    /// the crest at the phase, w (x of the drawing runs against w). Of a closure strip x and y.
    drawing_corner_mm: [f64; 2],
}

fn placement(part: &Part) -> PlacementEntry {
    let points = part.outlines.iter().flatten();
    let (phase_mm, lift_mm, drawing_corner_mm) = match &part.kind {
        PartKind::Sheet { profile, phase, lift, .. } => {
            let corner = points.fold([f64::INFINITY, f64::NEG_INFINITY], |c, p| {
                [c[0].min(p[0]), c[1].max(profile.developed_at(p[1] - phase, 0.0))]
            });
            (Some(*phase), Some(*lift), corner)
        }
        PartKind::Closure { .. } => {
            let corner = points.fold([f64::INFINITY; 2], |c, p| [c[0].min(p[0]), c[1].min(p[1])]);
            (None, None, corner)
        }
    };
    let f = &part.frame;
    let direction = |d: Vector3<f64>| [d.x, d.y, d.z];
    PlacementEntry {
        origin_mm: point(&f.origin),
        along: direction(f.u),
        across: direction(f.v),
        outward: direction(f.n),
        phase_mm,
        lift_mm,
        drawing_corner_mm,
    }
}

fn write(work: &Work, output: &Output) -> Result<Vec<OutFile>> {
    let seams: Result<Vec<SeamEntry<'_>>> = work.seams.iter().map(|s| seam_entry(work, s)).collect();
    let job = Job {
        schema: SCHEMA,
        made_by: MADE_BY,
        sculpture: sculpture_entry(work),
        choices: work.sculpture.choices.iter().map(choice_entry).collect(),
        elements: element_entries(work),
        faces: work.faces.iter().map(face_entry).collect(),
        seams: seams?,
        parts: work.parts.iter().enumerate().map(|(i, p)| part_entry(i, p, output)).collect(),
        sheets: output.sheets.iter().map(sheet_entry).collect(),
        flat_pieces: output.flats.iter().map(flat_entry).collect(),
        masses: mass_entries(work, output),
        spine: spine_entry(output),
        findings: all_findings(work, output),
    };
    let mut bytes = serde_json::to_vec_pretty(&job)
        .map_err(|e| Error::bug(format!("the job cannot be written: {e}")).at("job.json"))?;
    bytes.push(b'\n');
    Ok(vec![OutFile { path: "job.json".to_owned(), bytes }])
}

/// Findings of the work and of the stages, worst first, otherwise in the order they were made.
pub(super) fn all_findings<'a>(work: &'a Work, output: &'a Output) -> Vec<&'a Finding> {
    let mut findings: Vec<&Finding> = work.findings.iter().chain(&output.findings).collect();
    findings.sort_by_key(|f| f.level);
    findings
}

fn sculpture_entry(work: &Work) -> SculptureEntry<'_> {
    SculptureEntry {
        name: &work.sculpture.name,
        enclosed_volume_mm3: work.volume,
        shell_area_mm2: work.area,
        shell_centroid_mm: point(&work.centroid),
        open_area_mm2: work.open_centroid.map(|_| work.open_area),
        open_centroid_mm: work.open_centroid.map(|c| point(&c)),
        mass_kg: work.mass,
        centre_of_mass_mm: point(&work.centre_of_mass),
        bounds_mm: work.mesh.bounds().map(|b| b.map(|p| point(&p))),
        model_origin_mm: vector(&work.mesh.file_origin()),
    }
}

fn element_entries(work: &Work) -> Vec<ElementEntry<'_>> {
    let names = work.sculpture.elements.iter().map(|e| e.solid.name.as_str());
    names.zip(&work.element_volumes).map(|(name, &volume_mm3)| ElementEntry { name, volume_mm3 }).collect()
}

fn face_entry(face: &FaceReport) -> FaceEntry<'_> {
    FaceEntry {
        id: &face.id,
        nominal_area_mm2: face.nominal_area,
        area_mm2: face.area,
        pieces_mm2: &face.pieces,
        profile: face.profile.kind(),
        profile_pitch_mm: face.profile.pitch(),
        profile_depth_mm: face.profile.depth(),
        thickness_mm: face.profile.thickness(),
        rib_direction: vector(&face.frame.u),
        normal: vector(&face.frame.n),
        origin_mm: point(&face.frame.origin),
        phase_mm: face.phase,
    }
}

fn seam_entry<'a>(work: &'a Work, seam: &'a Seam) -> Result<SeamEntry<'a>> {
    let name = |i: usize| match work.faces.get(i) {
        Some(face) => Ok(face.id.as_str()),
        None => Err(Error::bug(format!("names face {i} of {}", work.faces.len())).at(seam.id.clone())),
    };
    let runs_mm: Vec<Vec<[f64; 3]>> = seam.runs.iter().map(run_points).collect();
    // The first of the longest, so that equal runs give the same file every time.
    let longest = runs_mm.iter().fold(None, |best: Option<(&Vec<[f64; 3]>, f64)>, run| {
        let length = run_length(run);
        match best {
            Some((_, most)) if most >= length => best,
            _ => Some((run, length)),
        }
    });
    Ok(SeamEntry {
        id: &seam.id,
        between: [name(seam.between[0])?, name(seam.between[1])?],
        joint: seam.joint.word(),
        nominal_length_mm: seam.nominal_length,
        length_mm: seam.length,
        wobble_mm: Wobble { peak: seam.wobble_peak, rms: seam.wobble_rms },
        dihedral_deg: seam.dihedral,
        mismatch_mm: seam.mismatch,
        polyline_mm: longest.map(|(run, _)| run.clone()).unwrap_or_default(),
        runs_mm,
    })
}

fn run_points(run: &SeamRun) -> Vec<[f64; 3]> {
    let close = if run.closed { run.points.first() } else { None };
    run.points.iter().chain(close).map(point).collect()
}

fn run_length(run: &[[f64; 3]]) -> f64 {
    run.windows(2).map(|e| (Point3::from(e[1]) - Point3::from(e[0])).norm()).sum()
}

fn part_entry<'a>(index: usize, part: &'a Part, output: &Output) -> PartEntry<'a> {
    let (kind, thickness_mm) = match &part.kind {
        PartKind::Sheet { profile, .. } => ("sheet", profile.thickness()),
        PartKind::Closure { thickness } => ("closure", *thickness),
    };
    let wander = match &part.kind {
        PartKind::Sheet { wander, .. } => wander.as_deref(),
        PartKind::Closure { .. } => None,
    };
    PartEntry {
        id: &part.id,
        face: &part.face,
        kind,
        thickness_mm,
        placement: placement(part),
        outlines: part.outlines.iter().filter(|o| signed_area(o) > 0.0).count(),
        template_files: output
            .templates
            .iter()
            .filter(|t| t.part == index)
            .flat_map(template_files)
            .collect(),
        cut_length_mm: part.cut_length,
        area_mm2: part.area,
        surveyed_sheet: wander.map(|w| w.sheet()),
        plan_area_mm2: wander.map(|_| plan_area(part)),
        mass_kg: part.mass,
    }
}

/// Area of a part as seen square to its face, mm².
fn plan_area(part: &Part) -> f64 {
    let seen = |o: &Vec<[f64; 2]>| o.iter().map(|p| part.seen_square(*p)).collect::<Vec<_>>();
    part.outlines.iter().map(|o| signed_area(&seen(o))).sum()
}

/// The files that the DXF, SVG and PDF writers make of one part's templates.
fn template_files(part: &PartTemplates) -> Vec<String> {
    let stem = &part.stem;
    let mut files = vec![format!("cut/{stem}.dxf")];
    files.extend(part.templates.iter().map(|t| format!("templates/{stem}-{}.svg", t.kind)));
    files.push(format!("templates/{stem}.pdf"));
    files
}

fn point(p: &Point3<f64>) -> [f64; 3] {
    vector(&p.coords)
}

/// Without minus zeros.
fn vector(v: &Vector3<f64>) -> [f64; 3] {
    [v.x + 0.0, v.y + 0.0, v.z + 0.0]
}

/// A small work put together by hand, for the tests of writers and stages.
#[cfg(test)]
pub(crate) mod samples {
    use super::*;
    use crate::drawing::{Drawing, Layer, Path};
    use crate::element::Solid;
    use crate::finding::Level;
    use crate::mesh::samples::{corrugated, cuboid, edges, join};
    use crate::part::{Frame, Marking};
    use crate::profile::{Piece, Profile};
    use crate::sculpture::{Element, Sculpture};
    use crate::template::Template;
    use std::sync::Arc;

    /// A corrugated wall `A` 1400 × 342 × 1100 with a box `B` standing on it; two faces, one seam and two
    /// parts are reported.
    pub(crate) fn work() -> Work {
        let mesh = join(&[
            corrugated("A", 7, 200.0, 42.0, 300.0, 1100.0),
            cuboid("B", [200.0, 30.0, 1100.0], [1000.0, 280.0, 1700.0]),
        ]);
        let pieces = vec![Piece::Flat { length: 200.0 }];
        let profile = Arc::new(Profile::from_pieces("flat", pieces, 2.0, 0.0).expect("flat sheet"));
        let mut sculpture = Sculpture::new("Slack Tide");
        for name in ["A", "B"] {
            sculpture.elements.push(Element::new(Solid { name: name.to_owned(), faces: Vec::new() }));
        }
        let frame = Frame {
            origin: Point3::new(700.0, 0.0, 550.0),
            u: Vector3::z(),
            v: Vector3::x(),
            n: -Vector3::y(),
        };
        let face = |id: &str, frame| FaceReport {
            id: id.to_owned(),
            element: 0,
            nominal_area: 1_540_000.0,
            area: 1_600_000.5,
            pieces: vec![1_600_000.5],
            profile: Arc::clone(&profile),
            frame,
            phase: -12.5,
            lift: 0.0,
            wander: None,
        };
        let top = Frame { u: Vector3::x(), v: Vector3::y(), n: Vector3::z(), ..frame };
        let run = |points: &[[f64; 3]], closed| SeamRun {
            points: points.iter().map(|&p| p.into()).collect(),
            strips: Vec::new(),
            closed,
        };
        let seam = Seam {
            id: "A/south~A/top".to_owned(),
            between: [0, 1],
            joint: crate::joint::Joined::Exact,
            nominal_length: 1400.0,
            length: 1500.25,
            wobble_peak: 21.0,
            wobble_rms: 14.5,
            dihedral: 90.0,
            mismatch: 1e-13,
            pieces: 1,
            segments: Vec::new(),
            runs: vec![
                run(&[[0.0, 0.0, 1100.0], [60.0, 0.0, 1100.0]], false),
                run(&[[100.0, -42.0, 1100.0], [1400.0, 0.0, 1100.0], [1400.0, 1.0, 1100.0]], true),
            ],
        };
        let outline = vec![[0.0, 0.0], [1100.0, 0.0], [1100.0, 1400.0], [0.0, 1400.0]];
        let part = |id: &str, face: &str, kind| Part {
            id: id.to_owned(),
            face: face.to_owned(),
            kind,
            frame,
            edges: vec![vec![Some(0), None, None, None]],
            outlines: vec![outline.clone()],
            marks: Vec::new(),
            marking: Marking::default(),
            area: 1_600_000.5,
            cut_length: 5400.0,
            mass: 25.12,
        };
        let sheet = PartKind::Sheet { profile: Arc::clone(&profile), phase: -12.5, lift: 0.0, wander: None };
        Work {
            on_sheets: None,
            before_drains: Vec::new(),
            sculpture,
            faces: vec![face("A/south", frame), face("A/top", top)],
            element_volumes: vec![mesh.volume() - 1.2e8, 1.2e8],
            seams: vec![seam],
            parts: vec![
                part("A/south", "A/south", sheet),
                part("A/south~A/top", "A/south~A/top", PartKind::Closure { thickness: 3.0 }),
            ],
            edges: edges(&mesh),
            volume: mesh.volume(),
            area: mesh.area(),
            open_area: 0.0,
            open_centroid: None,
            centroid: mesh.centroid().expect("has an area"),
            mass: 50.24,
            centre_of_mass: Point3::new(690.0, 140.0, -0.0),
            findings: vec![
                Finding::new(Level::Warning, "sliver", "A/top", "a piece of 350 mm²", "shift the ribs"),
                Finding::new(Level::Note, "phase", "A/south", "moved by −12.5 mm", "nothing to do"),
            ],
            unmatched: mesh.unmatched_edges(),
            mesh,
        }
    }

    /// Templates of the two parts of [`work`], as the templates stage would leave them.
    pub(crate) fn templates() -> Vec<PartTemplates> {
        let path = |layer, points: &[[f64; 2]], closed| Path { layer, points: points.to_vec(), closed };
        let template = |kind: &str, part: &str| Template {
            kind: kind.to_owned(),
            part: part.to_owned(),
            drawing: Drawing {
                name: part.replace('/', "_"),
                title: part.to_owned(),
                paths: vec![
                    path(Layer::Cut, &[[0.0, 0.0], [1450.0, 30.0], [1450.0, 1100.0], [0.0, 1100.0]], true),
                    path(Layer::Mark, &[[700.0, 10.0], [700.0, 1100.0]], false),
                ],
                ..Drawing::default()
            },
            area: 1_600_000.5,
            cut_length: 5400.0,
            bends: Vec::new(),
            datum: None,
        };
        vec![
            PartTemplates {
                part: 0,
                stem: "A_south".to_owned(),
                templates: ["wrap", "blank"].map(|k| template(k, "A/south")).to_vec(),
            },
            PartTemplates {
                part: 1,
                stem: "A_south~A_top".to_owned(),
                templates: vec![template("plan", "A/south~A/top")],
            },
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Level;
    use serde_json::{Value, json};

    fn job(output: &Output) -> Value {
        let files = write(&samples::work(), output).expect("writes");
        assert_eq!((files.len(), files[0].path.as_str()), (1, "job.json"));
        serde_json::from_slice(&files[0].bytes).expect("JSON")
    }

    #[test]
    fn every_name_promised_to_machines_is_there() {
        let job = job(&Output::default());
        assert_eq!(job["schema"], "ribwright-job-1");
        let has = |value: &Value, names: &[&str]| {
            for name in names {
                assert!(value.get(name).is_some_and(|v| !v.is_null()), "{name} in {value}");
            }
        };
        has(&job["sculpture"], &["name", "enclosed_volume_mm3", "shell_area_mm2", "shell_centroid_mm"]);
        has(&job["sculpture"], &["mass_kg", "centre_of_mass_mm"]);
        has(&job["elements"][1], &["name", "volume_mm3"]);
        has(&job["faces"][0], &["id", "nominal_area_mm2", "area_mm2", "pieces_mm2", "profile"]);
        has(&job["faces"][0], &["rib_direction", "phase_mm"]);
        has(&job["seams"][0], &["id", "between", "joint", "nominal_length_mm", "length_mm"]);
        has(&job["seams"][0], &["dihedral_deg", "mismatch_mm", "polyline_mm"]);
        has(&job["seams"][0]["wobble_mm"], &["peak", "rms"]);
        has(&job["parts"][0], &["id", "face", "template_files", "cut_length_mm", "area_mm2", "mass_kg"]);
        has(&job["findings"][0], &["level", "code", "where", "message", "remedy"]);
    }

    #[test]
    fn numbers_read_back_to_the_last_bit() {
        let work = samples::work();
        let job = job(&Output::default());
        let same = |value: &Value, x: f64| assert_eq!(value.as_f64().map(f64::to_bits), Some(x.to_bits()));
        same(&job["sculpture"]["enclosed_volume_mm3"], work.volume);
        same(&job["sculpture"]["shell_centroid_mm"][2], work.centroid.z);
        same(&job["seams"][0]["mismatch_mm"], 1e-13);
        assert_eq!(job["sculpture"]["centre_of_mass_mm"].to_string(), "[690.0,140.0,0.0]", "no minus zero");
    }

    #[test]
    fn a_seam_names_its_faces_and_its_polyline_is_its_longest_run_closed() {
        let job = job(&Output::default());
        let seam = &job["seams"][0];
        assert_eq!(seam["between"], json!(["A/south", "A/top"]));
        assert_eq!(seam["runs_mm"].as_array().map(Vec::len), Some(2), "all runs");
        let line = seam["polyline_mm"].as_array().expect("points");
        assert_eq!((line.len(), &line[0]), (4, &line[3]), "closed");
    }

    #[test]
    fn template_files_are_listed_only_where_templates_were_made() {
        assert_eq!(job(&Output::default())["parts"][0]["template_files"], json!([]));
        let output = Output { templates: samples::templates(), ..Output::default() };
        let job = job(&output);
        let files = ["cut/A_south.dxf", "templates/A_south-wrap.svg", "templates/A_south-blank.svg"];
        assert_eq!(
            job["parts"][0]["template_files"],
            json!([files[0], files[1], files[2], "templates/A_south.pdf"])
        );
    }

    #[test]
    fn findings_of_the_stages_are_sorted_in_worst_first() {
        let error = Finding::new(Level::Error, "open", "A", "not closed", "report it");
        let output = Output { findings: vec![error], ..Output::default() };
        let levels: Vec<Value> =
            job(&output)["findings"].as_array().expect("list").iter().map(|f| f["level"].clone()).collect();
        assert_eq!(levels, ["error", "warning", "note"]);
    }

    #[test]
    fn a_seam_of_a_face_that_is_not_there_is_our_own_bug_and_said_so() {
        let mut work = samples::work();
        work.seams[0].between = [0, 9];
        let error = write(&work, &Output::default()).expect_err("no such face");
        assert_eq!(error.kind(), crate::error::ErrorKind::Bug);
        assert!(error.to_string().contains("A/south~A/top"), "{error}");
    }
}
