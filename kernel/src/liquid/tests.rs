//! Tests of levels and pools; built with `#[cfg(test)]` only.

use super::samples::{Cave, ball, direction, placed};
use super::*;
use crate::mesh::samples::{cuboid, join};
use crate::random::Random;
use nalgebra::{Point3, Rotation3, Unit, Vector3};
use std::collections::BTreeMap;

#[track_caller]
fn near(found: f64, expected: f64, share: f64) {
    assert!((found - expected).abs() <= share * expected.abs(), "{found} is not {expected}");
}

/// Volume of a box below a plane, z over its lowest corner: the box spline of D. Barrow, P. Smith, "Spline notation
/// applied to a volume problem", 1979; `n` are the sizes of the components of the direction up.
fn box_below(size: [f64; 3], n: [f64; 3], z: f64) -> f64 {
    let mut sum = 0.0;
    for corner in 0..8_u32 {
        let over: f64 = (0..3).filter(|k| corner >> k & 1 == 1).map(|k| n[k] * size[k]).sum();
        let sign = if corner.count_ones() % 2 == 0 { 1.0 } else { -1.0 };
        sum += sign * (z - over).max(0.0).powi(3);
    }
    sum / (6.0 * n[0] * n[1] * n[2])
}

#[test]
fn tilted_boxes_hold_what_the_closed_form_says_here_and_ten_kilometres_away() {
    let mut random = Random(7);
    for round in 0..200 {
        let size = [0; 3].map(|_| random.between(50.0, 900.0));
        let far = if round % 2 == 0 { Vector3::zeros() } else { Vector3::new(1.0e7, -1.0e7, 3.0e6) };
        let mesh = placed(&cuboid("A", [0.0; 3], size), &Rotation3::identity(), far);
        let chamber = Chamber::new(&mesh).unwrap();
        let up = direction(&mut random);
        if up.iter().any(|x| x.abs() < 0.05) {
            continue;
        }
        let n = [up.x.abs(), up.y.abs(), up.z.abs()];
        let posed = Posed::new(&chamber, up);
        let [low, high] = posed.range();
        let z = random.between(0.02, 0.98) * (high - low);
        let allowed = if round % 2 == 0 { 1e-11 } else { 1e-7 };
        let found = posed.below(low + z);
        near(found.volume, box_below(size, n, z), allowed);
        // The surface is the derivative, and the level comes back.
        let step = 1e-5 * (high - low);
        let slope = (box_below(size, n, z + step) - box_below(size, n, z - step)) / (2.0 * step);
        near(found.surface, slope, 1e-6);
        let level = posed.level(found.volume);
        near(posed.below(level).volume, found.volume, 1e-12);
        assert!((level - low - z).abs() < 1e-7 * z);
        let pools = Pools::new(posed);
        assert_eq!(pools.pools.len(), 1, "a box is one hollow");
        near(pools.pools[0].capacity, size.iter().product(), 1e-7);
    }
}

#[test]
fn a_puddle_in_a_corner_keeps_its_digits() {
    let chamber = Chamber::new(&cuboid("A", [0.0; 3], [1000.0, 1000.0, 1000.0])).unwrap();
    let up = Unit::new_normalize(Vector3::new(1.0, 2.0, 3.0));
    let posed = Posed::new(&chamber, up);
    let n = up.into_inner();
    for volume in [1e-3, 1.0, 1e3] {
        let z = (6.0 * n.x * n.y * n.z * volume).cbrt();
        let level = posed.level(volume);
        near(posed.below(level).volume, volume, 1e-9);
        near(level - posed.range()[0], z, 1e-9);
        // A tetrahedron: its centre lies at a quarter of its height under the base.
        let centre = posed.centre_below(level).unwrap();
        for k in 0..3 {
            near(centre[k], z / n[k] / 4.0, 1e-6);
        }
    }
}

#[test]
fn a_ball_holds_the_cap_and_its_centre() {
    for far in [Vector3::zeros(), Vector3::new(4000.0, -7000.0, 9000.0)] {
        let chamber = Chamber::new(&placed(&ball(5), &Rotation3::identity(), far)).unwrap();
        let posed = Posed::new(&chamber, Unit::new_normalize(Vector3::new(0.3, -0.4, 0.5)));
        for z in [-0.7, -0.2, 0.0, 0.4] {
            let h: f64 = 1.0 + z;
            let cap = std::f64::consts::PI * h * h * (3.0 - h) / 3.0;
            // 20,480 flat triangles lose 1.2e-3 of the ball.
            near(posed.below(z).volume, cap, 4e-3);
            near(posed.below(z).wetted, std::f64::consts::TAU * h, 4e-3);
            let down = 3.0 * (2.0 - h).powi(2) / (4.0 * (3.0 - h));
            let centre = posed.centre_below(z).unwrap();
            assert!((posed.height_of(&centre) + down).abs() < 2e-3);
        }
    }
}

/// A trough with a ridge across: 100 long in y, valleys of 100 width either side, flat slopes of 45°.
fn ridge() -> Cave {
    // Heights by column: 0 100 0 … with the middle one at 60.
    let floor = |i: usize, _: usize| [100.0, 0.0, 60.0, 0.0, 100.0][i];
    Cave::new(4, 100.0, floor, |_, _| 200.0)
}

#[test]
fn two_valleys_join_over_the_ridge_between_them() {
    let chamber = Chamber::new(&ridge().mesh).unwrap();
    let pools = Pools::new(Posed::new(&chamber, Vector3::z_axis()));
    let hollows: Vec<usize> = pools.hollows().collect();
    assert_eq!((pools.pools.len(), hollows.len()), (3, 2));
    for &k in &hollows {
        let pool = &pools.pools[k];
        // 60 deep, 60 wide on the outer side, 100 on the inner, 400 long.
        near(pool.capacity, 60.0 * 160.0 / 2.0 * 400.0, 1e-12);
        near(pool.elsewhere, pool.capacity, 1e-12);
        near(pool.top - pool.bottom, 60.0, 1e-12);
        near(pools.level(k, pool.capacity / 4.0) - pool.bottom, 30.0, 1e-9);
    }
    let at = |z: f64| pools.at(pools.pools[hollows[0]].bottom + z).len();
    assert_eq!([at(1.0), at(59.9), at(60.1), at(150.0)], [2, 2, 1, 1]);
    // The inner slope of one valley, up to the ridge: that valley alone. From any start the other one fills first.
    let slope: Vec<usize> = (0..chamber.triangles())
        .filter(|&t| {
            let c = chamber.corners(t);
            c.iter().all(|p| p.z < 61.0 && p.x > 99.0 && p.x < 201.0)
        })
        .collect();
    assert_eq!(slope.len(), 8);
    let found = pools.wetting(&slope);
    near(found.least, 60.0 * 160.0 / 2.0 * 400.0, 1e-12);
    near(found.sure, 2.0 * found.least, 1e-12);
    // Both slopes ask for both valleys, not for more.
    let both: Vec<usize> = (0..chamber.triangles())
        .filter(|&t| chamber.corners(t).iter().all(|p| p.z < 61.0 && p.x > 99.0 && p.x < 301.0))
        .collect();
    let found = pools.wetting(&both);
    near(found.least, 2.0 * 60.0 * 160.0 / 2.0 * 400.0, 1e-12);
    near(found.sure, found.least, 1e-12);
    assert_eq!(found.needs.len(), 2);
}

#[test]
fn a_body_that_hangs_in_the_liquid_makes_no_pool_of_its_own() {
    // A box with a closed void in it, facing inward: liquid goes round it.
    let void = cuboid("void", [40.0, 40.0, 40.0], [60.0, 60.0, 60.0]);
    let mut void = placed(&void, &Rotation3::from_euler_angles(0.3, 0.2, 0.1), Vector3::new(-5.0, 3.0, 1.0));
    void.triangles.iter_mut().for_each(|t| t.swap(1, 2));
    let mesh = join(&[cuboid("A", [0.0; 3], [100.0; 3]), void]);
    let chamber = Chamber::new(&mesh).unwrap();
    for up in [Vector3::z(), Vector3::x(), Vector3::new(1.0, 1.0, -2.0)] {
        let pools = Pools::new(Posed::new(&chamber, Unit::new_normalize(up)));
        assert_eq!(pools.pools.len(), 1);
        near(pools.pools[0].capacity, 1.0e6 - 8.0e3, 1e-12);
    }
}

/// The second method: regions of tetrahedra. Corners below the level are joined along their edges, and each
/// tetrahedron's share is clipped by itself.
struct Second<'a> {
    cave: &'a Cave,
    heights: Vec<f64>,
}

impl Second<'_> {
    fn regions(&self, level: f64) -> Vec<Option<usize>> {
        let mut region: Vec<Option<usize>> =
            self.heights.iter().enumerate().map(|(k, &h)| (h < level).then_some(k)).collect();
        loop {
            let mut changed = false;
            for t in &self.cave.tetrahedra {
                let least = t.iter().filter_map(|&k| region[k as usize]).min();
                for &k in t {
                    if region[k as usize].is_some() && region[k as usize] != least {
                        region[k as usize] = least;
                        changed = true;
                    }
                }
            }
            if !changed {
                return region;
            }
        }
    }

    fn volumes(&self, level: f64) -> BTreeMap<usize, f64> {
        let region = self.regions(level);
        let mut sums = BTreeMap::new();
        for t in &self.cave.tetrahedra {
            if let Some(r) = t.iter().find_map(|&k| region[k as usize]) {
                *sums.entry(r).or_insert(0.0) += self.tetrahedron(t, level);
            }
        }
        sums
    }

    fn tetrahedron(&self, t: &[u32; 4], level: f64) -> f64 {
        let p = t.map(|k| self.cave.mesh.points[k as usize].coords);
        let whole = (p[1] - p[0]).dot(&(p[2] - p[0]).cross(&(p[3] - p[0]))).abs() / 6.0;
        let mut h = t.map(|k| self.heights[k as usize]);
        h.sort_by(f64::total_cmp);
        let z = level;
        // Shares of a tetrahedron under a plane, by how many corners are wet.
        let corner = |k: usize, others: [usize; 3]| {
            others.iter().map(|&o| (z - h[k]) / (h[o] - h[k])).product::<f64>()
        };
        let share = if z <= h[0] {
            0.0
        } else if z >= h[3] {
            1.0
        } else if z <= h[1] {
            corner(0, [1, 2, 3])
        } else if z >= h[2] {
            1.0 - corner(3, [0, 1, 2])
        } else {
            // Two wet: by the sections, a quadratic between the heights of the middle corners, exact by Simpson's
            // rule from what lies under the second corner.
            let section = |x: f64| {
                let a = (x - h[0]).powi(2) / ((h[1] - h[0]) * (h[2] - h[0]) * (h[3] - h[0]));
                let b = (x - h[1]).powi(2) / ((h[1] - h[0]) * (h[2] - h[1]) * (h[3] - h[1]));
                3.0 * (a - b)
            };
            let under =
                if h[1] > h[0] { (h[1] - h[0]).powi(2) / ((h[2] - h[0]) * (h[3] - h[0])) } else { 0.0 };
            if h[1] - h[0] < 1e-9 {
                // Both lowest corners level: the share by the other two.
                return whole * level_edge(h, z);
            }
            under + (z - h[1]) / 6.0 * (section(h[1]) + 4.0 * section(f64::midpoint(h[1], z)) + section(z))
        };
        whole * share
    }
}

/// Share below z with the two lowest corners level, by Simpson's rule over the sections, which are quadratic.
fn level_edge(h: [f64; 4], z: f64) -> f64 {
    let (a, b) = (h[2] - h[0], h[3] - h[0]);
    // Section at height x over the edge: a parallelogram-like quadrilateral of share 3·x·(2 − x/a − x/b)·… by limits.
    let x = z - h[0];
    3.0 * x * x / (a * b) - x * x * x * (a + b) / (a * a * b * b)
}

#[test]
fn pools_of_random_chambers_are_those_of_tetrahedra() {
    let mut random = Random(11);
    let (mut several, mut chambers) = (0, 0);
    while chambers < 200 {
        chambers += 1;
        let cave = Cave::rough(&mut random);
        let chamber = Chamber::new(&cave.mesh).unwrap();
        let up = if chambers % 4 == 0 { Vector3::z_axis() } else { direction(&mut random) };
        let posed = Posed::new(&chamber, up);
        let second = Second { cave: &cave, heights: posed.heights.clone() };
        let pools = Pools::new(posed.clone());
        let [low, high] = posed.range();
        for _ in 0..6 {
            let level = low + (high - low) * random.between(0.01, 0.99);
            let theirs: Vec<f64> = second.volumes(level).into_values().collect();
            let mut ours: Vec<f64> = pools.at(level).iter().map(|&k| pools.below(k, level).volume).collect();
            let mut theirs = theirs;
            ours.sort_by(f64::total_cmp);
            theirs.sort_by(f64::total_cmp);
            assert_eq!(ours.len(), theirs.len(), "pools of chamber {chambers}");
            let whole: f64 = theirs.iter().sum();
            for (a, b) in ours.iter().zip(&theirs) {
                assert!((a - b).abs() < 1e-9 * whole, "chamber {chambers}: {a} against {b}");
            }
            near(posed.below(level).volume, whole, 1e-9);
            several += usize::from(ours.len() > 1);
        }
    }
    assert!(several > 200, "only {several} levels had several pools");
}

#[test]
fn the_least_volume_wets_the_whole_wall_and_no_less_does() {
    let mut random = Random(23);
    let mut samples = 0;
    for round in 0..200 {
        let cave = Cave::rough(&mut random);
        let chamber = Chamber::new(&cave.mesh).unwrap();
        let posed = Posed::new(&chamber, direction(&mut random));
        let second = Second { cave: &cave, heights: posed.heights.clone() };
        let pools = Pools::new(posed.clone());
        // A patch of floor, a whole floor, a ceiling.
        let all = chamber.wall(round % 3);
        let wall: Vec<usize> =
            if round % 2 == 0 { all } else { all.into_iter().filter(|_| random.pick(8) == 0).collect() };
        let found = pools.wetting(&wall);
        // By tetrahedra: every triangle asks for the region of its lowest corner just below its highest one.
        let mut wanted: Vec<(f64, Vec<Option<usize>>, usize)> = Vec::new();
        for &t in &wall {
            let high = posed.reach(t)[1];
            let lowest = *chamber.triangles[t]
                .iter()
                .min_by(|&&a, &&b| posed.heights[a as usize].total_cmp(&posed.heights[b as usize]))
                .unwrap() as usize;
            let region = second.regions(high);
            if let Some(r) = region[lowest] {
                wanted.push((high, region, r));
            }
        }
        wanted.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut kept: Vec<&(f64, Vec<Option<usize>>, usize)> = Vec::new();
        for w in &wanted {
            if !kept.iter().any(|k| k.1[w.2] == Some(k.2)) {
                kept.push(w);
            }
        }
        let least: f64 = kept.iter().map(|k| second.volumes(k.0)[&k.2]).sum();
        near(found.least, least, 1e-9);
        // Places all over the wall: wet with the least volume, and one of them dry with 99 % of it.
        let levels: Vec<f64> = pools.sure_levels(found.sure * (1.0 + 1e-12));
        let mut highest: Vec<f64> = vec![f64::NEG_INFINITY; pools.pools.len()];
        for &t in &wall {
            let owner =
                kept.iter().find(|k| chamber.triangles[t].iter().any(|&c| k.1[c as usize] == Some(k.2)));
            let Some(owner) = owner else { continue };
            for _ in 0..20 {
                let (mut s, mut u) = (random.share(), random.share());
                if s + u > 1.0 {
                    (s, u) = (1.0 - s, 1.0 - u);
                }
                let [a, b, c] = chamber.corners(t);
                let place = Point3::from(a.coords * (1.0 - s - u) + b.coords * s + c.coords * u);
                let height = posed.height_of(&place);
                assert!(height <= owner.0 + 1e-9, "round {round}: dry at {place}");
                assert!(height <= levels[t] + 1e-6 * chamber.size, "round {round}: not sure at {place}");
                samples += 1;
            }
            let high = posed.reach(t)[1];
            for (k, level) in &found.needs {
                if pools.triangles(*k).any(|x| x == t) && high <= level + pools.shallow() {
                    highest[*k] = highest[*k].max(high);
                }
            }
        }
        for &(k, level) in &found.needs {
            let volume = pools.below(k, level).volume;
            let short = pools.level(k, 0.99 * volume);
            assert!(volume == 0.0 || short < highest[k], "round {round}: 99 % wets it too");
        }
    }
    assert!(samples > 50_000, "only {samples} places were looked at");
}

#[test]
fn the_sure_volume_wets_the_wall_wherever_it_is_poured_in() {
    let mut random = Random(5);
    for _ in 0..100 {
        let cave = Cave::rough(&mut random);
        let chamber = Chamber::new(&cave.mesh).unwrap();
        let posed = Posed::new(&chamber, direction(&mut random));
        let pools = Pools::new(posed);
        let floor = chamber.wall(0);
        let wall: Vec<usize> = floor.iter().copied().filter(|_| random.pick(6) == 0).collect();
        let found = pools.wetting(&wall);
        assert!(found.sure >= found.least * (1.0 - 1e-12));
        for _ in 0..5 {
            let volume = found.sure * (1.0 + 1e-9);
            let amounts = poured(&pools, volume, &mut random);
            for &(k, level) in &found.needs {
                let here = amounts[k];
                let needed = pools.below(k, level).volume;
                assert!(here >= needed * (1.0 - 1e-6), "{here} in a pool that needs {needed}");
            }
        }
    }
}

/// What each pool holds after so much was poured into hollows at random and flowed over where full.
fn poured(pools: &Pools<'_>, volume: f64, random: &mut Random) -> Vec<f64> {
    let count = pools.pools.len();
    let mut held = vec![0.0; count];
    let hollows: Vec<usize> = pools.hollows().collect();
    for share in 0..4 {
        let mut rest = volume / 4.0;
        let mut at = if share == 0 { hollows[0] } else { hollows[random.pick(hollows.len())] };
        // Up to where there is room, then down into what is not full.
        while rest > 0.0 {
            let room = |held: &Vec<f64>, k: usize| pools.pools[k].capacity - held[k];
            while room(&held, at) <= 0.0 {
                let Some(p) = pools.pools[at].parent else { return held };
                at = p;
            }
            while let Some(&c) = pools.pools[at].children.iter().find(|&&c| room(&held, c) > 1e-6) {
                at = c;
            }
            let mut most = room(&held, at);
            if most <= 0.0 {
                most = rest;
            }
            let put = rest.min(most);
            let mut up = Some(at);
            while let Some(k) = up {
                held[k] += put;
                up = pools.pools[k].parent;
            }
            rest -= put;
        }
    }
    held
}

#[test]
fn pools_are_the_same_again_and_ten_kilometres_away() {
    let mut random = Random(31);
    for _ in 0..30 {
        let cave = Cave::rough(&mut random);
        let up = direction(&mut random);
        let far = placed(&cave.mesh, &Rotation3::identity(), Vector3::new(1.0e7, 2.0e7, -5.0e6));
        let [here, there] = [&cave.mesh, &far].map(|m| Chamber::new(m).unwrap());
        let own = Pools::new(Posed::new(&here, up));
        let again = Pools::new(Posed::new(&here, up));
        assert_eq!(own.pools, again.pools);
        let other = Pools::new(Posed::new(&there, up));
        let whole = own.pools.last().unwrap().capacity;
        near(other.pools.last().unwrap().capacity, whole, 1e-7);
        let big = |p: &Pools<'_>| p.pools.iter().filter(|k| k.top - k.bottom > 1e-3).count();
        assert_eq!(big(&own), big(&other));
        let [a, b] = [&own, &other].map(|p| p.wetting(&here.wall(0)).sure);
        near(a, b, 1e-6);
    }
}

#[test]
fn what_is_open_or_inside_out_is_refused() {
    let mut open = cuboid("A", [0.0; 3], [1.0; 3]);
    open.triangles.pop();
    assert!(Chamber::new(&open).unwrap_err().to_string().contains("closed"));
    let mut inward = cuboid("A", [0.0; 3], [1.0; 3]);
    inward.triangles.iter_mut().for_each(|t| t.swap(0, 1));
    assert!(Chamber::new(&inward).is_err());
}

#[test]
fn gauges_tell_the_volumes_and_levels_of_all_pools() {
    let mut random = Random(41);
    for round in 0..200 {
        let cave = Cave::rough(&mut random);
        let chamber = Chamber::new(&cave.mesh).unwrap();
        let up = if round % 4 == 0 { Vector3::z_axis() } else { direction(&mut random) };
        let pools = Pools::new(Posed::new(&chamber, up));
        let gauge = Gauge::new(&pools);
        let whole = pools.pools.iter().map(|p| p.capacity).fold(0.0, f64::max);
        for (k, pool) in pools.pools.iter().enumerate() {
            for share in [0.1, 0.5, 0.9, 1.0] {
                let level = pool.bottom + (pool.top - pool.bottom) * share;
                let exact = pools.below(k, level).volume;
                let found = gauge.volume(k, level);
                assert!(
                    (found - exact).abs() < 1e-9 * whole,
                    "chamber {round}, pool {k}: {found}, not {exact}"
                );
                let again = pools.below(k, gauge.level(k, exact, pool.top)).volume;
                assert!(
                    (again - exact).abs() < 1e-8 * whole,
                    "chamber {round}, pool {k}: {again}, not {exact}"
                );
            }
        }
        let (gauged, _) = Pools::gauged(pools.posed.clone());
        for (a, b) in pools.pools.iter().zip(&gauged.pools) {
            assert!(
                (a.capacity - b.capacity).abs() < 1e-9 * whole
                    && (a.elsewhere - b.elsewhere).abs() < 1e-8 * whole
            );
        }
        // Every corner is reached by the pool that its triangles climb to.
        for t in 0..chamber.triangles() {
            for c in chamber.indices(t) {
                let at = pools.reaching(t, pools.posed.height(c as usize));
                let own = pools.of_corner(c as usize);
                let volume =
                    |k: usize| gauge.volume(k, pools.posed.height(c as usize)) + pools.pools[k].elsewhere;
                assert!((volume(at) - volume(own)).abs() < 1e-8 * whole, "chamber {round}");
            }
        }
    }
}
