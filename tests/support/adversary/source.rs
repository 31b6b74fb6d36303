//! Choices and numbers taken from bytes, for inputs that are no text. What is left when the bytes end is zero, so that a
//! shorter input asks for something simpler.

/// Bytes being used up.
#[derive(Debug, Clone)]
pub struct Source<'b> {
    left: &'b [u8],
}

/// Numbers that code stumbles over.
const AWKWARD: [f64; 28] = [
    0.0,
    -0.0,
    1.0,
    -1.0,
    0.5,
    2.0,
    3.0,
    1.0e-3,
    1.0e-6,
    1.0e-9,
    1.0e-12,
    1.0e-300,
    5.0e-324,
    1.0e3,
    1.0e6,
    999_999_999.0,
    1.0e9,
    1.000_000_1e9,
    1.0e18,
    9.1e15,
    1.0e300,
    f64::MAX,
    f64::INFINITY,
    f64::NAN,
    45.0,
    90.0,
    180.0,
    360.0,
];

impl<'b> Source<'b> {
    /// From these bytes.
    pub fn new(bytes: &'b [u8]) -> Self {
        Self { left: bytes }
    }

    /// Whether all are used.
    pub fn is_empty(&self) -> bool {
        self.left.is_empty()
    }

    /// The next byte.
    pub fn byte(&mut self) -> u8 {
        match self.left.split_first() {
            Some((first, rest)) => {
                self.left = rest;
                *first
            }
            None => 0,
        }
    }

    /// A whole number below `count`.
    pub fn below(&mut self, count: usize) -> usize {
        usize::from(self.byte()) % count.max(1)
    }

    /// One of a list.
    pub fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    fn bits(&mut self, bytes: usize) -> u64 {
        (0..bytes).fold(0, |bits, _| bits << 8 | u64::from(self.byte()))
    }

    /// From `low` to `high`; often the one or the other, or a whole step between.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        match self.byte() {
            0..=9 => low,
            10..=19 => high,
            20..=127 => low + (high - low) * f64::from(self.byte()) / 255.0,
            _ => {
                #[allow(clippy::cast_precision_loss, reason = "32 bits fit a double")]
                let share = self.bits(4) as f64 / f64::from(u32::MAX);
                low + (high - low) * share
            }
        }
    }

    /// Any number at all; often an awkward one.
    pub fn number(&mut self) -> f64 {
        match self.byte() {
            0..=127 => self.one(&AWKWARD),
            128..=191 => f64::from(self.byte()) - 100.0,
            192..=239 => self.between(-1000.0, 1000.0),
            _ => f64::from_bits(self.bits(8)),
        }
    }

    /// A few characters, plain or not.
    pub fn word(&mut self) -> String {
        let length = self.below(9);
        (0..length)
            .map(|_| match self.byte() {
                0..=199 => char::from(b'a' + self.byte() % 26),
                _ => {
                    char::from_u32(u32::from(self.byte()) << 8 | u32::from(self.byte())).unwrap_or('\u{fffd}')
                }
            })
            .collect()
    }
}
