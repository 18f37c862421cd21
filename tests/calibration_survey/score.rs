//! Every figure of a survey against what is true of its world.

use farpace::findings::places::Places;
use farpace::findings::side::Side;
use farpace::ground::local::LocalPlane;
use farpace::rehearsal::draws::Manner;
use farpace::rehearsal::law::Law;
use farpace::rehearsal::place::Place;
use farpace::rehearsal::plans::Route;
use farpace::stats::boards::Effect;
use farpace::stats::level::MeanPower;
use farpace::stats::margin::Margin;
use farpace::stats::places::Class;
use farpace::stats::special::normal_cdf;
use farpace::stats::verdict::Verdict;
use farpace::stats::walk::describe::RangeWording;
use farpace::stats::walk::inflation::Inflation;
use farpace::survey::Sample;
use farpace::units::Dbm;

use crate::compared;
use crate::live;
use crate::losses;
use crate::naive;
use crate::outing::{Habit, Outing, pinged_at, stance};
use crate::sweeps;
use crate::tally::Tallies;
use crate::turns;
use crate::walking;

/// What was said of places, and what came true.
#[derive(Default)]
pub struct Ground {
    /// By tenth of the chance said: how many, the sum said, how many came true.
    bins: [(u64, f64, u64); 10],
    /// By class good, marginal, poor: how many, how many are truly good.
    classes: [(u64, u64); 3],
    /// Those called good in rough worlds: how many, how many truly are.
    rough_good: (u64, u64),
    /// Sums of squares: the map, distance alone, inverse distance; and their count.
    brier: [f64; 3],
    count: u64,
    maps: u64,
}

impl Ground {
    pub fn merge(&mut self, other: &Self) {
        for (own, other) in self.bins.iter_mut().zip(&other.bins) {
            *own = (own.0 + other.0, own.1 + other.1, own.2 + other.2);
        }
        for (own, other) in self.classes.iter_mut().zip(&other.classes) {
            *own = (own.0 + other.0, own.1 + other.1);
        }
        self.rough_good.0 += other.rough_good.0;
        self.rough_good.1 += other.rough_good.1;
        for (own, other) in self.brier.iter_mut().zip(&other.brier) {
            *own += other;
        }
        self.count += other.count;
        self.maps += other.maps;
    }

    pub fn wrong_good(&self) -> f64 {
        1.0 - self.classes[0].1 as f64 / self.classes[0].0.max(1) as f64
    }

    /// The farthest that a tenth of the chances said, with places enough to tell, lies from what came true.
    pub fn farthest(&self) -> f64 {
        let enough = self.bins.iter().filter(|bin| bin.0 >= 2000);
        enough
            .map(|(n, said, came)| (said - *came as f64).abs() / *n as f64)
            .fold(0.0, f64::max)
    }

    pub fn brier(&self) -> [f64; 3] {
        self.brier.map(|sum| sum / self.count.max(1) as f64)
    }

    pub fn print(&self) {
        println!("{} maps, {} places", self.maps, self.count);
        for (said, came, of) in self
            .bins
            .iter()
            .filter(|bin| bin.0 > 0)
            .map(|(n, said, came)| (said / *n as f64, *came as f64 / *n as f64, n))
        {
            println!("  said {:>5.1} %  came {:>5.1} %  of {of}", 100.0 * said, 100.0 * came);
        }
        for (name, (of, good)) in ["good", "marginal", "poor"].iter().zip(self.classes) {
            println!(
                "  {name:<9} {:>5.1} % truly good, of {of}",
                100.0 * good as f64 / of.max(1) as f64
            );
        }
        println!(
            "  good in rough worlds {:>5.1} % truly good, of {}",
            100.0 * self.rough_good.1 as f64 / self.rough_good.0.max(1) as f64,
            self.rough_good.0
        );
        let [map, distance, inverse] = self.brier();
        println!("  Brier: map {map:.4}, distance alone {distance:.4}, inverse distance {inverse:.4}");
    }
}

/// The word for a kind of world, as figures' names begin.
pub const fn manner_word(manner: Manner) -> &'static str {
    match manner {
        Manner::Plain => "plain",
        Manner::Rough => "rough",
    }
}

/// Scores one survey.
pub fn score(outing: &Outing, tallies: &mut Tallies, ground: &mut Ground) {
    let manner = manner_word(outing.manner);
    stops(outing, manner, tallies);
    needs(outing, manner, tallies);
    reach(outing, manner, tallies);
    boards(outing, manner, tallies);
    compared::score(outing, manner, tallies);
    losses::score(outing, manner, tallies);
    live::score(outing, manner, tallies);
    sweeps::score(outing, manner, tallies);
    turns::score(outing, manner, tallies);
    walking::score(outing, manner, tallies);
    if let Some(Ok(places)) = &outing.found.places {
        map(outing, places, ground);
    }
}

/// Scores what rests on what the boards need, in a survey that knew of them from one before.
pub fn score_again(outing: &Outing, tallies: &mut Tallies) {
    let manner = match outing.manner {
        Manner::Plain => "plain two surveys",
        Manner::Rough => "rough two surveys",
    };
    stops(outing, manner, tallies);
    needs(outing, manner, tallies);
    reach(outing, manner, tallies);
}

/// The stance of a row, and the true mean at the station's meter, without fading.
pub fn truth_of_rows(outing: &Outing, board: &str, rows: &[Sample]) -> (f64, f64, f64) {
    let board = outing.board(board);
    let world = outing.truth.world();
    let (mut level, mut as_held, mut around, mut n) = (0.0, 0.0, 0.0, 0.0);
    for row in rows.iter().filter(|row| row.counts()) {
        let at_s = pinged_at(row);
        let moment = outing.scenario.script.track().at(at_s);
        let mean = outing.truth.local_mean(board, &moment.stance);
        let k_db = world.k_db(moment.stance.aerial);
        let fade = world.fading.at(moment.stance.aerial, at_s, k_db);
        let clear = 1.0 - outing.truth.interference(moment.stance.aerial);
        level += mean.0;
        as_held += clear * outing.truth.answered(board, Dbm(mean.0 + fade));
        around += outing.truth.delivery(board, &moment.stance);
        n += 1.0;
    }
    (level / n + outing.at_station(board), as_held / n, around / n)
}

fn stops(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    let habit = match outing.habit {
        Habit::Circles => "circling",
        Habit::Stands => "standing",
    };
    for (row, figures) in outing.found.points.iter().filter(|(row, _)| row.activity == "point") {
        let rows = &outing.samples.rows[row.rows.clone()];
        let (level, as_held, around) = truth_of_rows(outing, &row.board, rows);
        let of = |name: &str| format!("{manner} {name}");
        let delivery = &row.standing.delivery;
        let rate = row.delivered as f64 / row.messages as f64;
        tallies.interval(
            of("delivery as held"),
            delivery.interval.low,
            rate,
            delivery.interval.high,
            as_held,
        );
        tallies.interval(
            of(&format!("delivery nearby (no claim), {habit}")),
            delivery.interval.low,
            rate,
            delivery.interval.high,
            around,
        );
        tallies.interval(
            of("delivery as held, naive Wilson"),
            row.interval.low,
            rate,
            row.interval.high,
            as_held,
        );
        if let Some(proven) = row.standing.judgement.proven {
            tallies.add(of("delivery proven"), as_held >= proven);
        }
        if let Some(refuted) = row.standing.judgement.refuted {
            tallies.add(of("delivery refuted"), as_held <= refuted);
        }
        let goal = outing.setup.goal.delivery;
        let right = |verdict| match verdict {
            Verdict::Meets => as_held >= goal,
            Verdict::Fails => as_held < goal,
            Verdict::KeepMeasuring => true,
        };
        tallies.add(of("verdict not wrong"), right(row.standing.verdict));
        let world = &outing.truth.world().params;
        if world.at_station.mean_s.max(world.at_board.mean_s) <= 0.8 {
            tallies.add(of("verdict not wrong, bursts up to 0.8 s"), right(row.standing.verdict));
            if row.standing.verdict != Verdict::KeepMeasuring {
                tallies.add(
                    of("verdict given, right, bursts up to 0.8 s"),
                    right(row.standing.verdict),
                );
            }
        }
        if row.standing.verdict != Verdict::KeepMeasuring {
            tallies.add(of("verdict given, right"), right(row.standing.verdict));
        }
        let naive_verdict = if row.interval.low > goal {
            Verdict::Meets
        } else if row.interval.high < goal {
            Verdict::Fails
        } else {
            Verdict::KeepMeasuring
        };
        if naive_verdict != Verdict::KeepMeasuring {
            tallies.add(of("verdict given, naive"), right(naive_verdict));
        }
        let mut any = |name: &str, held: bool| {
            tallies.add(of(name), held);
        };
        match figures.level.as_ref().map(|level| level.mean_power) {
            Some(MeanPower::Between { interval, .. }) => {
                any("level", interval.low <= level && level <= interval.high);
            }
            Some(MeanPower::AtMost { high_dbm }) => any("level at least or most", level <= high_dbm),
            Some(MeanPower::AtLeast { low_dbm }) => any("level at least or most", level >= low_dbm),
            Some(MeanPower::Open) | None => {}
        }
        if let Some((low, _, high)) = naive::level(rows, Side::There) {
            any("level, naive", low <= level && level <= high);
        }
        let known = if figures.margin.is_some() { "known" } else { "unknown" };
        match figures.level.as_ref().map(|level| level.mean_power) {
            Some(MeanPower::Between { median_dbm, interval }) => {
                tallies.interval(
                    of(&format!("level, need {known}, {habit}")),
                    interval.low,
                    median_dbm,
                    interval.high,
                    level,
                );
            }
            Some(MeanPower::AtMost { high_dbm }) => {
                tallies.add(of(&format!("level at most, need {known}")), level <= high_dbm);
            }
            Some(MeanPower::AtLeast { low_dbm }) => {
                tallies.add(of("level at least"), level >= low_dbm);
            }
            Some(MeanPower::Open) | None => {}
        }
        if let Some((low, middle, high)) = naive::level(rows, Side::There) {
            tallies.interval(of(&format!("level, naive, {habit}")), low, middle, high, level);
        }
        let board = outing.board(&row.board);
        let needed = outing
            .truth
            .level_for(board, 0.9)
            .map(|level| level.0 + outing.at_station(board));
        if let (Some(margin), Some(needed)) = (figures.margin, needed) {
            let truth = level - needed;
            let own = outing.found.boards.iter().find(|board| board.name == row.board);
            if own.is_some_and(|board| board.reach.as_ref().is_some_and(|reach| reach.at_points.is_some()))
                && let Margin::Between { estimate_db, interval } = margin
            {
                let name = of("margin, need from points");
                tallies.interval(name, interval.low, estimate_db, interval.high, truth);
            }
            match margin {
                Margin::Between { estimate_db, interval } => {
                    tallies.interval(of("margin"), interval.low, estimate_db, interval.high, truth);
                }
                Margin::AtMost { high_db } => drop(tallies.add(of("margin at most"), truth <= high_db)),
                Margin::AtLeast { low_db } => drop(tallies.add(of("margin at least"), truth >= low_db)),
            }
        }
    }
}

/// What boards need, learned from a walk or at points.
fn needs(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    for figures in &outing.found.boards {
        let Some(reach) = &figures.reach else { continue };
        let whence = match reach.at_points {
            None => "",
            Some(_) => ", from points",
        };
        let of = |name: &str| format!("{manner} need{whence}, {name}");
        let Some(need) = reach.need.filter(|_| reach.own.is_some()) else {
            tallies.add(of("not learned"), true);
            continue;
        };
        let board = outing.board(&figures.name);
        let level = |share: f64| Some(outing.truth.level_for(board, share)?.0 + outing.at_station(board));
        let (Some(needed), Some(half_level)) = (level(0.9), level(0.5)) else {
            continue;
        };
        let (low, high) = need.level90_interval_dbm();
        tallies.interval(of("90 %"), low, need.curve.level90_dbm(), high, needed);
        let (low, high) = need.m_interval_dbm();
        tallies.interval(of("half"), low, need.curve.m_dbm(), high, half_level);
        let (low, high) = need.s_interval_db();
        let scale = (needed - half_level) / 9.0_f64.ln();
        tallies.interval(of("scale"), low, need.curve.s_db(), high, scale);
    }
}

fn reach(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    let Some(figures) = outing.found.boards.iter().find(|board| board.name == "yew") else {
        return;
    };
    let Some(reach) = &figures.reach else { return };
    let board = outing.board("yew");
    let of = |name: &str| format!("{manner} {name}");
    let Ok(fit) = &reach.fit else { return };
    let shadowing = fit.shadowing_db(&Inflation::MEASURED);
    tallies.interval(
        of("shadowing"),
        shadowing.low,
        shadowing.median,
        shadowing.high,
        outing.truth.shadow_sd(),
    );
    if let Some(body) = fit.body_db(&Inflation::MEASURED) {
        let truth = outing.truth.world().params.body.behind;
        tallies.interval(of("body"), body.low, body.median, body.high, truth);
    }
    // Patches of interference lie on the way: the truth is that of the way on average.
    let steps = (0..=40)
        .map(|step| fit.extent.nearest_m + f64::from(step) / 40.0 * (fit.extent.farthest_m - fit.extent.nearest_m));
    let taken = steps.map(|distance| outing.truth.interference(Place::out(distance, outing.bearing)));
    let taken = taken.sum::<f64>() / 41.0;
    let share = fit.interference_share(&Inflation::MEASURED);
    tallies.interval(of("interference"), share.low, share.median, share.high, taken);
    let middle = 10_f64.powf(fit.posterior.log10_reference);
    for (name, distance) in [
        ("level by distance, middle", middle),
        ("level by distance, far end", fit.extent.farthest_m),
    ] {
        if let Some(point) = fit.law(&[distance], &Inflation::MEASURED).first() {
            let law = outing.truth.law(board, &stance(Place::out(distance, outing.bearing)));
            let truth = law.0 + outing.at_station(board);
            let level = point.level_dbm;
            tallies.interval(of(name), level.low, level.median, level.high, truth);
        }
    }
    if let Law::LogDistance { exponent, .. } = outing.truth.world().params.law {
        if let Ok(slope) = fit.slope(&Inflation::MEASURED) {
            tallies.interval(of("exponent"), slope.low, slope.median, slope.high, exponent);
            if outing.route == Route::OutAndBack {
                let of = |name: &str| format!("{manner} {name}");
                tallies.interval(
                    of("exponent, out and back"),
                    slope.low,
                    slope.median,
                    slope.high,
                    exponent,
                );
            }
        }
        if let Some(line) = naive::line(&outing.samples, "yew", Side::There) {
            tallies.interval(
                of("exponent, naive"),
                line.exponent - 1.96 * line.error,
                line.exponent,
                line.exponent + 1.96 * line.error,
                exponent,
            );
        }
    }
    let place = Place::out(20.0, outing.bearing);
    for (share, wording) in &reach.ranges {
        let truth = outing.truth.range(board, &stance(place), outing.bearing, *share);
        // From the first metre on less than that: no distance at all. Beyond 20 km does not happen in drawn worlds.
        let truth = truth.map_or(0.0, |range| range.0);
        let percent = 100.0 * share;
        let of = |class: &str| format!("{manner} range {percent:.0} %, {class}");
        match *wording {
            RangeWording::AtLeast { metres } => {
                tallies.add(of("at least"), truth >= metres);
                tallies.add(format!("{manner} range, all at least"), truth >= metres);
            }
            RangeWording::About { metres, low, high, .. } => {
                let high = high.unwrap_or(f64::INFINITY);
                tallies.interval(of("about"), low, metres.unwrap_or(f64::INFINITY), high, truth);
                tallies.add(format!("{manner} range, all about"), low <= truth && truth <= high);
            }
            RangeWording::Interval { low, metres, high } => {
                let held = low <= truth && truth <= high.unwrap_or(f64::INFINITY);
                tallies.interval(
                    of("interval"),
                    (low / truth).ln(),
                    (metres / truth).ln(),
                    high.map_or(f64::INFINITY, |high| (high / truth).ln()),
                    0.0,
                );
                tallies.add(format!("{manner} range, all intervals"), held);
            }
            RangeWording::Below { metres } => {
                tallies.add(of("less than"), truth <= metres);
                tallies.add(format!("{manner} range, all less than"), truth <= metres);
            }
            RangeWording::Unreachable { interference } => {
                let lost = outing.truth.interference(place);
                tallies.add(of("nowhere"), 1.0 - lost < *share);
                tallies.add(
                    of("nowhere, share lost within a half (no claim)"),
                    (interference / lost).ln().abs() < 0.405,
                );
            }
            RangeWording::NotMeasured(_) => drop(tallies.add(of("not measured"), true)),
        }
    }
}

fn boards(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    let Some(boards) = &outing.found.comparison else { return };
    let habit = match outing.habit {
        Habit::Circles => "circling",
        Habit::Stands => "standing",
    };
    let of = |name: &str| format!("{manner} board {name}, {habit}");
    let Ok(comparison) = &boards.comparison else {
        tallies.add(of("not compared"), true);
        return;
    };
    let gain = |name: &str| outing.board(name).patterns[1].peak;
    let mut all = true;
    let mut some = false;
    for board in &comparison.boards {
        let truth = gain(&boards.names[board.board]) - gain("yew");
        match board.effect {
            Effect::Measured {
                estimate_db,
                individual,
                simultaneous,
                ..
            } => {
                tallies.interval(of("alone"), individual.low, estimate_db, individual.high, truth);
                tallies.add(
                    format!("{manner} boards alone"),
                    individual.low <= truth && truth <= individual.high,
                );
                all &= simultaneous.low <= truth && truth <= simultaneous.high;
                some = true;
            }
            Effect::OpenEnded { low_db, high_db } => {
                for (limit, held) in [
                    (low_db, low_db.is_none_or(|low| low <= truth)),
                    (high_db, high_db.is_none_or(|high| truth <= high)),
                ] {
                    if let Some(limit) = limit {
                        tallies.bound(format!("{manner} boards at least or most"), limit, truth, held);
                    }
                }
            }
        }
    }
    if some {
        tallies.add(of("together"), all);
        tallies.add(format!("{manner} boards together"), all);
    }
    tallies.interval(
        of("spread (dB, no claim)"),
        0.0,
        comparison.spread_db,
        comparison.spread_db,
        0.0,
    );
}

fn map(outing: &Outing, places: &Places, ground: &mut Ground) {
    ground.maps += 1;
    let board = outing.board(&places.board);
    let world = outing.truth.world();
    let Some(station) = outing.setup.station.position else {
        return;
    };
    let plane = LocalPlane::about(station);
    let line = naive::line(&outing.samples, &places.board, Side::There);
    let received: Vec<(f64, f64, f64)> = outing
        .samples
        .rows
        .iter()
        .filter(|row| row.counts() && outing.samples.board(row) == places.board)
        .filter_map(|row| {
            let offset = plane.offset(row.place?.position);
            Some((offset.east.0, offset.north.0, f64::from(row.there()?)))
        })
        .collect();
    let spots = naive::spots(&received);
    for place in places.places.iter().filter(|place| place.class != Class::Unwalked) {
        let Some(estimate) = &place.estimate else { continue };
        let stance = stance(Place::new(place.x, place.y));
        let mean = outing.truth.local_mean(board, &stance);
        let delivery = (1.0 - outing.truth.interference(stance.aerial))
            * outing
                .truth
                .delivery_for(board, Dbm(mean.0 - places.margin_db), world.k_db(stance.aerial));
        let good = delivery >= places.delivery;
        let outcome = f64::from(u8::from(good));
        let bin = &mut ground.bins[((estimate.chance * 10.0) as usize).min(9)];
        *bin = (bin.0 + 1, bin.1 + estimate.chance, bin.2 + u64::from(good));
        let class = &mut ground.classes[match place.class {
            Class::Good => 0,
            Class::Marginal => 1,
            Class::Poor | Class::Unwalked => 2,
        }];
        *class = (class.0 + 1, class.1 + u64::from(good));
        if place.class == Class::Good && outing.manner == Manner::Rough {
            ground.rough_good = (ground.rough_good.0 + 1, ground.rough_good.1 + u64::from(good));
        }
        let needed = places.needed.map_or(f64::INFINITY, |needed| needed.level);
        let spread = line.as_ref().map_or(8.0, |line| line.spread.max(1.0));
        let by_line = line.as_ref().map_or(needed, |line| {
            line.at_1m - 10.0 * line.exponent * place.x.hypot(place.y).max(1.0).log10()
        });
        let by_spots = naive::inverse_distance(&spots, place.x, place.y);
        for (sum, chance) in ground.brier.iter_mut().zip([
            estimate.chance,
            normal_cdf((by_line - needed) / spread),
            normal_cdf((by_spots - needed) / spread),
        ]) {
            *sum += (chance - outcome).powi(2);
        }
        ground.count += 1;
    }
}

/// What must hold: nothing printed is wrong much more often than it says.
pub fn check(tallies: &Tallies, ground: &Ground, surveys: u64) {
    if surveys < 300 {
        println!("too few surveys for a judgement");
        return;
    }
    let held = |name: &str| tallies.get(name).share();
    for figure in [
        "delivery as held",
        "margin",
        "need, 90 %",
        "board alone, circling",
        "range, all intervals",
    ] {
        let share = held(&format!("plain {figure}"));
        assert!(share >= 0.93, "{figure} held {share}");
    }
    assert!(held("plain verdict not wrong") >= 0.95, "verdicts are wrong too often");
    assert!(ground.wrong_good() <= 0.05, "a good place is wrong too often");
    assert!(ground.farthest() <= 0.08, "chances said are not what comes true");
    let [map, distance, inverse] = ground.brier();
    assert!(map < distance && map < inverse, "simpler maps do better");
}
