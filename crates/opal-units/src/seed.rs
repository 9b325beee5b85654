//! Seeded streams: every random number is a function of (seed, purpose, index),
//! never of the order in which threads ran.

use rand::SeedableRng;

/// The generator behind every draw: named, so that the bytes of a run can be
/// had again from its seed.
pub type Rng = rand_xoshiro::Xoshiro256PlusPlus;

/// What a run started from.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct Seed(pub u64);

impl Seed {
    /// The stream for one purpose and one index.
    ///
    /// `purpose` is a short constant such as `"bar-top"`: two purposes never
    /// share numbers, and adding one never moves another.
    #[must_use]
    pub fn stream(self, purpose: &str, index: u64) -> Rng {
        Rng::seed_from_u64(self.mixed(purpose, index))
    }

    /// A seed of its own for a sub-task.
    #[must_use]
    pub fn child(self, purpose: &str, index: u64) -> Self {
        Self(self.mixed(purpose, index))
    }

    fn mixed(self, purpose: &str, index: u64) -> u64 {
        // FNV-1a over the purpose, then two rounds of SplitMix64 finalisation.
        let mut word = 0xcbf2_9ce4_8422_2325_u64;
        for byte in purpose.bytes() {
            word = (word ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
        finalise(finalise(self.0 ^ word).wrapping_add(index.wrapping_mul(0x9e37_79b9_7f4a_7c15)))
    }
}

/// SplitMix64's finaliser (Steele, Lea & Flood 2014, "Fast splittable
/// pseudorandom number generators", OOPSLA).
fn finalise(mut z: u64) -> u64 {
    z = z.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::Rng as _;

    #[test]
    fn same_key_same_numbers_other_key_other_numbers() {
        let draw = |seed: u64, purpose: &str, i: u64| Seed(seed).stream(purpose, i).next_u64();
        assert_eq!(draw(7, "bar", 3), draw(7, "bar", 3));
        assert_ne!(draw(7, "bar", 3), draw(7, "bar", 4));
        assert_ne!(draw(7, "bar", 3), draw(7, "speck", 3));
        assert_ne!(draw(7, "bar", 3), draw(8, "bar", 3));
    }
}
