//! Wrap templates of surveyed sheets: how far the card is from the sheet it is laid over.
//!
//! Second method: with stations at both ends only, the sheet is a chain of flat triangles with no corner inside, so
//! that it can be unrolled exactly, one triangle after the other; the card is compared with that.

use crate::surveyed::{trapezoid, work};
use nalgebra::{Point3, Vector3};
use ribwright_kernel::drawing::Layer;
use ribwright_kernel::part::{Part, PartKind};
use ribwright_kernel::profile::Profile;
use ribwright_kernel::sculpture::Sculpture;
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::survey::{Laid, SurveyedSheet};
use ribwright_kernel::template::wrap;
use ribwright_tests::element;
use std::collections::BTreeMap;
use std::sync::Arc;

const LENGTH: f64 = 2400.0;
const WIDTH: f64 = 1000.0;
/// Phase of the face's crest from its origin, mm: ribs need not lie alike about it.
const CREST: f64 = 300.0;

/// How a sheet departs from its nominal shape, by (along, across from its middle).
type Bend = fn(f64, f64) -> [f64; 2];

/// A face at most 1 m wide and 2 m high, with leaning sides, clad in one sheet.
fn part(rib: &Arc<Profile>, bend: Bend) -> Part {
    let mut sheet = SurveyedSheet::true_to(rib, "F", [LENGTH, WIDTH], CREST, &[0.0, LENGTH]);
    for fold in &mut sheet.folds {
        for (i, s) in [0.0, LENGTH].into_iter().enumerate() {
            let [aside, up] = bend(s, fold.across[i] - WIDTH / 2.0);
            fold.across[i] += aside;
            fold.height[i] += up;
        }
    }
    let plane = |name: &str, point: [f64; 3], normal: [f64; 3]| (name.to_owned(), point, normal);
    let planes = [
        plane("front", [0.0, -400.0, 0.0], [0.0, -1.0, 0.0]),
        plane("back", [0.0, 400.0, 0.0], [0.0, 1.0, 0.0]),
        plane("east", [400.0, 0.0, 0.0], [1.0, 0.0, 0.08]),
        plane("west", [-430.0, 0.0, 0.0], [-1.0, 0.0, 0.05]),
        plane("top", [0.0, 0.0, 950.0], [0.2, 0.0, 1.0]),
        plane("bottom", [0.0, 0.0, -950.0], [-0.1, 0.0, -1.0]),
    ];
    let mut body = element("A", &planes).unwrap_or_else(|e| panic!("{e}"));
    body.clad(rib);
    let front = body.face_mut("front").unwrap_or_else(|e| panic!("{e}"));
    front.through = Some(Point3::new(0.0, -400.0, 0.0));
    front.along = Some(Vector3::z());
    let at = [LENGTH / 2.0, WIDTH / 2.0];
    front.sheet = Some(Laid { sheet: Arc::new(sheet), at, turned: false, over: false });
    let mut sculpture = Sculpture::new("one");
    "true".clone_into(&mut sculpture.joint.kind);
    sculpture.add(body).unwrap_or_else(|e| panic!("{e}"));
    let work = work(&sculpture);
    work.parts.into_iter().find(|p| p.face == "A/front").unwrap_or_else(|| panic!("no part"))
}

fn card(part: &Part) -> Vec<[f64; 2]> {
    let skin = BTreeMap::from([("skin".to_owned(), Value::Text("middle".to_owned()))]);
    let values = Values::check("wrap", wrap::ROW.settings, &skin).unwrap_or_else(|e| panic!("{e}"));
    let template = (wrap::ROW.develop)(part, &values).unwrap_or_else(|e| panic!("{e}"));
    let cut = template.drawing.paths.iter().find(|p| p.layer == Layer::Cut && p.closed);
    cut.unwrap_or_else(|| panic!("no outline")).points.clone()
}

fn apart(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Corners of the outline on the unrolled sheet, mm.
fn unrolled(part: &Part) -> Vec<[f64; 2]> {
    let PartKind::Sheet { profile, phase, .. } = &part.kind else { panic!("sheet") };
    let outline = &part.outlines[0];
    let ends = [-LENGTH / 2.0, LENGTH / 2.0];
    let span =
        outline.iter().map(|p| p[1] - phase).fold([f64::MAX, f64::MIN], |s, q| [s[0].min(q), s[1].max(q)]);
    let pitch = profile.pitch();
    let mut folds: Vec<f64> = (-10..10)
        .flat_map(|k| profile.corners().into_iter().map(move |c| c[0] + f64::from(k) * pitch))
        .filter(|q| *q > span[0] - pitch && *q < span[1] + pitch)
        .collect();
    folds.sort_by(f64::total_cmp);
    let real = |s: f64, q: f64| part.position([s, q + phase], 0.0);
    // The third corner of a triangle, to the left of a to b, at these distances from them.
    let third = |a: [f64; 2], b: [f64; 2], from: [f64; 2]| -> [f64; 2] {
        let l = apart(a, b);
        let (u, v) = ([(b[0] - a[0]) / l, (b[1] - a[1]) / l], from);
        let x = (v[0] * v[0] - v[1] * v[1] + l * l) / (2.0 * l);
        let y = (v[0] * v[0] - x * x).max(0.0).sqrt();
        [a[0] + u[0] * x - u[1] * y, a[1] + u[1] * x + u[0] * y]
    };
    let first = (real(ends[0], folds[0]) - real(ends[1], folds[0])).norm();
    // Both ends of each fold: along is up, across to the left.
    let mut flat = vec![[[0.0, 0.0], [0.0, first]]];
    for pair in folds.windows(2) {
        let ([a, c], [q0, q1]) = (flat[flat.len() - 1], [pair[0], pair[1]]);
        if (q1 - q0).abs() < 1.0e-9 {
            flat.push([a, c]);
            continue;
        }
        let [ra, rb] = [real(ends[0], q0), real(ends[0], q1)];
        let [rc, rd] = [real(ends[1], q0), real(ends[1], q1)];
        // The diagonal runs from the first corner to the one across and a station further.
        let d = third(a, c, [(rd - ra).norm(), (rd - rc).norm()]);
        let b = third(a, d, [(rb - ra).norm(), (rb - rd).norm()]);
        flat.push([b, d]);
    }
    outline
        .iter()
        .map(|p| {
            let (s, q) = (p[0], p[1] - phase);
            let k = folds.partition_point(|f| *f <= q).clamp(1, folds.len() - 1) - 1;
            let across = (q - folds[k]) / (folds[k + 1] - folds[k]);
            let along = (s - ends[0]) / LENGTH;
            let [[a, c], [b, d]] = [flat[k], flat[k + 1]];
            let mix = |i: usize| {
                if across <= along {
                    a[i] + (c[i] - a[i]) * (along - across) + (d[i] - a[i]) * across
                } else {
                    a[i] + (b[i] - a[i]) * (across - along) + (d[i] - a[i]) * along
                }
            };
            [mix(0), mix(1)]
        })
        .collect()
}

/// One outline laid upon the other as well as it can be: the most a corner lies off along x and along y.
fn off(a: &[[f64; 2]], b: &[[f64; 2]]) -> [f64; 2] {
    let n = a.len() as f64;
    let mean = |p: &[[f64; 2]]| [0, 1].map(|i| p.iter().map(|x| x[i]).sum::<f64>() / n);
    let (ma, mb) = (mean(a), mean(b));
    let (mut dot, mut cross) = (0.0, 0.0);
    for (p, q) in a.iter().zip(b) {
        let (u, v) = ([p[0] - ma[0], p[1] - ma[1]], [q[0] - mb[0], q[1] - mb[1]]);
        dot += u[0] * v[0] + u[1] * v[1];
        cross += u[0] * v[1] - u[1] * v[0];
    }
    let (sin, cos) = cross.atan2(dot).sin_cos();
    let mut most = [0.0_f64; 2];
    for (p, q) in a.iter().zip(b) {
        let u = [p[0] - ma[0], p[1] - ma[1]];
        let turned = [cos * u[0] - sin * u[1] + mb[0], sin * u[0] + cos * u[1] + mb[1]];
        most = [0, 1].map(|i| most[i].max((turned[i] - q[i]).abs()));
    }
    most
}

/// Most that the card's edge along one seam differs in length from the edge of the part in space, and that length.
fn seams(part: &Part, card: &[[f64; 2]]) -> (f64, f64) {
    let outline = &part.outlines[0];
    let mut sums: BTreeMap<usize, [f64; 2]> = BTreeMap::new();
    for i in 0..outline.len() {
        let j = (i + 1) % outline.len();
        let Some(seam) = part.edges[0][i] else { continue };
        let space = (part.position(outline[j], 0.0) - part.position(outline[i], 0.0)).norm();
        let sum = sums.entry(seam).or_default();
        *sum = [sum[0] + space, sum[1] + apart(card[i], card[j])];
    }
    assert_eq!(sums.len(), 4, "a seam on each side");
    sums.values().fold((0.0, 0.0), |(off, long), [space, flat]| {
        (f64::max(off, (space - flat).abs()), f64::max(long, *space))
    })
}

/// Relative.
const EXACT: f64 = 1.0e-9;

/// Most that a card may be wrong by, mm: a tenth, as stated.
const MOST: f64 = 0.1;

/// 3 mm of fan over 1 m of width in 2 m of length, mm per mm².
const FAN: f64 = 0.003 / 1000.0 / 2.0;

#[test]
fn a_card_for_parallel_folds_is_exact() {
    let rib = trapezoid(1.0, 0.0);
    let straight: [(&str, Bend); 2] = [
        ("true", |_, _| [0.0, 0.0]),
        // Pitch and depth off, folds parallel.
        ("wide", |_, across| [0.01 * across, (across * 0.02).sin()]),
    ];
    for (name, bend) in straight {
        let part = part(&rib, bend);
        let card = card(&part);
        let (wrong, long) = seams(&part, &card);
        let [across, along] = off(&card, &unrolled(&part));
        println!("{name}: seams off by {wrong:e} of {long:.0} mm, corners by {across:e} and {along:e} mm");
        assert!(wrong <= EXACT * long, "{name}: {wrong} of {long} mm");
        assert!(across.max(along) <= EXACT * long, "{name}: corners are off by {across} and {along} mm");
    }
}

#[test]
fn a_card_for_folds_that_fan_out_is_wrong_by_a_tenth_of_a_millimetre() {
    let rib = trapezoid(1.0, 0.0);
    let crooked: [(&str, Bend); 4] = [
        ("fan about the middle", |along, across| [FAN * across * (along - LENGTH / 2.0), 0.0]),
        ("fan from the right-hand edge", |along, across| [FAN * (across + WIDTH / 2.0) * along, 0.0]),
        ("askew by 1 mm in 1 m", |along, _| [0.001 * (along - LENGTH / 2.0), 0.0]),
        ("out by 1 mm in 1 m", |along, _| [0.0, 0.001 * (along - LENGTH / 2.0)]),
    ];
    for (name, bend) in crooked {
        let part = part(&rib, bend);
        let t = part.outlines[0]
            .iter()
            .map(|p| p[1])
            .fold([f64::MAX, f64::MIN], |s, t| [s[0].min(t), s[1].max(t)]);
        assert!((900.0..=1000.0).contains(&(t[1] - t[0])), "{name}: {} mm wide", t[1] - t[0]);
        let card = card(&part);
        let (wrong, long) = seams(&part, &card);
        let [across, along] = off(&card, &unrolled(&part));
        println!("{name}: seams off by {wrong:.4} of {long:.0} mm, corners by {across:.4} and {along:.4} mm");
        assert!(wrong <= MOST, "{name}: seams are off by {wrong} mm");
        assert!(across <= MOST && along <= MOST, "{name}: corners are off by {across} and {along} mm");
        // It is not nothing: or the check would not see it.
        assert!(across.max(along) > 1.0e-3, "{name}");
    }
}
