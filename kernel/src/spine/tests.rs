//! Spines through stacks of boxes and frusta, built with `#[cfg(test)]` only.

use super::path::At;
use super::{Gate, Obstacles, Place, Spine, Task, Verdict, find};
use crate::random::Random;
use nalgebra::{Isometry3, Point3, Rotation3, Vector3};
use rayon::prelude::*;
use std::f64::consts::TAU;

type P = Point3<f64>;

#[derive(Default)]
struct Sheet {
    points: Vec<P>,
    triangles: Vec<[u32; 3]>,
}

impl Sheet {
    fn triangle(&mut self, corners: [P; 3]) {
        let first = u32::try_from(self.points.len()).expect("few");
        self.points.extend(corners);
        self.triangles.push([first, first + 1, first + 2]);
    }
    /// Between two rings of points of one count.
    fn band(&mut self, low: &[P], high: &[P]) {
        for i in 0..low.len() {
            let j = (i + 1) % low.len();
            self.triangle([low[i], low[j], high[j]]);
            self.triangle([low[i], high[j], high[i]]);
        }
    }
    /// A plane ring between an outer and an inner convex polygon, both about a point: cut along rays through all corners.
    fn ring(
        &mut self,
        about: [f64; 2],
        outer: &[[f64; 2]],
        inner: &[[f64; 2]],
        lift: &dyn Fn([f64; 2]) -> P,
    ) {
        let angle = |p: &[f64; 2]| (p[1] - about[1]).atan2(p[0] - about[0]);
        let mut angles: Vec<f64> = outer.iter().chain(inner).map(angle).collect();
        angles.sort_by(f64::total_cmp);
        let hit = |polygon: &[[f64; 2]], a: f64| {
            let d = [a.cos(), a.sin()];
            let mut reach = f64::INFINITY;
            for i in 0..polygon.len() {
                let (p, q) = (polygon[i], polygon[(i + 1) % polygon.len()]);
                let n = [q[1] - p[1], p[0] - q[0]];
                let slope = d[0] * n[0] + d[1] * n[1];
                if slope > 0.0 {
                    reach = reach.min(((p[0] - about[0]) * n[0] + (p[1] - about[1]) * n[1]) / slope);
                }
            }
            [about[0] + d[0] * reach, about[1] + d[1] * reach]
        };
        let rings =
            [outer, inner].map(|polygon| angles.iter().map(|a| lift(hit(polygon, *a))).collect::<Vec<P>>());
        self.band(&rings[0], &rings[1]);
    }
}

fn polygon(sides: u32, centre: [f64; 2], radius: f64, turn: f64) -> Vec<[f64; 2]> {
    (0..sides)
        .map(|k| (turn + TAU * f64::from(k) / f64::from(sides)).sin_cos())
        .map(|(s, c)| [centre[0] + radius * c, centre[1] + radius * s])
        .collect()
}

/// A stack of convex elements (frusta between slanting joints, some leaning) with an opening in every joint.
struct Stack {
    sheet: Sheet,
    gates: Vec<Gate>,
    start: P,
    end: P,
}

fn stack(seed: u64) -> Stack {
    let mut r = Random(seed);
    let elements = 2 + r.pick(3);
    let place = Isometry3::from_parts(
        nalgebra::Translation3::new(r.between(-3e3, 3e3), r.between(-3e3, 3e3), r.between(-3e3, 3e3)),
        Rotation3::new(Vector3::new(r.between(-1.0, 1.0), r.between(-1.0, 1.0), r.between(-1.0, 1.0))).into(),
    );
    let mut sheet = Sheet::default();
    let mut gates = Vec::new();
    let (mut centre, mut z) = ([0.0, 0.0], 0.0);
    let mut tilt = [0.0, 0.0];
    let mut radius = r.between(350.0, 700.0);
    let mut start = P::origin();
    let mut end = P::origin();
    let mut open: Option<Vec<[f64; 2]>> = None;
    for k in 0..elements {
        let sides = u32::try_from(4 + r.pick(3)).expect("few");
        let turn = r.between(0.0, TAU);
        let height = r.between(500.0, 1300.0);
        let top = [centre[0] + r.between(-200.0, 200.0), centre[1] + r.between(-200.0, 200.0)];
        let top_radius = r.between(300.0, 600.0);
        let slope = if k + 1 == elements { [0.0; 2] } else { [r.between(-0.2, 0.2), r.between(-0.2, 0.2)] };
        let level = |z: f64, t: [f64; 2], c: [f64; 2]| {
            move |p: [f64; 2]| place * P::new(p[0], p[1], z + t[0] * (p[0] - c[0]) + t[1] * (p[1] - c[1]))
        };
        let (low, high) = (level(z, tilt, centre), level(z + height, slope, top));
        let foot = polygon(sides, centre, radius, turn);
        let head = polygon(sides, top, top_radius, turn);
        let rings =
            [foot.iter().map(|p| low(*p)).collect::<Vec<P>>(), head.iter().map(|p| high(*p)).collect()];
        sheet.band(&rings[0], &rings[1]);
        if let Some(hole) = &open {
            // Everything about the middle of the hole, which lies within the foot as well.
            let about = [0, 1].map(|i| hole.iter().map(|p| p[i]).sum::<f64>() / 6.0);
            sheet.ring(about, &foot, hole, &low);
        } else {
            start = low([centre[0] + r.between(-60.0, 60.0), centre[1] + r.between(-60.0, 60.0)]);
        }
        if k + 1 < elements {
            // The next element stands aside, its foot as large as needed to hold the hole.
            let hole_radius = r.between(110.0, 200.0);
            let room = top_radius * 0.6 - hole_radius;
            let at = [0, 1].map(|i| top[i] + r.between(-room, room).clamp(-200.0, 200.0));
            let hole = polygon(6, at, hole_radius, r.between(0.0, 1.0));
            sheet.ring(at, &head, &hole, &high);
            gates.push(
                Gate::new(format!("gate {}", k + 1), hole.iter().map(|p| high(*p)).collect())
                    .expect("convex"),
            );
            radius = r.between(420.0, 700.0);
            let aside = radius * 0.65 - hole_radius;
            // The joint's plane stays where it is: z of the next element is that of the plane under its own centre.
            let next = [0, 1].map(|i| at[i] + r.between(-aside, aside).clamp(-250.0, 250.0));
            z += height + slope[0] * (next[0] - top[0]) + slope[1] * (next[1] - top[1]);
            centre = next;
            tilt = slope;
            open = Some(hole);
        } else {
            let roof = high(top);
            for i in 0..rings[1].len() {
                sheet.triangle([roof, rings[1][i], rings[1][(i + 1) % rings[1].len()]]);
            }
            let down = r.between(200.0, 300.0);
            end = Point3::from(roof.coords - place.rotation * Vector3::z() * down);
        }
    }
    Stack { sheet, gates, start, end }
}

/// Distance of a point from a triangle, by another library.
fn from_triangle(p: &P, t: &[P; 3]) -> f64 {
    use parry3d_f64::math::Vector as V;
    use parry3d_f64::query::PointQuery;
    let to = |q: &P| V::new(q.x, q.y, q.z);
    parry3d_f64::shape::Triangle::new(to(&t[0]), to(&t[1]), to(&t[2])).distance_to_local_point(to(p), false)
}

/// Checks a spine by points alone, apart from the search: along the axis, on the tips of the mitres, on the rims.
fn assert_clear(spine: &Spine, sheet: &Sheet, gates: &[Gate], radius: f64, gap: f64, what: &str) {
    let triangles: Vec<[P; 3]> =
        sheet.triangles.iter().map(|t| t.map(|i| sheet.points[i as usize])).collect();
    // A rim is a triangle without area.
    let rims: Vec<[P; 3]> = gates
        .iter()
        .flat_map(|g| (0..g.corners().len()).map(|i| (g, i)).collect::<Vec<_>>())
        .map(|(g, i)| [g.corners()[i], g.corners()[(i + 1) % g.corners().len()], g.corners()[i]])
        .collect();
    let off = |p: &P| {
        let all = triangles.iter().map(|t| from_triangle(p, t));
        let rim = rims.iter().map(|r| {
            let (a, d) = (r[0], r[1] - r[0]);
            let s = ((p - a).dot(&d) / d.norm_squared()).clamp(0.0, 1.0);
            (p - (a + d * s)).norm()
        });
        all.chain(rim).fold(f64::INFINITY, f64::min)
    };
    let mut least = f64::INFINITY;
    for leg in spine.points.windows(2) {
        let length = (leg[1] - leg[0]).norm();
        let mut along = 0.0;
        while along <= length {
            least = least.min(off(&(leg[0] + (leg[1] - leg[0]) * (along / length))) - radius);
            along += 4.0;
        }
    }
    for k in 1..spine.points.len() - 1 {
        let p = spine.points[k];
        let (a, b) = ((p - spine.points[k - 1]).normalize(), (spine.points[k + 1] - p).normalize());
        let across = a.cross(&b).normalize();
        let half = a.angle(&b) / 2.0;
        let long = (a - b).normalize() * (radius / half.cos());
        for step in 0..48 {
            let t = TAU * f64::from(step) / 48.0;
            least = least.min(off(&(p + long * t.cos() + across * (radius * t.sin()))));
        }
    }
    assert!(least >= gap - 1e-9, "{what}: {least} of {gap}");
    assert!(spine.clearance <= least + 1e-6, "{what}: told {} found {least}", spine.clearance);
    // All gates are passed, in order, inside.
    let mut from = (0, 0.0);
    for gate in gates {
        let crossed = (0..spine.points.len() - 1).find_map(|leg| {
            let (p, q) = (spine.points[leg], spine.points[leg + 1]);
            let [a, b] = [p, q].map(|x| gate.height(&x));
            let share = a / (a - b);
            ((a > 0.0) != (b > 0.0) && (leg, share) >= from).then_some((leg, share))
        });
        let (leg, share) = crossed.unwrap_or_else(|| panic!("{what}: {} is not crossed", gate.name()));
        let at = spine.points[leg] + (spine.points[leg + 1] - spine.points[leg]) * share;
        let (middle, _) = gate.greatest_circle();
        let inside = gate.corners().iter().enumerate().all(|(i, c)| {
            let d = gate.corners()[(i + 1) % gate.corners().len()] - c;
            gate.normal().cross(&d).dot(&(at - c)) * gate.normal().cross(&d).dot(&(middle - c)) >= 0.0
        });
        assert!(inside, "{what}: {} is passed outside", gate.name());
        from = (leg, share);
    }
}

fn task<'a>(s: &Stack, obstacles: &'a Obstacles, radius: f64, gap: f64) -> Task<'a> {
    Task {
        obstacles,
        start: Place::At(s.start),
        gates: s.gates.clone(),
        end: Place::At(s.end),
        radius,
        gap,
        most_legs: 6,
        slack: 1.0_f64.to_radians(),
        stand_off: 0.0,
    }
}

/// Whether a straight line of the given points is clear, by exact distances.
fn clear(points: &[P], s: &Stack, obstacles: &Obstacles, needed: f64) -> bool {
    points.windows(2).all(|w| {
        let rims = s.gates.iter().flat_map(|g| {
            (0..g.corners().len())
                .map(|i| [g.corners()[i], g.corners()[(i + 1) % g.corners().len()]])
                .collect::<Vec<_>>()
        });
        obstacles.distance(&[w[0], w[1]], needed) >= needed
            && rims.map(|rim| super::obstacles::between(&[w[0], w[1]], &rim).1.norm()).all(|d| d >= needed)
    })
}

#[test]
fn three_hundred_stacks_get_clear_spines_or_a_reason() {
    let figures: Vec<(usize, f64, f64)> = (0..300_u64)
        .into_par_iter()
        .map(|seed| {
            let s = stack(seed);
            let mut r = Random(seed ^ 0x5151);
            let (radius, gap) = (r.between(20.0, 70.0), r.between(5.0, 25.0));
            let obstacles = Obstacles::new(&s.sheet.points, &s.sheet.triangles).expect("usable");
            let what = format!("stack {seed}");
            let verdict = find(&task(&s, &obstacles, radius, gap)).expect("a fair task");
            // A spine from middle to middle is a spine, where it is clear with the tips of its mitres.
            let mut middles = vec![s.start];
            middles.extend(s.gates.iter().map(|g| g.greatest_circle().0));
            middles.push(s.end);
            let sharpest = (1..middles.len() - 1)
                .map(|k| (middles[k] - middles[k - 1]).angle(&(middles[k + 1] - middles[k])))
                .fold(0.0, f64::max);
            let easy = clear(&middles, &s, &obstacles, radius / (sharpest / 2.0).cos() + gap);
            match verdict {
                Verdict::Fits(spine) => {
                    assert_clear(&spine, &s.sheet, &s.gates, radius, gap, &what);
                    assert_eq!(spine.points.first(), Some(&s.start));
                    assert_eq!(spine.points.last(), Some(&s.end));
                    let legs = spine.points.len() - 1;
                    let straight = clear(&[s.start, s.end], &s, &obstacles, radius + gap);
                    assert_eq!(
                        legs == 1,
                        straight,
                        "{what}: one leg if and only if the straight line is clear"
                    );
                    if easy {
                        assert!(
                            legs < middles.len(),
                            "{what}: {legs} legs, {} from middle to middle",
                            middles.len() - 1
                        );
                    }
                    (legs, spine.bend, spine.clearance)
                }
                Verdict::Blocked(blocked) => {
                    assert!(!easy, "{what}: {blocked}, but from middle to middle there is a way");
                    assert!(blocked.greatest < blocked.needed, "{what}: {blocked}");
                    if let (At::Gate(k), true) = (blocked.at, blocked.proven) {
                        assert!((s.gates[k].greatest_circle().1 - blocked.greatest).abs() < 1e-9);
                    }
                    (0, 0.0, 0.0)
                }
            }
        })
        .collect();
    let of = |legs| figures.iter().filter(|f| f.0 == legs).count();
    let counts = [0, 1, 2, 3, 4].map(of);
    assert!(
        counts[0] < 30 && counts[2] > 50 && counts[3] > 10,
        "the stacks are too easy or too hard: {counts:?}"
    );
}

/// Wide tubes through the same stacks: a gate that is too small is named, the first one, with its greatest circle (closed form
/// of a regular hexagon: its apothem).
#[test]
fn gates_that_are_too_small_are_named_with_what_fits() {
    let mut blocked_by_gates = 0;
    for seed in 0..120_u64 {
        let s = stack(seed);
        let obstacles = Obstacles::new(&s.sheet.points, &s.sheet.triangles).expect("usable");
        // Lifted onto a slanting joint a hexagon is no longer regular: the least distance between opposite sides.
        let widths = |g: &Gate| {
            let c = g.corners();
            (0..3)
                .map(|i| {
                    let d = (c[i + 1] - c[i]).normalize();
                    let across = c[(i + 4) % 6] - c[i];
                    (across - d * across.dot(&d)).norm() / 2.0
                })
                .fold(f64::INFINITY, f64::min)
        };
        let first = s.gates.iter().position(|g| widths(g) < 140.0);
        let start = obstacles.distance(&[s.start, s.start], 100.0);
        let Some(first) = first.filter(|_| start > 140.0) else { continue };
        match find(&task(&s, &obstacles, 125.0, 15.0)).expect("a fair task") {
            Verdict::Blocked(b) => {
                assert_eq!((b.at, b.proven), (At::Gate(first), true), "stack {seed}: {b}");
                assert!((b.greatest - widths(&s.gates[first])).abs() < 1e-9 * 200.0, "stack {seed}: {b}");
                assert!(b.error().to_string().contains(&format!("gate {}", first + 1)), "{}", b.error());
                blocked_by_gates += 1;
            }
            Verdict::Fits(_) => panic!("stack {seed}: through a gate that is too small"),
        }
    }
    assert!(blocked_by_gates > 40, "{blocked_by_gates}");
}

/// Four walls, 5 m high, with a floor half way up that has an opening; no bottom and no roof.
fn boxed(opening: [[f64; 2]; 2]) -> (Sheet, Gate) {
    let mut sheet = Sheet::default();
    let square =
        |z: f64| polygon(4, [0.0; 2], 1500.0, TAU / 8.0).into_iter().map(move |p| P::new(p[0], p[1], z));
    let rings: [Vec<P>; 2] = [square(-2500.0).collect(), square(2500.0).collect()];
    sheet.band(&rings[0], &rings[1]);
    let [lo, hi] = opening;
    let hole = [[lo[0], lo[1]], [hi[0], lo[1]], [hi[0], hi[1]], [lo[0], hi[1]]];
    let about = [0, 1].map(|i| (lo[i] + hi[i]) / 2.0);
    let flat = |p: [f64; 2]| P::new(p[0], p[1], 0.0);
    sheet.ring(about, &polygon(4, [0.0; 2], 1500.0, TAU / 8.0), &hole, &flat);
    let gate = Gate::new("the floor", hole.iter().map(|p| flat(*p)).collect()).expect("convex");
    (sheet, gate)
}

fn through<'a>(obstacles: &'a Obstacles, gate: Gate, radius: f64, gap: f64) -> Task<'a> {
    Task {
        obstacles,
        start: Place::At(P::new(0.0, 0.0, -1000.0)),
        gates: vec![gate],
        end: Place::At(P::new(0.0, 0.0, 1000.0)),
        radius,
        gap,
        most_legs: 4,
        slack: 0.0,
        stand_off: 0.0,
    }
}

/// From below to above round the edge of a floor: the least bend is that of two tangents to the circle round the edge,
/// 2(atan(a/h) + asin(R/√(a² + h²))) with the edge a aside, h the height, R radius and gap.
#[test]
fn the_least_bend_round_an_edge_is_that_of_two_tangents() {
    for (edge, radius, gap) in [(100.0, 50.0, 10.0), (250.0, 30.0, 20.0), (20.0, 84.0, 16.0)] {
        let (sheet, gate) = boxed([[edge, -400.0], [edge + 500.0, 400.0]]);
        let obstacles = Obstacles::new(&sheet.points, &sheet.triangles).expect("usable");
        let Verdict::Fits(spine) = find(&through(&obstacles, gate.clone(), radius, gap)).expect("fair")
        else {
            panic!("blocked")
        };
        assert_eq!(spine.points.len(), 3, "two legs");
        let far = f64::hypot(edge, 1000.0);
        let least = 2.0 * ((edge / 1000.0_f64).atan() + ((radius + gap) / far).asin());
        assert!(spine.bend >= least - 1e-9, "{} below the least possible {least}", spine.bend);
        assert!(spine.bend < least * 1.01, "{} for {least}", spine.bend);
        assert_clear(&spine, &sheet, &[gate], radius, gap, "round an edge");
    }
}

/// Straight up through the middle where that is free: one leg, and the clearance is the opening's.
#[test]
fn a_free_straight_way_is_one_leg_with_the_clearance_of_the_opening() {
    let (sheet, gate) = boxed([[-120.0, -200.0], [120.0, 200.0]]);
    let obstacles = Obstacles::new(&sheet.points, &sheet.triangles).expect("usable");
    let found = find(&through(&obstacles, gate.clone(), 40.0, 10.0)).expect("fair");
    let Verdict::Fits(spine) = found else { panic!("blocked") };
    assert_eq!(spine.points.len(), 2);
    assert_eq!((spine.bend, spine.turns.len()), (0.0, 0));
    assert!((spine.clearance - 80.0).abs() < 1e-9, "{}", spine.clearance);
    // A start anywhere on the base and a free end area centre the spine in an opening that is aside.
    let (sheet, gate) = boxed([[300.0, -200.0], [540.0, 200.0]]);
    let obstacles = Obstacles::new(&sheet.points, &sheet.triangles).expect("usable");
    let area = |z: f64| {
        let corners = [[-700.0, -700.0], [700.0, -700.0], [700.0, 700.0], [-700.0, 700.0]];
        Place::On(Gate::new("area", corners.map(|c| P::new(c[0], c[1], z)).to_vec()).expect("convex"))
    };
    let free = Task { start: area(-1000.0), end: area(1000.0), ..through(&obstacles, gate, 40.0, 10.0) };
    let Verdict::Fits(spine) = find(&free).expect("fair") else { panic!("blocked") };
    assert_eq!(spine.points.len(), 2);
    assert!((spine.clearance - 80.0).abs() < 0.5, "{}", spine.clearance);
}

#[test]
fn what_is_too_small_is_told_apart_from_what_was_not_found() {
    let (sheet, gate) = boxed([[300.0, -75.0], [600.0, 75.0]]);
    let obstacles = Obstacles::new(&sheet.points, &sheet.triangles).expect("usable");
    let blocked = |t: Task| match find(&t).expect("fair") {
        Verdict::Blocked(b) => b,
        Verdict::Fits(s) => panic!("fits: {s:?}"),
    };
    // 150 mm between the long sides: 75 mm about the axis, and not a hair more.
    let b = blocked(through(&obstacles, gate.clone(), 60.0, 15.001));
    assert_eq!((b.at, b.proven), (At::Gate(0), true));
    assert!((b.greatest - 75.0).abs() < 1e-9, "{b}");
    assert!(b.error().to_string().starts_with("spine: the floor: the spine needs 75.0 mm"), "{}", b.error());
    // One leg is not enough for an opening aside; the most a straight tube could have there is less than nothing.
    let b = blocked(Task { most_legs: 1, ..through(&obstacles, gate.clone(), 40.0, 10.0) });
    assert_eq!((b.at, b.proven), (At::End, false), "{b}");
    assert!(b.greatest < 50.0, "{b}");
    // An edge 30 mm aside of the straight way: that is all a single leg can have, though the opening is wide.
    let (wide_sheet, wide_gate) = boxed([[-30.0, -200.0], [600.0, 200.0]]);
    let wide = Obstacles::new(&wide_sheet.points, &wide_sheet.triangles).expect("usable");
    let b = blocked(Task { most_legs: 1, ..through(&wide, wide_gate, 40.0, 10.0) });
    assert_eq!((b.at, b.proven), (At::End, false), "{b}");
    assert!((b.greatest - 30.0).abs() < 1e-9, "{b}");
    // A start too near a wall: 1060.66 − 1040 mm.
    let near = Place::At(P::new(1040.0, 0.0, -1000.0));
    let b = blocked(Task { start: near, ..through(&obstacles, gate.clone(), 40.0, 10.0) });
    assert_eq!((b.at, b.proven), (At::Start, true));
    assert!((b.greatest - (1500.0 * 0.5_f64.sqrt() - 1040.0)).abs() < 1e-9, "{b}");
    let end = Place::At(P::new(0.0, 0.0, 2490.0));
    assert!(matches!(
        find(&Task { end, ..through(&obstacles, gate.clone(), 40.0, 10.0) }),
        Ok(Verdict::Fits(_))
    ));

    let refused = |t: Task| find(&t).expect_err("refused");
    refused(Task { radius: 0.0, ..through(&obstacles, gate.clone(), 40.0, 10.0) });
    refused(Task { gap: f64::NAN, ..through(&obstacles, gate.clone(), 40.0, 10.0) });
    refused(Task { most_legs: 0, ..through(&obstacles, gate.clone(), 40.0, 10.0) });
    refused(Task { most_legs: 99, ..through(&obstacles, gate.clone(), 40.0, 10.0) });
    let below = Place::At(P::new(0.0, 0.0, -500.0));
    let order = refused(Task { end: below, ..through(&obstacles, gate, 40.0, 10.0) });
    assert!(order.to_string().contains("the floor: does not lie between"), "{order}");
}

/// A corridor of two floors with openings far aside of one another, narrow for what has to turn there: the search says at
/// which gate it ends, and a tube that fits is let through.
#[test]
fn a_chamber_too_low_to_turn_in_blocks_at_the_gate_after_it() {
    let floor = |sheet: &mut Sheet, x: f64, z: f64| {
        let hole = [[x - 120.0, -120.0], [x + 120.0, -120.0], [x + 120.0, 120.0], [x - 120.0, 120.0]];
        let flat = move |p: [f64; 2]| P::new(p[0], p[1], z);
        sheet.ring([x, 0.0], &polygon(4, [0.0; 2], 1500.0, TAU / 8.0), &hole, &flat);
        Gate::new(format!("floor at {z}"), hole.iter().map(|p| flat(*p)).collect()).expect("convex")
    };
    let verdict = |radius: f64| {
        let mut sheet = Sheet::default();
        let gates = vec![floor(&mut sheet, -500.0, 0.0), floor(&mut sheet, 500.0, 200.0)];
        let obstacles = Obstacles::new(&sheet.points, &sheet.triangles).expect("usable");
        let t = Task {
            start: Place::At(P::new(-500.0, 0.0, -1000.0)),
            end: Place::At(P::new(500.0, 0.0, 1200.0)),
            ..through(&obstacles, gates[0].clone(), radius, 5.0)
        };
        find(&Task { gates: gates.clone(), most_legs: 5, ..t }).expect("fair")
    };
    // Between the floors there are 200 mm: a straight tube of radius 95 with its gap just lies there, but has no way in.
    let Verdict::Blocked(b) = verdict(95.0) else { panic!("fits") };
    assert_eq!((b.at, b.proven), (At::Gate(1), false), "{b}");
    assert!(b.greatest < 100.0 && b.greatest > 20.0, "{b}");
    assert!(matches!(verdict(20.0), Verdict::Fits(_)));
}

#[test]
fn moved_and_turned_stacks_give_the_same_spine_and_the_same_again_gives_the_same() {
    for seed in [3, 8, 21] {
        let s = stack(seed);
        let place = Isometry3::new(Vector3::new(2e4, -1e4, 5e3), Vector3::new(0.3, 0.9, -0.4));
        let points: Vec<P> = s.sheet.points.iter().map(|p| place * p).collect();
        let gates: Vec<Gate> = s
            .gates
            .iter()
            .map(|g| Gate::new(g.name(), g.corners().iter().map(|c| place * c).collect()).expect("convex"))
            .collect();
        let there = Stack {
            sheet: Sheet { points, triangles: s.sheet.triangles.clone() },
            gates,
            start: place * s.start,
            end: place * s.end,
        };
        let of = |s: &Stack| {
            let obstacles = Obstacles::new(&s.sheet.points, &s.sheet.triangles).expect("usable");
            match find(&task(s, &obstacles, 45.0, 10.0)).expect("fair") {
                Verdict::Fits(spine) => spine,
                Verdict::Blocked(b) => panic!("{b}"),
            }
        };
        let (a, b) = (of(&s), of(&there));
        assert_eq!(a, of(&s), "the same again");
        assert_eq!(a.points.len(), b.points.len(), "stack {seed}");
        // The search is local and its beginnings are pushed aside along the axes of the world: alike, not the same.
        assert!((a.bend - b.bend).abs() < 2.0_f64.to_radians(), "stack {seed}: {} {}", a.bend, b.bend);
    }
}
