//! The shell as binary glTF 2.0 (Khronos, "glTF 2.0 Specification", 2021): metres, y up, right-handed.
//!
//! One mesh with one primitive, its vertices shared, so that readers find the shell watertight without
//! joining anything. No normals are written: section 3.7.2.1 of the specification makes every viewer shade
//! such a primitive flat, which shows the folds crisp. Triangles are in order of faces; the mesh's `extras`
//! name the range of each face and closure strip.

use super::stl::file_stem;
use super::web_page::MADE_BY;
use super::{OutFile, Writer};
use crate::error::{Error, Result};
use crate::mesh::Mesh;
use crate::output::Output;
use crate::work::Work;
use gltf_json as gltf;
use gltf_json::validation::Checked::Valid;
use gltf_json::validation::USize64;
use nalgebra::Vector3;
use serde::Serialize;
use std::collections::BTreeMap;

/// The registry row.
pub const ROW: Writer =
    Writer { name: "glb", summary: "the finished shell as binary glTF 2.0, metres, y up", write };

/// Millimetres in the unit of the file.
const UNIT: f64 = 1000.0;

/// Weathered steel, linear RGB: our own choice, matched by eye to a dry brown patina.
const STEEL_COLOUR: [f32; 4] = [0.22, 0.085, 0.04, 1.0];
const STEEL_ROUGHNESS: f32 = 0.85;
const STEEL_METALLIC: f32 = 0.1;

/// Header words of the binary container, section 4.4.
const MAGIC: &[u8; 4] = b"glTF";
const VERSION: u32 = 2;
const JSON_CHUNK: &[u8; 4] = b"JSON";
const BINARY_CHUNK: &[u8; 4] = b"BIN\0";

fn write(work: &Work, output: &Output) -> Result<Vec<OutFile>> {
    let Some(mesh) = &output.mesh else { return Ok(Vec::new()) };
    if mesh.triangles.is_empty() {
        // An accessor of no elements is not allowed; there is nothing to show either.
        return Ok(Vec::new());
    }
    let name = &work.sculpture.name;
    Ok(vec![OutFile { path: format!("model/{}.glb", file_stem(name)), bytes: glb_bytes(name, mesh)? }])
}

/// z up to y up, a turn about x: north goes into the picture.
fn to_y_up(p: Vector3<f64>) -> Vector3<f64> {
    Vector3::new(p.x, p.z, -p.y)
}

/// One face or closure strip in the mesh's `extras`.
#[derive(Serialize)]
struct FaceRange<'a> {
    name: &'a str,
    first_triangle: usize,
    triangle_count: usize,
}

/// The bytes of a GLB file of a mesh in mm.
pub(crate) fn glb_bytes(name: &str, mesh: &Mesh) -> Result<Vec<u8>> {
    let single = mesh.single_precision(UNIT, to_y_up);
    let mut order: Vec<usize> = (0..mesh.triangles.len()).collect();
    order.sort_by_key(|&i| mesh.part_of.get(i).copied());
    let mut indices: Vec<u8> = Vec::with_capacity(12 * order.len());
    order.iter().flat_map(|&i| mesh.triangles[i]).for_each(|k| indices.extend(k.to_le_bytes()));
    let positions: Vec<u8> = single.points.iter().flatten().flat_map(|x| x.to_le_bytes()).collect();

    let root = describe(name, mesh, &single.points, to_y_up(single.origin / UNIT), &order)?;
    let mut json = gltf::serialize::to_vec(&root).map_err(bug)?;
    json.resize(json.len().next_multiple_of(4), b' ');
    let binary = [positions, indices].concat();
    let total = 12 + 8 + json.len() + 8 + binary.len();
    let size = |n: usize| {
        u32::try_from(n).map_err(|_| Error::input("the shell is too large for a GLB file").at("model"))
    };
    let mut bytes = Vec::with_capacity(total);
    bytes.extend(MAGIC);
    bytes.extend(VERSION.to_le_bytes());
    bytes.extend(size(total)?.to_le_bytes());
    for (kind, chunk) in [(JSON_CHUNK, &json), (BINARY_CHUNK, &binary)] {
        bytes.extend(size(chunk.len())?.to_le_bytes());
        bytes.extend(kind);
        bytes.extend(chunk);
    }
    Ok(bytes)
}

fn describe(
    name: &str,
    mesh: &Mesh,
    points: &[[f32; 3]],
    origin: Vector3<f64>,
    order: &[usize],
) -> Result<gltf::Root> {
    let mut root = gltf::Root {
        asset: gltf::Asset { generator: Some(MADE_BY.to_owned()), ..gltf::Asset::default() },
        ..gltf::Root::default()
    };
    let (vertex_bytes, index_bytes) = (12 * points.len(), 12 * mesh.triangles.len());
    let buffer = root.push(gltf::Buffer {
        byte_length: USize64::from(vertex_bytes + index_bytes),
        name: None,
        uri: None,
        extensions: None,
        extras: None,
    });
    let mut view = |offset: usize, length: usize, target| {
        root.push(gltf::buffer::View {
            buffer,
            byte_length: USize64::from(length),
            byte_offset: Some(USize64::from(offset)),
            byte_stride: None,
            name: None,
            target: Some(Valid(target)),
            extensions: None,
            extras: None,
        })
    };
    let vertex_view = view(0, vertex_bytes, gltf::buffer::Target::ArrayBuffer);
    let index_view = view(vertex_bytes, index_bytes, gltf::buffer::Target::ElementArrayBuffer);
    let extreme = |pick: fn(f32, f32) -> f32, start: f32| {
        serde_json::json!(points.iter().fold([start; 3], |m, p| std::array::from_fn(|i| pick(m[i], p[i]))))
    };
    let accessor = |view, count: usize, component, kind| gltf::Accessor {
        buffer_view: Some(view),
        byte_offset: None,
        count: USize64::from(count),
        component_type: Valid(gltf::accessor::GenericComponentType(component)),
        extensions: None,
        extras: None,
        type_: Valid(kind),
        min: None,
        max: None,
        name: None,
        normalized: false,
        sparse: None,
    };
    use gltf::accessor::{ComponentType, Type};
    let positions = root.push(gltf::Accessor {
        min: Some(extreme(f32::min, f32::INFINITY)),
        max: Some(extreme(f32::max, f32::NEG_INFINITY)),
        ..accessor(vertex_view, points.len(), ComponentType::F32, Type::Vec3)
    });
    let indices = root.push(accessor(index_view, 3 * mesh.triangles.len(), ComponentType::U32, Type::Scalar));
    let material = root.push(gltf::Material {
        name: Some("weathering steel".to_owned()),
        double_sided: true,
        pbr_metallic_roughness: gltf::material::PbrMetallicRoughness {
            base_color_factor: gltf::material::PbrBaseColorFactor(STEEL_COLOUR),
            metallic_factor: gltf::material::StrengthFactor(STEEL_METALLIC),
            roughness_factor: gltf::material::StrengthFactor(STEEL_ROUGHNESS),
            ..Default::default()
        },
        ..gltf::Material::default()
    });
    let shell = root.push(gltf::Mesh {
        extensions: None,
        extras: Some(face_ranges(mesh, order)?),
        name: Some(name.to_owned()),
        primitives: vec![gltf::mesh::Primitive {
            attributes: BTreeMap::from([(Valid(gltf::mesh::Semantic::Positions), positions)]),
            extensions: None,
            extras: None,
            indices: Some(indices),
            material: Some(material),
            mode: Valid(gltf::mesh::Mode::Triangles),
            targets: None,
        }],
        weights: None,
    });
    #[allow(clippy::cast_possible_truncation, reason = "whole metres, exact up to 2^24")]
    let translation = (origin != Vector3::zeros()).then(|| [origin.x, origin.y, origin.z].map(|x| x as f32));
    let node = root.push(gltf::Node {
        mesh: Some(shell),
        name: Some(name.to_owned()),
        translation,
        ..gltf::Node::default()
    });
    let scene = root.push(gltf::Scene {
        extensions: None,
        extras: None,
        name: Some(name.to_owned()),
        nodes: vec![node],
    });
    root.scene = Some(scene);
    Ok(root)
}

/// Which triangles belong to which face, as JSON for `extras`.
fn face_ranges(mesh: &Mesh, order: &[usize]) -> Result<Box<serde_json::value::RawValue>> {
    let part = |i: usize| mesh.part_of.get(i).copied();
    let mut faces = Vec::new();
    let mut first_triangle = 0;
    for same in order.chunk_by(|&a, &b| part(a) == part(b)) {
        let name = part(same[0]).and_then(|k| mesh.names.get(k as usize)).map_or("", String::as_str);
        faces.push(FaceRange { name, first_triangle, triangle_count: same.len() });
        first_triangle += same.len();
    }
    serde_json::value::to_raw_value(&BTreeMap::from([("faces", faces)])).map_err(bug)
}

#[allow(clippy::needless_pass_by_value, reason = "for use as map_err(bug)")]
fn bug(e: serde_json::Error) -> Error {
    Error::bug(format!("the model cannot be described: {e}")).at("glb")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mesh::samples::{corrugated, cuboid, join};

    /// Splits a container by the rules of section 4.4 and reads both chunks.
    fn read(bytes: &[u8]) -> (gltf::Root, Vec<u8>) {
        let word = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().expect("four bytes")) as usize;
        assert_eq!((&bytes[..4], word(4), word(8)), (b"glTF".as_slice(), 2, bytes.len()), "header");
        let json_length = word(12);
        assert_eq!(&bytes[16..20], b"JSON");
        let root = gltf::deserialize::from_slice(&bytes[20..20 + json_length]).expect("JSON");
        let at = 20 + json_length;
        assert_eq!((at % 4, &bytes[at + 4..at + 8]), (0, b"BIN\0".as_slice()), "second chunk");
        assert_eq!(word(at) + at + 8, bytes.len(), "length");
        (root, bytes[at + 8..].to_vec())
    }

    fn mesh_of(bytes: &[u8]) -> Mesh {
        let (root, binary) = read(bytes);
        let word = |i: usize| -> [u8; 4] { binary[4 * i..4 * i + 4].try_into().expect("four bytes") };
        let (points, corners) = (root.accessors[0].count.0 as usize, root.accessors[1].count.0 as usize);
        let point = |i: usize| [0, 1, 2].map(|k| f64::from(f32::from_le_bytes(word(3 * i + k)))).into();
        let corner = |i: usize| u32::from_le_bytes(word(3 * points + i));
        Mesh {
            points: (0..points).map(point).collect(),
            triangles: (0..corners / 3).map(|i| [0, 1, 2].map(|k| corner(3 * i + k))).collect(),
            ..Mesh::default()
        }
    }

    #[test]
    fn read_back_by_the_specification_it_is_the_same_watertight_solid_in_metres() {
        let mesh = corrugated("A", 7, 180.0, 42.0, 300.0, 1100.0);
        let back = mesh_of(&glb_bytes("Slack Tide", &mesh).expect("writes"));
        assert!(back.is_watertight(), "vertices are shared");
        assert!((back.volume() * 1e9 / mesh.volume() - 1.0).abs() < 1e-6, "volume {}", back.volume());
        let [lo, hi] = back.bounds().expect("points");
        assert!((hi.y - lo.y - 1.1).abs() < 1e-6, "y is up");
    }

    #[test]
    fn every_face_is_named_with_its_triangles() {
        let mesh = join(&[cuboid("A", [0.0; 3], [1.0; 3]), cuboid("B", [2.0; 3], [3.0; 3])]);
        let (root, _) = read(&glb_bytes("two", &mesh).expect("writes"));
        let extras = root.meshes[0].extras.as_ref().expect("extras").get();
        let value: serde_json::Value = serde_json::from_str(extras).expect("JSON");
        let faces = value["faces"].as_array().expect("list");
        assert_eq!(faces.len(), 12, "all faces");
        assert_eq!(faces[7]["name"], "B/east");
        assert_eq!((&faces[7]["first_triangle"], &faces[7]["triangle_count"]), (&14.into(), &2.into()));
    }

    #[test]
    fn a_work_ten_kilometres_away_keeps_its_shape_under_a_translated_node() {
        let near = cuboid("A", [-450.25, -450.0, 0.0], [449.75, 450.0, 900.0]);
        let mut far = near.clone();
        far.points.iter_mut().for_each(|p| *p += Vector3::new(1.0e7, 2.0e7, 0.0));
        let bytes = glb_bytes("far", &far).expect("writes");
        let (root, _) = read(&bytes);
        assert_eq!(root.nodes[0].translation, Some([10000.0, 0.0, -20000.0]), "east, up, south");
        let back = mesh_of(&bytes);
        assert!((back.volume() * 1e9 / near.volume() - 1.0).abs() < 1e-6, "volume {}", back.volume());
    }

    #[test]
    fn the_same_shell_gives_the_same_bytes() {
        let mesh = corrugated("A", 3, 180.0, 42.0, 300.0, 1100.0);
        assert_eq!(glb_bytes("x", &mesh).expect("writes"), glb_bytes("x", &mesh).expect("writes"));
    }
}
