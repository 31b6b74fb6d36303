//! The sine profile: a cosine wave, crest at t = 0.
//!
//! Its strips are chords with their ends on the wave, at most [`CHORD_TOLERANCE`] off it; their developed
//! widths are the true arc lengths. With amplitude a, pitch p and k = 2πa/p one pitch is
//! (2p/π) √(1+k²) E(k²/(1+k²)) long, E the complete elliptic integral of the second kind.

use super::{CHORD_TOLERANCE, DEPTH, PITCH, Piece, Profile, ProfileKind, Strip, THICKNESS};
use crate::error::{Error, Result};
use crate::settings::Values;

/// The registry row.
pub const ROW: ProfileKind = ProfileKind {
    name: "sine",
    summary: "a sine wave, as common roofing sheet",
    settings: &[PITCH, DEPTH, THICKNESS],
    build,
};

/// Most chords of a quarter wave; the largest wave allowed needs about a third of it.
const MOST_CHORDS: usize = 4096;

/// Steps of the table by which chords are spread over a quarter wave.
const SPREAD_STEPS: usize = 512;

/// Nodes (positive half) and weights of the ten-point Gauss-Legendre rule on −1 to 1
/// (Abramowitz and Stegun, Handbook of Mathematical Functions, table 25.4).
const GAUSS: [[f64; 2]; 5] = [
    [0.148_874_338_981_631_21, 0.295_524_224_714_752_87],
    [0.433_395_394_129_247_2, 0.269_266_719_309_996_36],
    [0.679_409_568_299_024_4, 0.219_086_362_515_982_04],
    [0.865_063_366_688_984_5, 0.149_451_349_150_580_6],
    [0.973_906_528_517_171_7, 0.066_671_344_308_688_14],
];

fn build(values: &Values) -> Result<Profile> {
    shape(values.number("pitch"), values.number("depth"), values.number("thickness"))
}

struct Wave {
    amplitude: f64,
    /// Radians per mm.
    rate: f64,
}

impl Wave {
    fn height(&self, t: f64) -> f64 {
        self.amplitude * (self.rate * t).cos()
    }

    fn angle(&self, t: f64) -> f64 {
        -(self.amplitude * self.rate * (self.rate * t).sin()).atan()
    }

    fn arc_length(&self, from: f64, to: f64) -> f64 {
        let (half, middle) = ((to - from) / 2.0, f64::midpoint(from, to));
        let speed = |t: f64| 1.0_f64.hypot(self.amplitude * self.rate * (self.rate * t).sin());
        GAUSS.iter().map(|[x, w]| w * (speed(middle - half * x) + speed(middle + half * x))).sum::<f64>()
            * half
    }

    /// Greatest distance of the wave from its chord within a quarter wave (where its slope is the chord's).
    fn sagitta(&self, from: f64, to: f64) -> f64 {
        let slope = (self.height(to) - self.height(from)) / (to - from);
        let sine = (-slope / (self.amplitude * self.rate)).clamp(-1.0, 1.0);
        let touch = (sine.asin() / self.rate).clamp(from, to);
        (self.height(touch) - self.height(from) - slope * (touch - from)).abs() / 1.0_f64.hypot(slope)
    }

    /// Folds of the quarter wave from crest to mid-depth, closer where it curves more.
    fn quarter(&self) -> Option<Vec<f64>> {
        let quarter = std::f64::consts::FRAC_PI_2 / self.rate;
        #[allow(clippy::cast_precision_loss, reason = "small counts")]
        let at = |k: usize| quarter * k as f64 / SPREAD_STEPS as f64;
        // A chord of length L lies κL²/8 off its curve: folds evenly spread in ∫√κ ds make that even.
        let density = |t: f64| {
            let angle = self.angle(t);
            (self.amplitude * self.rate * self.rate * (self.rate * t).cos() * angle.cos()).abs().sqrt()
        };
        let mut total = vec![0.0];
        for k in 1..=SPREAD_STEPS {
            total.push(total[k - 1] + density(f64::midpoint(at(k - 1), at(k))));
        }
        let mut count = 1;
        while count <= MOST_CHORDS {
            #[allow(clippy::cast_precision_loss, reason = "small counts")]
            let fold = |j: usize| {
                if j == count {
                    return quarter;
                }
                let want = total[SPREAD_STEPS] * j as f64 / count as f64;
                let k = total.partition_point(|x| *x <= want).clamp(1, SPREAD_STEPS);
                at(k - 1) + (at(k) - at(k - 1)) * (want - total[k - 1]) / (total[k] - total[k - 1])
            };
            let folds: Vec<f64> = (0..=count).map(fold).collect();
            if folds.windows(2).all(|w| self.sagitta(w[0], w[1]) <= CHORD_TOLERANCE) {
                return Some(folds);
            }
            count += 1 + count / 16;
        }
        None
    }
}

/// The profile of a wave.
pub(super) fn shape(pitch: f64, depth: f64, thickness: f64) -> Result<Profile> {
    let wave = Wave { amplitude: depth / 2.0, rate: std::f64::consts::TAU / pitch };
    let Some(quarter) = wave.quarter() else {
        return Err(Error::input(format!("a wave {depth} mm deep every {pitch} mm needs too many chords"))
            .remedy("make it less deep or the pitch wider")
            .at(ROW.name));
    };
    let half: Vec<f64> =
        quarter.iter().copied().chain(quarter.iter().rev().skip(1).map(|t| pitch / 2.0 - t)).collect();
    let folds: Vec<f64> = half.iter().copied().chain(half.iter().rev().skip(1).map(|t| pitch - t)).collect();
    let (mut strips, mut pieces, mut w) = (Vec::new(), Vec::new(), 0.0);
    for (piece, fold) in folds.windows(2).enumerate() {
        let (from, to) = (fold[0], fold[1]);
        let length = wave.arc_length(from, to);
        let turn = wave.angle(from) - wave.angle(to);
        pieces.push(Piece::Bend { radius: length / turn.abs(), turn });
        let h = [wave.height(from), wave.height(to)];
        strips.push(Strip { t: [from, to], h, w: [w, w + length], gain: turn, piece });
        w += length;
    }
    let crest_radius = 1.0 / (wave.amplitude * wave.rate * wave.rate);
    let inside = (crest_radius - thickness / 2.0).max(0.0);
    Profile::from_strips(ROW.name, pitch, pieces, strips, thickness, inside)?.exactly(pitch, depth)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Complete elliptic integral of the second kind by the arithmetic-geometric mean (Abramowitz and
    /// Stegun, section 17.6), for the parameter m = k².
    fn elliptic_e(m: f64) -> f64 {
        let (mut a, mut b, mut power, mut sum) = (1.0_f64, (1.0 - m).sqrt(), 1.0, m / 2.0);
        for _ in 0..8 {
            let c = (a - b) / 2.0;
            (a, b) = (f64::midpoint(a, b), (a * b).sqrt());
            sum += power * c * c;
            power *= 2.0;
        }
        std::f64::consts::FRAC_PI_2 / a * (1.0 - sum)
    }

    #[test]
    fn length_is_the_elliptic_integral() {
        for (pitch, depth) in [(76.2, 18.0), (76.0, 18.0), (31.8, 9.0), (200.0, 0.5), (100.0, 200.0)] {
            let k = std::f64::consts::PI * depth / pitch;
            let m = k * k / (1.0 + k * k);
            let want = 2.0 * pitch / std::f64::consts::PI * (1.0 + k * k).sqrt() * elliptic_e(m);
            let got = shape(pitch, depth, 0.5).unwrap().developed_length(0.0);
            assert!((got / want - 1.0).abs() < 1e-10, "{pitch} {depth}: {got} {want}");
        }
        // Published: one period of sin x is 7.640395578055425 long (textbook value, recomputed).
        let tau = std::f64::consts::TAU;
        let got = shape(tau * 100.0, 200.0, 1.0).unwrap().developed_length(0.0) / 100.0;
        assert!((got - 7.640_395_578_055_425).abs() < 1e-9, "{got}");
        let got = shape(76.2, 18.0, 1.0).unwrap().developed_length(0.0);
        assert!((got - 85.800_626).abs() < 0.51e-6, "{got}");
    }

    #[test]
    fn folds_lie_on_the_wave_and_chords_within_tolerance() {
        let rib = shape(76.2, 18.0, 1.0).unwrap();
        assert!(rib.strips().len() <= 40, "{} strips", rib.strips().len());
        let wave = |t: f64| 9.0 * (std::f64::consts::TAU * t / 76.2).cos();
        for strip in rib.strips() {
            assert!((strip.h[0] - wave(strip.t[0])).abs() < 1e-9);
            for k in 1..8 {
                let t = strip.t[0] + (strip.t[1] - strip.t[0]) * f64::from(k) / 8.0;
                let angle = (strip.h[1] - strip.h[0]).atan2(strip.t[1] - strip.t[0]);
                assert!((rib.height(t) - wave(t)).abs() * angle.cos() <= CHORD_TOLERANCE * 1.001);
            }
        }
    }

    #[test]
    fn wave_tighter_than_the_sheet_is_thick_is_refused() {
        assert!(shape(10.0, 9.0, 8.0).unwrap_err().to_string().contains("cannot follow"));
    }
}
