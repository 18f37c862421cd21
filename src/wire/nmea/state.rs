//! What a sentence says about having a fix.

use crate::wire::NoFix;

/// Whether a sentence vouches for its position.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// It does.
    Fix,
    /// It says that there is none.
    None(NoFix),
    /// It does not say, or in no way that is known.
    Unsaid,
}

/// GGA's quality number (NMEA 0183 v4.11, as commonly reprinted): 1 autonomous, 2 differential, 3 PPS, 4 RTK, 5 RTK
/// float; 0 is no fix, 6 dead reckoning, 7 typed in, 8 a simulator. An empty one, or one above 8, does not say.
pub const fn of_quality(quality: Option<u32>) -> State {
    match quality {
        Some(1..=5) => State::Fix,
        Some(0) => State::None(NoFix::Void),
        Some(6) => State::None(NoFix::Estimated),
        Some(7) => State::None(NoFix::Manual),
        Some(8) => State::None(NoFix::Simulator),
        _ => State::Unsaid,
    }
}

/// The mode letter of RMC, GLL, VTG and GNS; an empty one (NMEA before v2.3) does not say.
pub const fn of_mode(mode: Option<char>) -> State {
    match mode {
        Some('A' | 'D' | 'P' | 'R' | 'F') => State::Fix,
        Some('N') => State::None(NoFix::Void),
        Some('E') => State::None(NoFix::Estimated),
        Some('M') => State::None(NoFix::Manual),
        Some('S') => State::None(NoFix::Simulator),
        _ => State::Unsaid,
    }
}

/// The status letter of RMC and GLL with their mode letter: the mode may only take away from the status.
pub fn of_status(status: Option<char>, mode: Option<char>) -> State {
    match (of_mode(mode), status) {
        (State::None(why), _) => State::None(why),
        (_, Some('A')) => State::Fix,
        (_, Some('V')) => State::None(NoFix::Void),
        _ => State::Unsaid,
    }
}

/// GGA's quality number for the mode letters of GNS, one for each system: that of the best.
///
/// R is 4, F 5, P 3, D 2, A 1; letters that are no fix count for nothing.
pub fn quality_of_modes(modes: &str) -> Option<u8> {
    [('R', 4), ('F', 5), ('P', 3), ('D', 2), ('A', 1)]
        .into_iter()
        .find_map(|(letter, quality)| modes.contains(letter).then_some(quality))
}
