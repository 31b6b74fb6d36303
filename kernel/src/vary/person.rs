//! A person, or a rule, beside a picture: what tells how large the work is.

use crate::drawing::{Layer, Path};

/// Height of the person, mm.
pub(super) const PERSON: f64 = 1750.0;
/// Length of the rule that stands beside works too small for a person, mm.
pub(super) const RULE: f64 = 300.0;
/// A work lower than this has the rule, mm.
const SMALL: f64 = 900.0;

/// Right half of a person seen from the front, from the crotch round to the neck: across and up, mm.
const HALF: [[f64; 2]; 22] = [
    [0.0, 830.0],
    [28.0, 790.0],
    [48.0, 470.0],
    [42.0, 90.0],
    [45.0, 0.0],
    [135.0, 0.0],
    [118.0, 80.0],
    [148.0, 470.0],
    [172.0, 880.0],
    [140.0, 1060.0],
    [150.0, 1170.0],
    [165.0, 1290.0],
    [188.0, 1120.0],
    [208.0, 880.0],
    [215.0, 765.0],
    [248.0, 765.0],
    [256.0, 890.0],
    [248.0, 1110.0],
    [226.0, 1350.0],
    [188.0, 1415.0],
    [72.0, 1455.0],
    [48.0, 1520.0],
];

/// The measure that stands beside works whose tallest is this high.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Measure {
    Person,
    Rule,
}

impl Measure {
    pub(super) fn beside(height: f64) -> Self {
        if height < SMALL { Self::Rule } else { Self::Person }
    }

    /// In words.
    pub(super) fn words(self) -> String {
        match self {
            Self::Person => format!("person {:.2} m", PERSON / 1000.0),
            Self::Rule => format!("rule {RULE} mm"),
        }
    }

    /// Half of its width, mm.
    pub(super) fn half_width(self) -> f64 {
        match self {
            Self::Person => 256.0,
            Self::Rule => 15.0,
        }
    }

    /// Its height, mm.
    pub(super) fn height(self) -> f64 {
        match self {
            Self::Person => PERSON,
            Self::Rule => RULE,
        }
    }

    /// Its lines, upright: across and up from the middle between its feet, mm.
    pub(super) fn paths(self) -> Vec<Path> {
        match self {
            Self::Person => {
                let right = HALF.iter().copied();
                let left = HALF[1..].iter().rev().map(|[x, y]| [-x, *y]);
                let head = (0..24).map(|k| {
                    let (sin, cos) = (f64::from(k) * 15.0).to_radians().sin_cos();
                    [80.0 * cos, 1632.0 + 118.0 * sin]
                });
                vec![
                    Path::closed(Layer::Mark, right.chain(left).collect()),
                    Path::closed(Layer::Mark, head.collect()),
                ]
            }
            Self::Rule => {
                let w = self.half_width();
                let mut paths =
                    vec![Path::closed(Layer::Mark, vec![[-w, 0.0], [w, 0.0], [w, RULE], [-w, RULE]])];
                paths.extend((1..30).map(|k| {
                    let y = f64::from(k) * 10.0;
                    let long = if k % 10 == 0 { -w } else { w * 0.4 };
                    Path::open(Layer::Mark, vec![[w, y], [long, y]])
                }));
                paths
            }
        }
    }
}
