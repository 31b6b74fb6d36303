//! Tests of whole kits, and of nets of random solids; built with `#[cfg(test)]` only.

use super::flat::{distance, sides};
use super::pages::{MARGIN, window};
use super::stand::stands;
use super::tab::{outline, tabs};
use super::unfold::{Sheet, unfold};
use super::*;
use crate::drawing::{Layer, signed_area};
use crate::element::hull::hull;
use crate::part::Part;
use crate::profile::Profile;
use crate::region::{Combine, Outline, Region};
use crate::registry::{Registry, find};
use crate::sculpture::{Element, Sculpture};
use crate::settings::{Value, Values};
use crate::template::fold;
use crate::work_out;
use nalgebra::{Matrix3, Point3, Vector3};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

type V = Vector3<f64>;

const A4: Sheet = Sheet { window: [190.0, 263.0], tab: 6.0 };
/// Share of the perimeter that rounding to the grid of another library may count as shared, mm.
const GRID: f64 = 1.0e-6;

fn share(random: &mut ChaCha8Rng) -> f64 {
    (random.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
}

/// A random convex solid: round, needle-like, nearly flat, a box leaning, or far away.
fn solid(seed: u64) -> Option<Solid> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let count = 4 + (random.next_u32() % 12) as usize;
    let stretch = match seed % 5 {
        0 => V::new(1.0, 1.0, 1.0),
        1 => V::new(1.0, 0.01, 0.008),
        2 => V::new(1.0, 0.9, 0.002),
        3 => V::new(0.3, 0.5, 1.6),
        _ => V::new(1.0, 0.6, 0.4),
    };
    let away = if seed.is_multiple_of(7) { V::new(1.0e7, -2.0e7, 3.0e6) } else { V::zeros() };
    let size = 200.0 + 1800.0 * share(&mut random);
    let points: Vec<Point3<f64>> = (0..count)
        .map(|_| {
            // On a sphere for many corners, in a box for corners of all kinds.
            let mut p = V::from_fn(|_, _| 2.0 * share(&mut random) - 1.0);
            if seed.is_multiple_of(3) {
                p = p.normalize();
            }
            Point3::from(p.component_mul(&stretch) * size + away)
        })
        .collect();
    hull("R", &points, None).ok()
}

fn area_covered(polygons: &[Vec<[f64; 2]>]) -> (f64, f64, f64) {
    let region = Region { outlines: polygons.iter().map(|p| Outline::tagged(p.clone(), None)).collect() };
    let union = region.combine(Combine::Union, &Region::default()).area();
    let perimeter: f64 = polygons.iter().flat_map(|p| sides(p)).map(|[a, b]| distance(a, b)).sum();
    (region.area(), union, perimeter)
}

#[derive(Default, Clone, Copy)]
struct Seen {
    solids: usize,
    whole: usize,
    nets: usize,
    tabs: usize,
    loose: usize,
    bare: usize,
    worst_fold: f64,
    worst_area: f64,
    worst_shared: f64,
}

fn checked(seed: u64) -> Seen {
    let Some(solid) = solid(seed) else { return Seen::default() };
    let [lo, hi] = solid.bounding_box();
    let size = (hi - lo).norm();
    let scale = size / [60.0, 150.0, 400.0][(seed / 11 % 3) as usize];
    let shape = Shape::new(&solid, scale, 1).expect("a closed solid");
    let nets = unfold(&shape, &A4);
    let tabs = tabs(&shape, &nets, 6.0);
    let faces: usize = nets.iter().map(|n| n.faces.len()).sum();
    assert_eq!(faces, solid.faces.iter().filter(|f| f.polygon.len() > 2).count(), "{seed}: faces");
    let laid: f64 = nets.iter().flat_map(|n| n.polygons(&shape)).map(|(_, p)| signed_area(&p)).sum();
    let surface = solid.surface_area() / (scale * scale);
    let mut seen = Seen {
        solids: 1,
        whole: usize::from(nets.len() == 1),
        nets: nets.len(),
        worst_area: (laid / surface - 1.0).abs(),
        ..Seen::default()
    };
    let folds: usize = nets.iter().map(|n| n.hangs.len()).sum();
    let joints = [tabs.placed.len(), tabs.loose.len(), tabs.bare.len()];
    assert_eq!(folds + joints.iter().sum::<usize>(), shape.edges.len(), "{seed}: one joint per edge");
    // Needles and leaves have edges and corners too narrow for a tab; the others, drawn large, hardly any.
    if ![1, 2].contains(&(seed % 5)) && size / scale > 100.0 {
        [seen.tabs, seen.loose, seen.bare] = joints;
    }
    for (n, net) in nets.iter().enumerate() {
        let own: Vec<_> = tabs.placed.iter().filter(|t| t.net == n).collect();
        let mut all: Vec<Vec<[f64; 2]>> = net.polygons(&shape).map(|(_, p)| p).collect();
        all.extend(own.iter().map(|t| t.tab.corners.iter().rev().copied().collect::<Vec<_>>()));
        let (sum, union, perimeter) = area_covered(&all);
        seen.worst_shared = seen.worst_shared.max((sum - union) / perimeter);
        let cut = outline(&shape, net, &own);
        let whole = signed_area(&cut);
        assert!((whole - sum).abs() <= 1e-9 * sum.max(1.0), "{seed}: the outline holds {whole}, not {sum}");
        for (face, corners) in fold_up(net, &shape) {
            let wanted = &solid.faces[shape.faces[face].face].polygon;
            for (p, q) in corners.iter().zip(wanted) {
                seen.worst_fold = seen.worst_fold.max((p - q).norm() / size);
            }
        }
    }
    seen
}

#[test]
fn two_thousand_random_solids_unfold_without_overlap_and_fold_back() {
    let all: Vec<Seen> = (0..2000_u64).into_par_iter().map(checked).collect();
    let mut sum = Seen::default();
    for s in &all {
        sum.solids += s.solids;
        sum.whole += s.whole;
        sum.nets += s.nets;
        sum.tabs += s.tabs;
        sum.loose += s.loose;
        sum.bare += s.bare;
        sum.worst_fold = sum.worst_fold.max(s.worst_fold);
        sum.worst_area = sum.worst_area.max(s.worst_area);
        sum.worst_shared = sum.worst_shared.max(s.worst_shared);
    }
    let said = format!(
        "{} solids, {} in one net, {} nets, {} tabs, {} strips, {} bare; fold {:e}, area {:e}, shared {:e} mm",
        sum.solids,
        sum.whole,
        sum.nets,
        sum.tabs,
        sum.loose,
        sum.bare,
        sum.worst_fold,
        sum.worst_area,
        sum.worst_shared
    );
    assert!(sum.solids > 1900, "{said}");
    assert!(sum.worst_area <= 1e-12, "{said}");
    assert!(sum.worst_fold <= 1e-6, "{said}");
    assert!(sum.worst_shared <= GRID, "{said}");
    // Two thirds are drawn small enough for a page; nearly all of those come in one piece.
    assert!(sum.whole * 100 > 60 * sum.solids && sum.tabs > 10 * (sum.loose + sum.bare), "{said}");
}

#[test]
fn a_cube_comes_in_one_net_of_six_squares_with_seven_tabs() {
    let points: Vec<Point3<f64>> = (0..8_u32)
        .map(|k| Point3::new(f64::from(k & 1), f64::from(k >> 1 & 1), f64::from(k >> 2)) * 400.0)
        .collect();
    let cube = hull("C", &points, None).expect("a cube");
    let shape = Shape::new(&cube, 10.0, 1).expect("closed");
    let nets = unfold(&shape, &A4);
    assert_eq!((nets.len(), nets[0].hangs.len()), (1, 5), "a spanning tree of six faces");
    let tabs = tabs(&shape, &nets, 6.0);
    assert_eq!((tabs.placed.len(), tabs.loose.len(), tabs.bare.len()), (7, 0, 0), "12 edges less 5 folds");
    assert!(tabs.placed.iter().all(|t| {
        let [a, b, far, near] = t.tab.corners[..] else { panic!("four corners") };
        let height = flat::left_of(b, a, far);
        (height - 6.0).abs() < 1e-9 && distance(near, far) < distance(a, b) - 6.0
    }));
    assert!((shape.area() - 6.0 * 1600.0).abs() < 1e-9);
}

#[test]
fn nets_that_fit_no_page_are_split_and_a_solid_without_a_net_would_be_too() {
    let points: Vec<Point3<f64>> = (0..8_u32)
        .map(|k| Point3::new(f64::from(k & 1), f64::from(k >> 1 & 1), f64::from(k >> 2) * 1.4) * 400.0)
        .collect();
    let tower = hull("T", &points, None).expect("a tower");
    for (scale, most) in [(10.0, 1), (4.0, 4), (2.5, 6)] {
        let nets = unfold(&Shape::new(&tower, scale, 1).expect("closed"), &A4);
        assert!(nets.len() <= most && (most == 1 || nets.len() > 1), "1:{scale}: {} nets", nets.len());
    }
}

fn trapezoid(bend_radius: f64) -> Arc<Profile> {
    let registry = Registry::standard();
    let row = find("profile", &registry.profiles, "trapezoid").expect("known");
    let given: BTreeMap<String, Value> = [
        ("pitch", 200.0),
        ("depth", 40.0),
        ("crest", 70.0),
        ("valley", 70.0),
        ("thickness", 2.0),
        ("bend_radius", bend_radius),
    ]
    .map(|(name, x)| (name.to_owned(), Value::Number(x)))
    .into();
    Arc::new((row.build)(&Values::check("p", row.settings, &given).expect("allowed")).expect("built"))
}

/// A leaning block with another sunk 120 mm into its top.
fn work(bend_radius: f64, away: V) -> Work {
    let planes = |name: &str, list: [(&str, V, V); 6]| {
        let list = list.map(|(label, p, n)| (label.to_owned(), Point3::from(p + away), n)).to_vec();
        Element::new(Solid::from_planes(name, list).expect("a solid"))
    };
    let mut a = planes(
        "A",
        [
            ("east", V::new(450.0, 0.0, 0.0), V::new(1.0, 0.1, 0.2)),
            ("west", V::new(-450.0, 0.0, 0.0), V::new(-1.0, 0.2, 0.1)),
            ("north", V::new(0.0, 400.0, 0.0), V::new(0.1, 1.0, -0.15)),
            ("south", V::new(0.0, -400.0, 0.0), V::new(0.0, -1.0, 0.1)),
            ("top", V::new(0.0, 0.0, 900.0), V::z()),
            ("bottom", V::zeros(), -V::z()),
        ],
    );
    let mut b = planes(
        "B",
        [
            ("east", V::new(150.0, 20.0, 0.0), V::x()),
            ("west", V::new(-210.0, 0.0, 0.0), -V::x()),
            ("north", V::new(0.0, 170.0, 0.0), V::new(0.0, 1.0, 0.0)),
            ("south", V::new(0.0, -160.0, 0.0), -V::y()),
            ("top", V::new(0.0, 0.0, 1300.0), V::new(0.1, 0.0, 1.0)),
            ("bottom", V::new(0.0, 0.0, 780.0), -V::z()),
        ],
    );
    let sheet = trapezoid(bend_radius);
    a.clad(&sheet);
    b.clad(&sheet);
    let mut sculpture = Sculpture::new("Test Stack");
    sculpture.add(a).expect("added");
    sculpture.add(b).expect("added");
    work_out(&sculpture, &Registry::standard()).expect("worked out")
}

fn options(given: &[(&str, Value)]) -> KitOptions {
    let given: BTreeMap<String, Value> = given.iter().map(|(n, v)| ((*n).to_owned(), v.clone())).collect();
    KitOptions::new(&Values::check("model", ROWS, &given).expect("allowed")).expect("usable")
}

fn kinds() -> Vec<KitOptions> {
    let text = |t: &str| Value::Text(t.to_owned());
    vec![
        options(&[]),
        options(&[("nets", text("faces")), ("scale", Value::Number(10.0)), ("paper", text("letter"))]),
        options(&[("ribs", Value::Flag(true))]),
        options(&[("scale", Value::Number(2.0)), ("paper", text("a3")), ("overlap", Value::Number(16.0))]),
        options(&[("height", Value::Number(80.0))]),
    ]
}

#[test]
fn every_piece_lies_in_its_page_and_no_two_share_an_area() {
    let work = work(6.0, V::zeros());
    for options in kinds() {
        let kit = make_kit(&work, &options).expect("made");
        let [lo, hi] = window(kit.paper);
        let mut printed = BTreeSet::new();
        for page in &kit.pages {
            let mut polygons = Vec::new();
            for &(index, at) in &page.placed {
                printed.insert(index);
                let moved =
                    |o: &Vec<[f64; 2]>| o.iter().map(|p| [p[0] + at[0], p[1] + at[1]]).collect::<Vec<_>>();
                polygons.extend(kit.pieces[index].outlines.iter().map(moved));
            }
            let foot = MARGIN;
            for p in page.drawing.paths.iter().flat_map(|p| &p.points) {
                let within =
                    p[0] >= lo[0] - 1e-9 && p[0] <= hi[0] + 1e-9 && p[1] >= foot && p[1] <= hi[1] + 1e-9;
                assert!(within, "{:?}: {p:?} is off the page", page.holds);
            }
            let bar = page.drawing.on(Layer::Mark).filter(|p| p.points == [[10.0, 10.0], [110.0, 10.0]]);
            assert_eq!(bar.count(), 1, "a bar of 100 mm");
            let said = |words: &str| page.drawing.labels.iter().any(|l| l.text.contains(words));
            assert!(said("Test Stack") && said("1:") && said("100 mm"), "{:?}", page.holds);
            if page.tile.is_none() && !polygons.is_empty() {
                let (sum, union, perimeter) = area_covered(&polygons);
                assert!((sum - union).abs() <= GRID * perimeter, "{:?}: {sum} {union}", page.holds);
                let off = polygons.iter().flatten().find(|p| p[1] < lo[1] - 1e-9);
                assert!(off.is_none(), "{off:?} lies in the foot");
            }
        }
        assert_eq!(printed.len(), kit.pieces.len(), "every piece is printed");
    }
}

#[test]
fn numbers_stand_on_both_edges_that_meet_and_names_on_their_faces() {
    let kit = make_kit(&work(6.0, V::zeros()), &options(&[])).expect("made");
    for (piece, (index, net)) in kit.pieces.iter().zip(&kit.nets) {
        let shape = &kit.shapes[*index];
        let said: Vec<&str> = piece.drawing.labels.iter().map(|l| l.text.as_str()).collect();
        for (k, edge) in shape.edges.iter().enumerate() {
            let number = edge.number.to_string();
            let found = said.iter().filter(|t| **t == number).count();
            assert_eq!(found, if net.folds(k) { 0 } else { 2 }, "edge {number} of {}: {said:?}", piece.name);
        }
        assert!(piece.faces.iter().all(|(id, _)| said.contains(&id.as_str())), "{said:?}");
        assert!(piece.unwritten.is_empty(), "{:?}", piece.unwritten);
    }
    let numbers: BTreeSet<u32> = kit.shapes.iter().flat_map(|s| &s.edges).map(|e| e.number).collect();
    assert_eq!(numbers.len(), 24, "numbers are of the whole kit");
    assert!(kit.pieces[0].drawing.labels.iter().any(|l| l.text == "B here"));
}

#[test]
fn the_line_where_an_element_stands_is_its_section_by_the_face() {
    let work = work(6.0, V::zeros());
    let solids: Vec<&Solid> = work.sculpture.elements.iter().map(|e| &e.solid).collect();
    let shape = Shape::new(solids[0], 10.0, 1).expect("closed");
    let found = stands(&shape, 0, &solids, 2000.0);
    for (flat, stands) in shape.faces.iter().zip(found) {
        if flat.id == "A/top" {
            // B is upright there: 360 × 330 mm at 1:10.
            assert_eq!((stands.len(), stands[0].lines.len()), (1, 4));
            assert!((signed_area(&stands[0].area) - 36.0 * 33.0).abs() < 1e-9, "{:?}", stands[0].area);
        } else {
            assert!(stands.is_empty(), "{}", flat.id);
        }
    }
}

#[test]
fn two_runs_on_any_number_of_threads_give_the_same_bytes() {
    let work = work(6.0, V::zeros());
    for options in kinds() {
        let make = || {
            let mut kit = make_kit(&work, &options).expect("made");
            (kit.files(&work).expect("written"), kit.findings)
        };
        let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a pool");
        let (files, findings) = make();
        assert!(files.iter().any(|f| f.path == "kit.pdf") && files.iter().any(|f| f.path.ends_with(".stl")));
        assert!((files, findings) == one.install(make), "two runs differ");
    }
}

#[test]
fn a_work_ten_kilometres_away_has_the_same_kit() {
    let near = make_kit(&work(6.0, V::zeros()), &options(&[])).expect("made");
    let far = make_kit(&work(6.0, V::new(1.0e7, -5.0e6, 0.0)), &options(&[])).expect("made");
    assert_eq!(near.scale, far.scale);
    for (a, b) in near.pieces.iter().zip(&far.pieces) {
        assert_eq!(a.name, b.name);
        for (p, q) in a.outlines.iter().flatten().zip(b.outlines.iter().flatten()) {
            assert!(distance(*p, *q) < 1e-6, "{}: {p:?} {q:?}", a.name);
        }
    }
}

/// Turn and shift that bring `from` best onto `to` (Kabsch, 1976).
fn best_fit(from: &[Point3<f64>], to: &[Point3<f64>]) -> f64 {
    let mean = |points: &[Point3<f64>]| points.iter().map(|p| p.coords).sum::<V>() / points.len() as f64;
    let (a, b) = (mean(from), mean(to));
    let products: Matrix3<f64> =
        from.iter().zip(to).map(|(p, q)| (q.coords - b) * (p.coords - a).transpose()).sum();
    let svd = products.svd(true, true);
    let (u, v_t) = (svd.u.expect("asked for"), svd.v_t.expect("asked for"));
    let mut sign = Matrix3::identity();
    sign[(2, 2)] = (u * v_t).determinant().signum();
    let turn = u * sign * v_t;
    let off = |(p, q): (&Point3<f64>, &Point3<f64>)| (turn * (p.coords - a) + b - q.coords).norm();
    from.iter().zip(to).map(off).fold(0.0, f64::max)
}

fn folds_back(part: &Part, scale: f64) -> f64 {
    let template = develop(part, scale).expect("developed");
    let folded = fold::fold_up(&template, part.thickness() / scale).expect("folded");
    let ours: Vec<Point3<f64>> = folded.outlines.into_iter().flatten().collect();
    let theirs: Vec<Point3<f64>> =
        part.outlines.iter().flatten().map(|p| part.position(*p, 0.0) / scale).collect();
    assert_eq!(ours.len(), theirs.len(), "{}: corner by corner", part.id);
    best_fit(&ours, &theirs) / (part.cut_length / scale)
}

#[test]
fn a_ribbed_net_folds_back_to_its_part_and_has_its_area() {
    for away in [V::zeros(), V::new(3.0e5, -2.0e5, 0.0)] {
        let work = work(0.0, away);
        let mut checked = 0;
        for part in work.parts.iter().filter(|p| matches!(p.kind, PartKind::Sheet { .. })) {
            let off = folds_back(part, 12.0);
            assert!(off <= 1e-6, "{}: {off}", part.id);
            let template = develop(part, 12.0).expect("developed");
            assert!((template.area * 144.0 / part.area - 1.0).abs() < 1e-9, "{}", part.id);
            let folds = template.drawing.on(Layer::Mountain).count();
            assert!(template.bends.is_empty() || folds + template.drawing.on(Layer::Valley).count() > 0);
            checked += 1;
        }
        assert!(checked >= 11, "{checked} parts");
    }
}

#[test]
fn tabs_of_ribbed_nets_keep_off_the_part_and_each_other() {
    let kit = make_kit(&work(6.0, V::zeros()), &options(&[("ribs", Value::Flag(true))])).expect("made");
    let mut tabs = 0;
    for piece in &kit.pieces {
        let mut all: Vec<Vec<[f64; 2]>> = piece.faces.iter().map(|(_, o)| o.clone()).collect();
        all.extend(piece.tabs.iter().map(|t| t.corners.iter().rev().copied().collect()));
        tabs += piece.tabs.len();
        let (sum, union, perimeter) = area_covered(&all);
        assert!((sum - union).abs() <= GRID * perimeter, "{}: {sum} {union}", piece.name);
        if !piece.outlines.is_empty() && !piece.faces.is_empty() {
            let cut: f64 = piece.outlines.iter().map(|o| signed_area(o)).sum();
            assert!((cut - sum).abs() < 1e-6 * sum, "{}: the outline holds {cut}, not {sum}", piece.name);
        }
    }
    assert!(tabs > 50, "{tabs} tabs");
    let on: Vec<&Piece> = kit.pieces.iter().filter(|p| p.drawing.on(Layer::Valley).count() > 2).collect();
    assert!(
        on.len() >= 11 && on.iter().all(|p| p.drawing.on(Layer::Mountain).count() > 2),
        "both kinds of fold"
    );
}

#[test]
fn tracings_have_one_closed_outline_numbered_edges_and_a_rib() {
    let work = work(6.0, V::zeros());
    let kit = make_kit(&work, &options(&[("scale", Value::Number(10.0))])).expect("made");
    let mut numbers: BTreeMap<String, usize> = BTreeMap::new();
    assert_eq!(kit.tracings.len(), 12);
    for (file, flat) in kit.tracings.iter().zip(kit.shapes.iter().flat_map(|s| &s.faces)) {
        let text = std::str::from_utf8(&file.bytes).expect("text");
        let document = usvg::roxmltree::Document::parse(text).expect("well formed");
        let id = flat.id.replace('/', "_");
        assert_eq!(file.path, format!("tracings/{id}.svg"));
        let path = document.descendants().find(|n| n.attribute("id") == Some(&id)).expect("the outline");
        assert!(path.attribute("d").expect("drawn").ends_with('Z'));
        let mut length = 0.0;
        for line in document.descendants().filter(|n| n.has_tag_name("line")) {
            let name = line.attribute("id").expect("named");
            let x = |k: &str| line.attribute(k).expect("there").parse::<f64>().expect("a number");
            if name.starts_with("edge_") {
                *numbers.entry(name.to_owned()).or_default() += 1;
                length += (x("x2") - x("x1")).hypot(x("y2") - x("y1"));
            }
        }
        let wanted: f64 = sides(&flat.polygon).map(|[a, b]| distance(a, b)).sum();
        assert!((length - wanted).abs() < 1e-4, "{id}: edges run all round");
        assert!(text.contains("id=\"rib_1\""), "{id}");
    }
    assert!(numbers.len() == 24 && numbers.values().all(|n| *n == 2), "{numbers:?}");
}

#[test]
fn ribs_too_fine_for_plastic_are_named_with_the_scale_that_would_do() {
    let work = work(6.0, V::zeros());
    let at = |scale: f64| {
        let kit = make_kit(&work, &options(&[("scale", Value::Number(scale))])).expect("made");
        kit.findings.into_iter().filter(|f| f.code == "kit-feature").collect::<Vec<_>>()
    };
    assert!(at(60.0).is_empty(), "30 mm webs are 0.5 mm");
    let found = at(100.0);
    assert!(
        found.len() == 1 && found[0].message.contains("0.30 mm") && found[0].remedy.contains("1:75"),
        "{found:?}"
    );
}

#[test]
fn the_printed_model_is_the_shell_in_model_size() {
    let work = work(6.0, V::new(1.0e7, 0.0, 0.0));
    let small = print::scaled(&work.mesh, 20.0);
    assert!(small.is_watertight());
    assert!((small.volume() * 8000.0 / work.volume - 1.0).abs() < 1e-6);
    let [lo, hi] = small.bounds().expect("there");
    assert!(lo.z.abs() < 1e-9 && (lo.x + hi.x).abs() < 1e-6, "on the ground, about the origin");
}
