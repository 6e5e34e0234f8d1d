//! A small generator of numbers that look random: the same in every run, on every machine.

/// Its state.
#[derive(Debug, Clone)]
pub struct Random(u64);

impl Random {
    /// From a number and a text, such as the name of a test.
    #[must_use]
    pub fn seeded(seed: u64, text: &str) -> Self {
        // FNV-1a over the text, so that each text has draws of its own.
        let start = 0xcbf2_9ce4_8422_2325_u64 ^ seed;
        Self(text.bytes().fold(start, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3)))
    }

    /// The next 64 bits (SplitMix64, from memory).
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A whole number from 0 to below `end`; 0 where that is 0.
    pub fn below(&mut self, end: usize) -> usize {
        let end = u64::try_from(end).unwrap_or(u64::MAX).max(1);
        usize::try_from(self.bits() % end).unwrap_or(0)
    }

    /// A whole number between two, both included.
    pub fn between(&mut self, low: i64, high: i64) -> i64 {
        let span = u64::try_from(high.saturating_sub(low)).unwrap_or(0).saturating_add(1);
        low.saturating_add(i64::try_from(self.bits() % span).unwrap_or(0))
    }

    /// True once in so many times.
    pub fn once_in(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }

    /// One of a list.
    pub fn choose<'a, T>(&mut self, list: &'a [T]) -> Option<&'a T> {
        let at = self.below(list.len());
        list.get(at)
    }
}
