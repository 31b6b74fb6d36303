//! `lean_to`: elements placed as far out as a margin allows.
//!
//! What is asked for: at the tightest of all levels below the element (the joint it stands in, and every joint and the
//! ground further down) the line of the load keeps `margin` mm inside the support, in the finished work with all that
//! stands on the element. The element slides within its face or tips about its foot; what stands on it moves with it as
//! one body. Of several places with that margin the outermost is taken.
//!
//! Method: a search for the root of the margin over the placement, with a bracket. The work is worked out for real at
//! every step, parts and weld metal weighed; the quick model (`sketch.rs`), set right at that place, foretells the next
//! step, and halving the bracket is the resort. Several elements are placed from the bottom up, again and again, until
//! all margins hold at once. A higher element has all the levels of a lower one below it, so it cannot ask for a larger
//! margin than that one leaves. A seam that `auto` joins by a mitre at one place and truly at the next makes the margin
//! jump; where the search meets such a seam, it is mitred from then on, and that is said. Should a margin jump for
//! another reason, the safe side is taken, and said. Masses of spine, base, coating and water are not known yet and not counted.

use super::levels::Balance;
use super::load::own_mass;
use super::options::Options;
use super::sketch::Sketch;
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::joint::{self, Joined};
use crate::memo::Memo;
use crate::registry::Registry;
use crate::sculpture::{Joint, LeanBy, LeanTo, Rest, Sculpture};
use crate::solve::solve;
use crate::work::Work;
use nalgebra::Point3;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

/// Margins this near to what was asked for are reached, mm: a fifth of what is promised.
const REACHED: f64 = 0.02;
/// Brackets narrower than this are taken for a jump, mm or degrees.
const JUMP: f64 = 1.0e-4;
/// Steps for one element; the quick model needs three or four.
const STEPS: usize = 40;
/// After so many steps seams that change their joint are looked for.
const PATIENCE: usize = 5;
/// Rounds over all elements; two are usual.
const ROUNDS: usize = 12;
/// Tips beyond this are not tried, degrees.
const MOST_TIP: f64 = 60.0;

/// A work at one placement.
struct State {
    sculpture: Sculpture,
    work: Work,
    tightest: Vec<f64>,
}

/// What one element was moved by.
struct Moved {
    rest: usize,
    lean: LeanTo,
    by: f64,
    jumped: bool,
    /// Seams that are mitred so that the margin does not jump.
    mitred: BTreeSet<String>,
}

/// The sculpture with every element that asks for it placed as far out as its margin allows; notes say what was done.
///
/// # Errors
/// What cannot be worked out; a margin that no place leaves; margins that cannot be had together.
pub(crate) fn place(sculpture: &Sculpture, registry: &Registry) -> Result<Sculpture> {
    let asked: Vec<usize> =
        (0..sculpture.rests.len()).filter(|&i| sculpture.rests[i].lean.is_some()).collect();
    if asked.is_empty() {
        return Ok(sculpture.clone());
    }
    check_order(sculpture, &asked)?;
    let options = Options::of(sculpture)?;
    let mut bare = sculpture.clone();
    let mut moved: Vec<Moved> = asked
        .iter()
        .filter_map(|&rest| {
            let lean = bare.rests[rest].lean.take()?;
            bare.rests[rest].placed_for = Some(lean.margin);
            Some(Moved { rest, lean, by: 0.0, jumped: false, mitred: BTreeSet::new() })
        })
        .collect();
    let mut state = State::new(bare, registry, &options)?;
    let mut holds = false;
    for _ in 0..ROUNDS {
        for m in &mut moved {
            state = settle(state, m, registry, &options)?;
        }
        holds = moved.iter().all(|m| m.jumped || state.short_of(m).abs() <= REACHED);
        if holds {
            break;
        }
    }
    let mut placed = state.sculpture.clone();
    for m in &moved {
        placed.notes.push(note(&state, m, &options)?);
    }
    if !holds {
        let name = moved.iter().map(|m| state.name(m)).collect::<Vec<_>>().join(", ");
        placed.notes.push(Finding::new(
            Level::Warning,
            "lean-unsettled",
            name,
            "these elements work against each other: their margins were not reached together",
            "ask one of them for another margin, or place it by hand with shift",
        ));
    }
    Ok(placed)
}

/// A higher element cannot have more margin than a lower one, whose levels are among its own.
fn check_order(sculpture: &Sculpture, asked: &[usize]) -> Result<()> {
    let name = |e: usize| sculpture.elements[e].solid.name.as_str();
    for &low in asked {
        let lower = sculpture.rests[low];
        let riders = sculpture.riders(lower.element);
        for upper in asked.iter().map(|&i| sculpture.rests[i]) {
            let (Some(a), Some(b)) = (lower.lean, upper.lean) else { continue };
            if upper.element != lower.element && riders.contains(&upper.element) && b.margin > a.margin {
                return Err(Error::input(format!(
                    "a margin of {} mm cannot be had: {} below it asks for {} mm, and its levels are among those of {}",
                    b.margin,
                    name(lower.element),
                    a.margin,
                    name(upper.element)
                ))
                .at(format!("stack {}: lean_to", name(upper.element)))
                .remedy(format!("ask for {} mm or less here, or for more margin below", a.margin)));
            }
        }
    }
    Ok(())
}

impl State {
    fn new(sculpture: Sculpture, registry: &Registry, options: &Options) -> Result<Self> {
        let work = solve(&sculpture, registry, &Memo::default())?;
        let balance = Balance::margins(&work, &own_mass(&work)?, options, None);
        let tightest = (0..sculpture.elements.len()).map(|e| balance.tightest(e)).collect();
        Ok(Self { sculpture, work, tightest })
    }

    /// How every seam is joined.
    fn joints(&self) -> BTreeMap<String, Joined> {
        self.work.seams.iter().map(|s| (s.id.clone(), s.joint)).collect()
    }

    fn rest(&self, m: &Moved) -> Rest {
        self.sculpture.rests[m.rest]
    }

    fn name(&self, m: &Moved) -> &str {
        &self.sculpture.elements[self.rest(m).element].solid.name
    }

    /// Margin there is less margin asked for, mm.
    fn short_of(&self, m: &Moved) -> f64 {
        self.tightest[self.rest(m).element] - m.lean.margin
    }
}

/// A place that was tried, and how its seams were joined there.
struct Place {
    x: f64,
    joints: BTreeMap<String, Joined>,
}

impl Place {
    /// Seams that are mitred at one of two places and not at the other.
    fn changing(&self, other: &Self) -> Vec<String> {
        let mitred = |j: &Joined| *j == Joined::Mitre;
        let both = self.joints.iter().filter_map(|(id, a)| Some((id, a, other.joints.get(id)?)));
        both.filter(|(_, a, b)| mitred(a) != mitred(b)).map(|(id, _, _)| id.clone()).collect()
    }
}

/// Joins a seam by a mitre whatever comes.
fn mitre(sculpture: &mut Sculpture, seam: &str) {
    let Some((a, b)) = seam.split_once('~') else { return };
    let before = sculpture.joint_between(a, b).clone();
    let joint = Joint { kind: joint::mitre::ROW.name.to_owned(), settings: BTreeMap::new(), ..before };
    sculpture.join_pair(a, b, joint);
}

/// Moves one element until its margin is there.
fn settle(mut state: State, m: &mut Moved, registry: &Registry, options: &Options) -> Result<State> {
    let mut base = state.sculpture.clone();
    let rest = state.rest(m);
    let riders = base.riders(rest.element);
    let most = match m.lean.by {
        LeanBy::Shift => size(&state.work),
        LeanBy::Tip => MOST_TIP,
    };
    // Places that leave enough and too little, from where it was.
    let (mut good, mut bad): (Option<Place>, Option<Place>) = (None, None);
    let mut x = 0.0;
    let mut since = 0;
    m.jumped = false;
    for _ in 0..STEPS {
        let spare = state.short_of(m);
        if spare.abs() <= REACHED {
            break;
        }
        let known = if spare > 0.0 { &mut good } else { &mut bad };
        *known = Some(Place { x, joints: state.joints() });
        since += 1;
        let model = own_mass(&state.work)?;
        let balance = Balance::margins(&state.work, &model, options, None);
        let here = state.rest(m);
        let next = Sketch::new(&state.work, &model, &balance).outermost(
            &here,
            &riders,
            m.lean.by,
            m.lean.toward,
            m.lean.margin,
            most,
        );
        let mut to = match next {
            Ok(step) => x + step,
            Err(best) => {
                return Err(Error::input(format!(
                    "no place toward {}° leaves a margin of {} mm at all levels below; the most there is is about {:.0} mm",
                    m.lean.toward, m.lean.margin, best.max(-most)
                ))
                .at(format!("stack {}: lean_to", state.name(m)))
                .remedy("ask for a smaller margin or another direction, or widen what is below"));
            }
        };
        if let (Some(g), Some(b)) = (&good, &bad) {
            let narrow = (g.x - b.x).abs() < JUMP;
            let changing = if narrow || since > PATIENCE { g.changing(b) } else { Vec::new() };
            if !changing.is_empty() {
                to = g.x;
                for id in changing {
                    mitre(&mut base, &id);
                    m.mitred.insert(id);
                }
                (good, bad, since) = (None, None, 0);
            } else if narrow {
                m.jumped = true;
                to = g.x;
            } else if to <= g.x.min(b.x) || to >= g.x.max(b.x) {
                to = f64::midpoint(g.x, b.x);
            }
        }
        x = to;
        let mut sculpture = base.clone();
        sculpture.move_stacked(rest.element, &rest.motion(m.lean.by, m.lean.toward, x));
        state = State::new(sculpture, registry, options)?;
        if m.jumped {
            break;
        }
    }
    m.by += x;
    Ok(state)
}

fn size(work: &Work) -> f64 {
    work.mesh.bounds().map_or(0.0, |[lo, hi]: [Point3<f64>; 2]| (hi - lo).norm())
}

fn note(state: &State, m: &Moved, options: &Options) -> Result<Finding> {
    let balance = Balance::margins(&state.work, &own_mass(&state.work)?, options, None);
    let element = state.rest(m).element;
    let tightest = balance.below(element).min_by(|a, b| a.margin.total_cmp(&b.margin));
    let (level, margin) = tightest.map_or(("nothing", f64::NAN), |l| (l.name.as_str(), l.margin));
    let (word, unit) = match m.lean.by {
        LeanBy::Shift => ("shifted", "mm"),
        LeanBy::Tip => ("tipped", "degrees"),
    };
    let way = if m.by < 0.0 { "back from" } else { "further toward" };
    let mut more = String::new();
    if !m.mitred.is_empty() {
        let seams: Vec<&str> = m.mitred.iter().map(String::as_str).collect();
        more = format!(
            " Mitred here, because `auto` would change its mind beside this very place: {}.",
            seams.join(", ")
        );
    }
    if m.jumped {
        let _ = write!(
            more,
            " The margin jumps here; the last place with more than {} mm was taken.",
            m.lean.margin
        );
    }
    Ok(Finding::new(
        Level::Note,
        "lean-to",
        state.name(m),
        format!(
            "{word} by {:.2} {unit} {way} {}°: {margin:.2} mm of margin at the tightest level below ({level}); sheets and \
             weld metal weighed as worked out, spine, base, coating and water not.{more}",
            m.by.abs(),
            m.lean.toward,
        ),
        "look at the balance of the whole with all that is built in; preliminary, a licensed engineer decides",
    ))
}
