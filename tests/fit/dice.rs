//! Random numbers for tests, the same on every machine.

/// Random numbers, the same for the same seed (SplitMix64; Box and Muller).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        // Not a multiple of the step below: neighboring seeds would give one sequence, shifted.
        Dice(seed.wrapping_mul(0xd134_2543_de82_ef95).rotate_left(29) ^ 0x5851_f42d_4c95_7f2d)
    }

    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}
