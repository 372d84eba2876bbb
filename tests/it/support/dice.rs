//! A small source of random choices, the same on every machine for the same seed.

/// SplitMix64 (S. Vigna, public domain).
#[derive(Clone)]
pub struct Dice(u64);

impl Dice {
    /// Starts from a seed; neighbouring seeds give unrelated choices.
    pub fn new(seed: u64) -> Dice {
        Dice(seed)
    }

    /// The next 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A whole number from 0 to `n` − 1; 0 if `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        (self.bits() >> 16) as usize % n.max(1)
    }

    /// True in so many of a hundred.
    pub fn percent(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }

    /// A fraction from 0 to 1, in steps of a thousandth.
    pub fn share(&mut self) -> f64 {
        self.below(1001) as f64 / 1000.0
    }

    /// A number from `from` to `to`, in steps of a thousandth of the way.
    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.share()
    }

    /// One of some things.
    pub fn pick<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        &from[self.below(from.len())]
    }

    /// Puts things into a random order.
    pub fn shuffle<T>(&mut self, things: &mut [T]) {
        for at in (1..things.len()).rev() {
            things.swap(at, self.below(at + 1));
        }
    }
}
