//! A small source of numbers that is the same on every machine.
//! Method: splitmix64, from G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number
//! generators", OOPSLA 2014, figure 17 with the constants of its reference implementation (from memory).

/// The source.
#[derive(Debug, Clone)]
pub struct Random(u64);

impl Random {
    /// A source that always gives the same numbers for the same seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// From `low` up to `high`, evenly.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        #[allow(clippy::cast_precision_loss, reason = "53 bits fit a double")]
        let share = (self.bits() >> 11) as f64 / (1_u64 << 53) as f64;
        low + (high - low) * share
    }

    /// A standard normal number (Box and Muller's method, 1958).
    pub fn normal(&mut self) -> f64 {
        // From 1 down to above 0, so that the logarithm is finite.
        let radius = (-2.0 * (1.0 - self.between(0.0, 1.0)).ln()).sqrt();
        radius * self.between(0.0, std::f64::consts::TAU).cos()
    }

    /// A whole number below `count`.
    pub fn below(&mut self, count: usize) -> usize {
        #[allow(clippy::cast_possible_truncation, reason = "below count")]
        let n = (self.bits() % (count.max(1) as u64)) as usize;
        n
    }

    /// True this often out of a hundred times.
    pub fn percent(&mut self, often: usize) -> bool {
        self.below(100) < often
    }

    /// One of a list.
    pub fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    /// A direction, evenly over the sphere.
    pub fn direction(&mut self) -> nalgebra::Vector3<f64> {
        let z = self.between(-1.0, 1.0);
        let angle = self.between(0.0, std::f64::consts::TAU);
        let r = (1.0 - z * z).sqrt();
        nalgebra::Vector3::new(r * angle.cos(), r * angle.sin(), z)
    }
}
