//! A figure over many draws: mean and quantiles in a fixed amount of memory.
//!
//! Means and deviations are sums about a value near the middle. Quantiles come from a histogram of even bins,
//! linear within a bin; its range is that of a first few draws and as much again on either side, and what
//! falls outside is counted between the range and the greatest value seen. The error of a quantile is half the
//! distance between the quantiles at p ± √(p(1 − p)/N), the standard deviation of the share below it
//! (W. J. Conover, "Practical Nonparametric Statistics", section on quantiles; from memory).

/// The share of draws below [`Estimate::high`].
pub const HIGH: f64 = 0.95;
/// The share of draws below [`Estimate::low`].
pub const LOW: f64 = 0.05;

/// Range of a histogram, in ranges of the first draws: more loses resolution, less leaves more draws outside.
const SPREAD: f64 = 3.0;

/// What is known of a figure after all draws.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Estimate {
    /// Mean over the draws.
    pub mean: f64,
    /// Standard error of the mean.
    pub mean_error: f64,
    /// The value 5 % of draws stay below.
    pub low: f64,
    /// Standard error of it.
    pub low_error: f64,
    /// The value 95 % of draws stay below.
    pub high: f64,
    /// Standard error of it.
    pub high_error: f64,
    /// Width of the histogram's bins: no quantile is known better than a part of it.
    pub resolution: f64,
}

/// A figure while it is drawn.
#[derive(Debug, Clone)]
pub(super) struct Figure {
    count: u64,
    /// About `centre`.
    sums: [f64; 2],
    centre: f64,
    /// Least and greatest value seen.
    seen: [f64; 2],
    start: f64,
    per_bin: f64,
    below: u32,
    above: u32,
    bins: Vec<u32>,
}

impl Figure {
    /// Nothing seen.
    pub(super) fn new() -> Self {
        Self {
            count: 0,
            sums: [0.0; 2],
            centre: 0.0,
            seen: [f64::INFINITY, f64::NEG_INFINITY],
            start: 0.0,
            per_bin: 0.0,
            below: 0,
            above: 0,
            bins: Vec::new(),
        }
    }

    /// Looks at values of the first draws, which set the range of the histogram.
    pub(super) fn look(&mut self, values: &[f64]) {
        for &x in values {
            self.seen = [self.seen[0].min(x), self.seen[1].max(x)];
        }
    }

    /// Begins to count, with so many bins.
    pub(super) fn open(&mut self, bins: usize) {
        let [low, high] = self.seen;
        let wide = high - low;
        #[allow(clippy::cast_precision_loss, reason = "few bins")]
        let width = SPREAD * wide / bins as f64;
        self.start = low - wide * (SPREAD - 1.0) / 2.0;
        self.per_bin = if width > 0.0 { 1.0 / width } else { 0.0 };
        self.centre = low;
        self.bins = vec![0; bins];
        self.seen = [f64::INFINITY, f64::NEG_INFINITY];
    }

    /// Counts values.
    pub(super) fn add(&mut self, values: &[f64]) {
        #[allow(clippy::cast_precision_loss, reason = "few bins")]
        let end = self.bins.len() as f64;
        for &x in values {
            let off = x - self.centre;
            self.sums[0] += off;
            self.sums[1] += off * off;
            self.seen = [self.seen[0].min(x), self.seen[1].max(x)];
            let place = (x - self.start) * self.per_bin;
            // Where all first draws were the same, there is one bin for that value.
            let same = self.per_bin == 0.0;
            if place < 0.0 || same && x < self.start {
                self.below += 1;
            } else if place >= end || same && x > self.start {
                self.above += 1;
            } else {
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within the bins")]
                let bin = place as usize;
                self.bins[bin] += 1;
            }
        }
        self.count += values.len() as u64;
    }

    /// Its estimate, times a positive factor.
    pub(super) fn estimate(&self, factor: f64) -> Estimate {
        if self.count == 0 {
            return Estimate::default();
        }
        #[allow(clippy::cast_precision_loss, reason = "at most some millions")]
        let n = self.count as f64;
        let off = self.sums[0] / n;
        let variance = if self.count > 1 { (self.sums[1] - n * off * off).max(0.0) / (n - 1.0) } else { 0.0 };
        let error = |p: f64| {
            let by = (p * (1.0 - p) / n).sqrt();
            (self.quantile((p + by).min(1.0)) - self.quantile((p - by).max(0.0))) / 2.0
        };
        let width = if self.per_bin > 0.0 { 1.0 / self.per_bin } else { 0.0 };
        let scaled = |x: f64| x * factor;
        Estimate {
            mean: scaled(self.centre + off),
            mean_error: scaled((variance / n).sqrt()),
            low: scaled(self.quantile(LOW)),
            low_error: scaled(error(LOW)),
            high: scaled(self.quantile(HIGH)),
            high_error: scaled(error(HIGH)),
            resolution: scaled(width),
        }
    }

    /// The value that this share of the draws stays below.
    fn quantile(&self, p: f64) -> f64 {
        #[allow(clippy::cast_precision_loss, reason = "at most some millions")]
        let target = p * self.count as f64;
        let width = if self.per_bin > 0.0 { 1.0 / self.per_bin } else { 0.0 };
        #[allow(clippy::cast_precision_loss, reason = "few bins")]
        let end = self.start + width * self.bins.len() as f64;
        let mut so_far = f64::from(self.below);
        let between = |from: f64, to: f64, before: f64, count: u32| {
            let share = if count > 0 { (target - before) / f64::from(count) } else { 0.0 };
            (from + (to - from) * share).clamp(self.seen[0], self.seen[1])
        };
        if target < so_far {
            return between(self.seen[0], self.start, 0.0, self.below);
        }
        let mut from = self.start;
        for &count in &self.bins {
            if count > 0 && target <= so_far + f64::from(count) {
                return between(from, from + width, so_far, count);
            }
            so_far += f64::from(count);
            from += width;
        }
        between(end, self.seen[1], so_far, self.above)
    }

    /// Bytes it takes.
    #[cfg(test)]
    pub(super) fn size(&self) -> usize {
        size_of::<Self>() + self.bins.capacity() * size_of::<u32>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figure(first: &[f64], all: &[f64]) -> Figure {
        let mut figure = Figure::new();
        figure.look(first);
        figure.open(100);
        figure.add(all);
        figure
    }

    #[test]
    fn mean_deviation_and_quantiles_of_even_numbers_are_those_of_the_formula() {
        // 0 to 999 drawn once each: mean 499.5, variance n(n + 1)/12, quantiles at p·n.
        let all: Vec<f64> = (0..1000).map(f64::from).collect();
        for first in [&all[..], &all[..300], &all[700..]] {
            let of = figure(first, &all).estimate(1.0);
            assert!((of.mean - 499.5).abs() < 1e-9, "{of:?}");
            assert!((of.mean_error - (1001.0 / 12.0_f64).sqrt()).abs() < 1e-9, "{of:?}");
            assert!((of.high - 950.0).abs() <= 1.0, "{of:?}");
            assert!((of.low - 50.0).abs() <= 1.0, "{of:?}");
            // √(0.95 × 0.05 / 1000) × 1000 = 6.89.
            assert!((of.high_error - 6.89).abs() < 1.0, "{of:?}");
        }
    }

    #[test]
    fn a_figure_that_never_changes_has_no_error() {
        let of = figure(&[3.25; 5], &[3.25; 50]).estimate(2.0);
        assert_eq!((of.mean, of.high, of.low), (6.5, 6.5, 6.5));
        assert_eq!((of.mean_error, of.high_error, of.resolution), (0.0, 0.0, 0.0));
    }

    #[test]
    fn what_changes_only_after_the_first_draws_is_counted_too() {
        let mut all = vec![0.0; 90];
        all.extend([1.0; 10]);
        let of = figure(&[0.0; 5], &all).estimate(1.0);
        assert!((of.mean - 0.1).abs() < 1e-12, "{of:?}");
        assert!(of.high > 0.0 && of.high <= 1.0, "{of:?}");
        assert_eq!(of.low, 0.0);
    }
}
