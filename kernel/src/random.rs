//! A small source of numbers that is the same on every machine: splitmix64 (G. Steele, D. Lea, C. Flood, "Fast
//! splittable pseudorandom number generators", 2014; constants from memory).

/// What bytes come to by FNV-1a, 64 bits (G. Fowler, L. C. Noll and K.-P. Vo; constants from memory): the same on every
/// machine, and no secret.
pub fn hash(bytes: impl IntoIterator<Item = u8>) -> u64 {
    const START: u64 = 0xCBF2_9CE4_8422_2325;
    const PRIME: u64 = 0x0000_0100_0000_01B3;
    bytes.into_iter().fold(START, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(PRIME))
}

/// The source, with its seed.
#[derive(Debug, Clone)]
pub struct Random(pub(crate) u64);

impl Random {
    /// A source; the same seed gives the same numbers.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// One of 0 to `count` − 1; 0 where `count` is 0.
    pub fn below(&mut self, count: usize) -> usize {
        #[allow(clippy::cast_possible_truncation, reason = "below count")]
        let found = (self.next() % count.max(1) as u64) as usize;
        found
    }

    /// From 0 up to, but not, 1.
    #[allow(clippy::cast_precision_loss, reason = "the upper 53 bits, which a float holds exactly")]
    pub fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// From `low` up to `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }
}

#[cfg(test)]
impl Random {
    /// One of 0 to `count` − 1, as a share of `count`.
    pub(crate) fn pick(&mut self, count: usize) -> usize {
        ((self.share() * count as f64) as usize).min(count - 1)
    }
}
