//! Tests of coating by turning; built with `#[cfg(test)]` only.

use super::*;
use crate::liquid::Chamber;
use crate::liquid::samples::{Cave, direction};
use crate::mesh::samples::{corrugated, cuboid};
use crate::random::Random;
use nalgebra::{Point3, Vector3};

#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} is not {expected}");
}

#[test]
fn films_are_those_of_published_sheets() {
    // Spreading rates and films from makers' public guides: 28 % and 18 µm give 15.55 m²/l; 17 m²/l at 32.47 % is 19 µm;
    // 75 % and 150 µm need 200 µm wet; 125 µm wet at 40 % leaves 50; 50 µm at 40 % covers 8 m²/l (worked out).
    near(film::spreading_rate(18.0, 0.28), 15.55, 0.01);
    near(1000.0 * 0.3247 / 17.0, 19.1, 0.01);
    near(film::spreading_rate(19.1, 0.3247), 17.0, 0.01);
    near(film::wet(150.0, 0.75), 200.0, 1e-9);
    near(film::wet(50.0, 0.40), 125.0, 1e-9);
    near(film::wet(60.0, 0.30), 200.0, 1e-9);
    near(film::spreading_rate(50.0, 0.40), 8.0, 1e-9);
    // A litre on a square metre is a millimetre.
    near(film::volume(1.0e6, 1000.0), 1.0e6, 1e-6);
}

fn rig() -> Rig {
    Rig::new(Vector3::z(), Point3::new(200.0, 150.0, 500.0)).unwrap()
}

#[test]
fn the_rig_turns_counter_clockwise_and_raises_its_far_end() {
    let rig = rig();
    let up = |turn, tilt| rig.up(Stand { turn, tilt }).into_inner();
    let close = |a: Vector3<f64>, b: [f64; 3]| assert!((a - Vector3::from(b)).norm() < 1e-12, "{a}");
    close(up(0.0, 0.0), [1.0, 0.0, 0.0]);
    // After a quarter turn what faced +x has gone to the left, and what faced −y is up.
    close(up(90.0, 0.0), [0.0, -1.0, 0.0]);
    close(rig.left(Stand { turn: 90.0, tilt: 0.0 }), [1.0, 0.0, 0.0]);
    close(up(0.0, 90.0), [0.0, 0.0, 1.0]);
    close(up(0.0, -90.0), [0.0, 0.0, -1.0]);
    let half = 0.5_f64.sqrt();
    close(up(180.0, 45.0), [-half, 0.0, half]);
    // 20 kg that lie 100 mm to the left and 5 to the right: 20·9.80665·0.1 − 5·9.80665·0.1.
    let stand = Stand { turn: 90.0, tilt: 0.0 };
    let at = |x: f64| rig.through + Vector3::new(x, 7.0, -3.0);
    let load = rig.load(stand, &[(20.0, at(100.0)), (5.0, at(-100.0))]);
    near(load.mass, 25.0, 1e-12);
    near(load.beside, 60.0, 1e-9);
    near(load.moment, 15.0 * 9.806_65 * 0.1, 1e-9);
    near(load.along, -3.0, 1e-9);
    near(load.off, 60.0_f64.hypot(7.0), 1e-9);
    // Tilted by 60 degrees half of the weight turns it, whatever way the far end goes.
    for tilt in [60.0, -60.0] {
        let tilted = rig.load(Stand { tilt, ..stand }, &[(20.0, at(100.0)), (5.0, at(-100.0))]);
        near(tilted.moment, load.moment / 2.0, 1e-9);
    }
    assert!(Rig::new(Vector3::zeros(), Point3::origin()).is_err());
}

/// A place on a triangle.
fn place(corners: &[Vector3<f64>], random: &mut Random) -> Vector3<f64> {
    // Any corner's fan, weights at random: enough to reach all of a convex piece.
    let weights: Vec<f64> = corners.iter().map(|_| random.share() + 1e-3).collect();
    let sum: f64 = weights.iter().sum();
    corners.iter().zip(&weights).map(|(c, w)| c * (w / sum)).sum()
}

/// The second method: tetrahedra, and the lowest way from everywhere to a place. What holds liquid without any of it
/// reaching the place is everything lower than the highest point of its lowest way there.
struct Flood<'a> {
    cave: &'a Cave,
    heights: Vec<f64>,
    neighbours: Vec<Vec<usize>>,
}

impl<'a> Flood<'a> {
    fn new(cave: &'a Cave, up: &Vector3<f64>, middle: &Point3<f64>) -> Self {
        let heights: Vec<f64> = cave.mesh.points.iter().map(|p| (p - middle).dot(up)).collect();
        let mut neighbours = vec![Vec::new(); heights.len()];
        for t in &cave.tetrahedra {
            for &a in t {
                for &b in t {
                    if a != b && !neighbours[a as usize].contains(&(b as usize)) {
                        neighbours[a as usize].push(b as usize);
                    }
                }
            }
        }
        Self { cave, heights, neighbours }
    }

    /// Share of a tetrahedron below a level: a divided difference of cubes.
    fn below(&self, t: &[u32; 4], level: f64) -> f64 {
        let p = t.map(|k| self.cave.mesh.points[k as usize].coords);
        let whole = (p[1] - p[0]).dot(&(p[2] - p[0]).cross(&(p[3] - p[0]))).abs() / 6.0;
        let h = t.map(|k| self.heights[k as usize]);
        if h.iter().all(|&x| x <= level) {
            return whole;
        }
        let share: f64 = (0..4)
            .map(|i| {
                let others: f64 = (0..4).filter(|&j| j != i).map(|j| h[j] - h[i]).product();
                (level - h[i]).max(0.0).powi(3) / others
            })
            .sum();
        whole * share
    }

    /// The most that lies in the chamber without wetting a place, given by a corner just below it and its height.
    fn most_without(&self, corner: usize, height: f64) -> f64 {
        // The lowest ways, by their highest points: at least the place itself.
        let mut way = vec![f64::INFINITY; self.heights.len()];
        way[corner] = height;
        let mut done = vec![false; way.len()];
        while let Some(at) = (0..way.len())
            .filter(|&k| !done[k] && way[k].is_finite())
            .min_by(|&a, &b| way[a].total_cmp(&way[b]))
        {
            done[at] = true;
            for &n in &self.neighbours[at] {
                way[n] = way[n].min(way[at].max(self.heights[n]));
            }
        }
        let held = |t: &[u32; 4]| {
            let under = t.iter().map(|&k| k as usize).find(|&k| self.heights[k] < way[k]);
            under.map_or(0.0, |k| self.below(t, way[k]))
        };
        self.cave.tetrahedra.iter().map(held).sum()
    }
}

/// Whether a volume surely wets a place of a triangle in one of these attitudes, by the second method.
fn surely_wet(
    chamber: &Chamber,
    floods: &[Flood<'_>],
    ups: &[Vector3<f64>],
    spot: (usize, Vector3<f64>),
    volume: f64,
) -> bool {
    ups.iter().zip(floods).any(|(up, flood)| {
        let height = spot.1.dot(up);
        let lowest = chamber.indices(spot.0).map(|c| c as usize);
        let lowest =
            lowest.into_iter().min_by(|&a, &b| flood.heights[a].total_cmp(&flood.heights[b])).unwrap();
        flood.most_without(lowest, height) <= volume
    })
}

fn asked() -> Asked {
    Asked { volume: None, margin: 1.1, floor: 1.0e4, most: 24 }
}

fn tilts(most: f64, step: f64) -> Vec<f64> {
    let count = (most / step).round() as i32;
    (-count..=count).map(|k| f64::from(k) * step).collect()
}

#[test]
fn what_is_said_of_random_chambers_is_found_again_place_by_place_on_tetrahedra() {
    let mut random = Random(17);
    let (mut wet, mut dry) = (0, 0);
    for round in 0..200 {
        let cave = Cave::rough(&mut random);
        let chamber = Chamber::new(&cave.mesh).unwrap();
        let axis = direction(&mut random).into_inner();
        let rigs = [Rig::new(axis, chamber.middle).unwrap()];
        let candidates = Candidates { turn_step: 45.0, tilts: vec![-40.0, 10.0] };
        let floor = Asked { margin: 1.0, floor: 0.0, ..asked() };
        let serves = plan(&chamber, &rigs, &candidates, &floor).serves;
        // Enough for all, a little less, and much less.
        let share = [1.0 + 1e-5, 0.99, 0.5][round % 3];
        let volume = serves * share;
        let plan = plan(&chamber, &rigs, &candidates, &Asked { volume: Some(volume), ..floor });
        assert_eq!(plan.dry.is_empty(), share > 1.0, "chamber {round} at {share} of {serves}");
        let all: Vec<Vector3<f64>> = candidates
            .tilts
            .iter()
            .flat_map(|&tilt| (0..8).map(move |k| Stand { turn: 45.0 * f64::from(k), tilt }))
            .map(|stand| rigs[0].up(stand).into_inner())
            .collect();
        let floods = |ups: &[Vector3<f64>]| -> Vec<Flood<'_>> {
            ups.iter().map(|up| Flood::new(&cave, up, &chamber.middle)).collect()
        };
        // What a step wets is wet in one of its stands, not in rounding.
        for step in &plan.steps {
            let ups: Vec<Vector3<f64>> = step.stands.iter().map(|&s| rigs[0].up(s).into_inner()).collect();
            let floods = floods(&ups);
            for _ in 0..4 {
                let spot = &step.newly[random.pick(step.newly.len())];
                let at = place(&spot.corners, &mut random);
                assert!(
                    surely_wet(&chamber, &floods, &ups, (spot.triangle, at), volume * (1.0 + 1e-5)),
                    "chamber {round}: dry"
                );
                wet += 1;
            }
        }
        // What is dry is dry in all that the rig can do, if steps were not the limit.
        let Some(last) = plan.steps.last() else { continue };
        let large: Vec<&Spot> = last.dry.iter().filter(|s| s.area > 1e-6 * plan.area).collect();
        let floods = floods(&all);
        for _ in 0..large.len().min(4) {
            let spot = large[random.pick(large.len())];
            let at = place(&spot.corners, &mut random);
            assert!(
                !surely_wet(&chamber, &floods, &all, (spot.triangle, at), volume * (1.0 - 1e-5)),
                "chamber {round}: wet"
            );
            dry += 1;
        }
    }
    println!("{wet} wet places, {dry} dry ones");
    assert!(wet > 600 && dry > 300, "only {wet} wet places and {dry} dry ones were looked at");
}

#[test]
fn a_box_on_a_level_axis_takes_half_of_it_and_one_per_cent_less_leaves_its_ends_dry() {
    let chamber = Chamber::new(&cuboid("A", [0.0; 3], [400.0, 300.0, 1000.0])).unwrap();
    let candidates = Candidates { turn_step: 15.0, tilts: vec![0.0] };
    let of = |volume: Option<f64>| plan(&chamber, &[rig()], &candidates, &Asked { volume, ..asked() });
    // The middle of an end lies on the axis: in every turn just half of the box reaches it.
    let found = of(None);
    near(found.serves, 0.5 * 400.0 * 300.0 * 1000.0, 60.0);
    assert_eq!((found.steps.len(), found.dry.len()), (1, 0));
    let names = |p: &Plan| p.dry.iter().map(|d| chamber.names[d.wall as usize].clone()).collect::<Vec<_>>();
    assert_eq!(names(&of(Some(found.serves * 0.99))), ["A/top", "A/bottom"]);
    assert!(of(Some(found.serves * 1.000_001)).dry.is_empty());
    // 5 litres in a turn: a disc stays dry at each end, as far out as the level stands from the axis where it comes
    // nearest. With the long side down the level is lowest: 5e6 / (400·1000) deep.
    let little = of(Some(5.0e6));
    assert_eq!(names(&little), ["A/top", "A/bottom"]);
    assert_eq!(little.steps.len(), 1);
    assert!(little.steps[0].turn.is_full());
}

#[test]
fn a_tilted_turn_wets_the_end_of_a_box_with_less() {
    // On its end, tilted by 75 degrees, a box of 400 by 300: the middle of the end is reached by a wedge.
    let chamber = Chamber::new(&cuboid("A", [0.0; 3], [400.0, 300.0, 1000.0])).unwrap();
    let level = Candidates { turn_step: 15.0, tilts: vec![0.0] };
    let tilted = Candidates { turn_step: 15.0, tilts: tilts(75.0, 15.0) };
    let [a, b] = [&level, &tilted].map(|c| plan(&chamber, &[rig()], c, &asked()));
    assert!(b.serves < 0.5 * a.serves, "{} and {}", a.serves, b.serves);
    assert!(b.dry.is_empty() && b.steps.len() <= 5, "{} steps", b.steps.len());
    // The end by itself: at turn 0 the wedge up to its middle, 200 across its short way, 90 − 75 degrees steep, or over
    // the corner; the least over all turns is not more than that of turn 0 or 90.
    let end = chamber.names.iter().position(|n| n == "A/bottom").unwrap();
    let deep = |half: f64| half * 15.0_f64.to_radians().tan();
    let wedge = [200.0 * deep(200.0) / 2.0 * 300.0, 150.0 * deep(150.0) / 2.0 * 400.0];
    let least = wedge[0].min(wedge[1]);
    assert!(b.walls[end].turning <= 1.000_001 * least, "{} over {least}", b.walls[end].turning);
    assert!(b.walls[end].turning > 0.5 * least);
}

#[test]
fn finer_turns_never_ask_for_more_and_a_corrugated_chamber_is_wetted_whole() {
    let chamber = Chamber::new(&corrugated("A", 3, 200.0, 40.0, 300.0, 700.0)).unwrap();
    let rigs = [Rig::new(Vector3::z(), chamber.middle).unwrap()];
    let of = |turn_step: f64| {
        let candidates = Candidates { turn_step, tilts: tilts(75.0, 25.0) };
        plan(&chamber, &rigs, &candidates, &asked())
    };
    let (coarse, fine) = (of(30.0), of(15.0));
    assert!(fine.serves <= coarse.serves * (1.0 + 1e-6));
    for plan in [&coarse, &fine] {
        assert_eq!(plan.dry, []);
        near(plan.volume, 1.1 * plan.serves, 1e-6 * plan.volume);
        assert_eq!(plan.steps.last().unwrap().done.len(), chamber.names.len());
        near(plan.steps.iter().map(|s| s.first).sum::<f64>(), chamber.area(), 1e-6 * chamber.area());
        // No step is needless.
        assert!(plan.steps.iter().all(|s| s.first > 1e-9 * plan.area));
        // No turn wets by itself what all of them need less for.
        assert!(plan.alone.iter().all(|a| a.least >= plan.serves * (1.0 - 1e-6)));
        for wall in &plan.walls {
            // 100 mm³ stand for rounding: a wall that lies level takes nothing.
            assert!(wall.turning <= wall.sure * (1.0 + 1e-6) + 100.0, "{wall:?}");
            assert!(wall.least <= wall.sure * (1.0 + 1e-9), "{wall:?}");
        }
    }
}

#[test]
fn a_second_axis_asks_for_no_more() {
    let chamber = Chamber::new(&cuboid("A", [0.0; 3], [400.0, 300.0, 1000.0])).unwrap();
    let second = Rig::new(Vector3::x(), chamber.middle).unwrap();
    let candidates = Candidates { turn_step: 30.0, tilts: vec![0.0] };
    let [one, two] =
        [vec![rig()], vec![rig(), second]].map(|rigs| plan(&chamber, &rigs, &candidates, &asked()));
    // Ends are sides on the second axis: what is left is little.
    assert!(two.serves < 0.3 * one.serves, "{} and {}", two.serves, one.serves);
    assert!(two.dry.is_empty());
    assert_eq!(two.steps.iter().map(|s| s.turn.rig).collect::<Vec<_>>(), [0, 1]);
}

#[test]
fn a_plan_is_the_same_again() {
    let chamber = Chamber::new(&corrugated("A", 3, 150.0, 30.0, 200.0, 500.0)).unwrap();
    let rigs = [Rig::new(Vector3::x(), chamber.middle).unwrap()];
    let candidates = Candidates { turn_step: 30.0, tilts: vec![-30.0, 0.0, 30.0] };
    let of = || plan(&chamber, &rigs, &candidates, &asked());
    assert_eq!(of(), of());
}

/// Litres against steps: more volume never leaves more dry, the least that serves leaves nothing, 1 % less leaves something.
#[test]
fn other_volumes_wet_more_the_more_there_is_and_all_from_the_least_that_serves() {
    let chamber = Chamber::new(&corrugated("A", 3, 150.0, 30.0, 200.0, 500.0)).unwrap();
    let rig = Rig::new(Vector3::z(), chamber.middle).unwrap();
    let candidates = Candidates { turn_step: 45.0, tilts: vec![-60.0, -20.0, 0.0, 20.0, 60.0] };
    let asked = Asked { volume: None, margin: 1.0, floor: 0.0, most: 12 };
    let found = plan(&chamber, &[rig], &candidates, &asked);
    let others = &found.others;
    assert!(others.len() > 5 && others.windows(2).all(|w| w[0].volume < w[1].volume));
    for other in others {
        let serves = other.volume >= found.serves;
        assert_eq!(other.dry <= 0.0, serves, "{other:?}");
        let same = plan(&chamber, &[rig], &candidates, &Asked { volume: Some(other.volume), ..asked });
        near(same.dry_area(), other.dry, 1e-6 * found.area);
        assert_eq!(same.steps.len(), other.steps);
    }
    assert!(others[0].dry > others[3].dry && others[3].dry > 0.0);
    let less = plan(&chamber, &[rig], &candidates, &Asked { volume: Some(0.99 * found.serves), ..asked });
    assert!(less.dry_area() > 0.0);
}

#[test]
fn poses_far_apart_come_one_after_the_other_and_each_comes_once() {
    for count in 1..600 {
        let stride = cover::spread(count);
        let mut seen = vec![false; count];
        (0..count).for_each(|step| seen[step * stride % count] = true);
        assert!(seen.iter().all(|s| *s), "{count} in steps of {stride}");
        // Weyl's sequence of the golden section leaves no gap wider than 2.62 times the mean.
        if count > 100 {
            let mut first: Vec<usize> = (0..10).map(|step| step * stride % count).collect();
            first.sort_unstable();
            let widest = first.windows(2).map(|w| w[1] - w[0]).max().unwrap_or(count);
            assert!(widest * 10 <= 3 * count, "{count}: {first:?}");
        }
    }
}

/// What is not reached by a look at the gauge has no level over it either, wherever the triangle's water comes from.
#[test]
fn what_is_said_not_to_be_reached_is_not() {
    let chamber = Chamber::new(&corrugated("A", 3, 200.0, 40.0, 300.0, 700.0)).unwrap();
    let candidates = Candidates { turn_step: 30.0, tilts: tilts(30.0, 15.0) };
    let all = poses::around(&chamber, &[Rig::new(Vector3::z(), chamber.middle).unwrap()], &candidates);
    let (mut reached, mut not) = (0, 0);
    for pose in all.iter().flat_map(|a| &a.poses) {
        for volume in [1.0e3, 1.0e5, 1.0e6, 4.0e6] {
            let levels = poses::Levels::new(volume, 1);
            for triangle in 0..chamber.triangles() {
                let level = levels.of(0, pose, triangle);
                for over in [-10.0, -1.0e-3, -1.0e-9, 0.0, 1.0e-9, 1.0e-3, 10.0] {
                    let may = pose.may_reach(triangle, volume, level + over);
                    assert!(may || over >= 0.0 || level == f64::NEG_INFINITY, "{over} at {level}");
                    if may { reached += 1 } else { not += 1 }
                }
            }
        }
    }
    assert!(reached > 1000 && not > 1000, "{reached} and {not}");
}
