//! Every number as plain text, for a terminal or a notebook.

use std::fmt::Write as _;

use super::compared_words;
use super::count_words::{self, Missing};
use super::estimates::{BoardFigures, Estimates};
use super::grid;
use super::no_link;
use super::outdoors;
use super::places::{Places, telling};
use super::reach_words;
use super::together::say;
use super::words;
use super::{sweep_words, sweeps};
use crate::ground::Position;
use crate::stats::boards::Effect;
use crate::stats::places::{Class, Role};
use crate::stats::sweep::analysis::Directivity;
use crate::stats::sweep::direction_test::told;
use crate::stats::walk::fit::FitWarning;
use crate::stats::walk::inflation::Inflation;
use crate::survey::sample::{Excluded, Samples};
use crate::survey::setup::Setup;

/// All figures of a survey; with `private` places are told in metres east and north of the station.
pub fn survey(name: &str, samples: &Samples, setup: &Setup, estimates: &Estimates, private: bool) -> String {
    let mut out = String::new();
    let title = if setup.title.is_empty() { name } else { &setup.title };
    let (mut count, mut delivered) = (0_usize, 0_usize);
    let mut reasons = [0_usize; Excluded::ALL.len()];
    for row in &samples.rows {
        count += usize::from(row.counts());
        delivered += usize::from(row.counts() && row.delivered());
        if let Some(at) = Excluded::ALL.iter().position(|reason| row.excluded == Some(*reason)) {
            reasons[at] += 1;
        }
    }
    let _ = writeln!(out, "{title}");
    let _ = writeln!(
        out,
        "  {}, {} count, {} of them delivered",
        words::so_many(samples.rows.len() as u64, "exchange", "exchanges"),
        words::count(count as u64),
        words::count(delivered as u64)
    );
    let excluded: Vec<String> = Excluded::ALL
        .iter()
        .zip(reasons)
        .filter(|(_, count)| *count > 0)
        .map(|(reason, count)| format!("{} {}", words::count(count as u64), reason.word()))
        .collect();
    if !excluded.is_empty() {
        let _ = writeln!(out, "  not counted: {}", excluded.join(", "));
    }
    let goal = &setup.goal;
    let _ = writeln!(
        out,
        "  goal: {} delivered, {} sure, {} to spare",
        words::percent(goal.delivery),
        words::percent(goal.confidence),
        words::decibels(goal.margin_db)
    );
    if estimates.boards.is_empty() {
        let why = if samples.rows.is_empty() {
            "no exchange was received"
        } else {
            "none of the exchanges counts"
        };
        let _ = writeln!(out, "\nNothing can be said of boards, points and places: {why}.");
    }
    for board in &estimates.boards {
        board_lines(&mut out, board);
    }
    point_lines(&mut out, estimates);
    comparison_lines(&mut out, estimates);
    still_lines(&mut out, estimates, setup);
    sweep_lines(&mut out, estimates);
    pair_lines(&mut out, estimates);
    match &estimates.places {
        None => {}
        Some(Err(why)) => {
            let _ = writeln!(out, "\nPlaces\n  no map: {}", words::no_places(why));
        }
        Some(Ok(places)) => place_lines(&mut out, places, private),
    }
    let _ = writeln!(
        out,
        "\nIntervals are 95 %. Bursts up to about 0.8 s are assumed. Delivered is of the board as held at the point; level, margin and map are of the place around."
    );
    out
}

fn board_lines(out: &mut String, board: &BoardFigures) {
    let reference = if board.reference { ", the reference" } else { "" };
    let _ = writeln!(out, "\n{}{reference}", board.name);
    let (delivered, exchanges) = (words::count(board.delivered), words::count(board.exchanges));
    let _ = writeln!(out, "  {delivered} of {exchanges} delivered");
    if let Some(all_lost) = board.walk_losses.all_lost() {
        let _ = writeln!(out, "  {all_lost}");
    } else {
        let said = board.walk_losses();
        for (index, words) in said.iter().enumerate() {
            let indent = if index == 0 { "" } else { " " };
            let _ = writeln!(out, "  {indent}{words}");
        }
    }
    let Some(reach) = &board.reach else {
        let _ = writeln!(out, "  {}", board.why_no_level().unwrap_or_default());
        let why = board.why_no_margin().map(|why| why.to_string()).unwrap_or_default();
        let _ = writeln!(
            out,
            "  what {} needs is not known, nor how far it reaches: {why}",
            board.name
        );
        return;
    };
    let _ = writeln!(out, "  levels {}", reach.side.words());
    match reach.need {
        Some(need) => {
            let half = 1.96 * need.level90_sd_db();
            let _ = writeln!(
                out,
                "  needs {} for 90 % (± {half:.1} dB, from {})",
                words::dbm(need.curve.level90_dbm()),
                board.need_from().unwrap_or_default(),
            );
        }
        None => {
            let _ = writeln!(
                out,
                "  {}",
                board.why_no_margin().map(|why| why.to_string()).unwrap_or_default()
            );
        }
    }
    match &reach.fit {
        Err(_) => {
            let _ = writeln!(out, "  no range: {}", board.why_no_range().unwrap_or_default());
        }
        Ok(fit) => {
            if let Ok(slope) = fit.slope(&Inflation::MEASURED) {
                let _ = writeln!(
                    out,
                    "  level falls with exponent {} ({} to {})",
                    words::minus(slope.median, 1),
                    words::minus(slope.low, 1),
                    words::minus(slope.high, 1)
                );
            }
            if let Some(body) = fit.body_db(&Inflation::MEASURED) {
                let _ = writeln!(out, "  {}", reach_words::body_loss(body));
            }
            if let Some(share) = reach.interference_share() {
                let _ = writeln!(out, "  how far, {}:", reach_words::interference_aside(share));
            }
            for (share, wording) in &reach.ranges {
                let _ = writeln!(
                    out,
                    "  {:>5} arrive to {}",
                    words::percent(*share),
                    reach_words::range(wording)
                );
            }
            if let Some(left_out) = no_link::left_out(reach.too_far) {
                let _ = writeln!(out, "  note: {left_out}");
            }
            // What interference takes stands over the ranges.
            let told = |warning: &&FitWarning| !matches!(warning, FitWarning::Interference(_));
            for warning in fit.warnings.iter().filter(told) {
                let _ = writeln!(out, "  note: {}", reach_words::fit_warning(warning));
            }
        }
    }
}

fn point_lines(out: &mut String, estimates: &Estimates) {
    let points: Vec<_> = estimates
        .points
        .iter()
        .filter(|(row, _)| row.activity == "point")
        .collect();
    if points.is_empty() {
        return;
    }
    let _ = writeln!(out, "\nPoints");
    for (row, figures) in points {
        let far = row
            .distance
            .map_or("—".to_owned(), |distance| words::metres(distance.0));
        let _ = writeln!(out, "  {} · {} · {far}", row.point, row.board);
        let delivery = &row.standing.delivery;
        let _ = writeln!(
            out,
            "    {} of {} delivered as held here ({}, worth {}): {}",
            words::count(row.delivered),
            words::count(row.messages),
            words::percents(delivery.interval),
            words::worth(delivery.effective),
            count_words::by_count(&row.standing, Missing::Figures)
        );
        if let Some(left) = &row.left {
            let _ = writeln!(out, "    {}", count_words::left(row, left));
        }
        let level = figures
            .level
            .as_ref()
            .map(|level| format!("level {}", words::level(level)));
        let level = level.unwrap_or_else(|| estimates.why_no_level(row, figures).unwrap_or_default().to_owned());
        let _ = writeln!(out, "    {level}");
        let spare = figures.margin.as_ref().map_or_else(
            || {
                format!(
                    "— ({})",
                    estimates
                        .why_no_margin(row, figures)
                        .map(|why| why.to_string())
                        .unwrap_or_default()
                )
            },
            words::margin,
        );
        let _ = writeln!(out, "    to spare {spare}");
        if let Some(how) = figures.surer {
            let _ = writeln!(out, "    surer by {}", words::surer(how));
        }
        for reason in figures.losses.iter().flat_map(words::reasons) {
            let _ = writeln!(out, "    {reason}");
        }
    }
}

fn comparison_lines(out: &mut String, estimates: &Estimates) {
    let Some(boards) = &estimates.comparison else { return };
    let reference = boards.names.first().map_or("—", String::as_str);
    let _ = writeln!(out, "\nBoards against {reference}, as the station heard them");
    let found = match &boards.comparison {
        Err(why) => {
            let _ = writeln!(out, "  not compared: {}", words::no_comparison(*why));
            return;
        }
        Ok(found) => found,
    };
    for effect in &found.boards {
        let together = match effect.effect {
            Effect::Measured { simultaneous, .. } if simultaneous.holds(0.0) => {
                ", for all boards together: not told apart"
            }
            Effect::Measured { .. } => ", for all boards together",
            Effect::OpenEnded { .. } => "",
        };
        let _ = writeln!(
            out,
            "  {:<12} {}{together}{}",
            boards.name(effect.board),
            compared_words::effect(boards, effect),
            match boards.nothing_said(effect) {
                Some(_) => String::new(),
                None => format!("; both heard at {}", compared_words::heard_both(boards, effect.board)),
            }
        );
        if let Some(silent) = compared_words::fell_silent(boards, effect.board) {
            let _ = writeln!(out, "    {silent}");
        }
    }
    for drift in compared_words::drifts(boards) {
        let _ = writeln!(out, "  {drift}");
    }
    if !boards.needs_unknown.is_empty() {
        let _ = writeln!(
            out,
            "  what they need is not known of: {}",
            boards.needs_unknown.join(", ")
        );
    }
}

/// What is still to be measured where: runs cut short, and boards to be compared.
fn still_lines(out: &mut String, estimates: &Estimates, setup: &Setup) {
    let grid = estimates.grid(setup);
    let open = grid.points.iter().enumerate();
    let open: Vec<String> = open
        .filter_map(|(index, point)| {
            Some(format!(
                "  {:<12} {}",
                point.name,
                grid::words(&grid.still(index, None))?
            ))
        })
        .collect();
    if !open.is_empty() {
        let _ = writeln!(out, "\nStill to be measured at points\n{}", open.join("\n"));
    }
    for (index, point) in grid.points.iter().enumerate() {
        if let Some(apart) = grid.two_places(index) {
            let _ = writeln!(out, "  note: {}", grid::two_places_words(point.name, apart));
        }
        if let Some(near) = grid.maybe_same(index) {
            let _ = writeln!(out, "  note: {}", grid::maybe_same_words(point.name, near));
        }
    }
}

fn sweep_lines(out: &mut String, estimates: &Estimates) {
    for sweep in &estimates.sweeps {
        let figures = &sweep.figures;
        let pose = sweep.pose.as_deref().unwrap_or("pose not told");
        let _ = writeln!(out, "\nSweep {} · {} · {pose}", sweep.name, sweep.board);
        let directional = match figures.directivity {
            Directivity::Shown { p, needed } => format!("directional ({})", told(p, needed)),
            Directivity::NotShown { p, needed } => format!("no directivity beyond noise ({})", told(p, needed)),
            Directivity::NotTested(why) => format!("not tested: {why}"),
        };
        let _ = writeln!(out, "  {directional}");
        let _ = writeln!(out, "  strongest at {}", sweep_words::turn(&figures.strongest));
        let _ = writeln!(
            out,
            "  deepest null below the strongest {}",
            words::printed(&figures.null_depth_db, "dB", 0)
        );
        let _ = writeln!(out, "  deepest null at {}", sweep_words::turn(&figures.weakest));
        let _ = writeln!(
            out,
            "  front to back {}",
            words::printed(&figures.front_to_back_db, "dB", 0)
        );
        let _ = writeln!(
            out,
            "  beamwidth (−3 dB) {}",
            words::printed(&figures.beamwidth_deg, "°", 0)
        );
        match &figures.closure {
            Ok(closure) => {
                let (low, high) = closure.interval_db();
                let _ = writeln!(
                    out,
                    "  first turn again: {} dB ({} to {})",
                    words::signed(closure.difference_db, 1),
                    words::signed(low, 1),
                    words::signed(high, 1)
                );
            }
            Err(why) => {
                let _ = writeln!(out, "  first turn again: — ({why})");
            }
        }
        if let Some(caution) = sweep.whereabouts.caution() {
            let _ = writeln!(out, "  note: {caution}");
        }
        for step in &figures.steps {
            let _ = writeln!(
                out,
                "    {:>5}°  {:>3} of {:<3}  {}",
                step.turn_deg,
                step.delivered,
                step.exchanges,
                words::printed(&step.level, "dBm", 1)
            );
        }
    }
}

fn pair_lines(out: &mut String, estimates: &Estimates) {
    let label = |index: usize| {
        let sweep = &estimates.sweeps[index];
        format!("{} {}", sweep.board, sweep.pose.as_deref().unwrap_or("(pose not told)"))
    };
    for pair in sweeps::pairs(&estimates.sweeps) {
        let _ = writeln!(
            out,
            "\n{} against {}, turn by turn",
            label(pair.second),
            label(pair.first)
        );
        let _ = writeln!(
            out,
            "  in the mean {}",
            words::printed(&pair.comparison.mean_db, "dB", 0)
        );
        if let Some(apart) = sweep_words::apart(&pair) {
            let _ = writeln!(out, "  note: {apart}");
        }
        for turn in &pair.comparison.turns {
            let sure = pair.comparison.sure_deg.contains(&turn.turn_deg);
            let _ = writeln!(
                out,
                "    {:>5}°  {}{}",
                turn.turn_deg,
                words::printed(&turn.together_db, "dB", 1),
                if sure { "  differs for sure" } else { "" }
            );
        }
    }
}

fn place_lines(out: &mut String, places: &Places, private: bool) {
    let told = |position: Position, offset: (f64, f64)| {
        if private {
            say::at(offset)
        } else {
            format!("{:.6}, {:.6}", position.lat().0, position.lon().0)
        }
    };
    let _ = writeln!(out, "\nPlaces, walked with {}", places.board);
    if let Some(doubt) = &places.station_doubt {
        let _ = writeln!(out, "  CAUTION: {}", telling::station_doubt(doubt));
    }
    for assumption in &places.assumptions {
        let _ = writeln!(out, "  {}", telling::assumption(assumption));
    }
    for why in &places.not_assumed {
        let _ = writeln!(out, "  {}", telling::not_assumed(why));
    }
    let taken = telling::limit_taken(places);
    if let Some(taken) = &taken {
        let _ = writeln!(out, "  CAUTION: {taken}");
    }
    let rests_on = telling::if_taken(places).map_or_else(String::new, |taken| format!(", {taken}"));
    let _ = writeln!(
        out,
        "  of squares of {}{rests_on}: {} good, {} marginal, {} poor, {} unwalked",
        words::metres(places.step_m),
        words::count(places.count(Class::Good) as u64),
        words::count(places.count(Class::Marginal) as u64),
        words::count(places.count(Class::Poor) as u64),
        words::count(places.count(Class::Unwalked) as u64)
    );
    if places.spots.is_empty() {
        let _ = writeln!(out, "  {}", telling::no_spot(places));
    }
    let if_so = if taken.is_some() { "if so " } else { "" };
    if !places.spots.is_empty() {
        let _ = writeln!(out, "  the best spots{rests_on}:");
    }
    for (index, spot) in places.spots.iter().enumerate() {
        let _ = writeln!(
            out,
            "  {:>2}. {}  {} out, {}  {if_so}{} sure; level {} beyond the goal ({} dB at least); {}",
            index + 1,
            told(spot.position, spot.offset),
            words::metres(spot.distance.0),
            spot.bearing.map_or("—".to_owned(), words::bearing),
            words::percent(spot.chance),
            words::decibels(spot.spare_db),
            telling::spare_at_least(spot),
            telling::near(spot.exchanges)
        );
    }
    let mut legs = places
        .legs
        .iter()
        .filter(|leg| leg.settles >= telling::WORTH_A_WALK)
        .peekable();
    if legs.peek().is_some() {
        let _ = writeln!(out, "  {}:", telling::WALK_NEXT);
    }
    for leg in legs {
        let _ = writeln!(out, "    {}", words::leg(leg));
    }
    for role in [Role::SecondStation, Role::Relay] {
        let found = places.second.of_role(role);
        let head = telling::second_head(role, found.as_ref().err().copied());
        let rests_on = telling::if_taken(places).filter(|_| found.is_ok());
        let rests_on = rests_on.map_or_else(String::new, |taken| format!(" All of it only {taken}."));
        let _ = writeln!(out, "  {head}{rests_on}");
        for place in found.iter().flatten() {
            let _ = writeln!(
                out,
                "    {}  {}",
                told(place.position, place.offset),
                telling::second_place(role, place)
            );
        }
    }
    if let Some(said) = telling::what_is_said(places) {
        let _ = writeln!(out, "  note: {said}");
    }
    for note in telling::place_notes(places).iter().skip(usize::from(taken.is_some())) {
        let _ = writeln!(out, "  note: {note}");
    }
    let _ = writeln!(out, "  before going there: {}", outdoors::IN_SHORT);
}
