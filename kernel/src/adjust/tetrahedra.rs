//! Tetrahedra for tests; built with `#[cfg(test)]` only.

/// Tetrahedra with whole-numbered corners and edges; see E. Fricke, "On Heronian simplices and integer embedding",
/// and S. Marshall and A. Perlis, "Heronian tetrahedra are lattice tetrahedra" (2013), with the volumes there.
/// Corners, the edges 12, 13, 14, 23, 24 and 34, and the volume.
pub(crate) const TETRAHEDRA: [([[f64; 3]; 4], [f64; 6], f64); 3] = [
    (
        [[0.0, 0.0, 0.0], [108.0, 36.0, 27.0], [84.0, 0.0, 0.0], [64.0, 48.0, 0.0]],
        [117.0, 84.0, 80.0, 51.0, 53.0, 52.0],
        18144.0,
    ),
    (
        [[0.0, 0.0, 0.0], [128.0, 96.0, 0.0], [108.0, 108.0, 9.0], [72.0, 96.0, 0.0]],
        [160.0, 153.0, 120.0, 25.0, 56.0, 39.0],
        8064.0,
    ),
    (
        [[0.0, 60.0, 0.0], [96.0, 180.0, 128.0], [15.0, 0.0, 20.0], [63.0, 144.0, 56.0]],
        [200.0, 65.0, 119.0, 225.0, 87.0, 156.0],
        35280.0,
    ),
];
