//! Points by boards: each run with its figures, and the boards compared.

use super::whole::Part;
use crate::findings::compared_words;
use crate::findings::count_words;
use crate::findings::points::PointRow;
use crate::findings::stop::StopFigures;
use crate::findings::words;
use crate::ground::Position;
use crate::stats::boards::Effect;
use crate::stats::level::MeanPower;
use crate::stats::margin::Margin;
use crate::writeup::document::{Block, Cell, DataTable, Document, ReadTable, Section};
use crate::writeup::number;
use crate::writeup::private::{Teller, Told};
use crate::writeup::svg::boards::grid;

/// At most so many runs are printed; the table holds all.
const MOST_RUNS: usize = 60;

/// The section, with its figure and tables.
pub fn section(part: &Part<'_>, document: &mut Document) -> Section {
    let estimates = &part.subject.estimates;
    let runs: Vec<&(PointRow, StopFigures)> = estimates
        .points
        .iter()
        .filter(|(row, _)| row.activity == "point")
        .collect();
    if !estimates.points.is_empty() {
        document.tables.push(table(part, &estimates.points));
    }
    if runs.is_empty() {
        let none = Block::Text("No run at a point was made.".to_owned());
        return part.section("points", "Points", vec![none]);
    }
    let mut blocks = Vec::new();
    if let Some(boards) = &estimates.comparison {
        if let Some(figure) = grid(&part.name("boards-at-points"), boards, &estimates.points) {
            blocks.push(document.add_figure(figure));
        }
        blocks.extend(comparison(part, document));
    }
    let dash = || "–".to_owned();
    blocks.push(Block::Table(ReadTable {
        caption: "Runs at points, in order of time. Delivered and verdict: of the board as held there, with 95 % interval, bursts of losses up to about 0.8 s allowed for. Proves: the largest goal the count shows to be met, however often it was looked at. Level and margin: of the place around, losses counted in."
            .to_owned(),
        head: [
            ("point", false),
            ("board", false),
            ("distance", true),
            ("station bears", true),
            ("delivered", true),
            ("proves", true),
            ("level", true),
            ("margin", false),
            ("verdict", false),
        ]
        .map(|(name, numeric)| (name.to_owned(), numeric))
        .to_vec(),
        rows: runs
            .iter()
            .take(MOST_RUNS)
            .map(|(row, figures)| {
                vec![
                    row.point.clone(),
                    row.board.clone(),
                    row.distance.map_or_else(dash, |distance| words::metres(distance.0)),
                    row.bearing.map_or_else(dash, words::bearing),
                    format!(
                        "{}/{} ({})",
                        words::count(row.delivered),
                        words::count(row.messages),
                        words::percents(row.standing.delivery.interval)
                    ),
                    count_words::proves(&row.standing).unwrap_or_else(dash),
                    figures.level.as_ref().map_or_else(dash, words::level),
                    figures.margin.as_ref().map_or_else(|| "not known".to_owned(), words::margin),
                    count_words::verdict(&row.standing),
                ]
            })
            .collect(),
    }));
    if runs.len() > MOST_RUNS {
        blocks.push(Block::Text(format!(
            "The first {MOST_RUNS} of {} runs; {}.csv holds all.",
            runs.len(),
            part.name("points")
        )));
    }
    let left: Vec<String> = runs
        .iter()
        .filter_map(|(row, _)| {
            let left = row.left.as_ref()?;
            Some(format!(
                "{}, {}: {}.",
                row.point,
                row.board,
                count_words::left(row, left)
            ))
        })
        .take(MOST_RUNS)
        .collect();
    if !left.is_empty() {
        blocks.push(Block::List(left));
    }
    let reasons: Vec<String> = runs
        .iter()
        .filter_map(|(row, figures)| {
            let reasons = figures.losses.as_ref().filter(|losses| !losses.reasons.is_empty())?;
            let said = words::reasons(reasons).join("; ");
            Some(format!("{}, {}: {said}.", row.point, row.board))
        })
        .take(MOST_RUNS)
        .collect();
    if !reasons.is_empty() {
        blocks.push(Block::Text("Why messages were lost:".to_owned()));
        blocks.push(Block::List(reasons));
    }
    part.section("points", "Points by boards", blocks)
}

fn comparison(part: &Part<'_>, document: &mut Document) -> Vec<Block> {
    let Some(boards) = &part.subject.estimates.comparison else {
        return Vec::new();
    };
    let comparison = match &boards.comparison {
        Ok(comparison) => comparison,
        Err(why) => {
            return vec![Block::Text(format!(
                "The boards are not compared: {}.",
                words::no_comparison(*why)
            ))];
        }
    };
    let name = |index: usize| boards.names.get(index).cloned().unwrap_or_default();
    let mut rows = Vec::new();
    let mut data: Vec<Vec<Cell>> = Vec::new();
    for board in &comparison.boards {
        rows.push(vec![
            name(board.board),
            compared_words::effect(boards, board),
            board.cells.to_string(),
            boards.meter.both(board.board, 0).to_string(),
        ]);
        let (estimate, error, low, high, low_all, high_all) = match board.effect {
            Effect::Measured {
                estimate_db,
                standard_error_db,
                individual,
                simultaneous,
            } => (
                Some(estimate_db),
                Some(standard_error_db),
                Some(individual.low),
                Some(individual.high),
                Some(simultaneous.low),
                Some(simultaneous.high),
            ),
            Effect::OpenEnded { low_db, high_db } => (None, None, low_db, high_db, None, None),
        };
        data.push(vec![
            number::words(&name(board.board)),
            number::words(&name(0)),
            number::cell(estimate, 2),
            number::cell(error, 2),
            number::cell(low, 2),
            number::cell(high, 2),
            number::cell(low_all, 2),
            number::cell(high_all, 2),
            number::whole(Some(board.cells as u64)),
        ]);
    }
    document.tables.push(DataTable {
        name: part.name("comparison"),
        head: vec![
            "board",
            "reference",
            "over_reference_db",
            "standard_error_db",
            "low_db",
            "high_db",
            "low_all_db",
            "high_all_db",
            "runs",
        ],
        rows: data,
    });
    let putting_back = boards.putting_back_db().map_or_else(String::new, |spread| {
        format!(
            " Putting a board back changes its level by {} dB (one standard deviation, {} degrees of freedom).",
            words::minus(spread, 1),
            words::minus(comparison.degrees, 0)
        )
    });
    let mut blocks = vec![
        Block::Table(ReadTable {
            caption: format!(
                "Each board over {} as the one station heard them at the same points; the intervals hold together.{putting_back}",
                name(0)
            ),
            head: [
                ("board", false),
                ("over the reference", false),
                ("runs", true),
                ("points where both were heard", true),
            ]
            .map(|(name, numeric)| (name.to_owned(), numeric))
            .to_vec(),
            rows,
        }),
        Block::Text("Positive is stronger. Levels at the station say which board sends better; what each board needs to hear is its own and not in these figures.".to_owned()),
    ];
    let silent = comparison.boards.iter();
    let silent = silent.filter_map(|board| compared_words::fell_silent(boards, board.board));
    let said: Vec<String> = silent
        .chain(compared_words::drifts(boards))
        .map(|said| words::sentence(&said))
        .collect();
    if !said.is_empty() {
        blocks.push(Block::List(said));
    }
    blocks
}

/// The columns of a place: degrees, or metres from the station.
pub fn place_columns(teller: &Teller) -> [&'static str; 2] {
    if teller.is_private() {
        ["east_m", "north_m"]
    } else {
        ["lat_deg", "lon_deg"]
    }
}

/// A place as cells of these columns.
pub fn place_cells(teller: &Teller, place: Option<Position>) -> [Cell; 2] {
    match place.and_then(|place| teller.tell(place)) {
        Some(Told::Degrees(position)) => [
            number::cell(Some(position.lat().0), 8),
            number::cell(Some(position.lon().0), 8),
        ],
        Some(Told::Metres { east, north }) => [number::cell(Some(east), 2), number::cell(Some(north), 2)],
        None => [number::cell(None, 0), number::cell(None, 0)],
    }
}

/// A level with its lower and upper limit, dBm; what is not known of it is nothing.
pub fn level_limits(figures: &StopFigures) -> [Option<f64>; 3] {
    match figures.level.as_ref().map(|level| level.mean_power) {
        Some(MeanPower::Between { median_dbm, interval }) => {
            [Some(median_dbm), Some(interval.low), Some(interval.high)]
        }
        Some(MeanPower::AtMost { high_dbm }) => [None, None, Some(high_dbm)],
        Some(MeanPower::AtLeast { low_dbm }) => [None, Some(low_dbm), None],
        Some(MeanPower::Open) | None => [None; 3],
    }
}

/// A margin with its lower and upper limit, dB; what is not known of it is nothing.
pub fn margin_limits(figures: &StopFigures) -> [Option<f64>; 3] {
    match figures.margin {
        Some(Margin::Between { estimate_db, interval }) => [Some(estimate_db), Some(interval.low), Some(interval.high)],
        Some(Margin::AtMost { high_db }) => [None, None, Some(high_db)],
        Some(Margin::AtLeast { low_db }) => [None, Some(low_db), None],
        None => [None; 3],
    }
}

fn table(part: &Part<'_>, points: &[(PointRow, StopFigures)]) -> DataTable {
    let mut head = vec![
        "point",
        "activity",
        "pose",
        "turn_deg",
        "board",
        "boot",
        "run",
        "begin_utc",
        "messages",
        "delivered",
        "rate",
        "delivered_low",
        "delivered_high",
        "effective",
        "proven",
        "more_messages",
        "more_would",
        "level_dbm",
        "level_low_dbm",
        "level_high_dbm",
        "margin_db",
        "margin_low_db",
        "margin_high_db",
        "here_dbm",
        "there_dbm",
    ];
    head.extend(place_columns(part.teller));
    head.extend(["sigma_m", "distance_m", "bearing_deg", "verdict"]);
    let rows = points
        .iter()
        .map(|(row, figures)| {
            let [level, level_low, level_high] = level_limits(figures);
            let [margin, margin_low, margin_high] = margin_limits(figures);
            let delivery = &row.standing.delivery;
            let more = row.standing.more();
            let mut cells = vec![
                number::words(&row.point),
                number::words(row.activity),
                number::words(row.pose.as_deref().unwrap_or_default()),
                number::cell(row.turn.map(|turn| turn.0), 1),
                number::words(&row.board),
                number::whole(Some(row.boot)),
                number::whole(Some(u64::from(row.run))),
                Cell::Number(row.begin.rfc3339().unwrap_or_default()),
                number::whole(Some(row.messages)),
                number::whole(Some(row.delivered)),
                number::cell(delivery.rate, 4),
                number::cell(Some(delivery.interval.low), 4),
                number::cell(Some(delivery.interval.high), 4),
                number::cell(Some(delivery.effective), 1),
                number::cell(row.standing.judgement.proven, 4),
                number::whole(more.map(|more| more.messages)),
                number::words(more.map_or("", |more| if more.would_meet { "meet" } else { "rule_out" })),
                number::cell(level, 2),
                number::cell(level_low, 2),
                number::cell(level_high, 2),
                number::cell(margin, 2),
                number::cell(margin_low, 2),
                number::cell(margin_high, 2),
                number::cell(row.here_dbm, 1),
                number::cell(row.there_dbm, 1),
            ];
            cells.extend(place_cells(part.teller, row.position));
            cells.extend([
                number::cell(row.sigma.map(|sigma| sigma.0), 3),
                number::cell(row.distance.map(|distance| distance.0), 2),
                Cell::Number(number::direction(row.bearing.map(|bearing| bearing.0), 1)),
                number::words(row.standing.word()),
            ]);
            cells
        })
        .collect();
    DataTable {
        name: part.name("points"),
        head,
        rows,
    }
}
