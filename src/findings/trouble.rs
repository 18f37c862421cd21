//! What is wrong with the gear, in a sentence that says what to do: silence, an unplugged cable and lost pings are told apart.

use super::now::{Line, Now};
use crate::survey::sample::Samples;
use crate::survey::setup::Setup;

/// A silent station is named after so many lost pings in a row.
const ALL_LOST: usize = 20;
/// Nothing can be made of a node that has pinged never yet after so many unusable lines.
const NONE_USED: u64 = 20;
/// A node that has pinged is garbled after so many unusable lines, where pings are due.
const GARBLED: u64 = 5;
/// Nothing is said of a source that has not spoken yet before so many seconds.
const PATIENCE_S: f64 = 4.0;

/// Something that is wrong at this moment.
#[derive(Clone, Debug, PartialEq)]
pub enum Trouble {
    /// The disk does not take the journal.
    Disk(String),
    /// The node has said nothing yet, for so many seconds; what stands in the way, where that is known.
    NodeWaiting(f64, Option<String>),
    /// The node can be read and says nothing, for so many seconds.
    NodeSilent(f64),
    /// The node cannot be read, for so many seconds, and why.
    NodeDown(f64, Option<String>),
    /// Every one of so many last pings was lost, though the board talks.
    AllLost(usize),
    /// Lines come from the node and none can be used.
    NodeUnreadable,
    /// Lines came from the node that could be used, but so many last ones could not, and pings are due.
    NodeGarbled(u64),
    /// The board has been carried off from the point it is to be measured at, so many metres.
    Strayed(f64),
    /// The receiver has said nothing yet, for so many seconds; what stands in the way, where that is known.
    GpsWaiting(f64, Option<String>),
    /// The receiver can be read and says nothing, for so many seconds.
    GpsSilent(f64),
    /// The receiver cannot be read, for so many seconds, and why.
    GpsDown(f64, Option<String>),
    /// The receiver talks and has no fix.
    NoFix,
    /// So many pings should have been answered or given up by now.
    Pending(u64),
}

impl Trouble {
    /// The sentence, with what to do.
    pub fn sentence(&self) -> String {
        let why = |why: &Option<String>| why.as_ref().map_or_else(String::new, |why| format!(" ({why})"));
        match self {
            Self::Disk(reason) => {
                format!("The disk does not take the journal: {reason}. Free some space; what came is held in memory.")
            }
            Self::NodeWaiting(seconds, reason) => format!(
                "No word from the node yet, for {}{}. Is it plugged in and switched on?",
                span(*seconds),
                why(reason)
            ),
            Self::NodeSilent(seconds) => format!(
                "The node has been silent for {}: it is plugged in but prints nothing. Check its power or press its reset; \
                 nothing is counted meanwhile.",
                span(*seconds)
            ),
            Self::NodeDown(seconds, reason) => format!(
                "The node has been away for {}{}. Plug it in again: the survey goes on by itself, the gap is not counted \
                 as lost.",
                span(*seconds),
                why(reason)
            ),
            Self::AllLost(count) => format!(
                "The last {count} pings were all lost: the board talks, no answer comes. Walk back a little; if it stays \
                 so close by, look at the station."
            ),
            Self::NodeUnreadable => {
                "The node prints lines that cannot be used. Check the speed of its port, or give its \
                 pattern in the set-up."
                    .to_owned()
            }
            Self::NodeGarbled(lines) => format!(
                "The last {lines} lines of the node cannot be used: no ping is known meanwhile. Check its cable and the \
                 speed of its port, and that no other program reads it."
            ),
            Self::Strayed(metres) => {
                format!("You have walked {metres:.0} m away from where this point began: Space ends it.")
            }
            Self::GpsWaiting(seconds, reason) => format!(
                "No word from the GPS yet, for {}{}. Check its cable; the walk goes on, without positions.",
                span(*seconds),
                why(reason)
            ),
            Self::GpsSilent(seconds) => format!(
                "The GPS has been silent for {}. Check its cable; the walk goes on, these exchanges will have no position.",
                span(*seconds)
            ),
            Self::GpsDown(seconds, reason) => format!(
                "The GPS has been away for {}{}. Plug it in again; the walk goes on, these exchanges will have no position.",
                span(*seconds),
                why(reason)
            ),
            Self::NoFix => {
                "The GPS has no fix. Wait under open sky; the walk goes on, these exchanges will have no position."
                    .to_owned()
            }
            Self::Pending(count) => format!("{count} pings are still without an answer or a word that they are lost."),
        }
    }

    /// The same afterwards, for somebody who can do nothing about it any more.
    pub fn afterwards(&self) -> String {
        let why = |why: &Option<String>| why.as_ref().map_or_else(String::new, |why| format!(" ({why})"));
        match self {
            Self::Disk(reason) => format!("The disk did not take the journal: {reason}."),
            Self::NodeWaiting(seconds, reason) => {
                format!("No word from the node so far, for {}{}.", span(*seconds), why(reason))
            }
            Self::NodeSilent(seconds) => format!(
                "The node was silent for {}: plugged in, it printed nothing; nothing was counted meanwhile.",
                span(*seconds)
            ),
            Self::NodeDown(seconds, reason) => format!(
                "The node was away for {}{}: the gap is not counted as lost.",
                span(*seconds),
                why(reason)
            ),
            Self::AllLost(count) => {
                format!("The last {count} pings were all lost: the board talked, no answer came.")
            }
            Self::NodeUnreadable => "The node printed lines that cannot be used.".to_owned(),
            Self::NodeGarbled(lines) => {
                format!("The last {lines} lines of the node cannot be used: no ping is known meanwhile.")
            }
            Self::Strayed(metres) => {
                format!("The board was carried {metres:.0} m away from where this point began.")
            }
            Self::GpsWaiting(seconds, reason) => {
                format!("No word from the GPS so far, for {}{}.", span(*seconds), why(reason))
            }
            Self::GpsSilent(seconds) => format!(
                "The GPS was silent for {}: these exchanges have no position.",
                span(*seconds)
            ),
            Self::GpsDown(seconds, reason) => format!(
                "The GPS was away for {}{}: these exchanges have no position.",
                span(*seconds),
                why(reason)
            ),
            Self::NoFix => "The GPS had no fix: these exchanges have no position.".to_owned(),
            Self::Pending(count) => format!("{count} pings were without an answer or a word that they were lost."),
        }
    }

    /// A few words, for a line that has room for no more.
    pub fn short(&self) -> String {
        match self {
            Self::Disk(_) => "disk trouble".to_owned(),
            Self::NodeWaiting(..) => "no node yet".to_owned(),
            Self::NodeSilent(seconds) => format!("node silent {}", span(*seconds)),
            Self::NodeDown(seconds, _) => format!("node away {}", span(*seconds)),
            Self::AllLost(count) => format!("{count} lost in a row"),
            Self::NodeUnreadable => "node not understood".to_owned(),
            Self::NodeGarbled(lines) => format!("{lines} lines unusable"),
            Self::Strayed(metres) => format!("{metres:.0} m off the point"),
            Self::GpsWaiting(..) => "no GPS yet".to_owned(),
            Self::GpsSilent(seconds) => format!("GPS silent {}", span(*seconds)),
            Self::GpsDown(seconds, _) => format!("GPS away {}", span(*seconds)),
            Self::NoFix => "no fix".to_owned(),
            Self::Pending(count) => format!("{count} pending"),
        }
    }

    /// Whether it stands in the way of counting, so that no answer about this place can be given.
    pub const fn blinds(&self) -> bool {
        matches!(
            self,
            Self::NodeWaiting(..)
                | Self::NodeSilent(_)
                | Self::NodeDown(..)
                | Self::NodeUnreadable
                | Self::NodeGarbled(_)
        )
    }
}

/// Looks for trouble, the worst first. `in_the_way` is what stands in the way of node and receiver before they speak;
/// `unused` counts the node's lines since the last that could be used.
pub fn troubles(
    now: &Now,
    samples: &Samples,
    setup: &Setup,
    in_the_way: [Option<&str>; 2],
    unused: u64,
) -> Vec<Trouble> {
    let mut found = Vec::new();
    let [node_way, gps_way] = in_the_way.map(|why| why.map(str::to_owned));
    match &now.node {
        Line::Waiting(seconds) if *seconds >= PATIENCE_S => found.push(Trouble::NodeWaiting(*seconds, node_way)),
        Line::Silent(seconds) => found.push(Trouble::NodeSilent(*seconds)),
        Line::Down(seconds, why) => found.push(Trouble::NodeDown(*seconds, why.clone())),
        Line::Talking if now.exchanges == 0 && unused >= NONE_USED => found.push(Trouble::NodeUnreadable),
        Line::Talking if now.pending > 0 && unused >= GARBLED => found.push(Trouble::NodeGarbled(unused)),
        Line::Talking => {
            let lost = lost_in_a_row(samples);
            if lost >= ALL_LOST {
                found.push(Trouble::AllLost(lost));
            } else if now.pending > 0 {
                found.push(Trouble::Pending(now.pending));
            }
        }
        Line::Waiting(_) => {}
    }
    match &now.gps {
        Line::Waiting(seconds) if *seconds >= PATIENCE_S && setup.sources.gps.is_some() => {
            found.push(Trouble::GpsWaiting(*seconds, gps_way));
        }
        Line::Silent(seconds) => found.push(Trouble::GpsSilent(*seconds)),
        Line::Down(seconds, why) => found.push(Trouble::GpsDown(*seconds, why.clone())),
        Line::Talking if !now.fixed => found.push(Trouble::NoFix),
        Line::Talking | Line::Waiting(_) => {}
    }
    found
}

/// How many of the last pings that count were lost, back to the last echo.
pub fn lost_in_a_row(samples: &Samples) -> usize {
    let counted = samples.rows.iter().rev().filter(|row| row.counts());
    counted.take_while(|row| !row.delivered()).count()
}

fn span(seconds: f64) -> String {
    if seconds < 120.0 {
        format!("{:.0} s", seconds.floor())
    } else {
        format!("{:.0} min", (seconds / 60.0).floor())
    }
}
