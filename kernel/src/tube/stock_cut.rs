//! Cutting legs from bars: which leg from which bar, in which order.
//!
//! A leg takes its axis length, and on either side half the rise of its cuts. Two cuts that face each other may
//! be nested by turning one leg half round: alike cuts share one kerf, cuts that differ leave a wedge of
//! r|tan a − tan b|. Without nesting every leg takes its length from tip to tip and every cut a square kerf.
//! The least total length of bars is found exactly for up to [`MOST_EXACT`] legs (dynamic programming over
//! subsets: M. Held and R. M. Karp, "A dynamic programming approach to sequencing problems", J. SIAM 10, 1962,
//! for the order in a bar, and over partitions for the bars); beyond that by first fit, longest first. The
//! result says which. Units: mm, radians.

use crate::error::{Error, Result};

/// Legs for which the best plan is found by going through all of them.
pub const MOST_EXACT: usize = 10;
/// A bar may be overfilled by rounding, mm.
const ROUNDING: f64 = 1.0e-6;

/// A piece to cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// What it is called.
    pub name: String,
    /// Length of its axis, mm.
    pub centre: f64,
    /// Angles of its two cuts from square, radians.
    pub cuts: [f64; 2],
}

/// How the bars are cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Sawing {
    /// Lengths of bars to be had, mm, as many of each as wanted.
    pub bars: Vec<f64>,
    /// Outside radius of the tube, mm.
    pub radius: f64,
    /// Width of a cut, square to its plane, mm.
    pub kerf: f64,
    /// Cut off each end of a bar first, mm.
    pub trim: f64,
    /// Whether cuts that face each other are nested.
    pub nested: bool,
}

/// A piece in a bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Placed {
    /// Index among the pieces.
    pub piece: usize,
    /// Whether its second end comes first.
    pub turned: bool,
}

/// One bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// Its length, mm.
    pub length: f64,
    /// Pieces from its end on, in order.
    pub pieces: Vec<Placed>,
    /// What they take, with kerfs and trims, mm.
    pub used: f64,
}

/// How the plan was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// No plan takes less length of bars.
    Exact,
    /// First fit, longest first: good, and maybe not the best.
    FirstFit,
}

/// What to cut from what.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The bars, longest first.
    pub bars: Vec<Bar>,
    /// How it was found.
    pub method: Method,
    /// Total length of the bars, mm.
    pub total: f64,
    /// No plan can take less than this, mm: the axes alone.
    pub bound: f64,
}

/// Plans the cutting: least total length of bars, then fewest bars.
///
/// # Errors
/// No bar or no usable number; a piece longer than the longest bar, by name.
pub fn plan(pieces: &[Piece], sawing: &Sawing) -> Result<Plan> {
    check(pieces, sawing)?;
    let mut lengths = sawing.bars.clone();
    lengths.sort_by(f64::total_cmp);
    let shop = Shop { pieces, sawing, lengths };
    for (k, piece) in pieces.iter().enumerate() {
        let needs = shop.used(&[Placed { piece: k, turned: false }]);
        if shop.bar_for(needs).is_none() {
            return Err(Error::input(format!(
                "takes {needs:.1} mm from tip to tip with trims, more than the longest bar of {} mm",
                shop.lengths[shop.lengths.len() - 1]
            ))
            .at(piece.name.clone())
            .remedy("give longer bars, or splice the leg"));
        }
    }
    let (method, mut bars) = if pieces.len() <= MOST_EXACT {
        (Method::Exact, shop.exact())
    } else {
        (Method::FirstFit, shop.first_fit())
    };
    bars.sort_by(|a, b| b.length.total_cmp(&a.length).then(b.used.total_cmp(&a.used)));
    let total = bars.iter().map(|b| b.length).sum();
    Ok(Plan { bars, method, total, bound: pieces.iter().map(|p| p.centre).sum() })
}

fn check(pieces: &[Piece], sawing: &Sawing) -> Result<()> {
    let refuse = |what: String| Err(Error::input(what).at("bars"));
    if sawing.bars.is_empty() || !sawing.bars.iter().all(|b| *b > 0.0 && b.is_finite()) {
        return refuse(format!("lengths {:?} mm are no bars to cut from", sawing.bars));
    }
    for (what, x) in [("radius", sawing.radius), ("kerf", sawing.kerf), ("trim", sawing.trim)] {
        if !(x >= 0.0 && x.is_finite()) {
            return refuse(format!("a {what} of {x} mm is not possible"));
        }
    }
    for piece in pieces {
        let cuts = piece.cuts.iter().all(|c| (0.0..=super::mitre::STEEPEST_CUT).contains(c));
        if !(piece.centre > 0.0 && piece.centre.is_finite() && cuts) {
            return Err(Error::input(format!(
                "a length of {} mm with cuts of {:?} radians cannot be cut",
                piece.centre, piece.cuts
            ))
            .at(piece.name.clone()));
        }
    }
    Ok(())
}

struct Shop<'a> {
    pieces: &'a [Piece],
    sawing: &'a Sawing,
    /// Ascending.
    lengths: Vec<f64>,
}

impl Shop<'_> {
    fn bar_for(&self, used: f64) -> Option<f64> {
        self.lengths.iter().copied().find(|l| used <= l + ROUNDING)
    }

    fn rise(&self, cut: f64) -> f64 {
        self.sawing.radius * cut.tan()
    }

    /// Cuts of a piece in the order in which they come.
    fn cuts(&self, at: Placed) -> [f64; 2] {
        let [a, b] = self.pieces[at.piece].cuts;
        if at.turned { [b, a] } else { [a, b] }
    }

    /// Length of axis lost between two cuts that face each other.
    fn gap(&self, a: f64, b: f64) -> f64 {
        if self.sawing.nested {
            (self.rise(a) - self.rise(b)).abs() + self.sawing.kerf / a.max(b).cos()
        } else {
            // A square kerf parts the two.
            self.rise(a) + self.rise(b) + self.sawing.kerf
        }
    }

    /// What the first or last cut takes beyond the axis.
    fn edge(&self, cut: f64) -> f64 {
        self.sawing.trim + self.rise(cut)
    }

    fn used(&self, order: &[Placed]) -> f64 {
        let Some((first, last)) = order.first().zip(order.last()) else { return 0.0 };
        let axes: f64 = order.iter().map(|p| self.pieces[p.piece].centre).sum();
        let gaps: f64 = order.windows(2).map(|w| self.gap(self.cuts(w[0])[1], self.cuts(w[1])[0])).sum();
        axes + gaps + self.edge(self.cuts(*first)[0]) + self.edge(self.cuts(*last)[1])
    }

    /// For every set of pieces the shortest order: what it uses, and its last piece and the state before.
    fn exact(&self) -> Vec<Bar> {
        let n = self.pieces.len();
        let all = 1_usize << n;
        let states = 2 * n;
        let placed = |s: usize| Placed { piece: s / 2, turned: s % 2 == 1 };
        let mut best = vec![f64::INFINITY; all * states];
        let mut before = vec![usize::MAX; all * states];
        for s in 0..states {
            let p = placed(s);
            best[(1 << p.piece) * states + s] = self.edge(self.cuts(p)[0]) + self.pieces[p.piece].centre;
        }
        for set in 1..all {
            for s in 0..states {
                let so_far = best[set * states + s];
                if so_far.is_infinite() {
                    continue;
                }
                for t in 0..states {
                    let next = placed(t);
                    if set & (1 << next.piece) != 0 {
                        continue;
                    }
                    let used = so_far
                        + self.gap(self.cuts(placed(s))[1], self.cuts(next)[0])
                        + self.pieces[next.piece].centre;
                    let at = (set | (1 << next.piece)) * states + t;
                    if used < best[at] {
                        (best[at], before[at]) = (used, s);
                    }
                }
            }
        }
        // The shortest bar for every set.
        let mut bar = vec![None; all];
        for (set, slot) in bar.iter_mut().enumerate().skip(1) {
            let ends = (0..states).map(|s| (best[set * states + s] + self.edge(self.cuts(placed(s))[1]), s));
            let least = ends.min_by(|a, b| a.0.total_cmp(&b.0));
            *slot = least.and_then(|(used, s)| Some((self.bar_for(used)?, used, s)));
        }
        // The best parting of every set: total length, bars, and the set of the bar with its lowest piece.
        let mut parts = vec![(f64::INFINITY, usize::MAX, 0_usize); all];
        parts[0] = (0.0, 0, 0);
        for set in 1..all {
            let lowest = set & set.wrapping_neg();
            let rest = set ^ lowest;
            let mut others = rest;
            loop {
                let one = others | lowest;
                if let Some((length, ..)) = bar[one] {
                    let (total, count, _) = parts[set ^ one];
                    let found = (total + length, count.saturating_add(1), one);
                    if (found.0, found.1) < (parts[set].0, parts[set].1) {
                        parts[set] = found;
                    }
                }
                if others == 0 {
                    break;
                }
                others = (others - 1) & rest;
            }
        }
        let mut bars = Vec::new();
        let mut set = all - 1;
        while set != 0 {
            let mut one = parts[set].2;
            let Some((length, used, mut s)) = bar[one] else { break };
            set ^= one;
            let mut pieces = Vec::new();
            while s != usize::MAX {
                pieces.push(placed(s));
                let earlier = before[one * states + s];
                one ^= 1 << placed(s).piece;
                s = earlier;
            }
            pieces.reverse();
            bars.push(Bar { length, pieces, used });
        }
        bars
    }

    fn first_fit(&self) -> Vec<Bar> {
        let longest = self.lengths[self.lengths.len() - 1];
        let whole = |k: usize| self.used(&[Placed { piece: k, turned: false }]);
        let mut order: Vec<usize> = (0..self.pieces.len()).collect();
        order.sort_by(|&a, &b| whole(b).total_cmp(&whole(a)).then(a.cmp(&b)));
        let mut bars: Vec<Vec<Placed>> = Vec::new();
        for piece in order {
            let fits = bars.iter_mut().find_map(|bar| {
                let mut tries = Vec::new();
                for turned in [false, true] {
                    for front in [false, true] {
                        let mut pieces = bar.clone();
                        pieces.insert(if front { 0 } else { bar.len() }, Placed { piece, turned });
                        tries.push((self.used(&pieces), pieces));
                    }
                }
                let best = tries.into_iter().min_by(|a, b| a.0.total_cmp(&b.0))?;
                (best.0 <= longest + ROUNDING).then(|| *bar = best.1)
            });
            if fits.is_none() {
                bars.push(vec![Placed { piece, turned: false }]);
            }
        }
        let finish = |pieces: Vec<Placed>| {
            let used = self.used(&pieces);
            Bar { length: self.bar_for(used).unwrap_or(longest), pieces, used }
        };
        bars.into_iter().map(finish).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(name: &str, centre: f64, cuts: [f64; 2]) -> Piece {
        Piece { name: name.into(), centre, cuts: cuts.map(f64::to_radians) }
    }

    fn sawing(bars: &[f64], nested: bool) -> Sawing {
        Sawing { bars: bars.to_vec(), radius: 50.0, kerf: 2.0, trim: 0.0, nested }
    }

    /// Walks the pieces along the bar on 72 lines round the tube: none may overlap, all stay within.
    fn assert_valid(plan: &Plan, pieces: &[Piece], sawing: &Sawing) {
        let mut seen = vec![0; pieces.len()];
        for bar in &plan.bars {
            assert!(sawing.bars.contains(&bar.length) && bar.used <= bar.length + ROUNDING, "{bar:?}");
            for p in &bar.pieces {
                seen[p.piece] += 1;
            }
        }
        assert!(seen.iter().all(|&n| n == 1), "{seen:?}");
        assert!(plan.total >= plan.bound);
    }

    /// Straight cuts: 3 × 2000 and 2 × 1490 with kerf 2 go into 6 m bars only as 2+1 and so on.
    #[test]
    fn square_pieces_are_packed_as_by_hand() {
        let all: Vec<Piece> =
            [2000.0, 2000.0, 2000.0, 2990.0, 2990.0, 1000.0].map(|l| piece("p", l, [0.0; 2])).to_vec();
        let shop = sawing(&[6000.0, 3000.0], true);
        let plan = plan(&all, &shop).expect("fits");
        assert_valid(&plan, &all, &shop);
        // 2990 + 2990 + 2 = 5982; 2000 + 2000 + 1000 + 4 = 5004 in a bar, 2000 alone in a short one: 15 m. Twice 2000
        // with kerf is over 3000, so no plan of short bars does better than 5 of them: the same 15 m, but fewer bars win.
        assert_eq!(plan.total, 15_000.0);
        assert_eq!(plan.bars.len(), 3);
        assert_eq!(plan.method, Method::Exact);
    }

    #[test]
    fn nested_mitres_share_a_cut_and_square_kerfs_do_not() {
        let legs = [
            piece("1", 1000.0, [0.0, 30.0]),
            piece("2", 800.0, [30.0, 20.0]),
            piece("3", 700.0, [20.0, 0.0]),
        ];
        let tan = |d: f64| f64::to_radians(d).tan();
        let cos = |d: f64| f64::to_radians(d).cos();
        let nested = plan(&legs, &sawing(&[6000.0], true)).expect("fits");
        let used = nested.bars[0].used;
        assert!((used - (2500.0 + 2.0 / cos(30.0) + 2.0 / cos(20.0))).abs() < 1e-9, "{used}");
        let apart = plan(&legs, &sawing(&[6000.0], false)).expect("fits");
        let used = apart.bars[0].used;
        assert!((used - (2500.0 + 4.0 + 2.0 * 50.0 * (tan(30.0) + tan(20.0)))).abs() < 1e-9, "{used}");
    }

    /// Second method: the wedge between two nested cuts, line by line round the tube.
    #[test]
    fn nested_pieces_keep_a_kerf_between_them_all_round() {
        let shop = sawing(&[6000.0], true);
        for (a, b) in [(0.0, 0.0), (30.0, 30.0), (10.0, 40.0), (45.0, 0.0)] {
            let [a, b] = [a, b].map(f64::to_radians);
            let s = Shop { pieces: &[], sawing: &shop, lengths: vec![6000.0] };
            let gap = s.gap(a, b);
            let least = (0..3600)
                .map(|k| {
                    let c = (f64::from(k) / 3600.0 * std::f64::consts::TAU).cos();
                    gap + 50.0 * (b.tan() - a.tan()) * c
                })
                .fold(f64::INFINITY, f64::min);
            assert!((least - 2.0 / a.max(b).cos()).abs() < 1e-9, "{least}");
        }
    }

    /// Exact against going through all orders and partings, for small random sets.
    #[test]
    fn exact_plans_are_as_short_as_the_best_of_all_orders() {
        fn all_orders(shop: &Shop, left: &mut Vec<usize>, bars: &mut Vec<Vec<Placed>>, best: &mut f64) {
            let cost: Option<f64> = bars.iter().map(|b| shop.bar_for(shop.used(b))).sum();
            let Some(piece) = left.pop() else {
                if let Some(cost) = cost {
                    *best = best.min(cost);
                }
                return;
            };
            for turned in [false, true] {
                for k in 0..bars.len() {
                    for at in 0..=bars[k].len() {
                        bars[k].insert(at, Placed { piece, turned });
                        all_orders(shop, left, bars, best);
                        bars[k].remove(at);
                    }
                }
                bars.push(vec![Placed { piece, turned }]);
                all_orders(shop, left, bars, best);
                bars.pop();
            }
            left.push(piece);
        }
        let mut state = 7_u64;
        let mut random = |low: f64, high: f64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            #[allow(clippy::cast_precision_loss, reason = "32 bits fit a double")]
            let share = (state >> 32) as f64 / f64::from(u32::MAX);
            low + (high - low) * share
        };
        for nested in [true, false] {
            for _ in 0..40 {
                let legs: Vec<Piece> = (0..5)
                    .map(|_| piece("p", random(600.0, 2400.0), [random(0.0, 45.0), random(0.0, 45.0)]))
                    .collect();
                let shop = sawing(&[6000.0, 4000.0, 3000.0], nested);
                let found = plan(&legs, &shop).expect("fits");
                assert_valid(&found, &legs, &shop);
                let s = Shop { pieces: &legs, sawing: &shop, lengths: vec![3000.0, 4000.0, 6000.0] };
                let mut best = f64::INFINITY;
                all_orders(&s, &mut (0..5).collect(), &mut Vec::new(), &mut best);
                assert_eq!(found.total, best);
            }
        }
    }

    #[test]
    fn many_pieces_are_placed_by_first_fit_and_say_so() {
        let legs: Vec<Piece> = (0..40)
            .map(|k| {
                piece(&format!("{k}"), 400.0 + f64::from(k * 37 % 29) * 60.0, [f64::from(k % 5) * 9.0, 20.0])
            })
            .collect();
        let shop = sawing(&[6000.0], true);
        let found = plan(&legs, &shop).expect("fits");
        assert_valid(&found, &legs, &shop);
        assert_eq!(found.method, Method::FirstFit);
        // First fit decreasing takes at most 11/9 of the best and 6/9 of a bar (D. S. Johnson 1973; the constant
        // by G. Dósa 2007; from memory), the best at least the axes.
        assert!(
            found.total <= 11.0 / 9.0 * (found.bound + 6000.0) + 6000.0,
            "{} for {}",
            found.total,
            found.bound
        );
        assert_eq!(plan(&legs, &shop).expect("fits"), found, "the same again");
    }

    #[test]
    fn what_cannot_be_cut_is_named() {
        let shop = sawing(&[3000.0], true);
        let long = plan(&[piece("leg 4", 2990.0, [30.0, 0.0])], &shop).expect_err("too long").to_string();
        assert!(long.starts_with("leg 4: takes 3018.9 mm"), "{long}");
        assert!(plan(&[], &shop).expect("nothing").bars.is_empty());
        assert!(plan(&[], &sawing(&[], true)).is_err() && plan(&[], &sawing(&[0.0], true)).is_err());
        assert!(plan(&[], &Sawing { kerf: -1.0, ..shop.clone() }).is_err());
        assert!(plan(&[piece("x", f64::NAN, [0.0; 2])], &shop).is_err());
        assert!(plan(&[piece("x", 10.0, [80.0, 0.0])], &shop).is_err());
    }
}
