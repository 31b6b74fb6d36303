//! Which variants are drawn where more were kept than fit: those that lie farthest apart.
//!
//! Distance is, half and half, how far the outlines seen from south and east lie apart (mean of the differences at 24
//! heights, and of the height) and how far the choices lie apart (mean over the choices, a range counting as 1), each as
//! a share of the greatest there is. The first drawn is the work as it is now, or the first kept; then always that
//! whose nearest drawn one is farthest (T. F. Gonzalez, "Clustering to minimize the maximum intercluster distance",
//! Theoretical Computer Science 38, 1985, from memory: no choice of as many covers the kept ones twice as well).

use super::{Tried, Variant};
use crate::choice::{Choice, Picks};

/// Indices of the variants to draw, ascending: all that were kept, or so many of them.
pub fn choose(tried: &Tried, most: usize) -> Vec<usize> {
    let kept: Vec<usize> =
        (0..tried.variants.len()).filter(|&i| tried.variants[i].kept().is_some()).collect();
    if kept.len() <= most || most == 0 {
        return kept.into_iter().take(most).collect();
    }
    let distances = Distances::new(tried, &kept);
    let start = kept.iter().position(|&i| tried.is_present(&tried.variants[i])).unwrap_or(0);
    let mut chosen = vec![start];
    let mut nearest: Vec<f64> = (0..kept.len()).map(|k| distances.between(start, k)).collect();
    while chosen.len() < most {
        // Of equals the first.
        let far = |best: usize, k: usize| if nearest[k] > nearest[best] { k } else { best };
        let open = (0..kept.len()).filter(|k| !chosen.contains(k));
        let Some(next) = open.reduce(far) else { break };
        chosen.push(next);
        for (k, near) in nearest.iter_mut().enumerate() {
            *near = near.min(distances.between(next, k));
        }
    }
    let mut indices: Vec<usize> = chosen.into_iter().map(|k| kept[k]).collect();
    indices.sort_unstable();
    indices
}

/// Distances of the kept variants.
struct Distances<'a> {
    choices: &'a [Choice],
    kept: Vec<(&'a Variant, Picks)>,
    /// Greatest distance of outlines, mm, and of choices; 1 where all are alike.
    greatest: [f64; 2],
}

impl<'a> Distances<'a> {
    fn new(tried: &'a Tried, kept: &[usize]) -> Self {
        let kept: Vec<(&Variant, Picks)> =
            kept.iter().map(|&i| (&tried.variants[i], tried.variants[i].picks())).collect();
        let mut all = Self { choices: &tried.choices, kept, greatest: [1.0; 2] };
        let mut greatest = [0.0_f64; 2];
        for a in 0..all.kept.len() {
            for b in 0..a {
                let raw = all.raw(a, b);
                greatest = [greatest[0].max(raw[0]), greatest[1].max(raw[1])];
            }
        }
        all.greatest = greatest.map(|x| if x > 0.0 { x } else { 1.0 });
        all
    }

    fn between(&self, a: usize, b: usize) -> f64 {
        let raw = self.raw(a, b);
        f64::midpoint(raw[0] / self.greatest[0], raw[1] / self.greatest[1])
    }

    fn raw(&self, a: usize, b: usize) -> [f64; 2] {
        let ((va, pa), (vb, pb)) = (&self.kept[a], &self.kept[b]);
        let outlines = match (va.kept(), vb.kept()) {
            (Some(a), Some(b)) => {
                let (a, b) = (&a.silhouette, &b.silhouette);
                let spans = a.spans.iter().flatten().zip(b.spans.iter().flatten());
                let sum: f64 = spans.map(|(x, y)| (x - y).abs()).sum();
                #[allow(clippy::cast_precision_loss, reason = "a hundred")]
                let count = a.spans.as_flattened().len() as f64;
                sum / count + (a.height - b.height).abs()
            }
            _ => 0.0,
        };
        let of_choice = |c: &Choice| match (pa.get(&c.name), pb.get(&c.name)) {
            (Some(x), Some(y)) => c.apart(x, y),
            (None, None) => 0.0,
            _ => 1.0,
        };
        #[allow(clippy::cast_precision_loss, reason = "few choices")]
        let count = self.choices.len().max(1) as f64;
        [outlines, self.choices.iter().map(of_choice).sum::<f64>() / count]
    }
}
