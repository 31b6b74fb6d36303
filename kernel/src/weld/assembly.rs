//! An order of assembly from the bottom that closes no lump before the seams asked for from inside are done.
//!
//! Method: a graph of parts and of the bonds between them (stretches of seam). Elements are lumps: each is built
//! lowest part first, every part touching one that stands already where it can; its closing part is set last, and
//! right before that all its bonds asked for from inside are welded. A closure strip goes in just before the second
//! sheet of its seam, so that the last part of a lump is always a sheet. Bonds of the closing part itself can be
//! reached from outside only; it is chosen so that none of those that must be welded inside is lost, if there is
//! such a part, else so that as little of them as possible is. A bond between two lumps belongs to the later one.
//! No coordinates here but heights. Cost: parts × bonds.

use std::collections::BTreeSet;

/// A part as far as the order matters.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// The element it belongs to; of a closure strip one of its two.
    pub element: usize,
    /// Lowest point, mm.
    pub foot: f64,
    /// Mean height, mm.
    pub height: f64,
    /// The smaller extent of the opening it fills, mm.
    pub width: f64,
    /// Whether it is a closure strip.
    pub strip: bool,
}

/// A stretch of seam between two parts.
#[derive(Debug, Clone, PartialEq)]
pub struct Bond {
    /// The seam.
    pub seam: usize,
    /// The two parts.
    pub parts: [usize; 2],
    /// Its length, mm.
    pub length: f64,
    /// Whether it is to be welded from inside, where it can be.
    pub inside: bool,
    /// Whether it is to be welded from outside.
    pub outside: bool,
    /// Whether the inside weld was asked for by name: the closing part is chosen so as to leave it possible.
    pub required: bool,
}

/// What is done in a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Task {
    /// Set a part and tack it along bonds to what stands.
    Set,
    /// Weld bonds from inside, through the opening the closing part will fill.
    WeldInside,
    /// Look before closing.
    CheckInside,
    /// Set and tack the part that closes the lump.
    Close,
    /// Weld bonds from outside.
    WeldOutside,
    /// Look at the finished lump.
    CheckOutside,
}

/// One step.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What is done.
    pub task: Task,
    /// The lump (element) it is about.
    pub lump: usize,
    /// The part set.
    pub part: Option<usize>,
    /// The bonds tacked or welded.
    pub bonds: Vec<usize>,
}

/// One lump and how it is closed.
#[derive(Debug, Clone, PartialEq)]
pub struct Lump {
    /// The element.
    pub element: usize,
    /// The part that closes it.
    pub closing: usize,
    /// Bonds welded inside before that.
    pub inside_first: Vec<usize>,
    /// Bonds asked for from inside that its closing part makes unreachable.
    pub lost: Vec<usize>,
    /// Whether the opening is narrower than asked for.
    pub narrow: bool,
}

/// An order of assembly.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Order {
    /// What to do, in order.
    pub steps: Vec<Step>,
    /// The lumps, in the order in which they are built.
    pub lumps: Vec<Lump>,
}

impl Order {
    /// The order for these parts and bonds. `opening` is the least width to reach in through, mm.
    pub fn new(pieces: &[Piece], bonds: &[Bond], opening: f64) -> Self {
        let mut build = Build::new(pieces, bonds, opening);
        while let Some(element) = build.next_element() {
            build.lump(element);
        }
        build.rest();
        build.order
    }

    /// For every bond whether it ends up welded from inside and from outside.
    pub fn access(&self, bonds: usize) -> Vec<[bool; 2]> {
        let mut access = vec![[false; 2]; bonds];
        for step in &self.steps {
            for &b in &step.bonds {
                match step.task {
                    Task::WeldInside => access[b][0] = true,
                    Task::WeldOutside => access[b][1] = true,
                    _ => {}
                }
            }
        }
        access
    }
}

/// Heights nearer than this are level, mm: a hand's tape.
const LEVEL: f64 = 1.0;

/// Whole steps of [`LEVEL`], to compare heights with.
fn level(height: f64) -> i64 {
    #[allow(clippy::cast_possible_truncation, reason = "within a thousand kilometres")]
    let level = (height / LEVEL).round() as i64;
    level
}

struct Build<'a> {
    pieces: &'a [Piece],
    bonds: &'a [Bond],
    opening: f64,
    /// Bonds of every part.
    of: Vec<Vec<usize>>,
    /// The lump in which a part was set.
    placed: Vec<Option<usize>>,
    welded: BTreeSet<usize>,
    done: BTreeSet<usize>,
    order: Order,
}

impl<'a> Build<'a> {
    fn new(pieces: &'a [Piece], bonds: &'a [Bond], opening: f64) -> Self {
        let mut of = vec![Vec::new(); pieces.len()];
        for (i, bond) in bonds.iter().enumerate() {
            for part in bond.parts {
                of[part].push(i);
            }
        }
        Self {
            pieces,
            bonds,
            opening,
            of,
            placed: vec![None; pieces.len()],
            welded: BTreeSet::new(),
            done: BTreeSet::new(),
            order: Order::default(),
        }
    }

    fn other(&self, bond: usize, part: usize) -> usize {
        let [a, b] = self.bonds[bond].parts;
        if a == part { b } else { a }
    }

    /// Whether a part touches one that stands already.
    fn held(&self, part: usize) -> bool {
        self.of[part].iter().any(|&b| self.placed[self.other(b, part)].is_some())
    }

    fn sheets(&self, element: usize) -> impl Iterator<Item = usize> + '_ {
        let pieces = self.pieces.iter().enumerate();
        pieces.filter(move |(_, p)| p.element == element && !p.strip).map(|(i, _)| i)
    }

    /// The lowest element not built yet, one that touches what stands if there is one.
    fn next_element(&self) -> Option<usize> {
        let left: BTreeSet<usize> = self
            .pieces
            .iter()
            .filter(|p| !p.strip)
            .map(|p| p.element)
            .filter(|e| !self.done.contains(e))
            .collect();
        left.into_iter().min_by_key(|&e| {
            // A sheet of this element, or a strip on one, that touches what stands.
            let touches = |i: usize| {
                self.held(i)
                    || self.of[i]
                        .iter()
                        .any(|&b| self.pieces[self.other(b, i)].strip && self.held(self.other(b, i)))
            };
            let foot = self.sheets(e).map(|i| level(self.pieces[i].foot)).min();
            (!self.sheets(e).any(touches), foot, e)
        })
    }

    /// Length of bonds that a closing part would put out of reach: those asked for by name, and all.
    fn lost(&self, closing: usize, element: usize) -> [f64; 2] {
        let mut lost = [0.0; 2];
        for &b in &self.of[closing] {
            let other = self.other(b, closing);
            // A bond with a lump still to come belongs to that one.
            let later = !self.pieces[other].strip
                && self.pieces[other].element != element
                && self.placed[other].is_none();
            let bond = &self.bonds[b];
            if bond.inside && !later {
                lost[1] += bond.length;
                if bond.required {
                    lost[0] += bond.length;
                }
            }
        }
        lost
    }

    fn closing(&self, element: usize) -> Option<(usize, bool)> {
        let sheets: Vec<usize> = self.sheets(element).collect();
        let wide: Vec<usize> =
            sheets.iter().copied().filter(|&i| self.pieces[i].width >= self.opening).collect();
        let narrow = wide.is_empty();
        let rank = |i: usize| {
            let p = &self.pieces[i];
            let width = if narrow { -level(p.width) } else { 0 };
            (level(self.lost(i, element)[0]), width, -level(p.height), -level(p.width), i)
        };
        let from = if narrow { sheets } else { wide };
        from.into_iter().min_by_key(|&i| rank(i)).map(|i| (i, narrow))
    }

    fn lump(&mut self, element: usize) {
        self.done.insert(element);
        let Some((closing, narrow)) = self.closing(element) else { return };
        let mut left: BTreeSet<usize> = self.sheets(element).filter(|&i| i != closing).collect();
        while let Some(next) = left.iter().copied().min_by_key(|&i| {
            let p = &self.pieces[i];
            (!self.held(i), level(p.height), level(p.foot), i)
        }) {
            left.remove(&next);
            self.strips_before(next, element);
            self.set(next, element, Task::Set);
        }
        self.strips_before(closing, element);
        // Strips that touch only this part of the work go in while it is open.
        let own: Vec<usize> = (0..self.pieces.len())
            .filter(|&i| self.pieces[i].strip && self.placed[i].is_none() && self.held(i))
            .filter(|&i| self.of[i].iter().all(|&b| self.placed[self.other(b, i)].is_some()))
            .collect();
        for strip in own {
            self.set(strip, element, Task::Set);
        }
        let inside: Vec<usize> = self.open_bonds(|b| b.inside);
        if !inside.is_empty() {
            self.step(Task::WeldInside, element, None, inside.clone());
        }
        self.step(Task::CheckInside, element, None, Vec::new());
        self.set(closing, element, Task::Close);
        let lost: Vec<usize> =
            self.open_bonds(|b| b.inside).into_iter().filter(|b| !inside.contains(b)).collect();
        let outside: Vec<usize> = self
            .open_bonds(|_| true)
            .into_iter()
            .filter(|b| self.bonds[*b].outside || lost.contains(b))
            .collect();
        let finished = self.open_bonds(|_| true);
        self.welded.extend(finished);
        if !outside.is_empty() {
            self.step(Task::WeldOutside, element, None, outside);
        }
        self.step(Task::CheckOutside, element, None, Vec::new());
        self.order.lumps.push(Lump { element, closing, inside_first: inside, lost, narrow });
    }

    /// Bonds between parts that stand, not finished yet.
    fn open_bonds(&self, wanted: impl Fn(&Bond) -> bool) -> Vec<usize> {
        (0..self.bonds.len())
            .filter(|b| !self.welded.contains(b) && wanted(&self.bonds[*b]))
            .filter(|&b| self.bonds[b].parts.iter().all(|&p| self.placed[p].is_some()))
            .collect()
    }

    /// Sets the strips that a sheet is about to meet and that another part holds.
    fn strips_before(&mut self, sheet: usize, element: usize) {
        let strips: BTreeSet<usize> = self.of[sheet]
            .iter()
            .map(|&b| self.other(b, sheet))
            .filter(|&p| self.pieces[p].strip && self.placed[p].is_none() && self.held(p))
            .collect();
        for strip in strips {
            self.set(strip, element, Task::Set);
        }
    }

    fn set(&mut self, part: usize, lump: usize, task: Task) {
        let tacked: Vec<usize> =
            self.of[part].iter().copied().filter(|&b| self.placed[self.other(b, part)].is_some()).collect();
        self.placed[part] = Some(lump);
        self.step(task, lump, Some(part), tacked);
    }

    fn step(&mut self, task: Task, lump: usize, part: Option<usize>, bonds: Vec<usize>) {
        self.order.steps.push(Step { task, lump, part, bonds });
    }

    /// Strips that nothing asked for, and what they are welded to.
    fn rest(&mut self) {
        for strip in 0..self.pieces.len() {
            if self.placed[strip].is_none() {
                let lump = self.pieces[strip].element;
                self.set(strip, lump, Task::Set);
                let bonds = self.open_bonds(|_| true);
                self.welded.extend(&bonds);
                if !bonds.is_empty() {
                    self.step(Task::WeldOutside, lump, None, bonds);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    /// Follows an order step by step and says what is wrong with it; knows nothing of how it was made.
    fn replay(pieces: &[Piece], bonds: &[Bond], order: &Order) -> Vec<String> {
        let mut wrong = Vec::new();
        let mut stands = BTreeSet::new();
        let mut tacked = BTreeSet::new();
        let (mut inside, mut outside) = (BTreeSet::new(), BTreeSet::new());
        let mut closed: BTreeSet<usize> = BTreeSet::new();
        let mut lump_of: BTreeMap<usize, usize> = BTreeMap::new();
        let last: BTreeMap<usize, usize> = order
            .steps
            .iter()
            .filter_map(|s| s.part.filter(|p| !pieces[*p].strip).map(|p| (pieces[p].element, p)))
            .collect();
        for (n, step) in order.steps.iter().enumerate() {
            let mut say = |what: String| wrong.push(format!("step {n} {:?}: {what}", step.task));
            if let Some(part) = step.part {
                lump_of.insert(part, step.lump);
                if !pieces[part].strip && closed.contains(&pieces[part].element) {
                    say(format!("part {part} comes after its lump was closed"));
                }
                let closes = !pieces[part].strip && last[&pieces[part].element] == part;
                if closes != (step.task == Task::Close) {
                    say(format!("part {part} closes its lump: {closes}"));
                }
                if closes {
                    closed.insert(pieces[part].element);
                    // Everything asked for from inside between parts that stand is done before.
                    for (b, bond) in bonds.iter().enumerate() {
                        let ready = bond.parts.iter().all(|p| stands.contains(p));
                        if bond.inside && ready && !inside.contains(&b) && !outside.contains(&b) {
                            say(format!("bond {b} is asked for from inside and was not done"));
                        }
                    }
                }
                if !stands.insert(part) {
                    say(format!("part {part} is set twice"));
                }
                for &b in &step.bonds {
                    if !bonds[b].parts.contains(&part) || !bonds[b].parts.iter().all(|p| stands.contains(p)) {
                        say(format!("tack on bond {b} in the air"));
                    }
                    tacked.insert(b);
                }
            }
            for &b in &step.bonds {
                match step.task {
                    Task::WeldInside => {
                        if !tacked.contains(&b) {
                            say(format!("bond {b} is not tacked"));
                        }
                        if closed.contains(&step.lump) {
                            say(format!("bond {b} is inside a closed lump"));
                        }
                        // The chamber it is reached through is that of the later of its parts.
                        if !bonds[b].parts.iter().any(|p| lump_of[p] == step.lump) {
                            say(format!("bond {b} is not in this lump"));
                        }
                        inside.insert(b);
                    }
                    Task::WeldOutside if !tacked.contains(&b) || !outside.insert(b) => {
                        say(format!("bond {b} is not tacked or welded twice"));
                    }
                    _ => {}
                }
            }
        }
        for p in 0..pieces.len() {
            if !stands.contains(&p) {
                wrong.push(format!("part {p} is never set"));
            }
        }
        for (b, bond) in bonds.iter().enumerate() {
            let lost = order.lumps.iter().any(|l| l.lost.contains(&b));
            let closing = order.lumps.iter().any(|l| bond.parts.contains(&l.closing));
            if lost && !closing {
                wrong.push(format!("bond {b} is given up though no closing part bears it"));
            }
            if bond.inside && !lost && !inside.contains(&b) && !pieces_strip_only(pieces, bond) {
                wrong.push(format!("bond {b} is neither welded inside nor given up"));
            }
            if (bond.outside || lost) && !outside.contains(&b) {
                wrong.push(format!("bond {b} is never welded outside"));
            }
            if !inside.contains(&b) && !outside.contains(&b) {
                wrong.push(format!("bond {b} is never welded"));
            }
        }
        wrong
    }

    /// Bonds of strips that no sheet ever called for are closed from outside.
    fn pieces_strip_only(pieces: &[Piece], bond: &Bond) -> bool {
        bond.parts.iter().all(|p| pieces[*p].strip)
    }

    fn piece(element: usize, foot: f64, height: f64) -> Piece {
        Piece { element, foot, height, width: 500.0, strip: false }
    }

    fn bond(parts: [usize; 2], inside: bool) -> Bond {
        Bond { seam: 0, parts, length: 500.0, inside, outside: true, required: inside }
    }

    /// Bottom 0, sides 1 to 4, top 5; parts of a second box follow in the same order.
    fn cube(element: usize, first: usize, z: f64) -> (Vec<Piece>, Vec<[usize; 2]>) {
        let mut pieces = vec![piece(element, z, z)];
        pieces.extend((0..4).map(|_| piece(element, z, z + 500.0)));
        pieces.push(piece(element, z + 1000.0, z + 1000.0));
        let mut pairs = Vec::new();
        for k in 1..=4 {
            pairs.push([first, first + k]);
            pairs.push([first + k, first + k % 4 + 1]);
            pairs.push([first + k, first + 5]);
        }
        (pieces, pairs)
    }

    #[test]
    fn a_box_is_built_from_its_bottom_and_closed_by_its_top() {
        let (pieces, pairs) = cube(0, 0, 0.0);
        let bonds: Vec<Bond> = pairs.into_iter().map(|p| bond(p, false)).collect();
        let order = Order::new(&pieces, &bonds, 300.0);
        assert_eq!(replay(&pieces, &bonds, &order), Vec::<String>::new());
        let set: Vec<usize> = order.steps.iter().filter_map(|s| s.part).collect();
        assert_eq!(set, [0, 1, 2, 3, 4, 5]);
        assert_eq!(order.lumps[0].closing, 5);
        assert!(order.lumps[0].inside_first.is_empty());
    }

    #[test]
    fn seams_asked_for_inside_are_done_before_the_top_goes_on() {
        let (pieces, pairs) = cube(0, 0, 0.0);
        let bonds: Vec<Bond> = pairs.iter().map(|p| bond(*p, !p.contains(&5))).collect();
        let order = Order::new(&pieces, &bonds, 300.0);
        assert_eq!(replay(&pieces, &bonds, &order), Vec::<String>::new());
        assert_eq!(order.lumps[0].closing, 5);
        assert_eq!(order.lumps[0].inside_first.len(), 8);
        assert!(order.lumps[0].lost.is_empty());
    }

    #[test]
    fn another_part_closes_where_the_top_is_welded_from_inside() {
        let (pieces, pairs) = cube(0, 0, 0.0);
        let bonds: Vec<Bond> = pairs.iter().map(|p| bond(*p, p.contains(&5) && !p.contains(&2))).collect();
        let order = Order::new(&pieces, &bonds, 300.0);
        assert_eq!(replay(&pieces, &bonds, &order), Vec::<String>::new());
        assert_eq!(order.lumps[0].closing, 2, "the only high part without such a seam");
        assert!(order.lumps[0].lost.is_empty());
    }

    #[test]
    fn where_every_seam_is_asked_for_inside_those_of_the_closing_part_are_given_up() {
        let (pieces, pairs) = cube(0, 0, 0.0);
        let bonds: Vec<Bond> =
            pairs.iter().map(|p| Bond { outside: false, required: false, ..bond(*p, true) }).collect();
        let order = Order::new(&pieces, &bonds, 300.0);
        assert_eq!(replay(&pieces, &bonds, &order), Vec::<String>::new());
        assert_eq!((order.lumps[0].closing, order.lumps[0].lost.len()), (5, 4));
        let access = order.access(bonds.len());
        assert!(access.iter().zip(&pairs).all(|(a, p)| *a == [!p.contains(&5), p.contains(&5)]));
    }

    #[test]
    fn a_small_piece_never_closes_a_lump_that_has_a_larger_one() {
        let (mut pieces, pairs) = cube(0, 0, 0.0);
        pieces[5].width = 60.0;
        let bonds: Vec<Bond> = pairs.into_iter().map(|p| bond(p, false)).collect();
        let order = Order::new(&pieces, &bonds, 300.0);
        assert_ne!(order.lumps[0].closing, 5);
        assert!(!order.lumps[0].narrow);
        pieces.iter_mut().for_each(|p| p.width = 50.0);
        assert!(Order::new(&pieces, &bonds, 300.0).lumps[0].narrow);
    }

    #[test]
    fn lower_lumps_come_first_and_strips_go_in_before_their_second_sheet() {
        // The upper box is listed first; its bottom (part 0) stands on the lower one's top (part 11) by a strip.
        let (mut pieces, mut pairs) = cube(0, 0, 1000.0);
        let (lower, more) = cube(1, 6, 0.0);
        pieces.extend(lower);
        pairs.extend(more);
        pieces.push(Piece { strip: true, width: 40.0, ..piece(0, 1000.0, 1000.0) });
        pairs.extend([[0, 12], [11, 12]]);
        let bonds: Vec<Bond> = pairs.into_iter().map(|p| bond(p, p.contains(&12))).collect();
        let order = Order::new(&pieces, &bonds, 300.0);
        assert_eq!(replay(&pieces, &bonds, &order), Vec::<String>::new());
        assert_eq!(order.lumps.iter().map(|l| l.element).collect::<Vec<_>>(), [1, 0]);
        let set: Vec<usize> = order.steps.iter().filter_map(|s| s.part).collect();
        let place = |p: usize| set.iter().position(|q| *q == p).expect("is set");
        assert_eq!(place(12) + 1, place(0), "{set:?}");
        assert!(place(11) < place(12));
    }

    /// splitmix64 (Steele, Lea, Flood, OOPSLA 2014), from memory.
    fn next(state: &mut u64) -> usize {
        *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = *state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        usize::try_from((z ^ (z >> 31)) >> 33).expect("31 bits")
    }

    #[test]
    fn random_works_of_any_shape_replay_without_a_fault_and_always_alike() {
        for seed in 0..600 {
            let mut s = seed;
            let count = 1 + next(&mut s) % 14;
            let elements = 1 + next(&mut s) % 4;
            let mut pieces: Vec<Piece> = (0..count)
                .map(|i| {
                    // Level feet and heights are common, and so is a sliver.
                    #[allow(clippy::cast_precision_loss, reason = "small")]
                    let z = (next(&mut s) % 5) as f64 * 200.0;
                    let width = [30.0, 500.0, 900.0][next(&mut s) % 3];
                    Piece { element: i % elements, foot: z, height: z + 100.0, width, strip: false }
                })
                .collect();
            let mut bonds = Vec::new();
            let habit = next(&mut s) % 3;
            let add = |parts: [usize; 2], s: &mut u64, bonds: &mut Vec<Bond>| {
                let inside = habit == 1 || habit == 2 && next(s).is_multiple_of(3);
                let outside = !inside || next(s).is_multiple_of(2);
                let required = inside && next(s).is_multiple_of(2);
                bonds.push(Bond { seam: 0, parts, length: 100.0, inside, outside, required });
            };
            for _ in 0..next(&mut s) % (3 * count) {
                let (a, b) = (next(&mut s) % count, next(&mut s) % count);
                if a == b {
                    continue;
                }
                if next(&mut s).is_multiple_of(4) {
                    pieces.push(Piece { strip: true, width: 30.0, ..pieces[a].clone() });
                    let strip = pieces.len() - 1;
                    add([a, strip], &mut s, &mut bonds);
                    add([b, strip], &mut s, &mut bonds);
                } else {
                    add([a, b], &mut s, &mut bonds);
                }
            }
            let order = Order::new(&pieces, &bonds, 300.0);
            let wrong = replay(&pieces, &bonds, &order);
            assert!(wrong.is_empty(), "{seed}: {wrong:#?}");
            assert_eq!(order, Order::new(&pieces, &bonds, 300.0), "{seed}: again");
        }
    }

    #[test]
    fn the_replay_notices_an_order_that_closes_too_early() {
        let (pieces, pairs) = cube(0, 0, 0.0);
        let bonds: Vec<Bond> = pairs.iter().map(|p| bond(*p, !p.contains(&5))).collect();
        let mut order = Order::new(&pieces, &bonds, 300.0);
        let at = |t: Task, o: &Order| o.steps.iter().position(|s| s.task == t).expect("is there");
        let (weld, close) = (at(Task::WeldInside, &order), at(Task::Close, &order));
        order.steps.swap(weld, close);
        assert!(!replay(&pieces, &bonds, &order).is_empty());
    }
}
