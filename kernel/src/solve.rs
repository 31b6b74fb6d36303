//! Solving a work: exact cuts first, then the joints chosen from them, then parts, mesh, totals, findings.

use crate::assembly::{Assembly, Surface};
use crate::clash::clashes;
use crate::cutting::{Piece, pieces_of_faces};
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::fit::{Fitted, MOST_CORNERS_OF_ALL, Skins};
use crate::joint::{Cut, Fit, Joined, SeamFacts};
use crate::marks;
use crate::memo::Memo;
use crate::mesh::Mesh;
use crate::part::{Part, PartKind};
use crate::parted::{Liquid, parted};
use crate::phase;
use crate::registry::{Registry, find};
use crate::rules::{self, Broken};
use crate::sculpture::{Joint, Meet, Sculpture};
use crate::seam::{Seam, SeamSegment, lengths, seams};
use crate::settings::Values;
use crate::shell::{NONE, Shell, patch_volume};
use crate::splice;
use crate::triangulate::triangles;
use crate::trim::Owner;
use crate::trim::field::Bisected;
use crate::work::{FaceReport, ShellEdge, Work};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// `auto` takes a true seam up to this many times the larger depth.
const WOBBLE_DEPTHS: f64 = 1.5;
/// The area vectors of a closed shell sum to zero; more than this share of its area, the accuracy promised
/// for every figure, is an open one.
const CLOSURE: f64 = 1.0e-6;
/// The two sides of a seam must agree within this share of the work's size.
const MISMATCH: f64 = 1.0e-6;

/// Works out a sculpture: phases, trim, seams, parts and findings; not yet for the sheets it may be laid on.
///
/// # Errors
/// What cannot be built at all; what can be built but should not is an error finding in the result.
pub(crate) fn solve(sculpture: &Sculpture, registry: &Registry, memo: &Memo) -> Result<Work> {
    let marking = Values::check("marks", marks::ROWS, &sculpture.marks)?;
    let sculpture = phase::search(sculpture, registry)?;
    let mut work = Solved::new(&sculpture, registry, memo)?.into_work(sculpture)?;
    if !too_large(&work.parts) {
        marks::mark(&mut work.parts, &work.seams, &marking);
    }
    Ok(work)
}

/// Whether parts have more corners in all than marks and clashes are looked for; a finding says so.
fn too_large(parts: &[Part]) -> bool {
    parts.iter().map(Part::corners).sum::<usize>() > MOST_CORNERS_OF_ALL
}

/// What the trim alone tells of a work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShellFigures {
    /// Volume the shell encloses, mm³.
    pub volume: f64,
    /// Area of the middle skin, mm².
    pub area: f64,
    /// Edges that no other patch meets; 0 for a closed shell.
    pub open_edges: usize,
}

/// Trims all sheets against each other with exact cuts, whatever the joints, and sews them to one shell:
/// the first step of [`work_out`](crate::work_out), without seams, parts or mesh.
///
/// # Errors
/// What cannot be trimmed: no elements, a face not clad, ribs along a normal; more than can be worked out within reason.
pub fn trim_exactly(sculpture: &Sculpture) -> Result<ShellFigures> {
    Ok(figures(&exact_shell(sculpture)?.1))
}

/// The same with the shell's triangles, so that its volume can be found a second way.
///
/// # Errors
/// As [`trim_exactly`].
pub fn trim_to_mesh(sculpture: &Sculpture) -> Result<(ShellFigures, Mesh)> {
    let (assembly, shell) = exact_shell(sculpture)?;
    let found = triangles(&shell, THIN * assembly.size);
    let mesh = Mesh {
        points: shell.points.iter().map(|p| assembly.world(p)).collect(),
        part_of: vec![0; found.len()],
        triangles: found.into_iter().map(|(_, triangle)| triangle).collect(),
        names: vec![sculpture.name.clone()],
    };
    Ok((figures(&shell), mesh))
}

fn exact_shell(sculpture: &Sculpture) -> Result<(Assembly, Shell)> {
    crate::effort::check(sculpture)?;
    let assembly = Assembly::new(sculpture)?;
    let shell = assembly.shell(Surface::Middle, &Bisected::none(assembly.faces.len()));
    Ok((assembly, shell))
}

/// The same surface with two triangles at every edge. Where ribs mirror each other it can touch itself along an edge: it is
/// closed there, but four triangles share the edge. With it the edges that find no partner all the same.
fn well_paired(mesh: Mesh) -> (Mesh, Vec<[u32; 2]>) {
    let unmatched = mesh.unmatched_edges();
    if unmatched.is_empty() {
        return (mesh, unmatched);
    }
    let mended = parted(mesh.clone(), Liquid::Inside);
    // Sheets that lie on each other stay, for what is wrong there to be told.
    let same = (mended.area() - mesh.area()).abs() <= SAME_SURFACE * mesh.area();
    if same && mended.is_watertight() { (mended, Vec::new()) } else { (mesh, unmatched) }
}

fn figures(shell: &Shell) -> ShellFigures {
    ShellFigures { volume: shell.volume(), area: shell.area(), open_edges: shell.open }
}

/// Surfaces whose areas differ by less than this share are the same but for rounding.
const SAME_SURFACE: f64 = 1.0e-9;

/// Triangles flatter than this share of the work's size are turned: some hundred times what welding moves.
const THIN: f64 = 1.0e-8;

/// Within a surveyed sheet, cells that meet at less than this many degrees meet in no fold.
const SMOOTH: f64 = 2.0;

/// What reaches within this of the lowest point of all stands on the ground, mm.
const ON_GROUND: f64 = 1.0;

/// A closed piece of the shell.
struct Body {
    /// mm³; negative for a void.
    volume: f64,
    /// Its lowest point, mm, in the shell's own coordinates.
    lowest: f64,
    /// Area of sheet by element, mm².
    areas: BTreeMap<usize, f64>,
}

impl Body {
    fn nothing() -> Self {
        Self { volume: 0.0, lowest: f64::INFINITY, areas: BTreeMap::new() }
    }
}

/// A work as far as its geometry goes.
struct Solved {
    assembly: Assembly,
    shell: Shell,
    flat: Shell,
    bisected: Bisected,
    seams: Vec<Seam>,
    fits: Vec<Fit>,
    /// The work on its inside and its outside skins.
    skins: [Shell; 2],
    pieces: Vec<Vec<Piece>>,
}

impl Solved {
    fn new(sculpture: &Sculpture, registry: &Registry, memo: &Memo) -> Result<Self> {
        let assembly = Assembly { memo: memo.clone(), ..Assembly::new(sculpture)? };
        let none = Bisected::none(assembly.faces.len());
        let (shell, flat) =
            rayon::join(|| assembly.shell(Surface::Middle, &none), || assembly.shell(Surface::Flat, &none));
        let nominal = lengths(&flat);
        let exact = seams(&assembly, &shell, &nominal, |_, _| Cut::Exact);
        let bisected = choose(sculpture, registry, &assembly, &exact)?;
        let (middle, skins) = rayon::join(
            || bisected.any().then(|| assembly.shell(Surface::Middle, &bisected)),
            || {
                rayon::join(
                    || assembly.shell(Surface::Inside, &bisected),
                    || assembly.shell(Surface::Outside, &bisected),
                )
            },
        );
        let (shell, seams) = match middle {
            Some(shell) => {
                let seams = seams(&assembly, &shell, &nominal, |a, b| {
                    if bisected.has(a, b) { Cut::Bisector } else { Cut::Exact }
                });
                (shell, seams)
            }
            None => (shell, exact),
        };
        let (mut seams, mut fits) = (seams, Vec::new());
        for seam in &mut seams {
            let fit = fit_of(sculpture, registry, &assembly, seam)?;
            if let Fit::Lap { .. } = fit {
                seam.joint = Joined::Lap;
            }
            if seam.between.iter().any(|&f| assembly.faces[f].open) {
                seam.joint = Joined::Open;
                seam.segments.clear();
            }
            fits.push(fit);
        }
        let pieces = pieces_of_faces(&shell, assembly.faces.len());
        Ok(Self { assembly, shell, flat, bisected, seams, fits, skins: skins.into(), pieces })
    }

    fn into_work(mut self, sculpture: Sculpture) -> Result<Work> {
        let faces = self.face_reports();
        let (Fitted { parts: mut cut, dust, thin }, ((mesh, unmatched), edges)) =
            rayon::join(|| self.fit(&sculpture), || self.mesh());
        let split = splice::split(&mut cut, &sculpture, &self.assembly.faces, &mut self.seams)?;
        let mass: f64 = cut.iter().map(|c| c.part.mass).sum();
        let weighted: Vector3<f64> = cut.iter().map(|c| c.centroid.coords * c.part.mass).sum();
        let centre_of_mass = Point3::from(if mass > 0.0 { weighted / mass } else { Vector3::zeros() });
        let element_volumes = (0..self.assembly.elements.len())
            .into_par_iter()
            .map(|e| {
                if self.assembly.elements.len() == 1 && !self.bisected.any() {
                    return self.shell.volume();
                }
                let alone = self.assembly.alone(e);
                alone.volume()
            })
            .collect();
        let is_open = |o: Owner| matches!(o, Owner::Face(f) if self.assembly.faces[f].open);
        let (area, open_area) = (self.shell.area_of(|o| !is_open(o)), self.shell.area_of(is_open));
        let centroid = self.assembly.world(&self.shell.centroid_of(|o| !is_open(o)));
        let open_centroid = (open_area > 0.0).then(|| self.assembly.world(&self.shell.centroid_of(is_open)));
        let parts: Vec<_> = cut.into_iter().map(|c| c.part).collect();
        let mut findings = self.findings(&sculpture, &parts);
        self.check_thickness(&sculpture, &parts, dust, &mut findings);
        for face in thin {
            findings.push(Finding::new(
                Level::Warning,
                "not-fitted",
                face,
                "this face has too many corners to be fitted: its template is that of the thin middle skin",
                "split the element, or look for a plane that runs off to nowhere",
            ));
        }
        findings.extend(split);
        findings.sort();
        Ok(Work {
            faces,
            element_volumes,
            volume: self.shell.volume(),
            area,
            open_area,
            open_centroid,
            centroid,
            seams: self.seams,
            parts,
            mesh,
            unmatched,
            edges,
            mass,
            centre_of_mass,
            findings,
            on_sheets: None,
            before_drains: Vec::new(),
            sculpture,
        })
    }

    fn fit(&self, sculpture: &Sculpture) -> Fitted {
        let skins = Skins {
            assembly: &self.assembly,
            sculpture,
            inside: &self.skins[0],
            middle: &self.shell,
            outside: &self.skins[1],
            seams: &self.seams,
            fits: &self.fits,
        };
        skins.fit()
    }

    fn face_reports(&self) -> Vec<FaceReport> {
        let mut nominal = vec![0.0; self.assembly.faces.len()];
        for p in &self.flat.patches {
            if let Owner::Face(f) = p.owner {
                nominal[f] += p.area.abs();
            }
        }
        self.assembly
            .faces
            .iter()
            .zip(&self.pieces)
            .zip(nominal)
            .map(|((face, pieces), nominal_area)| FaceReport {
                id: face.id.clone(),
                element: face.element,
                nominal_area,
                area: if face.open { 0.0 } else { pieces.iter().map(|p| p.area).sum() },
                pieces: if face.open { Vec::new() } else { pieces.iter().map(|p| p.area).collect() },
                profile: face.profile.clone(),
                frame: face.frame,
                phase: face.phase,
                lift: face.lift,
                wander: face.wander.clone(),
            })
            .collect()
    }

    fn mesh(&self) -> ((Mesh, Vec<[u32; 2]>), Vec<ShellEdge>) {
        let mut index_of: BTreeMap<Owner, u32> = BTreeMap::new();
        let mut names = Vec::new();
        for patch in &self.shell.patches {
            index_of.entry(patch.owner).or_insert_with(|| {
                names.push(match patch.owner {
                    Owner::Face(f) => self.assembly.faces[f].id.clone(),
                    Owner::Closure(a, b) => {
                        let (a, b) = (&self.assembly.faces[a].id, &self.assembly.faces[b].id);
                        format!("{}~{}", a.min(b), a.max(b))
                    }
                });
                #[allow(clippy::cast_possible_truncation, reason = "few names")]
                let index = names.len() as u32 - 1;
                index
            });
        }
        let triangles = triangles(&self.shell, THIN * self.assembly.size);
        let part_of =
            triangles.iter().map(|(patch, _)| index_of[&self.shell.patches[*patch as usize].owner]).collect();
        let edges = self
            .shell
            .edges
            .iter()
            .enumerate()
            .filter(|(i, e)| e.twin != NONE && *i < e.twin as usize)
            .filter_map(|(_, e)| {
                let (p, q) = (e.patch as usize, self.shell.edges[e.twin as usize].patch as usize);
                let (p, q) = (&self.shell.patches[p], &self.shell.patches[q]);
                // The cells of a surveyed sheet meet in lines that are no folds.
                let smooth = matches!(p.owner, Owner::Face(f) if self.assembly.faces[f].wander.is_some())
                    && p.owner == q.owner
                    && p.normal.dot(&q.normal) > SMOOTH.to_radians().cos();
                (!smooth).then(|| ShellEdge {
                    ends: [e.from, e.to].map(|k| self.assembly.world(&self.shell.points[k as usize])),
                    sides: [index_of[&p.owner], index_of[&q.owner]],
                    normals: [p.normal, q.normal],
                })
            })
            .collect();
        let points = self.shell.points.iter().map(|p| self.assembly.world(p)).collect();
        let triangles = triangles.into_iter().map(|(_, t)| t).collect();
        (well_paired(Mesh { points, triangles, part_of, names }), edges)
    }

    fn findings(&self, sculpture: &Sculpture, parts: &[Part]) -> Vec<Finding> {
        let mut found = sculpture.notes.clone();
        self.check_closure(sculpture, &mut found);
        self.check_contact(sculpture, &mut found);
        self.check_joints(sculpture, &mut found);
        self.check_rules(sculpture, &mut found);
        let small = |p: &&Part| p.area < sculpture.rules.sliver_area;
        let (sheets, closures): (Vec<&Part>, Vec<&Part>) =
            parts.iter().filter(small).partition(|p| matches!(p.kind, PartKind::Sheet { .. }));
        if !closures.is_empty() {
            let ids: Vec<&str> = closures.iter().map(|p| p.id.as_str()).collect();
            found.push(Finding::new(
                Level::Note,
                "small-closures",
                sculpture.name.as_str(),
                format!(
                    "closure strips smaller than {} mm² ({}): {}",
                    sculpture.rules.sliver_area,
                    ids.len(),
                    ids.join(", ")
                ),
                "fill them with weld metal instead of cutting them, or take joint `true` there",
            ));
        }
        for part in sheets {
            found.push(Finding::new(
                Level::Warning,
                "sliver",
                part.id.as_str(),
                format!(
                    "this piece has only {:.1} mm² (pieces under {} mm² are slivers)",
                    part.area, sculpture.rules.sliver_area
                ),
                "shift the ribs with .phase(face, #{ aim: \"no_slivers\" }), or join with `mitre`",
            ));
        }
        for (face, pieces) in self.assembly.faces.iter().zip(&self.pieces) {
            if pieces.len() > 1 {
                found.push(Finding::new(
                    Level::Note,
                    "island",
                    face.id.as_str(),
                    format!("this face comes in {} separate pieces", pieces.len()),
                    "look at its seams; a deeper sink or another phase may join them",
                ));
            }
        }
        found
    }

    /// What thickness did: where square cuts had to stand back, what was too small to keep, and whether any
    /// two parts still share space.
    fn check_thickness(&self, sculpture: &Sculpture, parts: &[Part], dust: usize, found: &mut Vec<Finding>) {
        let mut back: Vec<(f64, &str)> = self
            .seams
            .iter()
            .filter_map(|seam| {
                let [a, b] = seam.between.map(|f| &self.assembly.faces[f].id);
                let joint = sculpture.joint_between(a, b);
                let by = seam.segments.iter().map(|s| cut_back(s, joint)).fold(0.0, f64::max);
                (by > LEAST_CUT_BACK).then_some((by, seam.id.as_str()))
            })
            .collect();
        back.sort_by(|x, y| y.0.total_cmp(&x.0).then(x.1.cmp(y.1)));
        if !back.is_empty() {
            let worst: Vec<String> =
                back.iter().take(LISTED).map(|(by, id)| format!("{id} by {by:.1} mm")).collect();
            let more = if back.len() > LISTED { ", …" } else { "" };
            found.push(Finding::new(
                Level::Note,
                "cut-back",
                sculpture.name.as_str(),
                format!(
                    "cut square, sheets would take up the same space at {} seams, so their templates are cut back \
                     there: {}{more}",
                    back.len(),
                    worst.join(", ")
                ),
                "fill these gaps with weld metal, or give the joint bevel: true and grind the edges to the angle in \
                 the schedule",
            ));
        }
        if dust > 0 {
            found.push(Finding::new(
                Level::Note,
                "dust",
                sculpture.name.as_str(),
                format!("{dust} pieces smaller than twice the thickness squared are left out"),
                "a weld bead covers them",
            ));
        }
        if too_large(parts) {
            found.push(Finding::new(
                Level::Warning,
                "not-searched",
                sculpture.name.as_str(),
                format!(
                    "the parts have more than {MOST_CORNERS_OF_ALL} corners in all: they bear no match marks, and \
                     clashes between them are not looked for"
                ),
                "look for a plane that runs off to nowhere, or make the work in two scripts",
            ));
            return;
        }
        for clash in clashes(parts) {
            let [a, b] = clash.parts.map(|i| &parts[i]);
            let tags = |p: &Part| p.edges.iter().flatten().flatten().copied().collect::<BTreeSet<usize>>();
            let common: f64 = tags(a).intersection(&tags(b)).map(|&s| self.seams[s].length).sum();
            let allowed = if common > 0.0 { CLASH_PER_METRE * common / 1000.0 } else { CLASH_PER_METRE };
            if clash.volume > allowed {
                found.push(Finding::new(
                    Level::Warning,
                    "clash",
                    format!("{} and {}", a.id, b.id),
                    format!(
                        "these parts would share {:.1} mm³ near ({:.0}, {:.0}, {:.0}) mm",
                        clash.volume, clash.place.x, clash.place.y, clash.place.z
                    ),
                    "grind one of them there, run a lap past by less, or move a phase",
                ));
            }
        }
    }

    fn check_closure(&self, sculpture: &Sculpture, found: &mut Vec<Finding>) {
        if self.shell.patches.is_empty() {
            found.push(Finding::new(
                Level::Error,
                "not-closed",
                sculpture.name.as_str(),
                "nothing is left of it: the corrugation is deeper than the elements are thick",
                "make the elements thicker, take sheet of less depth, or the datum \"valley\" for thin faces",
            ));
            return;
        }
        let gap = self.shell.area_vector().norm();
        let worst = self.shell.spread.iter().copied().fold(0.0, f64::max);
        if self.shell.open > 0 || gap > CLOSURE * self.shell.area() || worst > MISMATCH * self.assembly.size {
            found.push(Finding::new(
                Level::Error,
                "not-closed",
                sculpture.name.as_str(),
                format!("the shell does not close: {} edges have no neighbour", self.shell.open),
                "move an element or a phase by a millimetre; if it stays, this is a bug worth reporting",
            ));
        }
    }

    /// Elements that touch nothing, and voids closed in between them.
    fn check_contact(&self, sculpture: &Sculpture, found: &mut Vec<Finding>) {
        let bodies = self.bodies();
        let solid: Vec<&Body> = bodies.iter().filter(|b| b.volume > 0.0).collect();
        // An element is where most of its sheet is; what is loose beside it is a chip.
        let mut homes = vec![None; sculpture.elements.len()];
        for (b, body) in solid.iter().enumerate() {
            for (&e, &area) in &body.areas {
                if homes[e].is_none_or(|(_, most)| area > most) {
                    homes[e] = Some((b, area));
                }
            }
        }
        let mut at_home = vec![Vec::new(); solid.len()];
        for (e, home) in homes.into_iter().enumerate() {
            if let Some((b, _)) = home {
                at_home[b].push(e);
            }
        }
        let main = (0..solid.len()).max_by(|&a, &b| {
            at_home[a].len().cmp(&at_home[b].len()).then(solid[a].volume.total_cmp(&solid[b].volume))
        });
        let ground = solid.iter().map(|b| b.lowest).fold(f64::INFINITY, f64::min);
        for (b, body) in solid.iter().enumerate().filter(|(b, _)| Some(*b) != main) {
            let here = &at_home[b];
            let names = |all: &mut dyn Iterator<Item = usize>| {
                all.map(|e| sculpture.elements[e].solid.name.as_str()).collect::<Vec<_>>().join(" + ")
            };
            if here.is_empty() {
                found.push(Finding::new(
                    Level::Warning,
                    "chip",
                    names(&mut body.areas.keys().copied()),
                    format!("a chip of {:.0} mm³ is cut off whole and hangs on nothing", body.volume),
                    "shift the ribs of the faces that meet there (phase), or mitre their seam",
                ));
            } else if sculpture.rules.apart && body.lowest <= ground + ON_GROUND {
                found.push(Finding::new(
                    Level::Warning,
                    "apart",
                    names(&mut here.iter().copied()),
                    "stands on the ground by itself and touches nothing of the rest of the work",
                    "nothing if it is meant so: it is fixed and lifted by itself",
                ));
            } else {
                found.extend(here.iter().map(|&e| {
                    Finding::new(
                        Level::Error,
                        "apart",
                        sculpture.elements[e].solid.name.as_str(),
                        "this element touches nothing of the rest of the work",
                        if body.lowest <= ground + ON_GROUND {
                            "stack it with some `sink`, move it until it overlaps its neighbour, or let it stand by \
                             itself: s.rules(#{ apart: true })"
                        } else {
                            "stack it with some `sink`, or move it until it overlaps its neighbour"
                        },
                    )
                }));
            }
        }
        for body in bodies.iter().filter(|b| b.volume < 0.0) {
            let names: Vec<&str> =
                body.areas.keys().map(|&e| sculpture.elements[e].solid.name.as_str()).collect();
            found.push(Finding::new(
                Level::Warning,
                "void",
                names.join(" + "),
                format!("a closed void of {:.0} mm³ lies between sheets here", -body.volume),
                "sink the upper element deeper than the profile's depth, so that no sheet is left inside",
            ));
        }
    }

    /// Closed pieces of the shell, in the order of their first patches.
    fn bodies(&self) -> Vec<Body> {
        let roots = self.shell.pieces(|_, _| true);
        let mut bodies: BTreeMap<u32, Body> = BTreeMap::new();
        for edge in &self.shell.edges {
            let body = bodies.entry(roots[edge.patch as usize]).or_insert_with(Body::nothing);
            body.lowest = body.lowest.min(self.shell.points[edge.from as usize].z);
        }
        for (i, patch) in self.shell.patches.iter().enumerate() {
            let Some(body) = bodies.get_mut(&roots[i]) else { continue };
            body.volume += patch_volume(patch);
            if let Owner::Face(f) = patch.owner {
                *body.areas.entry(self.assembly.faces[f].element).or_insert(0.0) += patch.area.abs();
            }
        }
        bodies.into_values().collect()
    }

    /// Joints named for faces that do not meet.
    fn check_joints(&self, sculpture: &Sculpture, found: &mut Vec<Finding>) {
        for (first, second) in sculpture.pair_joints.keys() {
            let id = format!("{first}~{second}");
            if !self.seams.iter().any(|s| s.id == id) {
                found.push(Finding::new(
                    Level::Warning,
                    "joint-unused",
                    id,
                    "these two faces do not meet, so their joint changes nothing",
                    "take the .joint line out, or name two faces that share a seam",
                ));
            }
        }
    }

    fn check_rules(&self, sculpture: &Sculpture, found: &mut Vec<Finding>) {
        let broken = rules::elements(sculpture).into_iter().chain(rules::sides(sculpture));
        found.extend(broken.map(Broken::finding));
        for element in &sculpture.elements {
            for face in element.solid.faces.iter().filter(|f| f.polygon.is_empty()) {
                found.push(Finding::new(
                    Level::Warning,
                    "cut-off",
                    format!("{}/{}", element.solid.name, face.label),
                    "the other planes cut this face off whole",
                    "leave the plane out or move it inward",
                ));
            }
        }
    }
}

/// How far square cuts stand back along a sheet from where the skins that were to meet cross, mm.
fn cut_back(segment: &SeamSegment, joint: &Joint) -> f64 {
    if joint.bevel {
        return 0.0;
    }
    let share = match (joint.meet, segment.angle > 180.0) {
        (Meet::Inside, false) | (Meet::Outside, true) => 0.0,
        (Meet::Middle, _) => 0.5,
        _ => 1.0,
    };
    let half = (segment.angle / 2.0).to_radians();
    let thickest = segment.thickness[0].max(segment.thickness[1]);
    (share * thickest * (half.cos() / half.sin()).abs()).min(DEEPEST_CUT_BACK * thickest)
}

/// Shorter cut-backs are within what a torch leaves, mm.
const LEAST_CUT_BACK: f64 = 0.5;
/// Sheets folded back on each other have no crossing to measure from; beyond this many thicknesses the
/// figure means nothing.
const DEEPEST_CUT_BACK: f64 = 20.0;
/// Seams named in one finding.
const LISTED: usize = 5;
/// Space two parts may share per metre of their seam, mm³: what rounding of chords leaves.
const CLASH_PER_METRE: f64 = 1.0;

/// How the thick sheets of a seam go together.
fn fit_of(sculpture: &Sculpture, registry: &Registry, assembly: &Assembly, seam: &Seam) -> Result<Fit> {
    let [a, b] = seam.between.map(|f| &assembly.faces[f].id);
    let joint = sculpture.joint_between(a, b);
    let kind = find("joint", &registry.joints, &joint.kind)?;
    let settings = Values::check(&format!("joint {}", kind.name), kind.settings, &joint.settings)?;
    Ok((kind.fit)(&settings))
}

/// The pairs of faces whose joint kind chooses the bisector, from the facts of their exact seams.
fn choose(
    sculpture: &Sculpture,
    registry: &Registry,
    assembly: &Assembly,
    exact: &[Seam],
) -> Result<Bisected> {
    let mut bisected = Bisected::none(assembly.faces.len());
    for seam in exact {
        let [a, b] = seam.between.map(|f| &assembly.faces[f]);
        let joint = sculpture.joint_between(&a.id, &b.id);
        let kind = find("joint", &registry.joints, &joint.kind)?;
        let deepest = a.profile.depth().max(b.profile.depth());
        let facts = SeamFacts {
            pieces: seam.pieces,
            wobble: seam.wobble_peak,
            wobble_limit: joint.wobble_limit.unwrap_or(WOBBLE_DEPTHS * deepest),
        };
        if (kind.choose)(&facts) == Cut::Bisector {
            bisected.insert(seam.between[0], seam.between[1]);
        }
    }
    Ok(bisected)
}
