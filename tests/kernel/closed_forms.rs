//! Closed forms: the wavy mitre seam and the Platonic solids.

use nalgebra::{Point3, Vector3};
use ribwright_kernel::sculpture::{Joint, Sculpture};
use ribwright_kernel::{Registry, Work, work_out};
use ribwright_tests::case::{element, profile};

type V = Vector3<f64>;

/// Relative agreement with a closed form: what rounding over a few thousand operations may cost.
const EXACT: f64 = 1.0e-9;

#[track_caller]
fn near(what: &str, found: f64, expected: f64, bound: f64) {
    assert!((found - expected).abs() <= bound, "{what}: {found} instead of {expected} (allowed {bound:e})");
}

#[track_caller]
fn worked_out(sculpture: &Sculpture) -> Work {
    work_out(sculpture, &Registry::standard()).unwrap_or_else(|e| panic!("{}: {e}", sculpture.name))
}

/// A wedge of `pitches` pitches with its edge along x, both slopes clad with the ribs square to the edge.
/// The profile is the side wall of freight containers as commonly given: crest 72, valley 70, webs 68 wide,
/// depth 36, pitch 278 mm (from memory of factory specifications; ISO 1496-1 does not fix it).
fn wedge(dihedral: f64, pitches: u32, joint: &str) -> Work {
    let half = dihedral / 2.0;
    let length = 278.0 * f64::from(pitches);
    let planes = [
        ("front", V::zeros(), V::new(0.0, half.cos(), half.sin())),
        ("back", V::zeros(), V::new(0.0, -half.cos(), half.sin())),
        ("foot", V::new(0.0, 0.0, -900.0), -V::z()),
        ("left", V::zeros(), -V::x()),
        ("right", V::new(length, 0.0, 0.0), V::x()),
    ]
    .map(|(label, point, normal)| (label.to_owned(), point.into(), normal.into()));
    let ribbed = profile(
        "trapezoid",
        &[
            ("pitch", 278.0),
            ("depth", 36.0),
            ("crest", 72.0),
            ("valley", 70.0),
            ("thickness", 2.0),
            ("bend_radius", 0.0),
        ],
    );
    let flat = profile("flat", &[("thickness", 2.0)]);
    let build = || {
        let mut wedge = element("W", &planes)?;
        wedge.clad(&flat?);
        let ribbed = ribbed?;
        for (label, down) in
            [("front", V::new(0.0, half.sin(), -half.cos())), ("back", V::new(0.0, -half.sin(), -half.cos()))]
        {
            let cladding = wedge.face_mut(label)?;
            cladding.profile = Some(ribbed.clone());
            cladding.along = Some(down);
            cladding.through = Some(Point3::origin());
        }
        let mut work = Sculpture::new("wedge");
        joint.clone_into(&mut work.joint.kind);
        work.add(wedge)?;
        // The ends are cut square: mitred against a flat end, a crest would run on to the bisector of the
        // two, half its depth beyond the last pitch.
        for slope in ["W/back", "W/front"] {
            for end in ["W/left", "W/right"] {
                let exact = Joint { kind: "true".to_owned(), ..Joint::default() };
                work.pair_joints.insert((slope.to_owned(), end.to_owned()), exact);
            }
        }
        Ok::<_, ribwright_kernel::Error>(work)
    };
    worked_out(&build().unwrap_or_else(|e| panic!("{e}")))
}

/// cot(δ/2) of the Platonic solids is √2, 1, 1/√2, 1/φ, 1/φ²; the lengths per pitch on the thin middle
/// surface and the amplitudes follow from y = f·cot(δ/2), worked out apart from this program to four decimals.
#[test]
fn like_profiles_meeting_square_across_the_ribs_give_the_closed_form_seam() {
    let golden = (1.0 + 5.0_f64.sqrt()) / 2.0;
    let cases = [
        ("tetrahedron", 2.0_f64.sqrt(), 50.9117, 326.5210),
        ("cube", 1.0, 36.0, 311.8941),
        ("octahedron", 0.5_f64.sqrt(), 25.4558, 304.0864),
        ("dodecahedron", 1.0 / golden, 22.2492, 302.1877),
        ("icosahedron", 1.0 / (golden * golden), 13.7508, 298.3213),
    ];
    const PITCHES: u32 = 3;
    for (solid, cotangent, amplitude, per_pitch) in cases {
        for joint in ["true", "mitre", "auto"] {
            let dihedral = 2.0 * (1.0 / cotangent).atan();
            let work = wedge(dihedral, PITCHES, joint);
            let what = format!("{solid} angle, {joint}");
            let seam = work
                .seams
                .iter()
                .find(|s| s.id == "W/back~W/front")
                .unwrap_or_else(|| panic!("{what}: no seam"));
            let pitches = f64::from(PITCHES);
            near(&format!("{what}: length per pitch"), seam.length / pitches, per_pitch, 0.000_051);
            near(&format!("{what}: nominal length"), seam.nominal_length, 278.0 * pitches, 1.0e-6);
            near(&format!("{what}: dihedral"), seam.dihedral, dihedral.to_degrees(), 1.0e-9);
            near(&format!("{what}: wobble"), seam.wobble_peak, 18.0 / (dihedral / 2.0).sin(), 1.0e-6);
            // Heights over the front's plane, and how far beyond the edge the sheet runs there.
            let (sine, cosine) = (dihedral / 2.0).sin_cos();
            let front = V::new(0.0, cosine, sine);
            let up = V::new(0.0, -sine, cosine);
            let (mut low, mut high) = (f64::MAX, f64::MIN);
            for p in seam.runs.iter().flat_map(|run| &run.points) {
                let (f, y) = (p.coords.dot(&front), p.coords.dot(&up));
                near(&format!("{what}: y at x = {}", p.x), y, f * cotangent, 1.0e-6);
                (low, high) = (low.min(y), high.max(y));
            }
            near(&format!("{what}: amplitude"), high - low, amplitude, 0.000_051);
            near(&format!("{what}: mismatch"), seam.mismatch, 0.0, 1.0e-6);
        }
    }
}

/// Volume, surface and dihedral angle for edge 1: H. S. M. Coxeter, "Regular polytopes", table I (from
/// memory; recomputed apart from this program to the digits given).
#[test]
fn platonic_solids_clad_flat_have_their_tabulated_figures() {
    let golden = (1.0 + 5.0_f64.sqrt()) / 2.0;
    let signs = [1.0, -1.0];
    let cube_corners: Vec<V> =
        signs.iter().flat_map(|&x| signs.iter().flat_map(move |&y| signs.map(|z| V::new(x, y, z)))).collect();
    let cyclic = |a: f64, b: f64| -> Vec<V> {
        signs
            .iter()
            .flat_map(|&s| signs.map(|t| (s * a, t * b)))
            .flat_map(|(p, q)| [V::new(0.0, p, q), V::new(q, 0.0, p), V::new(p, q, 0.0)])
            .collect()
    };
    let cases = [
        (
            "tetrahedron",
            vec![
                V::new(1.0, 1.0, 1.0),
                V::new(1.0, -1.0, -1.0),
                V::new(-1.0, 1.0, -1.0),
                V::new(-1.0, -1.0, 1.0),
            ],
            [0.117_851_1, 1.732_050_8, 70.528_779, 0.204_124_145_231_931_5],
            6,
        ),
        ("cube", vec![V::x(), -V::x(), V::y(), -V::y(), V::z(), -V::z()], [1.0, 6.0, 90.0, 0.5], 12),
        (
            "octahedron",
            cube_corners.clone(),
            [0.471_404_5, 3.464_101_6, 109.471_221, 0.408_248_290_463_863],
            12,
        ),
        (
            "dodecahedron",
            cyclic(1.0, golden),
            [7.663_119_0, 20.645_728_8, 116.565_051, golden * golden / (2.0 * (3.0 - golden).sqrt())],
            30,
        ),
        (
            "icosahedron",
            cube_corners.into_iter().chain(cyclic(1.0 / golden, golden)).collect(),
            [2.181_695_0, 8.660_254_0, 138.189_685, golden * golden / (2.0 * 3.0_f64.sqrt())],
            30,
        ),
    ];
    const EDGE: f64 = 1000.0;
    // The printed figures have seven decimals, angles six.
    const PRINTED: f64 = 0.51e-7;
    for (name, normals, [volume, surface, dihedral, inradius], edges) in cases {
        for joint in ["true", "mitre", "auto"] {
            let planes: Vec<_> = normals
                .iter()
                .enumerate()
                .map(|(k, n)| {
                    let unit = n.normalize();
                    (format!("f{}", k + 1), (unit * inradius * EDGE).into(), unit.into())
                })
                .collect();
            let build = || {
                let mut solid = element("P", &planes)?;
                solid.clad(&profile("flat", &[("thickness", 2.0)])?);
                let mut work = Sculpture::new(name);
                joint.clone_into(&mut work.joint.kind);
                work.add(solid)?;
                Ok::<_, ribwright_kernel::Error>(work)
            };
            let work = worked_out(&build().unwrap_or_else(|e| panic!("{name}: {e}")));
            let what = format!("{name}, {joint}");
            near(&format!("{what}: volume"), work.volume / EDGE.powi(3), volume, PRINTED);
            near(&format!("{what}: area"), work.area / EDGE.powi(2), surface, PRINTED);
            assert_eq!(work.seams.len(), edges, "{what}: edges");
            for seam in &work.seams {
                near(&format!("{what}: {} length", seam.id), seam.length, EDGE, EXACT * EDGE);
                near(&format!("{what}: {} dihedral", seam.id), seam.dihedral, dihedral, 0.51e-6);
                near(&format!("{what}: {} wobble", seam.id), seam.wobble_peak, 0.0, EXACT * EDGE);
            }
        }
    }
}
