//! Mass properties of the reference bodies as JSON, for tests/outside/mass.py, which works them out with other
//! people's programs.
//!
//! `cargo bench -p ribwright-tests --bench mass` prints one object: for every body its mesh in full precision with its
//! figures as a solid and as a thin shell, and for every part, of sheet 2 mm thick with folds of 4 mm inside radius,
//! its profile, its place, its outlines and its figures as thick sheet.

use ribwright_kernel::mass::model::Matter;
use ribwright_kernel::mass::{Body, as_shell, as_solid, facets_of_part};
use ribwright_kernel::part::{Part, PartKind};
use ribwright_kernel::{Registry, work_out};
use ribwright_tests::case::profile;
use ribwright_tests::references;
use serde_json::{Map, Value, json};

fn main() {
    let mut bodies = Map::new();
    for (name, body) in references() {
        let p = &body.case.profile;
        let thick = profile(
            "trapezoid",
            &[
                ("pitch", p.pitch),
                ("depth", p.depth),
                ("crest", p.crest),
                ("valley", p.valley),
                ("thickness", 2.0),
                ("bend_radius", 4.0),
            ],
        )
        .unwrap_or_else(|e| panic!("{e}"));
        let mut sculpture = body.case.sculpture("true").unwrap_or_else(|e| panic!("{e}"));
        for element in &mut sculpture.elements {
            element.clad(&thick);
        }
        let work = work_out(&sculpture, &Registry::standard()).unwrap_or_else(|e| panic!("{e}"));
        let points: Vec<[f64; 3]> = work.mesh.points.iter().map(|p| [p.x, p.y, p.z]).collect();
        let parts: Vec<Value> =
            work.parts.iter().map(|part| entry(part, work.sculpture.rules.density)).collect();
        bodies.insert(
            name,
            json!({
                "points": points,
                "triangles": work.mesh.triangles,
                "solid": figures(&as_solid(&work.mesh, 1.0).unwrap_or_else(|e| panic!("{e}"))),
                "shell": figures(&as_shell(&work.mesh, 1.0).unwrap_or_else(|e| panic!("{e}"))),
                "parts": parts,
                "profile": { "pitch": p.pitch, "depth": p.depth, "crest": p.crest, "valley": p.valley, "radius": 4.0 },
                "density": work.sculpture.rules.density,
            }),
        );
    }
    println!("{}", Value::Object(bodies));
}

fn figures(body: &Body) -> Value {
    let i = &body.inertia;
    let rows: Vec<[f64; 3]> = (0..3).map(|r| [i[(r, 0)], i[(r, 1)], i[(r, 2)]]).collect();
    json!({ "mass": body.mass, "centre": [body.centre.x, body.centre.y, body.centre.z], "inertia": rows })
}

fn entry(part: &Part, density: f64) -> Value {
    let facets = facets_of_part(part, density).unwrap_or_else(|e| panic!("{e}"));
    let vector = |v: &nalgebra::Vector3<f64>| [v.x, v.y, v.z];
    let f = &part.frame;
    let (kind, phase, lift) = match &part.kind {
        PartKind::Sheet { phase, lift, .. } => ("sheet", *phase, *lift),
        PartKind::Closure { .. } => ("closure", 0.0, 0.0),
    };
    json!({
        "id": part.id,
        "thickness": part.thickness(),
        "origin": vector(&f.origin.coords),
        "along": vector(&f.u),
        "across": vector(&f.v),
        "outward": vector(&f.n),
        "phase": phase,
        "lift": lift,
        "kind": kind,
        "outlines": part.outlines,
        "figures": figures(&Matter::Sheet(facets).body()),
    })
}
