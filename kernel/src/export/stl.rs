//! The shell as binary STL, in mm.
//!
//! STL knows no units and only single precision; see [`crate::mesh::Mesh::file_origin`] for works far from the
//! origin. The 80-byte header says both, which is why the file is put together here: the stl_io crate checks
//! and reads back such files in the tests, but writes an empty header.

use super::{OutFile, Writer};
use crate::error::{Error, Result};
use crate::mesh::Mesh;
use crate::output::Output;
use crate::work::Work;
use nalgebra::Vector3;

/// The registry row.
pub const ROW: Writer = Writer { name: "stl", summary: "the finished shell as binary STL, mm", write };

/// Length of the free text before the triangles.
const HEADER_LENGTH: usize = 80;

fn write(work: &Work, output: &Output) -> Result<Vec<OutFile>> {
    let Some(mesh) = &output.mesh else { return Ok(Vec::new()) };
    let bytes = stl_bytes(mesh, "ribwright shell, unit mm")?;
    Ok(vec![OutFile { path: format!("model/{}.stl", file_stem(&work.sculpture.name)), bytes }])
}

/// A file name without ending made from a work's name: letters, digits, `-` and `_` stay, all else becomes `_`.
pub(crate) fn file_stem(name: &str) -> String {
    /// Most characters kept: at four bytes each still within the 255 bytes of common file systems.
    const LONGEST: usize = 60;
    let keep = |c: char| if c.is_alphanumeric() || c == '-' { c } else { '_' };
    let stem: String = name.chars().map(keep).take(LONGEST).collect();
    if stem.is_empty() { "work".to_owned() } else { stem }
}

/// The bytes of an STL file whose header begins with these words.
pub(crate) fn stl_bytes(mesh: &Mesh, words: &str) -> Result<Vec<u8>> {
    let count = u32::try_from(mesh.triangles.len())
        .map_err(|_| Error::input("the shell has more triangles than an STL file can hold").at("model"))?;
    let single = mesh.single_precision(1.0, |p| p);
    let o = single.origin;
    let mut header = words.to_owned();
    if o != Vector3::zeros() {
        header = format!("{header}; work lies at x+{} y+{} z+{}", o.x, o.y, o.z);
    }
    let mut bytes = Vec::with_capacity(HEADER_LENGTH + 4 + 50 * mesh.triangles.len());
    bytes.extend(header.bytes().chain(std::iter::repeat(b' ')).take(HEADER_LENGTH));
    bytes.extend(count.to_le_bytes());
    for (i, triangle) in mesh.triangles.iter().enumerate() {
        for x in unit_normal(mesh, i) {
            bytes.extend(x.to_le_bytes());
        }
        for &k in triangle {
            for x in single.points[k as usize] {
                bytes.extend(x.to_le_bytes());
            }
        }
        bytes.extend(0_u16.to_le_bytes());
    }
    Ok(bytes)
}

/// Zero for a triangle without area, which the format allows.
fn unit_normal(mesh: &Mesh, triangle: usize) -> [f32; 3] {
    let n = mesh.area_vector(triangle).try_normalize(0.0).unwrap_or_default();
    #[allow(clippy::cast_possible_truncation, reason = "a direction, for shading only")]
    [n.x as f32, n.y as f32, n.z as f32].map(|x| x + 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mesh::samples::{corrugated, cuboid};
    use std::io::Cursor;

    #[test]
    fn an_independent_reader_finds_the_same_watertight_solid() {
        let mesh = corrugated("A", 7, 180.0, 42.0, 300.0, 1100.0);
        let bytes = stl_bytes(&mesh, "ribwright shell, unit mm").expect("writes");
        let read = stl_io::read_stl(&mut Cursor::new(&bytes)).expect("reads");
        read.validate().expect("watertight for stl_io");
        assert_eq!(read.faces.len(), mesh.triangles.len(), "triangles");
        let back = Mesh {
            points: read.vertices.iter().map(|v| v.0.map(f64::from).into()).collect(),
            triangles: read.faces.iter().map(|f| f.vertices.map(|i| i as u32)).collect(),
            ..Mesh::default()
        };
        // Single precision: 2^-24 relative per coordinate, some tens of times less than this bound.
        assert!((back.volume() / mesh.volume() - 1.0).abs() < 1e-6, "volume {}", back.volume());
        assert!((back.area() / mesh.area() - 1.0).abs() < 1e-6, "area {}", back.area());
    }

    #[test]
    fn a_work_ten_kilometres_away_is_written_near_the_origin_and_the_header_says_so() {
        let mesh = cuboid("A", [1.0e7, 0.0, 0.0], [1.0e7 + 1000.0, 1000.0, 1000.0]);
        let bytes = stl_bytes(&mesh, "ribwright shell, unit mm").expect("writes");
        let header = String::from_utf8_lossy(&bytes[..HEADER_LENGTH]).into_owned();
        assert!(header.contains("x+10001000") || header.contains("x+10000000"), "{header}");
        let read = stl_io::read_stl(&mut Cursor::new(&bytes)).expect("reads");
        assert!(read.vertices.iter().all(|v| v.0.iter().all(|x| x.abs() <= 1000.0)), "near");
    }

    #[test]
    fn the_header_does_not_look_like_a_text_file_and_names_become_safe() {
        let bytes = stl_bytes(&Mesh::default(), "ribwright shell, unit mm").expect("writes");
        assert_eq!(bytes.len(), HEADER_LENGTH + 4, "empty shell");
        assert!(!bytes.starts_with(b"solid"), "text STL begins so");
        assert_eq!(file_stem("Slack Tide"), "Slack_Tide");
        assert_eq!(file_stem("../a\\b:c"), "___a_b_c");
        assert_eq!(file_stem(""), "work");
    }
}
