//! What is said of two surveys of the same ground looked at together.
//!
//! The second survey walks another way through the first one's world, after a change that takes or gives every link the same
//! amount. Squares, points and averages are held to what was so for the very messages counted there: what differs besides the
//! change, such as which way the walker faced, is in them. Which survey is called better at a square is held to the change, and
//! beside the averages stands how often they held what the change alone makes on the same ground.
//!
//! `cargo calibrate-survey together_holds`; `CALIBRATION_PAIRS` (100) says how many, `CALIBRATION_FIRST` (26000) from which
//! seed on.

use farpace::findings::together::compared::Compared;
use farpace::findings::together::member::Member;
use farpace::findings::together::pair::{Better, Pair};
use farpace::findings::together::squares::{Frame, squares};
use farpace::findings::together::whole::together;
use farpace::rehearsal::draws::Manner;
use farpace::rehearsal::seeds::share_of;
use farpace::stats::difference::Limited;
use farpace::survey::Sample;
use farpace::units::Dbm;

use crate::number;
use crate::outing::{Outing, pinged_at};
use crate::score::manner_word;
use crate::tally::{Tallies, over};

/// The change from one survey to the next lies within this either way, dB.
const MOST_CHANGE_DB: f64 = 6.0;
/// The second survey is walked as one so many seeds on.
const ANOTHER_WALK: u64 = 4;

/// Scores a comparison of two surveys.
fn score(outings: [&Outing; 2], change_db: f64, tallies: &mut Tallies) {
    let manner = manner_word(outings[0].manner);
    let members = outings.map(|outing| Member {
        name: "survey",
        samples: &outing.samples,
        setup: &outing.setup,
        estimates: &outing.found,
    });
    for pair in &together(&members).pairs {
        let [board, other] = &pair.boards;
        assert_eq!(board, other, "both carry the same boards");
        let Some(frame) = Frame::of(&members, members.map(|member| member.sigma_m(board))) else {
            continue;
        };
        let grounds = members.map(|member| squares(member, board, &frame));
        let mut means = Means::default();
        for place in &pair.places {
            let side = pair.side_m.unwrap_or(1.0);
            let key = ((place.at.1 / side).round() as i64, (place.at.0 / side).round() as i64);
            let rows = grounds.each_ref().map(|ground| owned(&ground[&key]));
            let truths = [0, 1].map(|index| truth_of(outings[index], board, &rows[index]));
            compared(&place.found, truths, &format!("{manner} square"), tallies);
            let [first, second] = truths;
            if place.found.level.interval().is_some() && place.found.level.value.is_some() {
                means.levels.push((second.level_dbm - first.level_dbm, change_db));
            }
            if place.found.delivery.interval().is_some() && place.found.delivery.value.is_some() {
                let difference = second.delivered - first.delivered;
                means.deliveries.push((difference, changed(outings, board, &rows)));
            }
            let better = match place.better {
                Better::NotTold => continue,
                Better::First => change_db < 0.0,
                Better::Second => change_db > 0.0,
            };
            tallies.add(format!("{manner} square called better"), better);
        }
        averages(pair, &means, manner, tallies);
        for stop in &pair.stops {
            let last = |index: usize| {
                let name = &stop.names[index];
                let mut runs = outings[index].found.points.iter().rev();
                let (row, _) =
                    runs.find(|(row, _)| row.activity == "point" && row.board == *board && row.point == *name)?;
                Some(truth_of(
                    outings[index],
                    board,
                    &outings[index].samples.rows[row.rows.clone()],
                ))
            };
            if let (Some(first), Some(second)) = (last(0), last(1)) {
                compared(&stop.found, [first, second], &format!("{manner} point"), tallies);
            }
        }
    }
}

/// What was so at each place that an average is of, and what the change alone makes there.
#[derive(Default)]
struct Means {
    levels: Vec<(f64, f64)>,
    deliveries: Vec<(f64, f64)>,
}

fn averages(pair: &Pair, means: &Means, manner: &str, tallies: &mut Tallies) {
    let level = pair.level.and_then(Result::ok);
    for (average, places, name) in [
        (level, &means.levels, "level"),
        (pair.delivery.ok(), &means.deliveries, "delivery"),
    ] {
        let Some(average) = average else { continue };
        let (low, high) = (average.interval.low, average.interval.high);
        let mean = |of: fn(&(f64, f64)) -> f64| places.iter().map(of).sum::<f64>() / places.len().max(1) as f64;
        tallies.interval(
            format!("{manner} average {name}"),
            low,
            average.value,
            high,
            mean(|of| of.0),
        );
        let alone = format!("{manner} average {name}, the change alone (no claim)");
        tallies.interval(alone, low, average.value, high, mean(|of| of.1));
    }
}

/// What was measured at one place in both, against level and delivery there.
fn compared(found: &Compared, truths: [Truth; 2], name: &str, tallies: &mut Tallies) {
    for (of, truth) in found.of.iter().zip(truths) {
        limited(of.rate, truth.delivered, &format!("{name} delivered"), tallies);
        limited(of.level, truth.level_dbm, &format!("{name} level"), tallies);
    }
    let [first, second] = truths;
    limited(
        found.delivery,
        second.delivered - first.delivered,
        &format!("{name} delivery difference"),
        tallies,
    );
    limited(
        found.level,
        second.level_dbm - first.level_dbm,
        &format!("{name} level difference"),
        tallies,
    );
}

fn limited(said: Limited, truth: f64, name: &str, tallies: &mut Tallies) {
    match (said.low, said.value, said.high) {
        (Some(low), Some(value), Some(high)) => tallies.interval(name, low, value, high, truth),
        (low, _, high) => {
            for (limit, held) in [
                (low, low.is_none_or(|low| low <= truth)),
                (high, high.is_none_or(|high| truth <= high)),
            ] {
                if let Some(limit) = limit {
                    tallies.bound(format!("{name} at least or most"), limit, truth, held);
                }
            }
        }
    }
}

/// What was so for some messages of a board.
#[derive(Clone, Copy)]
struct Truth {
    /// Level at the station's meter, dBm: the mean of the local means' powers, without fading.
    level_dbm: f64,
    /// The mean of the chances that they were answered, each with the fade it met.
    delivered: f64,
}

fn truth_of(outing: &Outing, board: &str, rows: &[Sample]) -> Truth {
    let board = outing.board(board);
    let world = outing.truth.world();
    let (mut power, mut delivered, mut count) = (0.0, 0.0, 0.0);
    for row in rows.iter().filter(|row| row.counts()) {
        let at_s = pinged_at(row);
        let stance = outing.scenario.script.track().at(at_s).stance;
        let mean = outing.truth.local_mean(board, &stance).0;
        let fade = world.fading.at(stance.aerial, at_s, world.k_db(stance.aerial));
        let clear = 1.0 - outing.truth.interference(stance.aerial);
        power += 10_f64.powf(mean / 10.0);
        delivered += clear * outing.truth.answered(board, Dbm(mean + fade));
        count += 1.0;
    }
    Truth {
        level_dbm: 10.0 * (power / count).log10() + outing.at_station(board),
        delivered: delivered / count,
    }
}

/// By how much more is delivered on ground that both walked after the change than before it: in the mean over the messages of
/// both, fading averaged over.
fn changed(outings: [&Outing; 2], board: &str, rows: &[Vec<Sample>; 2]) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    let [before, after] = outings.map(|outing| outing.board(board));
    let gain = after.patterns[1].peak - before.patterns[1].peak;
    for (outing, rows) in outings.iter().zip(rows) {
        for row in rows {
            let stance = outing.scenario.script.track().at(row.at.seconds()).stance;
            let level = outings[0].truth.local_mean(before, &stance).0;
            let k_db = outing.truth.world().k_db(stance.aerial);
            let delivered = |level: f64| outing.truth.delivery_for(before, Dbm(level), k_db);
            let clear = 1.0 - outing.truth.interference(stance.aerial);
            sum += clear * (delivered(level + gain) - delivered(level));
            count += 1.0;
        }
    }
    sum / f64::max(count, 1.0)
}

fn owned(rows: &[&Sample]) -> Vec<Sample> {
    rows.iter().map(|row| **row).collect()
}

#[test]
#[ignore = "calibration: minutes; run with --release"]
fn together_holds() {
    let first = number("CALIBRATION_FIRST", 26_000);
    let pairs = number("CALIBRATION_PAIRS", 100);
    let misses = std::env::var("CALIBRATION_MISSES").ok();
    let tallies = over(pairs, |index, tallies| {
        let manner = if index % 4 == 3 { Manner::Rough } else { Manner::Plain };
        let seed = first + index;
        let before = Outing::of(seed, manner);
        let change_db = MOST_CHANGE_DB * (2.0 * share_of(seed.rotate_left(16)) - 1.0);
        let after = before.walked_again(seed + ANOTHER_WALK, change_db);
        tallies.begin(seed, misses.as_deref());
        score([&before, &after], change_db, tallies);
    });
    println!("{pairs} pairs of surveys from seed {first}");
    tallies.print();
    if pairs >= 100 {
        tallies.check();
    }
}
