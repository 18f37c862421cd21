//! When the source was not read: losses of the line, silences, other boards in between.

use super::boot::Boot;
use crate::units::Elapsed;

/// A silence up to this long, seconds, is no break however fast a board pings.
const SHORTEST_SILENCE_S: f64 = 2.0;

/// The breaks of a source, as far as its lines tell.
#[derive(Clone, Debug, Default)]
pub struct Breaks {
    last_line: Option<Elapsed>,
    /// Ends and lengths (seconds) of the silences that may be breaks.
    silences: Vec<(Elapsed, f64)>,
    /// When the source was lost, or lines of another board came in between.
    lost: Vec<Elapsed>,
    /// Whether a hello came since the last of either.
    pub hello_since: bool,
}

impl Breaks {
    /// Notes that a line came, whatever it says: it ends a silence. `current`: the boot whose lines come.
    pub fn line_came(&mut self, at: Elapsed, current: Option<&Boot>) {
        if let Some(last) = self.last_line {
            let silence = at.since(last);
            if silence > SHORTEST_SILENCE_S {
                self.silences.push((at, silence));
            }
            if silence > current.map_or(SHORTEST_SILENCE_S, |boot| boot.pace.break_after()) {
                self.hello_since = false;
            }
        }
        self.last_line = Some(at);
    }

    /// Notes that the source was lost.
    pub fn source_lost(&mut self, at: Elapsed) {
        self.lost.push(at);
        self.hello_since = false;
    }

    /// Notes that another board spoke.
    pub fn other_board(&mut self, at: Elapsed) {
        self.lost.push(at);
    }

    /// Whether the source was broken off between a boot's last line and `now`.
    pub fn any_between(&self, boot: &Boot, now: Elapsed) -> bool {
        self.lost_between(boot, now) || self.silent_between(boot, now)
    }

    /// Whether the source was lost, or another board spoke, between a boot's last line and `now`.
    pub fn lost_between(&self, boot: &Boot, now: Elapsed) -> bool {
        let later = self.lost.iter().rev().take_while(|lost| **lost > boot.last_at);
        later.into_iter().any(|lost| *lost <= now)
    }

    /// Whether the source was silent for long, by the boot's pace, between its last line and `now`.
    pub fn silent_between(&self, boot: &Boot, now: Elapsed) -> bool {
        let long = boot.pace.break_after();
        let later = self.silences.iter().rev().take_while(|(end, _)| *end > boot.last_at);
        later.into_iter().any(|(end, length)| *end <= now && *length > long)
    }
}
