//! A path that ends among trees.

use super::Published;
use super::published::{not_negative, positive};
use crate::units::{Db, Megahertz, Metres};

/// The formula and its source.
pub const PUBLISHED: Published = Published {
    formula: "A = Am (1 - exp(-d g / Am)) dB, d metres of trees, g dB a metre, Am the most it comes to",
    source: "Rec. ITU-R P.833-10 (2021), 2.1; mixed forest at 2117.5 MHz and below: P.833-9, Table 1",
};

/// What a wood does to a signal that runs through it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wood {
    /// Loss for each of the first metres, decibels a metre, above zero.
    pub db_per_m: f64,
    /// The most the wood can add, above zero: past it the signal goes over and around.
    pub most: Db,
}

/// Measured mixed forest: frequency in MHz, loss in dB/m, most in dB (Rec. ITU-R P.833-9, 2.1, Table 1; not read in the original,
/// but two transcriptions of it agree).
const MIXED_FOREST: [(f64, f64, f64); 5] = [
    (105.9, 0.04, 9.4),
    (466.475, 0.12, 18.0),
    (949.0, 0.17, 26.5),
    (1852.2, 0.30, 29.0),
    (2117.5, 0.34, 34.1),
];

/// The measured mixed forest whose frequency is nearest (by ratio): nothing is carried beyond what was measured. At 2.4 GHz
/// that is the row of 2117.5 MHz, which there may be some 10 % too mild.
pub fn mixed_forest(frequency: Megahertz) -> Option<Wood> {
    let log = positive(frequency.0)?.ln();
    MIXED_FOREST
        .iter()
        .min_by(|a, b| (a.0.ln() - log).abs().total_cmp(&(b.0.ln() - log).abs()))
        .map(|&(_, db_per_m, most)| Wood {
            db_per_m,
            most: Db(most),
        })
}

/// What trees add to the loss of the same path without them: `A_m (1 - exp(-d γ / A_m))`, `depth` metres of them.
///
/// For a path with one end inside or behind the wood, both aerials below the tops. `None` for a negative depth or a wood
/// without loss.
pub fn excess(wood: Wood, depth: Metres) -> Option<Db> {
    let most = positive(wood.most.0)?;
    let depth = not_negative(depth.0)?;
    Some(Db(-most * (-depth * positive(wood.db_per_m)? / most).exp_m1()))
}

/// The most a wood adds by frequency, `A_m = A_1 f^α` with f in MHz (same source; `A_1` and α are measured for one wood and hold
/// in the band they were measured in).
pub fn most(a1: Db, alpha: f64, frequency: Megahertz) -> Option<Db> {
    positive(a1.0 * positive(frequency.0)?.powf(alpha)).map(Db)
}

/// A general handbook formula for comparison (M. A. Weissberger, ESD-TR-81-101, 1982, from memory): `0.45 f^0.284 d` up to 14 m,
/// `1.33 f^0.284 d^0.588` up to 400 m, f in GHz; `None` beyond.
pub fn weissberger(frequency: Megahertz, depth: Metres) -> Option<Db> {
    let f = (positive(frequency.0)? / 1000.0).powf(0.284);
    let d = not_negative(depth.0)?;
    if d <= 14.0 {
        Some(Db(0.45 * f * d))
    } else if d <= 400.0 {
        Some(Db(1.33 * f * d.powf(0.588)))
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_trees_no_loss_and_never_more_than_the_most() {
        let wood = mixed_forest(Megahertz(2437.0)).unwrap();
        assert_eq!(
            wood,
            Wood {
                db_per_m: 0.34,
                most: Db(34.1)
            }
        );
        assert_eq!(excess(wood, Metres(0.0)), Some(Db(0.0)));
        assert!((excess(wood, Metres(1e6)).unwrap().0 - 34.1).abs() < 1e-9);
        assert_eq!(excess(wood, Metres(-1.0)), None);
        assert_eq!(weissberger(Megahertz(2437.0), Metres(401.0)), None);
    }
}
