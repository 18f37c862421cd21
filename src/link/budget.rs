//! A link budget: a transmit power and every gain and loss on its way, each with its name and source.

use serde::Serialize;

use crate::units::{Db, Dbm};

/// A level built up term by term, in the order the signal meets them.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Budget {
    /// What the transmitter gives.
    pub transmit_dbm: Dbm,
    /// Where that figure comes from.
    pub transmit_source: String,
    /// The terms in order.
    pub terms: Vec<Term>,
}

/// One gain or loss.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Term {
    /// What it is, in words.
    pub name: String,
    /// What it adds: a gain is positive, a loss negative.
    pub adds_db: Db,
    /// The level once it is added.
    pub level_dbm: Dbm,
    /// The formula, rule or person it comes from.
    pub source: String,
}

impl Budget {
    /// A budget that so far holds the transmit power alone.
    pub fn new(transmit: Dbm, source: impl Into<String>) -> Self {
        Self {
            transmit_dbm: transmit,
            transmit_source: source.into(),
            terms: Vec::new(),
        }
    }

    /// Adds a gain (positive raises the level).
    #[must_use]
    pub fn gain(mut self, name: impl Into<String>, gain: Db, source: impl Into<String>) -> Self {
        let level = self.level() + gain;
        self.terms.push(Term {
            name: name.into(),
            adds_db: gain,
            level_dbm: level,
            source: source.into(),
        });
        self
    }

    /// Adds a loss (positive lowers the level).
    #[must_use]
    pub fn loss(self, name: impl Into<String>, loss: Db, source: impl Into<String>) -> Self {
        self.gain(name, -loss, source)
    }

    /// The level after the last term.
    pub fn level(&self) -> Dbm {
        self.terms.last().map_or(self.transmit_dbm, |term| term.level_dbm)
    }

    /// How far the level stands above a threshold; negative when it does not reach it.
    pub fn margin(&self, threshold: Dbm) -> Db {
        self.level() - threshold
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn terms_keep_a_running_level() {
        let budget =
            Budget::new(Dbm(15.0), "given")
                .gain("aerial", Db(2.0), "given")
                .loss("free space", Db(80.0), "P.525");
        assert_eq!(budget.terms[0].level_dbm, Dbm(17.0));
        assert_eq!(budget.terms[1].adds_db, Db(-80.0));
        assert_eq!(budget.level(), Dbm(-63.0));
        assert_eq!(budget.margin(Dbm(-90.0)), Db(27.0));
        assert_eq!(Budget::new(Dbm(3.0), "given").level(), Dbm(3.0));
    }
}
