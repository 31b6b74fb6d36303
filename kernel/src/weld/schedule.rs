//! What every seam of a work takes: groove and angle along it, weld metal, tacks and time.
//!
//! Method: a bond is a stretch of seam between two parts. Each of its straight segments has a section of its own
//! ([`Corner`]); weld metal is the sum of section × length over the segments, by the share that is welded
//! ([`WeldLine::welded`](super::tacks::WeldLine::welded)). Seams and steps of the assembly are sums of bonds, so
//! that both schedules come to the same totals. Means and medians are by length. Units: mm, kg, hours, degrees.

use super::assembly::{Order, Step, Task};
use super::bonds::Bonds;
use super::groove::{Corner, Deposit, Face, Filling, WeldKind, fillet_of_legs};
use super::practice::Practice;
use super::tacks::lines;
use crate::joint::Joined;
use crate::sculpture::Meet;
use crate::seam::{Seam, SeamSegment};
use crate::work::Work;

/// The inside and the outside, in the order of all pairs here.
const SIDES: [Face; 2] = [Face::Inside, Face::Outside];

/// A figure along a seam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Least value.
    pub least: f64,
    /// Half of the length has less.
    pub median: f64,
    /// Average by length.
    pub mean: f64,
    /// Greatest value.
    pub most: f64,
}

/// How the sheets of a seam come together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// End to end, these skins touching, with a bevel or cut square.
    Ends(Meet, bool),
    /// One sheet runs past the other.
    Lap,
    /// Two lengths of one face, end to end.
    Splice,
}

/// Figures that add up: of a bond, a seam or the whole work. Pairs are inside, outside.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sum {
    /// Length of edge to be welded, mm.
    pub length: f64,
    /// The same welded from each side, without what lies between stitches, mm.
    pub welded: [f64; 2],
    /// Weld metal from each side, kg.
    pub deposited: [f64; 2],
    /// How many tacks.
    pub tacks: usize,
    /// Lengths from tack to tack added up, mm, and how many they are.
    pub spans: (f64, usize),
}

/// Lengths along a seam that want a word, mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Concern {
    /// Too narrow for a torch.
    pub acute: f64,
    /// Too thick for the groove there is.
    pub unfused: f64,
    /// A bevel steeper than is cut.
    pub steep: f64,
    /// Hollow: above 180°.
    pub hollow: f64,
    /// Narrowest space too narrow for a torch, degrees.
    pub narrowest: Option<f64>,
}

/// One seam.
#[derive(Debug, Clone, PartialEq)]
pub struct SeamWeld {
    /// Index into `Work::seams`.
    pub seam: usize,
    /// How its sheets come together.
    pub way: Way,
    /// Its figures.
    pub sum: Sum,
    /// For each side whether all, some or none of its bonds are welded from there.
    pub access: [Share; 2],
    /// Angle between the sheets inside the body, degrees.
    pub angle: Spread,
    /// Section of the groove with its root gap, without cap, mm²; none for a lap.
    pub groove: Option<Spread>,
    /// Bevels, degrees; none where cuts are square.
    pub bevel: Option<Spread>,
    /// What wants a word.
    pub concern: Concern,
}

/// How much of something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Share {
    /// Nothing.
    None,
    /// Part of it.
    Some,
    /// The whole.
    All,
}

/// The whole schedule.
#[derive(Debug, Clone, PartialEq)]
pub struct Schedule {
    /// How this shop welds.
    pub practice: Practice,
    /// What joins what.
    pub bonds: Bonds,
    /// In which order.
    pub order: Order,
    /// Figures of each bond.
    pub sums: Vec<Sum>,
    /// Seams with something to weld, in the order of the work.
    pub seams: Vec<SeamWeld>,
}

impl Schedule {
    /// The schedule of a work; seams in `named` (indices) are to be welded from inside too.
    pub fn new(work: &Work, practice: Practice, named: &[usize]) -> Self {
        let [inside, outside] = practice.sides;
        let bonds = Bonds::new(work, |seam| {
            let named = named.contains(&seam);
            [inside || named, outside, named]
        });
        let order = Order::new(&bonds.pieces, &bonds.bonds, practice.opening);
        let access = order.access(bonds.bonds.len());
        let mut schedule = Self { practice, bonds, order, sums: Vec::new(), seams: Vec::new() };
        let mut at = 0;
        while let Some(first) = schedule.bonds.bonds.get(at) {
            let seam = first.seam;
            let count = schedule.bonds.bonds[at..].iter().take_while(|b| b.seam == seam).count();
            schedule.seam(work, seam, at..at + count, &access);
            at += count;
        }
        schedule
    }

    fn seam(&mut self, work: &Work, index: usize, bonds: std::ops::Range<usize>, access: &[[bool; 2]]) {
        let seam = &work.seams[index];
        let way = way(work, seam);
        let mut along = Along::default();
        let mut total = Sum::default();
        for b in bonds.clone() {
            let segments = self.bonds.segments[b].iter().map(|&k| &seam.segments[k]);
            let mut sum = Sum::default();
            let mut share = 0.0;
            for line in lines(segments.clone()) {
                let tacks = line.tacks(&self.practice.tacking);
                share += line.welded(self.practice.run);
                sum.tacks += tacks.len();
                if let [first, .., last] = tacks[..] {
                    let (span, steps) = if line.closed {
                        (line.length(), tacks.len())
                    } else {
                        (last - first, tacks.len() - 1)
                    };
                    sum.spans = (sum.spans.0 + span, sum.spans.1 + steps);
                }
            }
            sum.length = segments.clone().map(SeamSegment::length).sum();
            share /= sum.length;
            for segment in segments {
                let volume = along.add(segment, way, access[b], &self.practice);
                for (deposited, volume) in sum.deposited.iter_mut().zip(volume) {
                    *deposited += self.practice.arc.deposited(volume * share);
                }
            }
            sum.welded = access[b].map(|from| if from { sum.length * share } else { 0.0 });
            total.add(&sum);
            self.sums.push(sum);
        }
        let Some(angle) = spread(&mut along.angles) else { return };
        let reached = |side: usize| match bonds.clone().filter(|&b| access[b][side]).count() {
            0 => Share::None,
            n if n == bonds.len() => Share::All,
            _ => Share::Some,
        };
        self.seams.push(SeamWeld {
            seam: index,
            way,
            sum: total,
            access: [reached(0), reached(1)],
            angle,
            groove: spread(&mut along.grooves),
            bevel: spread(&mut along.bevels),
            concern: along.concern,
        });
    }

    /// All seams together.
    pub fn total(&self) -> Sum {
        let mut total = Sum::default();
        self.sums.iter().for_each(|s| total.add(s));
        total
    }

    /// Hours of arc and hours of work, tacking with it, for such figures.
    pub fn hours(&self, sum: &Sum) -> [f64; 2] {
        let arc = self.practice.arc.arc_hours(sum.both());
        [arc, self.practice.arc.welding_hours(arc) + self.tacking_hours(sum.tacks)]
    }

    fn tacking_hours(&self, tacks: usize) -> f64 {
        #[allow(clippy::cast_precision_loss, reason = "a count")]
        let tacks = tacks as f64;
        tacks * self.practice.tack_hours
    }

    /// Tacks set in a step, length welded in it, mm, and its hours; none for a look.
    pub fn step(&self, step: &Step) -> Option<(usize, f64, f64)> {
        let sums = step.bonds.iter().map(|&b| &self.sums[b]);
        let welding = |side: usize| {
            let metal = sums.clone().map(|s| s.deposited[side]).sum();
            let hours = self.practice.arc.welding_hours(self.practice.arc.arc_hours(metal));
            Some((0, sums.clone().map(|s| s.welded[side]).sum(), hours))
        };
        match step.task {
            Task::Set | Task::Close => {
                let tacks = sums.map(|s| s.tacks).sum();
                let strip = step.part.is_some_and(|p| self.bonds.pieces[p].strip);
                let set = if strip { self.practice.strip_hours } else { self.practice.set_hours };
                Some((tacks, 0.0, set + self.tacking_hours(tacks)))
            }
            Task::WeldInside => welding(0),
            Task::WeldOutside => welding(1),
            Task::CheckInside | Task::CheckOutside => None,
        }
    }

    /// Heat input of one pass over the mean section of a seam, on its heavier side, kJ/mm.
    pub fn heat_input(&self, sum: &Sum) -> Option<f64> {
        let density = self.practice.arc.deposited(1.0);
        let sections =
            (0..2).filter(|&s| sum.welded[s] > 0.0).map(|s| sum.deposited[s] / density / sum.welded[s]);
        let section = sections.fold(0.0, f64::max);
        (section > 0.0).then(|| self.practice.arc.heat_input(section))
    }
}

impl Sum {
    fn add(&mut self, other: &Self) {
        self.length += other.length;
        for side in 0..2 {
            self.welded[side] += other.welded[side];
            self.deposited[side] += other.deposited[side];
        }
        self.tacks += other.tacks;
        self.spans = (self.spans.0 + other.spans.0, self.spans.1 + other.spans.1);
    }

    /// Weld metal from both sides, kg.
    pub fn both(&self) -> f64 {
        self.deposited[0] + self.deposited[1]
    }

    /// Mean distance from tack to tack, mm; none with single tacks.
    pub fn pitch(&self) -> Option<f64> {
        #[allow(clippy::cast_precision_loss, reason = "a count")]
        let steps = self.spans.1 as f64;
        (self.spans.1 > 0).then(|| self.spans.0 / steps)
    }
}

fn way(work: &Work, seam: &Seam) -> Way {
    match seam.joint {
        Joined::Lap => Way::Lap,
        Joined::Splice => Way::Splice,
        Joined::Exact | Joined::Mitre | Joined::Open => {
            let [a, b] = seam.between.map(|f| work.faces[f].id.as_str());
            let joint = work.sculpture.joint_between(a, b);
            Way::Ends(joint.meet, joint.bevel)
        }
    }
}

/// What is gathered along one seam: values with the length they hold for.
#[derive(Default)]
struct Along {
    angles: Vec<(f64, f64)>,
    grooves: Vec<(f64, f64)>,
    bevels: Vec<(f64, f64)>,
    concern: Concern,
}

impl Along {
    /// Takes in a segment and gives the volume of its weld from both sides, mm³.
    fn add(&mut self, segment: &SeamSegment, way: Way, access: [bool; 2], practice: &Practice) -> [f64; 2] {
        let length = segment.length();
        let (meet, bevel) = match way {
            Way::Ends(meet, bevel) => (meet, bevel),
            Way::Lap | Way::Splice => (Meet::Inside, false),
        };
        let corner = Corner { angle: segment.angle, thickness: segment.thickness, meet, bevel };
        let groove = corner.groove(practice.filling.gap);
        self.angles.push((segment.angle, length));
        if way != Way::Lap {
            self.grooves.push((groove.area, length));
        }
        if bevel {
            self.bevels.extend(groove.bevel.map(|b| (b, length)));
            if groove.bevel.iter().any(|b| *b > practice.bevel_limit) {
                self.concern.steep += length;
            }
        }
        if segment.angle > 180.0 {
            self.concern.hollow += length;
        }
        let mut narrowest = 360.0_f64;
        let mut volume = [0.0; 2];
        for (side, from) in SIDES.into_iter().enumerate().filter(|(side, _)| access[*side]) {
            let deposit = match way {
                Way::Lap => lap(&corner, from),
                _ => corner.deposit(from, &filling(&corner, from, access, practice)),
            };
            narrowest = narrowest.min(deposit.space);
            volume[side] = deposit.area * length;
            let thin = segment.thickness[0].min(segment.thickness[1]) <= practice.square_limit;
            let open = deposit.kind == WeldKind::Groove && groove.included >= practice.groove_least;
            if way != Way::Lap && deposit.kind != WeldKind::Fillet && access != [true; 2] && !thin && !open {
                self.concern.unfused += length;
            }
        }
        if narrowest < practice.reach {
            self.concern.acute += length;
            self.concern.narrowest = Some(self.concern.narrowest.map_or(narrowest, |n| n.min(narrowest)));
        }
        volume
    }
}

/// A root gap is filled once: where both sides are welded, together with the groove.
fn filling(corner: &Corner, from: Face, access: [bool; 2], practice: &Practice) -> Filling {
    let again = access == [true; 2] && from != corner.gapes();
    Filling { gap: if again { 0.0 } else { practice.filling.gap }, ..practice.filling }
}

/// A fillet between the sheet that runs past and the skin of the one that stops, legs as long as the thinner sheet
/// is thick, its corner taken as square.
fn lap(corner: &Corner, from: Face) -> Deposit {
    let leg = corner.thickness[0].min(corner.thickness[1]);
    // On the side where ends would gape, the sheet that runs past stands over the other's skin.
    let space = if from == corner.gapes() { corner.turn() } else { corner.space(from) };
    Deposit { kind: WeldKind::Fillet, area: fillet_of_legs([leg, leg], 90.0), space }
}

/// Least, median, mean and greatest of values, each with the length it holds for; none without any.
fn spread(values: &mut [(f64, f64)]) -> Option<Spread> {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (first, last) = (values.first()?.0, values.last()?.0);
    let whole: f64 = values.iter().map(|v| v.1).sum();
    let mut passed = 0.0;
    let median = values.iter().find(|v| {
        passed += v.1;
        passed >= whole / 2.0
    });
    Some(Spread {
        least: first,
        median: median.map_or(last, |v| v.0),
        mean: values.iter().map(|v| v.0 * v.1).sum::<f64>() / whole,
        most: last,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_median_is_by_length_and_the_mean_too() {
        let mut values = vec![(90.0, 10.0), (30.0, 1.0), (60.0, 5.0)];
        let spread = spread(&mut values).expect("some");
        assert_eq!((spread.least, spread.median, spread.most), (30.0, 90.0, 90.0));
        assert!((spread.mean - (900.0 + 30.0 + 300.0) / 16.0).abs() < 1.0e-12);
        assert_eq!(super::spread(&mut []), None);
    }

    #[test]
    fn a_lap_has_the_triangle_of_the_thinner_sheet_and_a_hollow_corner_its_own_space() {
        let corner = |angle| Corner { angle, thickness: [2.0, 3.0], meet: Meet::Inside, bevel: false };
        let weld = lap(&corner(70.0), Face::Outside);
        assert!((weld.area - 2.0).abs() < 1.0e-12);
        assert_eq!((weld.space, lap(&corner(70.0), Face::Inside).space), (110.0, 70.0));
        assert_eq!(
            (lap(&corner(290.0), Face::Outside).space, lap(&corner(290.0), Face::Inside).space),
            (70.0, 110.0)
        );
    }
}
