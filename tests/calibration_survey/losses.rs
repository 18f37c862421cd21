//! Why messages were said to be lost, against what truly took each of them.
//!
//! What is true of a lost message is what became of that very message: the level alone would have lost it on one way or the
//! other (too weak), a burst took it though the level was enough (interference), or the station was silent. A statement of
//! what took them is right where that took half of the losses it is said of at least.

use farpace::findings::loss_json::limits;
use farpace::findings::silences::Silences;
use farpace::rehearsal::fates::{Cause, Fate};
use farpace::stats::losses::{LossReasons, Reason, Way};
use farpace::survey::sample::{Activity, Sample};

use crate::outing::Outing;
use crate::tally::Tallies;

/// What truly took the lost of some rows that count, silences found by the program left out.
#[derive(Clone, Copy, Debug, Default)]
pub struct Taken {
    pub sent: u64,
    pub lost: u64,
    /// Below what was needed.
    pub weak: u64,
    /// Though the level was enough; in a silence that was not found, too.
    pub strong: u64,
    /// Of what was found to be lost in silences: how many were, and how many were not.
    pub silent: u64,
    pub not_silent: u64,
    /// Of what was found to be lost in silences, what was lost to a burst.
    pub burst: u64,
    /// Lost while the station was silent, and not found to be.
    pub unfound: u64,
    /// Summed chances that a ping is lost on its way out, and an answer on its way back, in the long run.
    out: f64,
    back: f64,
}

impl Taken {
    /// Of rows of one board.
    pub fn of<'a>(outing: &Outing, silences: &Silences, rows: impl Iterator<Item = &'a Sample>) -> Self {
        let mut taken = Self::default();
        for row in rows.filter(|row| row.counts()) {
            let Some(fate) = outing.fates.of_row(&outing.samples, row) else {
                continue;
            };
            if silences.took(row) {
                let silent = fate.cause() == Some(Cause::Silence);
                taken.silent += u64::from(silent);
                taken.not_silent += u64::from(!silent);
                taken.burst += u64::from(fate.cause() == Some(Cause::Interference));
                continue;
            }
            taken.add(outing, row, fate);
        }
        taken
    }

    fn add(&mut self, outing: &Outing, row: &Sample, fate: &Fate) {
        self.sent += 1;
        let board = outing.board(outing.samples.board(row));
        let world = outing.truth.world();
        let place = outing.scenario.script.track().at(row.at.seconds()).stance.aerial;
        let params = &world.params;
        self.out +=
            1.0 - (1.0 - params.at_station.loss()) * params.station.sensitivity.understands(fate.exchange.there);
        let hit = params.at_board.busy * world.board_hit(place);
        self.back += 1.0 - (1.0 - hit) * board.sensitivity.understands(fate.exchange.here);
        if fate.cause().is_some() {
            self.lost += 1;
            self.unfound += u64::from(fate.silent);
            self.weak += u64::from(!fate.exchange.enough);
            self.strong += u64::from(fate.exchange.enough);
        }
    }
}

/// Scores a survey.
pub fn score(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    walks(outing, manner, tallies);
    for (row, figures) in &outing.found.points {
        let Some(losses) = &figures.losses else { continue };
        let Some(silences) = silences(outing, &row.board) else {
            continue;
        };
        let rows = outing.samples.rows[row.rows.clone()].iter();
        let taken = Taken::of(outing, &silences, rows);
        reasons(losses, &taken, manner, tallies);
    }
}

/// The silences of the station as the program finds them for a board.
pub fn silences(outing: &Outing, board: &str) -> Option<Silences> {
    let reach = outing
        .found
        .boards
        .iter()
        .find(|own| own.name == board)?
        .reach
        .as_ref()?;
    let known = reach.need.map(|need| need.curve.m_dbm());
    Some(Silences::of(&outing.samples, board, reach.side, known))
}

/// How the losses of walks are told apart.
pub fn walks(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    for board in &outing.found.boards {
        let Some(silences) = silences(outing, &board.name) else {
            continue;
        };
        let walked = || {
            let rows = outing.samples.counted(&board.name);
            rows.filter(|row| row.activity == Activity::Walk)
        };
        let of = |name: &str| format!("{manner} walk losses {name}");
        let losses = &board.walk_losses;
        let taken = Taken::of(outing, &silences, walked());
        assert_eq!(
            (taken.sent, taken.lost),
            (losses.exchanges - losses.silent, losses.lost - losses.silent)
        );
        if losses.silent > 0 {
            tallies.add(
                of("in a silence, told rightly"),
                mostly(taken.silent, losses.silent as f64),
            );
        }
        if let Some(one_way) = &losses.one_way {
            one_way_is_right(one_way, &taken, manner, tallies);
        }
        let manner = &apart(manner, &taken);
        let of = |name: &str| format!("{manner} walk losses {name}");
        let Some(split) = losses.split.filter(|_| taken.lost > 0) else {
            continue;
        };
        for (name, spread, truth) in [
            ("too weak", split.weak, taken.weak),
            ("at strong levels", split.strong, taken.strong),
        ] {
            let name = if spread.median < 0.5 { "at most" } else { name };
            tallies.interval(of(name), spread.low, spread.median, spread.high, truth as f64);
        }
    }
}

/// What is told of the losses of a stretch.
pub fn reasons(losses: &LossReasons, taken: &Taken, manner: &str, tallies: &mut Tallies) {
    let manner = &apart(manner, taken);
    let of = |name: &str| format!("{manner} reason {name}");
    for reason in &losses.reasons {
        let (right, truth, lost) = match reason {
            Reason::TooWeak { lost, .. } => (mostly(taken.weak, *lost), taken.weak, *lost),
            Reason::Interference { lost, .. } => (mostly(taken.strong, *lost), taken.strong, *lost),
            _ => continue,
        };
        tallies.add(format!("{manner} reason, told rightly"), right);
        if let Some((low, high)) = limits(reason) {
            tallies.interval(format!("{manner} reason, limits"), low, lost, high, truth as f64);
        }
    }
    let all = (losses.lost - (losses.exchanges - losses.heard_out())) as f64;
    for reason in &losses.reasons {
        match reason {
            Reason::StationSilent {
                lost, lasted: false, ..
            } => {
                let either = taken.silent + taken.burst;
                tallies.add(of("in one go, told rightly"), mostly(either, *lost as f64));
            }
            Reason::StationSilent { lost, .. } => {
                tallies.add(of("silence, told rightly"), mostly(taken.silent, *lost as f64));
                tallies.interval(
                    of("silence, count within a tenth (no claim)"),
                    0.9 * *lost as f64,
                    *lost as f64,
                    1.1 * *lost as f64,
                    taken.silent as f64,
                );
            }
            Reason::TooWeak { lost, .. } => {
                tallies.add(of("too weak, told rightly"), mostly(taken.weak, *lost));
                if let Some((low, high)) = limits(reason) {
                    tallies.interval(of("too weak, limits"), low, *lost, high, taken.weak as f64);
                    tallies.interval(
                        of("too weak, limits (share of losses)"),
                        low / all,
                        *lost / all,
                        high / all,
                        taken.weak as f64 / all,
                    );
                }
            }
            Reason::Interference { lost, strong, .. } => {
                let name = if *strong { "strong level" } else { "beyond the level" };
                tallies.add(of("interference, told rightly"), mostly(taken.strong, *lost));
                tallies.add(
                    of(&format!("interference, told rightly, {name}")),
                    mostly(taken.strong, *lost),
                );
                if let Some((low, high)) = limits(reason) {
                    tallies.interval(of("interference, limits"), low, *lost, high, taken.strong as f64);
                }
            }
            Reason::OneWay { .. } => one_way_is_right(reason, taken, manner, tallies),
            Reason::NotKnown { why, .. } => drop(tallies.add(of(&format!("not told, {why:?} (no claim)")), true)),
            Reason::GapInStream { .. } => {}
        }
    }
}

/// Whether the way said to lose more does so, in the long run of the very messages it is said of.
pub fn one_way_is_right(reason: &Reason, taken: &Taken, manner: &str, tallies: &mut Tallies) {
    if let Reason::OneWay { worse, .. } = reason {
        let right = match worse {
            Way::Out => taken.out > taken.back,
            Way::Back => taken.back > taken.out,
        };
        tallies.add(format!("{manner} reason one way, told rightly"), right);
        tallies.add(format!("{manner} reason one way, {worse:?}, told rightly"), right);
    }
}

/// What is told live of the last messages, by themselves.
pub fn told_live(
    outing: &Outing,
    reason: &Reason,
    rows: &[Sample],
    taken: &Taken,
    manner: &str,
    tallies: &mut Tallies,
) {
    let of = |name: &str| format!("{manner} live reason {name}, told rightly");
    match reason {
        Reason::StationSilent { lost, lasted: true, .. } => {
            let fates = rows.iter().filter_map(|row| outing.fates.of_row(&outing.samples, row));
            let silent = fates.filter(|fate| fate.cause() == Some(Cause::Silence)).count();
            tallies.add(of("silence"), mostly(silent as u64, *lost as f64));
        }
        Reason::Interference { lost, .. } => drop(tallies.add(of("interference"), mostly(taken.strong, *lost))),
        Reason::OneWay { .. } => one_way_is_right(reason, taken, &format!("{manner} live"), tallies),
        Reason::StationSilent { .. }
        | Reason::TooWeak { .. }
        | Reason::NotKnown { .. }
        | Reason::GapInStream { .. } => {}
    }
}

/// A silence that was not found, among losses by the ground, is scored apart: nothing tells it from weakness.
fn apart(manner: &str, taken: &Taken) -> String {
    if 20 * taken.unfound > taken.lost {
        format!("{manner}, a silence not found,")
    } else {
        manner.to_owned()
    }
}

fn mostly(truly: u64, said: f64) -> bool {
    truly as f64 >= 0.5 * said
}
