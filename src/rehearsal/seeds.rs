//! Random streams that never depend on one another.

use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

/// What a stream of random numbers is for: each purpose has its own, so that a draw more in one changes no other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// The coefficients of the shadow field.
    Shadow,
    /// The waves of fast fading.
    Fading,
    /// Bursts of interference at the station.
    StationBursts,
    /// Bursts of interference at the board.
    BoardBursts,
    /// Reading noise and the chance of each exchange.
    Exchanges,
    /// Times of the lines: round trips, the delays of a serial line.
    Timing,
    /// The drift of the position receiver.
    Receiver,
    /// The make-up of a drawn world.
    World,
    /// The make-up of a drawn walk or board.
    Plan,
}

/// The stream for one purpose. PCG XSL-RR 128/64 MCG (O'Neill 2014, HMC-CS-2014-0905), named so that the same seed
/// gives the same numbers in every build.
pub fn stream(seed: u64, purpose: Purpose) -> Pcg64Mcg {
    let first = scramble(seed ^ scramble(purpose as u64 + 1));
    let second = scramble(first ^ seed.rotate_left(32));
    let mut bytes = [0_u8; 16];
    bytes[..8].copy_from_slice(&first.to_le_bytes());
    bytes[8..].copy_from_slice(&second.to_le_bytes());
    Pcg64Mcg::from_seed(bytes)
}

/// A number in [0, 1) that belongs to a key: the same key always gives the same number.
pub fn share_of(key: u64) -> f64 {
    (scramble(key) >> 11) as f64 / (1_u64 << 53) as f64
}

/// The finishing step of `SplitMix64` (Steele, Lea and Flood 2014): every bit of the result hangs on every bit given.
const fn scramble(key: u64) -> u64 {
    let mut z = key.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use rand::RngExt;

    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_numbers_and_another_purpose_others() {
        let mut one = stream(7, Purpose::Shadow);
        let mut same = stream(7, Purpose::Shadow);
        let mut other = stream(7, Purpose::Fading);
        let drawn: [u64; 3] = one.random();
        assert_eq!(drawn, same.random::<[u64; 3]>());
        assert_ne!(drawn, other.random::<[u64; 3]>());
    }

    #[test]
    fn scramble_is_splitmix64() {
        // First output of SplitMix64 seeded with 0, as published with the xoshiro generators (Blackman and Vigna,
        // prng.di.unimi.it/splitmix64.c; value from memory).
        assert_eq!(scramble(0), 0xE220_A839_7B1D_CDAF);
        assert!((0.0..1.0).contains(&share_of(12)));
    }
}
