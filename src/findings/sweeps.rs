//! Orientation sweeps: how directional a board is and which way it must face, from the rows of each sweep.

use super::side::Side;
use super::whereabouts::Whereabouts;
use crate::stats::cells::SCurve;
use crate::stats::sweep::compare::{Comparison, compare};
use crate::stats::sweep::steps::offset;
use crate::stats::sweep::{Direction, Exchange, Step, SweepFigures, SweepModel, analyse, counts_only};
use crate::survey::sample::{Activity, Sample, Samples};
use crate::units::UtcMs;

/// One sweep of one board in one pose.
#[derive(Clone, Debug)]
pub struct Sweep {
    /// Its name.
    pub name: String,
    /// How the board was held; `None` where nobody said.
    pub pose: Option<String>,
    /// The board.
    pub board: String,
    /// The run.
    pub run: u32,
    /// When its first row was.
    pub begin: UtcMs,
    /// Metres to the station, in the mean; `None` without positions.
    pub distance_m: Option<f64>,
    /// Where it was done.
    pub whereabouts: Whereabouts,
    /// Its steps as they were taken.
    pub steps: Vec<Step>,
    /// What it says as the station heard the board, for comparing boards; `None` where it read no level.
    pub at_station: Option<SweepFigures>,
    /// What it says: from both directions of the link together where both were read, else from the one that was. Levels are
    /// those at the station wherever it read any, so that boards whose own meters differ can be laid over each other.
    pub figures: SweepFigures,
}

impl Sweep {
    /// Whether its levels can be compared with another's: both as the station heard them, or both of one board's meter.
    pub fn one_scale(&self, other: &Self) -> bool {
        let own = |sweep: &Self| sweep.figures.direction == Direction::Here;
        own(self) == own(other) && (!own(self) || self.board == other.board)
    }
}

/// Reads every sweep in some rows. `gauges` tells what each board needs.
pub fn sweeps(samples: &Samples, gauge: impl Fn(&str) -> Option<(Side, SCurve, f64)>) -> Vec<Sweep> {
    let mut found = Vec::new();
    let mut from = 0;
    while from < samples.rows.len() {
        let mut to = from + 1;
        while to < samples.rows.len() && belong_together(samples, &samples.rows[to - 1], &samples.rows[to]) {
            to += 1;
        }
        if matches!(samples.rows[from].activity, Activity::Sweep { .. })
            && let Some(sweep) = sweep(samples, &samples.rows[from..to], &gauge)
        {
            found.push(sweep);
        }
        from = to;
    }
    found
}

/// Whether a row goes on with what the one before it was part of. A board that starts anew, as one does whose cable slips
/// while it is turned, begins a new run; a sweep that goes on is still one sweep.
fn belong_together(samples: &Samples, before: &Sample, row: &Sample) -> bool {
    let held = |row: &Sample| match row.activity {
        Activity::Sweep { point, pose, .. } => Some((point, pose)),
        Activity::Walk | Activity::Point(_) => None,
    };
    before.run == row.run
        || (before.boot != row.boot
            && held(before).is_some()
            && held(before) == held(row)
            && samples.board(before) == samples.board(row))
}

fn sweep(samples: &Samples, rows: &[Sample], gauge: &impl Fn(&str) -> Option<(Side, SCurve, f64)>) -> Option<Sweep> {
    let first = rows.first()?;
    let board = samples.board(first);
    let steps = steps(rows);
    if steps.is_empty() {
        return None;
    }
    let shift = offset(&steps).map(|offset| offset.mean_db);
    let has = |level: fn(&Sample) -> Option<f32>| rows.iter().any(|row| row.counts() && level(row).is_some());
    let direction = match (has(Sample::here), has(Sample::there)) {
        (true, true) if shift.is_some() => Direction::Joint,
        (true, _) => Direction::Here,
        _ => Direction::There,
    };
    // A board of which nobody ever read a level was turned all the same: its counts are told.
    let (figures, at_station) = match gauge(board) {
        None => (counts_only(&steps, direction), None),
        Some((side, curve, interference)) => {
            // The sweep's tables stand on the board's own scale; a need read at the station is moved there.
            let curve = match (side, shift) {
                (Side::There, Some(shift)) => SCurve::new(curve.m_dbm() - shift, curve.s_db())?,
                _ => curve,
            };
            let model = SweepModel::new(curve, interference);
            let figures = analyse(&steps, &model, direction);
            // Both directions together are reckoned on the board's scale.
            let figures = match (direction, shift) {
                (Direction::Joint, Some(shift)) => figures.moved(shift),
                _ => figures,
            };
            let at_station = has(Sample::there).then(|| analyse(&steps, &model, Direction::There));
            (figures, at_station)
        }
    };
    let distances = rows.iter().filter_map(|row| row.distance().map(|distance| distance.0));
    Some(Sweep {
        name: samples.point(first).unwrap_or_default().to_owned(),
        pose: samples.pose(first).map(str::to_owned),
        board: board.to_owned(),
        run: first.run,
        begin: first.utc,
        distance_m: super::points::mean(distances),
        whereabouts: Whereabouts::of(samples, rows),
        figures,
        at_station,
        steps,
    })
}

/// Two sweeps at the same turns, the second against the first.
#[derive(Clone, Debug)]
pub struct Pair {
    /// Index of the first among the sweeps.
    pub first: usize,
    /// Index of the second.
    pub second: usize,
    /// The difference, turn by turn, positive where the second is stronger.
    pub comparison: Comparison,
    /// How far apart the two were done, metres; `None` where it may have been at the same spot, or where nobody knows.
    pub apart_m: Option<f64>,
}

/// Compares sweeps that differ in one thing: the same board in two poses, or two boards in the same pose. Levels of
/// different boards are compared as the station heard them.
pub fn pairs(sweeps: &[Sweep]) -> Vec<Pair> {
    let mut found = Vec::new();
    for (first, one) in sweeps.iter().enumerate() {
        for (second, other) in sweeps.iter().enumerate().skip(first + 1) {
            let poses = one.board == other.board && one.pose != other.pose;
            let boards = one.board != other.board && one.pose == other.pose;
            let apart_m = one.whereabouts.apart_m(&other.whereabouts);
            let (one, other) = match (poses, boards) {
                (true, _) => (&one.figures, &other.figures),
                (_, true) => match (&one.at_station, &other.at_station) {
                    (Some(one), Some(other)) => (one, other),
                    _ => continue,
                },
                _ => continue,
            };
            let comparison = compare(one, other);
            if !comparison.turns.is_empty() && one.direction == other.direction {
                found.push(Pair {
                    first,
                    second,
                    comparison,
                    apart_m,
                });
            }
        }
    }
    found
}

/// The steps of a sweep in the order they were taken; rows that do not count are passed over.
pub fn steps(rows: &[Sample]) -> Vec<Step> {
    let mut steps: Vec<(u32, Step)> = Vec::new();
    for row in rows.iter().filter(|row| row.counts()) {
        let Activity::Sweep {
            turn: Some(turn), step, ..
        } = row.activity
        else {
            continue;
        };
        let level = |level: Option<f32>| level.map(|dbm| dbm.round() as i32);
        let exchange = match row.echo {
            Some(heard) => Exchange::Echo {
                here: level(heard.here),
                there: level(heard.there),
            },
            None => Exchange::Lost,
        };
        match steps.last_mut() {
            Some((ordinal, last)) if *ordinal == step => last.exchanges.push(exchange),
            _ => {
                let begun = Step {
                    turn_deg: turn.0,
                    time_s: row.at.seconds(),
                    path_m: None,
                    exchanges: vec![exchange],
                };
                steps.push((step, begun));
            }
        }
    }
    steps.into_iter().map(|(_, step)| step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::curves::Known;
    use crate::findings::{json, sweep_words, table};
    use crate::stats::sweep::WhyNot;
    use crate::stats::sweep::analysis::Directivity;
    use crate::survey::exchange::Heard;
    use crate::survey::sample::BootName;
    use crate::survey::setup::Setup;
    use crate::units::{Degrees, Elapsed};

    /// Nine steps of ten messages, all lost, or all answered by a board that prints no levels.
    fn nine_steps(echo: Option<Heard>) -> Samples {
        let row = |index: u32| Sample {
            utc: UtcMs(0),
            at: Elapsed(u64::from(index) * 100_000),
            boot: 0,
            run: 1,
            n: u64::from(index) + 1,
            echo,
            channel: None,
            place: None,
            activity: Activity::Sweep {
                point: 0,
                pose: None,
                turn: Some(Degrees(45.0 * f64::from(index / 10 % 8))),
                step: index / 10 + 1,
            },
            excluded: None,
        };
        Samples {
            rows: (0..90).map(row).collect(),
            boots: vec![BootName {
                board: "fern".into(),
                boot: 1,
            }],
            points: vec!["S1".into()],
            ..Samples::default()
        }
    }

    #[test]
    fn a_sweep_that_heard_nothing_is_listed_with_its_counts_and_why_no_turn_is_named() {
        for (echo, why, of) in [
            (None, WhyNot::NothingHeard, "0 of 90 delivered in 9 steps."),
            (
                Some(Heard::default()),
                WhyNot::NoReadings,
                "90 of 90 delivered in 9 steps.",
            ),
        ] {
            let samples = nine_steps(echo);
            let setup = Setup::default();
            let estimates = crate::findings::estimates::estimates(&samples, &setup, &Known::default(), None, |_| false);
            let [sweep] = estimates.sweeps.as_slice() else {
                panic!("{} sweeps", estimates.sweeps.len());
            };
            let figures = &sweep.figures;
            assert_eq!(figures.directivity, Directivity::NotTested(why));
            assert!(figures.steps.len() == 9 && figures.steps.iter().all(|step| step.exchanges == 10));
            let said = sweep_words::sentences(sweep);
            assert!(said[0].contains(&why.to_string()) && said[1] == of, "{said:#?}");
            let text = table::survey("", &samples, &setup, &estimates, false);
            let told = format!("{} of 10", if echo.is_some() { 10 } else { 0 });
            assert!(
                text.contains("Sweep S1 · fern") && text.matches(&told).count() == 9,
                "{text}"
            );
            assert!(pairs(&[sweep.clone(), sweep.clone()]).is_empty());
            let value = json::survey("", &samples, &setup, &estimates);
            assert_eq!(value["sweeps"][0]["steps"].as_array().map(Vec::len), Some(9));
        }
    }
}
