//! Figures of walk and map beside the law itself: fading, delivery by distance, the level a map asks for, what its spots have to spare.

use farpace::findings::assumptions::{Assumed, Shift, Wanted};
use farpace::findings::by_distance::by_distance;
use farpace::findings::places::Places;
use farpace::findings::side::Side;
use farpace::rehearsal::boards::Board;
use farpace::rehearsal::fading::rician_shares;
use farpace::rehearsal::place::Place;
use farpace::stats::walk::fit::WalkFit;
use farpace::stats::walk::inflation::Inflation;
use farpace::survey::{Activity, Sample};
use farpace::units::Dbm;

use crate::outing::{Outing, pinged_at, stance};
use crate::tally::Tallies;

/// A ring of fewer exchanges than this is one of few.
const FEW: u64 = 60;

/// Scores one survey.
pub fn score(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    rings(outing, manner, tallies);
    for figures in &outing.found.boards {
        let Some(Ok(fit)) = figures.reach.as_ref().map(|reach| &reach.fit) else {
            continue;
        };
        let board = outing.board(&figures.name);
        let Some(way) = Way::of(outing, &figures.name) else {
            continue;
        };
        fading(fit, &way, &of_board(board, manner), tallies);
        curve(outing, board, fit, &way, &of_board(board, manner), tallies);
    }
    if let Some(Ok(places)) = &outing.found.places {
        needed(outing, places, manner, tallies);
        spots(outing, places, manner, tallies);
        other_boards(outing, places, manner, tallies);
    }
}

fn of_board(board: &Board, manner: &str) -> String {
    if board.name == "yew" {
        manner.to_owned()
    } else {
        format!("{manner} not the board walked:")
    }
}

/// What is true of a board's walks on average over their exchanges.
struct Way {
    /// Rician factor, dB.
    k_db: f64,
    /// Share of exchanges lost to interference.
    interference: f64,
}

impl Way {
    fn of(outing: &Outing, board: &str) -> Option<Self> {
        let rows = outing.samples.rows.iter();
        let rows =
            rows.filter(|row| row.counts() && row.activity == Activity::Walk && outing.samples.board(row) == board);
        let (mut k_db, mut interference, mut n) = (0.0, 0.0, 0.0);
        for row in rows {
            let aerial = outing.scenario.script.track().at(row.at.seconds()).stance.aerial;
            k_db += outing.truth.world().k_db(aerial);
            interference += outing.truth.interference(aerial);
            n += 1.0;
        }
        (n > 0.0).then(|| Self {
            k_db: k_db / n,
            interference: interference / n,
        })
    }
}

/// The chance that this very exchange was answered: where the board was, in the fade it met, interference in the long run.
fn chance(outing: &Outing, board: &Board, row: &Sample) -> f64 {
    let (world, at_s) = (outing.truth.world(), pinged_at(row));
    let stance = outing.scenario.script.track().at(at_s).stance;
    let fade = world.fading.at(stance.aerial, at_s, world.k_db(stance.aerial));
    let level = outing.truth.local_mean(board, &stance).0 + fade;
    (1.0 - outing.truth.interference(stance.aerial)) * outing.truth.answered(board, Dbm(level))
}

fn rings(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    for figures in &outing.found.boards {
        let side = figures.reach.as_ref().map_or(Side::There, |reach| reach.side);
        let found = by_distance(&outing.samples, &figures.name, side);
        let board = outing.board(&figures.name);
        let own =
            outing.samples.rows.iter().filter(|row| {
                row.counts() && row.activity.word() != "sweep" && outing.samples.board(row) == figures.name
            });
        let mut chances: Vec<(f64, f64)> = own
            .filter_map(|row| Some((row.distance()?.0, chance(outing, board, row))))
            .collect();
        chances.sort_by(|one, other| one.0.total_cmp(&other.0));
        for ring in &found.rings {
            let begin = chances.partition_point(|(metres, _)| *metres < ring.from_m);
            let end = chances.partition_point(|(metres, _)| *metres < ring.to_m);
            let inside = &chances[begin..end];
            assert_eq!(inside.len() as u64, ring.sent, "the ring's own exchanges");
            let truth = inside.iter().map(|(_, chance)| chance).sum::<f64>() / inside.len() as f64;
            let rate = ring.delivered as f64 / ring.sent as f64;
            let kind = if ring.sent < FEW { "few" } else { "many" };
            for (name, interval) in [("ring", ring.interval), ("ring, naive Wilson", ring.plain)] {
                for of in [String::new(), format!(", of {kind}")] {
                    let name = format!("{manner} {name}{of}");
                    tallies.interval(name, interval.low, rate, interval.high, truth);
                }
            }
        }
    }
}

/// Against the mean of K in decibels over the exchanges of the walk: where it changes on the way a single one is told.
fn fading(fit: &WalkFit, way: &Way, manner: &str, tallies: &mut Tallies) {
    match fit.fading_k_interval_db(&Inflation::MEASURED) {
        Some((low, high)) => {
            let (low, high) = (low.unwrap_or(f64::NEG_INFINITY), high.unwrap_or(f64::INFINITY));
            tallies.interval(format!("{manner} fading"), low, fit.k_db, high, way.k_db);
        }
        None => drop(tallies.add(format!("{manner} fading taken"), true)),
    }
}

/// The law where it is drawn: on the walk, and beyond both of its ends as far as exchanges were made at all.
fn curve(outing: &Outing, board: &Board, fit: &WalkFit, way: &Way, manner: &str, tallies: &mut Tallies) {
    let drawn = by_distance(&outing.samples, board.name, Side::There).span;
    let (near, far) = drawn.unwrap_or((fit.extent.nearest_m, fit.extent.farthest_m));
    let middle = 10_f64.powf(fit.posterior.log10_reference);
    let half_way = (near * fit.extent.nearest_m).sqrt();
    for (name, distance) in [
        ("middle", middle),
        ("far end", fit.extent.farthest_m),
        ("beyond", half_way),
        ("beyond", far),
        ("half as far again (not drawn)", 1.5 * fit.extent.farthest_m),
    ] {
        let Some(point) = fit.law(&[distance], &Inflation::MEASURED).pop() else {
            continue;
        };
        if name == "beyond" && !point.extrapolated {
            continue;
        }
        let there = stance(Place::out(distance, outing.bearing));
        let delivery = (1.0 - way.interference) * outing.truth.promised(board, &there);
        let told = point.delivery;
        let name_of = format!("{manner} delivery by distance, {name}");
        tallies.interval(name_of, told.low, told.median, told.high, delivery);
        // On the walk itself the level is scored with the reach.
        if point.extrapolated {
            let level = outing.truth.law(board, &there).0 + outing.at_station(board);
            let told = point.level_dbm;
            let name = format!("{manner} level by distance, {name}");
            tallies.interval(name, told.low, told.median, told.high, level);
        }
    }
}

/// The local mean power at the board's connector at which a goal is met without a margin; infinite where none is enough.
fn level_for_goal(outing: &Outing, board: &Board, share: f64, k_db: f64, interference: f64) -> f64 {
    let share = share / (1.0 - interference);
    let (mut low, mut high) = (-200.0, 100.0);
    if outing.truth.delivery_for(board, Dbm(high), k_db) < share {
        return f64::INFINITY;
    }
    while high - low > 1e-3 {
        let middle = f64::midpoint(low, high);
        if outing.truth.delivery_for(board, Dbm(middle), k_db) < share {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

/// The mean of decibels over fading, counted from the mean of power.
fn mean_of_decibels(k_db: f64) -> f64 {
    rician_shares(k_db).into_iter().map(|(fade, share)| fade * share).sum()
}

/// The level a place needs, with the fading and the interference of the way walked.
fn needed(outing: &Outing, places: &Places, manner: &str, tallies: &mut Tallies) {
    let board = outing.board(&places.board);
    let Some(way) = Way::of(outing, &places.board) else {
        return;
    };
    let truth = level_for_goal(outing, board, places.delivery, way.k_db, way.interference)
        + mean_of_decibels(way.k_db)
        + outing.at_station(board)
        + places.margin_db;
    let Some(needed) = places.needed else {
        tallies.add(format!("{manner} map, no level is enough"), truth.is_infinite());
        return;
    };
    match needed.interval() {
        (low, Some(high)) => {
            tallies.interval(format!("{manner} map, level needed"), low, needed.level, high, truth);
        }
        (low, None) => {
            let name = format!("{manner} map, level needed at least");
            tallies.interval(name, low, needed.level, f64::INFINITY, truth);
        }
    }
}

fn spots(outing: &Outing, places: &Places, manner: &str, tallies: &mut Tallies) {
    let board = outing.board(&places.board);
    let way = Way::of(outing, &places.board);
    for spot in &places.spots {
        let stance = stance(Place::new(spot.offset.0, spot.offset.1));
        let mean = outing.truth.local_mean(board, &stance).0;
        let k_db = outing.truth.world().k_db(stance.aerial);
        let interference = outing.truth.interference(stance.aerial);
        let spare = |k_db: f64, interference: f64| {
            mean - places.margin_db - level_for_goal(outing, board, places.delivery, k_db, interference)
        };
        let truth = spare(k_db, interference);
        let name = format!("{manner} map, spot's spare at least");
        let Some(low) = spot.spare_low_db else {
            tallies.add(format!("{name}, not told"), truth.is_infinite());
            continue;
        };
        let kind = match spot.exchanges {
            0 => "none near",
            1..100 => "few near",
            _ => "many near",
        };
        for name in [name.clone(), format!("{name}, {kind}")] {
            tallies.interval(name, low, spot.spare_db, f64::INFINITY, truth);
        }
        if let Some(way) = &way {
            let truth = spare(way.k_db, way.interference);
            let name = format!("{name}, as on the way");
            tallies.interval(name, low, spot.spare_db, f64::INFINITY, truth);
        }
    }
}

/// How much stronger another board is against what it needs, as a map for it assumes.
fn other_boards(outing: &Outing, places: &Places, manner: &str, tallies: &mut Tallies) {
    let strength = |board: &Board| {
        let needed = outing.truth.level_for(board, 0.9)?;
        Some(board.patterns[1].peak - needed.0)
    };
    let walked = outing.board(&places.board);
    for board in outing.scenario.boards.iter().filter(|board| board.name != walked.name) {
        let wanted = Wanted {
            board: Some(board.name.to_owned()),
            ..Wanted::default()
        };
        let assumed = Assumed::of(&wanted, &outing.setup, &outing.found, walked.name, places.side);
        let (Some(assumption), Some(own), Some(other)) =
            (assumed.assumptions.first(), strength(walked), strength(board))
        else {
            continue;
        };
        if let Shift::Everywhere(change) = assumption.shift {
            let half = 1.96 * change.sd;
            let name = format!("{manner} map, another board's gain");
            tallies.interval(name, change.gain - half, change.gain, change.gain + half, other - own);
        }
    }
}
