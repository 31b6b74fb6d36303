//! The drawings stage: shop drawings for the workshop wall.
//!
//! Elements taken apart, seams seen edge-on, parts with the dimensions a tape can check. All are in true size;
//! the writer scales them to a page.

mod exploded;
mod part;
mod seam;

use super::{Stage, any};
use crate::drawing::Drawing;
use crate::error::Result;
use crate::output::Output;
use crate::registry::Registry;
use crate::work::Work;
use std::collections::BTreeSet;

/// The registry row.
pub const ROW: Stage = Stage {
    name: "drawings",
    summary: "shop drawings: elements taken apart, seams seen edge-on, parts with their dimensions",
    settings: &[],
    check: any,
    run,
};

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    let (mut drawings, (seams, parts)) = rayon::join(
        || exploded::drawings(work, &output.memo),
        || rayon::join(|| seam::drawings(work), || part::drawings(work, output)),
    );
    drawings.extend(seams);
    drawings.extend(parts);
    unique(&mut drawings);
    output.drawings.extend(drawings);
    Ok(())
}

/// Numbers the names that would give the same file, also where upper and lower case do not differ.
fn unique(drawings: &mut [Drawing]) {
    let mut taken = BTreeSet::new();
    for drawing in drawings {
        let base = drawing.name.clone();
        let mut count = 1;
        while !taken.insert(drawing.name.to_lowercase()) {
            count += 1;
            drawing.name = format!("{base}-{count}");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::{Label, Layer};
    use crate::element::Solid;
    use crate::profile::{Piece, Profile};
    use crate::sculpture::{Element, Sculpture};
    use crate::template::room::{Tilted, Words};
    use crate::work_out;
    use nalgebra::{Point3, Vector3};
    use std::sync::Arc;

    /// A box of flat sheet 2 mm thick.
    fn drawn(size: [f64; 3], far: f64) -> Vec<Drawing> {
        let mut planes = Vec::new();
        for (axis, [low, high]) in
            [["west", "east"], ["south", "north"], ["bottom", "top"]].iter().enumerate()
        {
            for (label, way) in [(low, -1.0), (high, 1.0)] {
                let (mut p, mut n) = (Point3::new(far, far, 0.0), Vector3::zeros());
                (p[axis], n[axis]) = (p[axis] + way * size[axis] / 2.0, way);
                planes.push(((*label).to_owned(), p, n));
            }
        }
        let mut element = Element::new(Solid::from_planes("A", planes).expect("a solid"));
        let flat = Profile::from_pieces("flat", vec![Piece::Flat { length: 100.0 }], 2.0, 0.0).expect("flat");
        element.clad(&Arc::new(flat));
        let mut sculpture = Sculpture::new("box");
        "true".clone_into(&mut sculpture.joint.kind);
        sculpture.add(element).expect("added");
        let registry = Registry::standard();
        let work = work_out(&sculpture, &registry).expect("worked out");
        let mut output = Output::default();
        (crate::stage::templates::ROW.run)(&work, &registry, &mut output).expect("runs");
        run(&work, &registry, &mut output).expect("runs");
        output.drawings
    }

    fn named<'a>(all: &'a [Drawing], name: &str) -> &'a Drawing {
        all.iter().find(|d| d.name == name).unwrap_or_else(|| panic!("no {name}"))
    }

    fn areas(drawing: &Drawing) -> Vec<(&Label, Tilted)> {
        let centred = drawing.labels.iter().filter(|l| l.centred);
        centred.map(|l| (l, Words::new(&l.text).area(l.at, l.height, l.angle))).collect()
    }

    /// Inside edges touch at right angles, so each sheet ends half a thickness short of the corner: 598 × 498,
    /// and the diagonals are 778.2 long.
    #[test]
    fn figures_are_the_measures_of_the_part() {
        let all = drawn([600.0, 500.0, 400.0], 0.0);
        let top = named(&all, "part-A_top");
        let count = |text: &str| top.labels.iter().filter(|l| l.text == text).count();
        assert_eq!([count("598"), count("498"), count("778.2")], [1, 1, 2], "{:?}", top.labels);
        let south = named(&all, "part-A_south");
        let from_datum: Vec<f64> =
            south.labels.iter().filter(|l| l.angle == 90.0).filter_map(|l| l.text.parse().ok()).collect();
        let overall = from_datum.iter().copied().fold(0.0, f64::max);
        // Up and down from the datum line, at the left and at the right, are the height together.
        let rest: f64 = from_datum.iter().sum::<f64>() - overall;
        assert!((rest - 2.0 * overall).abs() < 0.2, "{from_datum:?}");
    }

    #[test]
    fn writing_never_overlaps() {
        for drawing in drawn([600.0, 500.0, 400.0], 0.0) {
            drawing.validate().expect("can be written");
            let areas = areas(&drawing);
            assert!(!areas.is_empty(), "{}", drawing.name);
            for (i, (a, x)) in areas.iter().enumerate() {
                for (b, y) in &areas[..i] {
                    assert!(!x.touches(y), "{}: {} and {}", drawing.name, a.text, b.text);
                }
            }
        }
    }

    #[test]
    fn parts_taken_apart_stand_clear_of_each_other_and_of_names() {
        let all = drawn([600.0, 500.0, 400.0], 0.0);
        let drawing = named(&all, "A-exploded");
        let parts: Vec<_> = drawing.on(Layer::Seam).filter(|p| p.closed).collect();
        assert_eq!((parts.len(), drawing.labels.len()), (6, 6), "six faces, six names");
        for (i, a) in parts.iter().enumerate() {
            for b in &parts[..i] {
                assert!(exploded::are_apart(&a.points, [0.0; 2], &b.points, 0.0), "two parts overlap");
            }
        }
        for (label, area) in areas(drawing) {
            assert!(parts.iter().all(|p| p.segments().all(|s| !area.meets(s))), "{} is crossed", label.text);
        }
    }

    #[test]
    fn sheets_are_shown_touching_at_the_inside_of_a_right_angle() {
        let all = drawn([600.0, 500.0, 400.0], 0.0);
        let seams = named(&all, "seams-1");
        let said = |text: &str| seams.labels.iter().filter(|l| l.text == text).count();
        assert_eq!(said("90.0° inside"), 12, "twelve edges, each the same all along");
        assert_eq!([said("groove 90°, 2 mm"), said("cut back 1.0 and 1.0")], [12; 2]);
        // Two lines to each picture: the borders of the two sheets, which come to within the hair they are grown by.
        let lines: Vec<_> = seams.on(Layer::Seam).collect();
        assert_eq!(lines.len(), 24, "two sheets each");
        for pair in lines.chunks_exact(2) {
            let gaps = pair[0]
                .points
                .iter()
                .flat_map(|p| pair[1].points.iter().map(move |q| (p[0] - q[0]).hypot(p[1] - q[1])));
            assert!(gaps.fold(f64::INFINITY, f64::min) < 0.03, "the sheets touch");
        }
    }

    #[test]
    fn drawings_are_the_same_every_time_and_far_away() {
        let here = drawn([600.0, 500.0, 400.0], 0.0);
        assert_eq!(here, drawn([600.0, 500.0, 400.0], 0.0), "again");
        let texts = |all: &[Drawing]| -> Vec<String> {
            all.iter().flat_map(|d| &d.labels).map(|l| l.text.clone()).collect()
        };
        assert_eq!(texts(&here), texts(&drawn([600.0, 500.0, 400.0], 1.0e6)), "a kilometre away");
    }

    #[test]
    fn equal_file_names_are_numbered() {
        let mut all = vec![Drawing { name: "a".into(), ..Drawing::default() }; 3];
        all[1].name = "A".into();
        unique(&mut all);
        let names: Vec<&str> = all.iter().map(|d| d.name.as_str()).collect();
        assert_eq!(names, ["a", "A-2", "a-3"]);
    }
}
