//! Liquid in the reference bodies as JSON, for tests/outside/liquid.py, which works it out with another program.
//!
//! `cargo bench -p ribwright-tests --bench liquid` prints one object: for every body its mesh in full precision and, for
//! several directions up and levels, the volume below the level, the free surface, the wetted area and the centre; and the
//! level found for a volume.

use nalgebra::{Unit, Vector3};
use ribwright_kernel::liquid::{Chamber, Posed};
use ribwright_kernel::{Registry, work_out};
use ribwright_tests::references;
use serde_json::{Map, Value, json};

/// Directions up: standing, on a side, upside down, and slanting.
const UP: [[f64; 3]; 6] = [
    [0.0, 0.0, 1.0],
    [1.0, 0.0, 0.0],
    [0.0, 0.0, -1.0],
    [1.0, 2.0, 3.0],
    [-3.0, 1.0, 0.5],
    [0.02, -0.01, 1.0],
];
/// Levels, as shares of the height.
const LEVELS: [f64; 5] = [0.03, 0.2, 0.5, 0.77, 0.98];

fn main() {
    let mut bodies = Map::new();
    for (name, body) in references() {
        let sculpture = body.case.sculpture("true").unwrap_or_else(|e| panic!("{e}"));
        let work = work_out(&sculpture, &Registry::standard()).unwrap_or_else(|e| panic!("{e}"));
        let chamber = Chamber::new(&work.mesh).unwrap_or_else(|e| panic!("{e}"));
        let mut levels: Vec<Value> = Vec::new();
        for up in UP {
            let up = Unit::new_normalize(Vector3::from(up));
            let posed = Posed::new(&chamber, up);
            let [low, high] = posed.range();
            for share in LEVELS {
                let level = low + (high - low) * share;
                let below = posed.below(level);
                let centre = posed.centre_below(level).unwrap_or_else(|| panic!("nothing below"));
                levels.push(json!({
                    "up": [up.x, up.y, up.z],
                    "level": level + chamber.middle.coords.dot(&up),
                    "volume": below.volume,
                    "surface": below.surface,
                    "wetted": below.wetted,
                    "centre": [centre.x, centre.y, centre.z],
                    "level_again": posed.level(below.volume) + chamber.middle.coords.dot(&up),
                }));
            }
        }
        let points: Vec<[f64; 3]> = work.mesh.points.iter().map(|p| [p.x, p.y, p.z]).collect();
        bodies.insert(name, json!({ "points": points, "triangles": work.mesh.triangles, "levels": levels }));
    }
    println!("{}", Value::Object(bodies));
}
