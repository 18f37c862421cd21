//! How many turns a sweep should have, before it is begun or while there is still time to add some.

use std::fmt;

/// What a number of evenly spaced turns can answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Advice {
    /// Fewer than five: levels at these turns, no pattern.
    LevelsOnly,
    /// Five to seven: only a single broad lobe can be seen.
    OneLobe,
    /// Eight to eleven: whether the board is directional, roughly which way; not how much.
    Whether,
    /// Twelve to sixteen: how much, too.
    HowMuch,
    /// More than sixteen: sharper nulls show as steps, the fitted figures gain little.
    Finer,
}

impl Advice {
    /// What so many different turns can answer.
    pub fn for_turns(turns: usize) -> Self {
        match turns {
            0..=4 => Self::LevelsOnly,
            5..=7 => Self::OneLobe,
            8..=11 => Self::Whether,
            12..=16 => Self::HowMuch,
            _ => Self::Finer,
        }
    }
}

impl fmt::Display for Advice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::LevelsOnly => {
                "fewer than 5 turns give levels, not a pattern; take 8 to see whether the board is directional"
            }
            Self::OneLobe => "5 to 7 turns show one broad lobe at most; take 8 to see whether the board is directional",
            Self::Whether => "8 turns tell whether the board is directional; take 12 to 16 to see how much",
            Self::HowMuch => "12 to 16 turns tell whether the board is directional and how much",
            Self::Finer => "more than 16 turns help only to find sharp nulls",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eight_tell_whether_and_twelve_how_much() {
        assert_eq!(Advice::for_turns(4), Advice::LevelsOnly);
        assert_eq!(Advice::for_turns(8), Advice::Whether);
        assert_eq!(Advice::for_turns(12), Advice::HowMuch);
        assert_eq!(Advice::for_turns(36), Advice::Finer);
        assert!(Advice::for_turns(8).to_string().contains("12 to 16"));
    }
}
