//! Figures from two published sets of rules, as examples of what such rules limit; never a permission.

use crate::units::{Db, Dbm};

/// What is said wherever a transmit power is named.
pub const CHECK_LOCAL_RULES: &str = "check your local rules before transmitting: what power, aerial and channel are allowed \
     differs from place to place, and nothing here says what is allowed where you are";

/// One figure out of a set of rules.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Example {
    /// What is limited.
    pub what: &'static str,
    /// The figure.
    pub value: f64,
    /// Its unit.
    pub unit: &'static str,
    /// The clause it was read from; rules are revised, so an old figure may no longer stand.
    pub source: &'static str,
}

/// Examples, every one of them subject to [`CHECK_LOCAL_RULES`].
pub const EXAMPLES: &[Example] = &[
    Example {
        what: "radiated power, wideband equipment at 2400 to 2483.5 MHz",
        value: 20.0,
        unit: "dBm e.i.r.p.",
        source: "ETSI EN 300 328 V2.2.2 (2019), 4.3.1.2.3 and 4.3.2.2.3",
    },
    Example {
        what: "radiated power density, wideband modulation without hopping",
        value: 10.0,
        unit: "dBm/MHz e.i.r.p.",
        source: "ETSI EN 300 328 V2.2.2 (2019), 4.3.2.3.3",
    },
    Example {
        what: "time in the air, equipment that does not listen first, above 10 dBm e.i.r.p.",
        value: 10.0,
        unit: "%",
        source: "ETSI EN 300 328 V2.2.2 (2019), 4.3.1.6 and 4.3.2.5",
    },
    Example {
        what: "conducted power, other hopping equipment",
        value: 0.125,
        unit: "W",
        source: "47 CFR 15.247(b)(1)",
    },
    Example {
        what: "aerial gain above which conducted power is reduced",
        value: 6.0,
        unit: "dBi",
        source: "47 CFR 15.247(b)(4)",
    },
    Example {
        what: "conducted power density, digital modulation",
        value: 8.0,
        unit: "dBm per 3 kHz",
        source: "47 CFR 15.247(e)",
    },
];

/// How a station with a gainful aerial is used, in the example of 47 CFR 15.247.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ExampleUse {
    /// Talks to several others: 1 dB less for each decibel of gain above 6 dBi (47 CFR 15.247(b)(4)).
    PointToMultipoint,
    /// Both ends fixed: 1 dB less for every 3 dB of gain above 6 dBi, rounded up (47 CFR 15.247(c)(1)(i)).
    FixedPointToPoint,
}

/// How much room a radiated power leaves under a ceiling: positive below it, negative above.
pub fn headroom(radiated: Dbm, ceiling: Dbm) -> Db {
    ceiling - radiated
}

/// The highest conducted power in the example of 47 CFR 15.247, by aerial gain over isotropic: 30 dBm, less what the gain costs.
///
/// Subject to [`CHECK_LOCAL_RULES`].
pub fn example_conducted_ceiling(gain: Db, use_as: ExampleUse) -> Dbm {
    let above = (gain.0 - 6.0).max(0.0);
    Dbm(30.0
        - match use_as {
            ExampleUse::PointToMultipoint => above,
            ExampleUse::FixedPointToPoint => (above / 3.0).ceil(),
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_example_names_its_clause() {
        assert!(
            EXAMPLES
                .iter()
                .all(|example| example.source.contains("EN 300 328") || example.source.contains("47 CFR"))
        );
        assert!(CHECK_LOCAL_RULES.contains("local rules"));
    }
}
