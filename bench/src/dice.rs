//! Random numbers, the same for the same seed on every machine.

/// SplitMix64.
pub struct Dice(u64);

impl Dice {
    /// Number `index` of the sequences of a seed; each is a stream of its own.
    pub fn new(seed: u64, index: u64) -> Self {
        let mut dice = Dice(seed.wrapping_mul(0xd134_2543_de82_ef95).rotate_left(29) ^ 0x5851_f42d_4c95_7f2d);
        Dice(dice.bits() ^ index.wrapping_mul(0xd134_2543_de82_ef95).rotate_left(17))
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Even between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * ((self.bits() >> 11) as f64 / (1u64 << 53) as f64)
    }

    /// Even in the logarithm between two numbers above zero.
    pub fn spread(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// True with this chance.
    pub fn chance(&mut self, share: f64) -> bool {
        self.between(0.0, 1.0) < share
    }
}
