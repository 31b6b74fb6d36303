//! Templates: a part's outline made flat, and the kinds of doing so.

pub mod blank;
pub mod fold;
pub mod plan;
pub mod wrap;
mod flatten;
mod of_part;
pub(crate) mod room;
mod writing;

pub use of_part::PartTemplates;

use crate::drawing::Drawing;
use crate::error::Result;
use crate::part::Part;
use crate::registry::named_row;
use crate::settings::{Setting, Values};

/// A registry row: one way to flatten a part.
#[derive(Clone, Copy)]
pub struct TemplateKind {
    /// The word for it.
    pub name: &'static str,
    /// One line on what it is for.
    pub summary: &'static str,
    /// Its settings.
    pub settings: &'static [Setting],
    /// Flattens a part.
    pub develop: fn(&Part, &Values) -> Result<Template>,
}

named_row!(TemplateKind);

/// One bend line of a blank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BendLine {
    /// Across the blank, mm.
    pub across: f64,
    /// Angle turned, degrees, always positive.
    pub angle: f64,
    /// Whether the sheet folds towards the viewer of its outside.
    pub up: bool,
    /// Inside radius, mm.
    pub radius: f64,
    /// Number from the left edge of the blank, which is its datum; starts at 1.
    pub number: u32,
    /// Length of blank the bend takes, half of it on each side of the line, mm; 0 for a sharp fold.
    pub allowance: f64,
    /// Whether the line lies on the part; where the part ends within the bend, only some of its curve does.
    pub drawn: bool,
}

/// A flat outline of a part.
#[derive(Debug, Clone, PartialEq)]
pub struct Template {
    /// The template kind's name.
    pub kind: String,
    /// The part's id.
    pub part: String,
    /// Outline, marks and writing; seen from outside, the part's up direction shown by an arrow.
    pub drawing: Drawing,
    /// Area within the outlines, mm².
    pub area: f64,
    /// Length of the outlines, mm.
    pub cut_length: f64,
    /// Bend lines, in order across the part; with those the part only reaches into.
    pub bends: Vec<BendLine>,
    /// Where the datum line lies up the page, mm; a closure strip has none.
    pub datum: Option<f64>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::Layer;
    use crate::element::Solid;
    use crate::part::PartKind;
    use crate::profile::Profile;
    use crate::registry::{Registry, find};
    use crate::sculpture::{Element, Meet, Sculpture};
    use crate::settings::Value;
    use crate::work::Work;
    use crate::work_out;
    use nalgebra::{Point3, Vector3};
    use std::collections::BTreeMap;
    use std::sync::Arc;

    type V = Vector3<f64>;

    /// What development may cost, relative.
    const EXACT: f64 = 1.0e-9;

    fn values(given: &[(&str, f64)]) -> BTreeMap<String, Value> {
        given.iter().map(|&(name, x)| (name.to_owned(), Value::Number(x))).collect()
    }

    fn profile(kind: &str, given: &[(&str, f64)]) -> Arc<Profile> {
        let registry = Registry::standard();
        let row = find("profile", &registry.profiles, kind).expect("known");
        let values = Values::check(kind, row.settings, &values(given)).expect("allowed");
        Arc::new((row.build)(&values).expect("possible"))
    }

    fn trapezoid(measures: [f64; 4], thickness: f64, bend_radius: f64) -> Arc<Profile> {
        let [pitch, depth, crest, valley] = measures;
        let given = [("pitch", pitch), ("depth", depth), ("crest", crest), ("valley", valley)];
        profile(
            "trapezoid",
            &[&given[..], &[("thickness", thickness), ("bend_radius", bend_radius)]].concat(),
        )
    }

    fn template(part: &Part, kind: &str, given: BTreeMap<String, Value>) -> Template {
        let registry = Registry::standard();
        let row = find("template", &registry.templates, kind).expect("known");
        (row.develop)(part, &Values::check(kind, row.settings, &given).expect("allowed")).expect("developed")
    }

    fn wrap(part: &Part, skin: &str) -> Template {
        template(part, "wrap", [("skin".to_owned(), Value::Text(skin.to_owned()))].into())
    }

    fn work(elements: Vec<Element>) -> Work {
        let mut sculpture = Sculpture::new("work");
        "true".clone_into(&mut sculpture.joint.kind);
        // The closed forms are those of the middle skin.
        (sculpture.joint.meet, sculpture.joint.bevel) = (Meet::Middle, true);
        for element in elements {
            sculpture.add(element).expect("added");
        }
        work_out(&sculpture, &Registry::standard()).expect("worked out")
    }

    fn solid(planes: &[(&str, V, V)]) -> Element {
        let planes = planes.iter().map(|&(label, p, n)| (label.to_owned(), p.into(), n)).collect();
        Element::new(Solid::from_planes("A", planes).expect("a solid"))
    }

    /// A leaning block whose ribs run every which way.
    fn block(sheet: &Arc<Profile>) -> Work {
        let mut block = solid(&[
            ("east", V::new(450.0, 0.0, 0.0), V::new(1.0, 0.1, 0.2)),
            ("west", V::new(-450.0, 0.0, 0.0), V::new(-1.0, 0.2, 0.1)),
            ("north", V::new(0.0, 400.0, 0.0), V::new(0.1, 1.0, -0.15)),
            ("south", V::new(0.0, -400.0, 0.0), V::new(0.0, -1.0, 0.1)),
            ("top", V::new(0.0, 0.0, 900.0), V::new(0.1, 0.2, 1.0)),
            ("bottom", V::zeros(), -V::z()),
        ]);
        block.clad(sheet);
        for (label, along, phase) in
            [("south", V::new(1.0, 0.0, 0.5), 40.0), ("top", V::new(1.0, 0.3, 0.0), -25.0)]
        {
            let cladding = block.face_mut(label).expect("there");
            (cladding.along, cladding.phase) = (Some(along), phase);
        }
        work(vec![block])
    }

    /// A flat block with one ribbed face, `width` across ribs that run up; a crest is in its middle.
    fn strip_of(sheet: &Arc<Profile>, width: f64) -> Part {
        let mut block = solid(&[
            ("east", V::new(width / 2.0, 0.0, 0.0), V::x()),
            ("west", V::new(-width / 2.0, 0.0, 0.0), -V::x()),
            ("north", V::new(0.0, 400.0, 0.0), V::y()),
            ("south", V::zeros(), -V::y()),
            ("top", V::new(0.0, 0.0, 500.0), V::z()),
            ("bottom", V::zeros(), -V::z()),
        ]);
        block.clad(&profile("flat", &[("thickness", 2.0)]));
        let cladding = block.face_mut("south").expect("there");
        cladding.profile = Some(sheet.clone());
        (cladding.along, cladding.through) = (Some(V::z()), Some(Point3::origin()));
        let work = work(vec![block]);
        work.parts.into_iter().find(|p| p.face == "A/south").expect("a part")
    }

    #[track_caller]
    fn near(what: &str, found: f64, wanted: f64, bound: f64) {
        assert!((found - wanted).abs() <= bound, "{what}: {found} is not {wanted}");
    }

    fn width(template: &Template) -> f64 {
        let cut = || template.drawing.on(Layer::Cut).flat_map(|p| &p.points).map(|p| p[0]);
        cut().fold(f64::NEG_INFINITY, f64::max) - cut().fold(f64::INFINITY, f64::min)
    }

    #[test]
    fn development_conserves_area_and_keeps_the_outside_up() {
        for sheet in [
            trapezoid([200.0, 40.0, 70.0, 70.0], 2.0, 0.0),
            trapezoid([200.0, 40.0, 70.0, 70.0], 2.0, 6.0),
            profile(
                "arc_tangent",
                &[("pitch", 125.0), ("depth", 26.0), ("radius", 40.0), ("thickness", 1.6)],
            ),
            profile("sine", &[("pitch", 150.0), ("depth", 30.0), ("thickness", 1.0)]),
        ] {
            for part in &block(&sheet).parts {
                let what = format!("{} in {}", part.id, sheet.kind());
                let bound = EXACT * part.area;
                near(&what, wrap(part, "middle").area, part.area, bound);
                let blank = template(part, "blank", values(&[("k_factor", 0.5)]));
                near(&what, blank.area, part.area, bound);
                for area in [wrap(part, "outside").area, template(part, "plan", BTreeMap::new()).area] {
                    assert!(area > 0.0, "{what}: an outline was mirrored");
                }
            }
        }
    }

    /// checkvalues of the closed form y = f·cot(δ/2): for the 36 mm deep container side wall (crest 72, valley
    /// 70, webs 68 wide, from memory of factory specifications) the developed pitch is 295.88307 mm, and the
    /// cut's amplitude and length per pitch at the dihedral angles of the cube and the tetrahedron follow.
    #[test]
    fn mitre_cut_in_developed_coordinates_is_the_closed_form() {
        let sheet = trapezoid([278.0, 36.0, 72.0, 70.0], 2.0, 0.0);
        for (cotangent, amplitude, per_pitch) in
            [(1.0, 36.0, 311.8941), (2.0_f64.sqrt(), 50.9117, 326.5210), (0.5_f64.sqrt(), 25.4558, 304.0864)]
        {
            let half = (1.0_f64 / cotangent).atan();
            let (sine, cosine) = half.sin_cos();
            let mut wedge = solid(&[
                ("front", V::zeros(), V::new(0.0, cosine, sine)),
                ("back", V::zeros(), V::new(0.0, -cosine, sine)),
                ("foot", V::new(0.0, 0.0, -900.0), -V::z()),
                ("left", V::zeros(), -V::x()),
                ("right", V::new(3.0 * 278.0, 0.0, 0.0), V::x()),
            ]);
            wedge.clad(&profile("flat", &[("thickness", 2.0)]));
            for (label, along) in
                [("front", V::new(0.0, sine, -cosine)), ("back", V::new(0.0, -sine, -cosine))]
            {
                let cladding = wedge.face_mut(label).expect("there");
                cladding.profile = Some(sheet.clone());
                (cladding.along, cladding.through) = (Some(along), Some(Point3::origin()));
            }
            let work = work(vec![wedge]);
            let seam = work.seams.iter().position(|s| s.id == "A/back~A/front").expect("a seam");
            let part = work.parts.iter().find(|p| p.face == "A/front").expect("a part");
            let flat = wrap(part, "middle");
            let cut = flat.drawing.on(Layer::Cut).next().expect("an outline");
            let edges: Vec<[[f64; 2]; 2]> = cut
                .segments()
                .zip(&part.edges[0])
                .filter(|(_, on)| **on == Some(seam))
                .map(|(edge, _)| edge)
                .collect();
            let range = |i: usize| {
                let all = || edges.iter().flatten().map(|p| p[i]);
                all().fold(f64::NEG_INFINITY, f64::max) - all().fold(f64::INFINITY, f64::min)
            };
            near("amplitude", range(1), amplitude, 0.000_051);
            near("developed width", range(0) / 3.0, 295.883_07, 0.000_005_1);
            let length: f64 = edges.iter().map(|[a, b]| (b[0] - a[0]).hypot(b[1] - a[1])).sum();
            near("length per pitch", length / 3.0, per_pitch, 0.000_051);
        }
    }

    /// From the middle of one web over a crest to the middle of the next: two bends of one sign, so the outside
    /// skin is longer than the middle one by angle × thickness / 2 for each.
    #[test]
    fn outside_skin_is_longer_over_a_crest_by_angle_times_half_the_thickness() {
        let part = strip_of(&trapezoid([200.0, 40.0, 70.0, 70.0], 2.0, 6.0), 100.0);
        let angle = (40.0_f64 / 30.0).atan();
        let middle = width(&wrap(&part, "middle"));
        near("outside", width(&wrap(&part, "outside")) - middle, angle * 2.0, EXACT * middle);
        near("inside", width(&wrap(&part, "inside")) - middle, -angle * 2.0, EXACT * middle);
        near("plan", width(&template(&part, "plan", BTreeMap::new())), 100.0, EXACT * 100.0);
    }

    /// Flats are as long as between sharp corners of the middle skin, less R·tan(θ/2) at each side of a bend
    /// with the middle radius R = r + s/2; the bend itself takes θ·(r + K·s). K = k/2 with DIN 6935's
    /// k = 0.65 + 0.5·lg(r/s): 0.325 for r = s (from memory; the form is given by sheet-metal handbooks).
    #[test]
    fn width_of_a_blank_is_the_closed_form_of_its_bend_allowance() {
        let (radius, thickness) = (2.0, 2.0);
        let part = strip_of(&trapezoid([200.0, 40.0, 70.0, 70.0], thickness, radius), 100.0);
        let angle = (40.0_f64 / 30.0).atan();
        for k_factor in [0.5, 0.325, 0.2] {
            let bend = angle * (radius + k_factor * thickness);
            let setback = (radius + thickness / 2.0) * (angle / 2.0).tan();
            // Half a crest is 35 wide, half a web 25 long (3 : 4 : 5).
            let wanted = 2.0 * (35.0 + 25.0 - 2.0 * setback + bend);
            let blank = template(&part, "blank", values(&[("k_factor", k_factor)]));
            near("width", width(&blank), wanted, EXACT * wanted);
        }
    }

    #[test]
    fn every_bend_has_its_angle_direction_and_radius_and_its_line() {
        // Three pitches, a crest in the middle: 6 bends away from the viewer and 6 towards.
        let part = strip_of(&trapezoid([200.0, 40.0, 70.0, 70.0], 2.0, 6.0), 600.0);
        let blank = template(&part, "blank", BTreeMap::new());
        assert_eq!(blank.bends.len(), 12, "bends");
        assert_eq!(blank.bends.iter().filter(|b| b.up).count(), 6, "bends towards the viewer");
        for bend in &blank.bends {
            // tan θ = 40 / 30.
            near("angle", bend.angle, 53.130_102_354_155_98, 1.0e-9);
            near("inside radius", bend.radius, 6.0, EXACT);
            let layer = if bend.up { Layer::BendUp } else { Layer::BendDown };
            let drawn = blank.drawing.on(layer).any(|p| p.points.iter().all(|q| q[0] == bend.across));
            assert!(drawn, "no line at {}", bend.across);
        }
        let said = |text: &str| blank.drawing.labels.iter().filter(|l| l.text == text).count();
        assert_eq!((said("down 53.1° R6"), said("up 53.1° R6")), (6, 6), "words beside the lines");
        for kind in ["wrap", "plan"] {
            let other = template(&part, kind, BTreeMap::new());
            let bent = [Layer::BendUp, Layer::BendDown].iter().any(|l| other.drawing.on(*l).next().is_some());
            assert!(!bent && other.bends.is_empty(), "{kind} has bend lines");
        }
    }

    #[test]
    fn marks_and_bend_lines_lie_within_the_outline() {
        let sheet = trapezoid([200.0, 40.0, 70.0, 70.0], 2.0, 6.0);
        let mut checked = 0;
        for part in &block(&sheet).parts {
            for kind in ["wrap", "plan", "blank"] {
                let drawing = template(part, kind, BTreeMap::new()).drawing;
                let outlines: Vec<Vec<[f64; 2]>> = drawing.on(Layer::Cut).map(|p| p.points.clone()).collect();
                for path in [Layer::Mark, Layer::BendUp, Layer::BendDown].iter().flat_map(|l| drawing.on(*l))
                {
                    // A hair inside the ends, which lie on the outline.
                    let [a, b] = [path.points[0], path.points[path.points.len() - 1]];
                    for share in [1.0e-6, 0.5, 1.0 - 1.0e-6] {
                        let p = [0, 1].map(|i| a[i] + (b[i] - a[i]) * share);
                        let within =
                            room::inside(&outlines, p[0]).iter().any(|s| s[0] <= p[1] && p[1] <= s[1]);
                        assert!(within, "{} {kind}: a mark at {p:?} is outside", part.id);
                        checked += 1;
                    }
                }
            }
        }
        assert!(checked > 100, "only {checked} marks");
    }

    #[test]
    fn arrow_points_up_as_the_part_stands_in_the_work() {
        let sheet = trapezoid([200.0, 40.0, 70.0, 70.0], 2.0, 6.0);
        let mut checked = 0;
        for part in &block(&sheet).parts {
            assert!(matches!(part.kind, PartKind::Sheet { .. }), "{}", part.id);
            // A splinter has no room for writing.
            if part.area < 20_000.0 {
                continue;
            }
            let drawing = template(part, "wrap", BTreeMap::new()).drawing;
            let arrow = drawing.on(Layer::Text).find(|p| p.closed).expect("an arrow");
            let (tip, tails) = (arrow.points[3], [arrow.points[0], arrow.points[6]]);
            let [x, y] = [0, 1].map(|i| tip[i] - (tails[0][i] + tails[1][i]) / 2.0);
            // The page seen from outside: right is −v, up the page is u.
            let f = &part.frame;
            let in_space = (f.u * y - f.v * x).normalize();
            let level = f.n.z.abs() > 0.9999;
            let aim = if level { V::y() } else { V::z() };
            let steepest = (aim - f.n * aim.dot(&f.n)).normalize();
            near(&part.id, in_space.dot(&steepest), 1.0, EXACT);
            let word = if level { "+Y" } else { "UP" };
            assert!(drawing.labels.iter().any(|l| l.text == word), "{} does not say {word}", part.id);
            checked += 1;
        }
        assert!(checked >= 6, "only {checked} parts");
    }

    #[test]
    fn directions_are_named_as_on_a_map() {
        for (direction, words) in [
            (V::x(), "east"),
            (V::new(-1.0, 1.0, 0.1), "north-west"),
            (V::new(0.0, -1.0, 1.0), "south and up"),
            (V::new(-1.0, 0.0, -0.6), "west and down"),
            (V::new(0.1, 0.0, 1.0), "up"),
            (-V::z(), "down"),
        ] {
            assert_eq!(flatten::compass(&direction), words, "{direction:?}");
        }
    }
}
