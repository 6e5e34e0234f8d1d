//! Numbers for draws.

/// Numbers that look random, the same in every run (SplitMix64, from memory).
pub struct Random(pub u64);

impl Random {
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.bits() % u64::try_from(end.max(1)).unwrap()).unwrap()
    }

    /// Thousandths between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        let part = f64::from(u32::try_from(self.bits() % 1_000_001).unwrap()) / 1e6;
        ((low + (high - low) * part) * 1e3).round() / 1e3
    }

    pub fn one<'a, T>(&mut self, list: &'a [T]) -> Option<&'a T> {
        list.get(self.below(list.len()))
    }
}
