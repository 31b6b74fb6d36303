//! Random works of one to four elements that prefer the awkward cases: ribs along seams, equal planes,
//! right angles, dihedral angles of 2 and 178 degrees, folds that meet on an edge, elements resting flat.

use crate::case::{element, profile};
use crate::random::Random;
use nalgebra::{Point3, Vector3};
use ribwright_kernel::Result;
use ribwright_kernel::profile::Profile;
use ribwright_kernel::sculpture::{Datum, Element, Joint, Meet, Sculpture};
use std::f64::consts::TAU;
use std::sync::Arc;

type V = Vector3<f64>;

/// A plane with its label.
#[derive(Debug, Clone)]
struct Plane {
    label: String,
    point: V,
    normal: V,
}

/// The work of a seed.
///
/// # Errors
/// What the kernel says about it: a few seeds in a hundred ask for solids that are open or empty.
pub fn random_work(seed: u64) -> Result<Sculpture> {
    let mut random = Random::new(seed);
    let mut work = Sculpture::new(&format!("work {seed}"));
    work.joint = joint(&mut random);
    let count = random.one(&[1, 1, 2, 2, 3, 4]);
    // A work far from the origin loses digits; it must not lose its closure.
    let home = if random.percent(4) { V::new(1.0e7, -3.0e6, 0.0) } else { V::zeros() };
    let sheets = [sheet(&mut random), sheet(&mut random)];
    let mut below: Option<(Vec<Plane>, V)> = None;
    for k in 0..count {
        let name = ["A", "B", "C", "D"][k];
        let (planes, place) = match &below {
            Some((planes, place)) if random.percent(2) => (planes.clone(), *place),
            Some((planes, place)) => {
                let mut next = shape(&mut random);
                if random.percent(20) {
                    // The same planes on the sides, so that faces of two elements lie in one plane.
                    next = planes.clone();
                }
                (next, place + step(&mut random, planes))
            }
            None => (shape(&mut random), home),
        };
        work.add(clad(&mut random, name, &planes, place, &sheets)?)?;
        below = Some((planes, place));
    }
    Ok(work)
}

/// Gives some of the seams joints of their own.
pub fn mix_joints(work: &mut Sculpture, seams: &[String], seed: u64) {
    let mut random = Random::new(!seed);
    for _ in 0..random.one(&[0, 0, 2, 6]).min(seams.len()) {
        if let Some((a, b)) = seams[random.below(seams.len())].split_once('~') {
            work.pair_joints.insert((a.to_owned(), b.to_owned()), joint(&mut random));
        }
    }
}

fn joint(random: &mut Random) -> Joint {
    Joint {
        kind: random.one(&["true", "true", "mitre", "auto", "auto"]).to_owned(),
        meet: random.one(&[Meet::Inside, Meet::Middle, Meet::Outside]),
        ..Joint::default()
    }
}

fn sheet(random: &mut Random) -> Result<Arc<Profile>> {
    let trapezoid = |pitch, depth, crest, valley, bend_radius| {
        profile(
            "trapezoid",
            &[
                ("pitch", pitch),
                ("depth", depth),
                ("crest", crest),
                ("valley", valley),
                ("thickness", 2.0),
                ("bend_radius", bend_radius),
            ],
        )
    };
    match random.below(12) {
        0..=4 => trapezoid(200.0, 40.0, 70.0, 70.0, 0.0),
        5 | 6 => trapezoid(278.0, 36.0, 72.0, 70.0, 0.0),
        // Steep webs, and crest and valley of no width.
        7 => trapezoid(150.0, 60.0, 65.0, 65.0, 0.0),
        8 => trapezoid(120.0, 20.0, 0.5, 0.5, 0.0),
        9 => trapezoid(200.0, 40.0, 70.0, 70.0, 6.0),
        10 => profile("sine", &[("pitch", 150.0), ("depth", 30.0), ("thickness", 1.0)]),
        _ => profile("flat", &[("thickness", 2.0)]),
    }
}

/// Where the next element goes, from where the one below stands.
fn step(random: &mut Random, below: &[Plane]) -> V {
    let height = below.iter().map(|p| p.point.z).fold(0.0, f64::max);
    let side = below.iter().map(|p| p.point.x).fold(0.0, f64::max);
    let (dx, dy) = (random.between(-150.0, 150.0), random.between(-150.0, 150.0));
    match random.below(8) {
        // Resting flat, in line or shifted: the foot and the top lie in one plane.
        0 => V::new(0.0, 0.0, height),
        1 | 2 => V::new(dx, dy, height),
        // Sunk a whole depth, or anything.
        3 => V::new(dx, 0.0, height - 40.0),
        4 | 5 => V::new(dx, dy, height - random.between(5.0, 160.0)),
        // Side by side, touching or overlapping.
        6 => V::new(2.0 * side, 0.0, 0.0),
        _ => V::new(side + dx, dy, random.one(&[0.0, 0.0, 70.0])),
    }
}

fn plane(label: &str, point: V, normal: V) -> Plane {
    Plane { label: label.to_owned(), point, normal }
}

/// Planes of a solid with its foot at z = 0.
fn shape(random: &mut Random) -> Vec<Plane> {
    let size = V::from_fn(|_, _| random.between(300.0, 900.0));
    let mut planes = match random.below(12) {
        0..=4 => slab(size),
        5 => {
            // A wedge whose top meets the ground at 2 degrees.
            let mut planes = slab(V::new(2400.0, size.y, 500.0));
            let angle = 2.0_f64.to_radians();
            planes[4] = plane("top", V::new(1200.0, 0.0, 0.0), V::new(angle.sin(), 0.0, angle.cos()));
            planes.remove(0);
            planes
        }
        6 => {
            // A roof of 178 degrees.
            let mut planes = slab(size);
            let (s, c) = 1.0_f64.to_radians().sin_cos();
            planes[4] = plane("top", V::new(0.0, 0.0, size.z), V::new(s, 0.0, c));
            planes.push(plane("roof", V::new(0.0, 0.0, size.z), V::new(-s, 0.0, c)));
            planes
        }
        7 | 8 => prism(random, size),
        9 => {
            // Four faces at every corner.
            let signs = [1.0, -1.0];
            let mut planes = Vec::new();
            for (x, y, z) in
                signs.iter().flat_map(|x| signs.iter().flat_map(move |y| signs.map(|z| (*x, *y, z))))
            {
                let normal = V::new(x, y, z);
                let label = format!("f{}", planes.len() + 1);
                planes.push(plane(&label, normal * (size.x / 2.0) + V::new(0.0, 0.0, size.x), normal));
            }
            planes
        }
        10 => {
            let centre = V::new(0.0, 0.0, 300.0);
            [V::new(1.0, 1.0, 1.0), V::new(1.0, -1.0, -1.0), V::new(-1.0, 1.0, -1.0), V::new(-1.0, -1.0, 1.0)]
                .iter()
                .enumerate()
                .map(|(k, n)| plane(&format!("f{}", k + 1), centre + n.normalize() * 250.0, *n))
                .collect()
        }
        _ => {
            let mut planes = slab(size);
            for k in 0..random.below(4) {
                let normal = random.direction();
                let centre = V::new(0.0, 0.0, size.z / 2.0);
                planes.push(plane(&format!("cut{k}"), centre + normal * (0.45 * size.min()), normal));
            }
            planes
        }
    };
    let tilt = random.one(&[0.0, 0.0, 0.0, 1.0e-9, 1.0e-6, 0.02, 0.15]);
    if tilt > 0.0 {
        for plane in &mut planes {
            plane.normal += random.direction() * tilt * plane.normal.norm();
        }
    }
    if random.percent(1) {
        // Open, empty or one plane twice: an error, never a panic.
        match random.below(3) {
            0 => {
                planes.pop();
            }
            1 => planes.push(plane("away", V::new(0.0, 0.0, -5000.0), V::z())),
            _ => {
                let mut twin = planes[0].clone();
                twin.label = "twin".to_owned();
                planes.push(twin);
            }
        }
    }
    planes
}

fn slab(size: V) -> Vec<Plane> {
    let (x, y, z) = (size.x / 2.0, size.y / 2.0, size.z);
    vec![
        plane("east", V::new(x, 0.0, z / 2.0), V::x()),
        plane("west", V::new(-x, 0.0, z / 2.0), -V::x()),
        plane("north", V::new(0.0, y, z / 2.0), V::y()),
        plane("south", V::new(0.0, -y, z / 2.0), -V::y()),
        plane("top", V::new(0.0, 0.0, z), V::z()),
        plane("bottom", V::zeros(), -V::z()),
    ]
}

fn prism(random: &mut Random, size: V) -> Vec<Plane> {
    let sides = random.one(&[3, 5, 6, 7]);
    let lean = random.one(&[0.0, 0.0, 0.1, 0.3]);
    let mut planes: Vec<Plane> = (0..sides)
        .map(|k| {
            #[allow(clippy::cast_precision_loss, reason = "a few sides")]
            let angle = TAU * k as f64 / sides as f64;
            let out = V::new(angle.cos(), angle.sin(), 0.0);
            plane(&format!("side{}", k + 1), out * (size.x / 2.0), out + V::z() * lean)
        })
        .collect();
    planes.push(plane("top", V::new(0.0, 0.0, size.z), V::z()));
    planes.push(plane("bottom", V::zeros(), -V::z()));
    planes
}

fn clad(
    random: &mut Random,
    name: &str,
    planes: &[Plane],
    place: V,
    sheets: &[Result<Arc<Profile>>; 2],
) -> Result<Element> {
    let moved: Vec<_> =
        planes.iter().map(|p| (p.label.clone(), (p.point + place).into(), p.normal.into())).collect();
    let mut element = element(name, &moved)?;
    let common_point = Point3::from(planes[0].point + place);
    let common_rib = random.direction();
    let habit = random.below(4);
    for plane in planes {
        let cladding = element.face_mut(&plane.label)?;
        let pick = usize::from(random.percent(25));
        let sheet = sheets[pick].clone()?;
        let n = plane.normal.normalize();
        let other = planes[random.below(planes.len())].normal;
        let along_edge = n.cross(&other);
        let rib = match if random.percent(70) { habit } else { random.below(5) } {
            0 => common_rib,
            1 => along_edge,
            2 => n.cross(&along_edge),
            3 => along_edge + random.direction() * random.one(&[1.0e-12, 1.0e-9, 1.0e-6, 1.0e-3, 0.05]),
            _ => random.direction(),
        };
        let across = rib - n * rib.dot(&n);
        // Ribs along the normal are an error of the script; here the default is left instead.
        cladding.along = (across.norm() > 1.0e-3 * rib.norm() && rib.norm() > 0.0).then_some(rib);
        cladding.through = match random.below(3) {
            0 => None,
            1 => Some(common_point),
            _ => Some(Point3::from(plane.point + place)),
        };
        cladding.phase = match random.below(5) {
            // A crest's middle, its edge, the valley's edge, or the next crest on the point.
            0 => 0.0,
            1 => 35.0,
            2 => sheet.pitch() / 2.0,
            3 => sheet.pitch(),
            _ => random.between(-300.0, 300.0),
        };
        cladding.datum = random.one(&[Datum::Middle, Datum::Middle, Datum::Crest, Datum::Valley]);
        cladding.profile = Some(sheet);
    }
    Ok(element)
}
