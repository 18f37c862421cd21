//! The lines of the set-up: what each is called, what it is now, what it is for, and what typing changes.

use super::opening::Scenery;
use super::setup_page::SetUp;
use super::typed;
use crate::survey::Setup;
use crate::survey::setup::BoardNote;
use crate::units::Metres;
use crate::wire::node::NodePattern;

/// A line of the set-up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Row {
    /// Where the node's lines come from.
    Node,
    /// Where the positions come from.
    Gps,
    /// A pattern for firmware that prints something else.
    Pattern,
    /// Where the station is.
    Position,
    /// How well that is known.
    Sigma,
    /// What the station is called.
    StationName,
    /// How high its aerial is.
    Height,
    /// What the survey is called.
    Title,
    /// Conditions.
    Note,
    /// The least delivery rate.
    Delivery,
    /// How sure one must be.
    Confidence,
    /// The least margin.
    Margin,
    /// Messages at a point.
    Messages,
    /// A board known beforehand.
    Board(usize),
    /// One more board.
    AddBoard,
    /// Begin.
    Begin,
}

/// What the groups of lines are headed, by their first line.
pub const HEADINGS: [(Row, &str); 5] = [
    (Row::Node, "GEAR"),
    (Row::Position, "STATION: the fixed end, which answers"),
    (Row::Title, "SURVEY"),
    (Row::Delivery, "GOAL: what a place must meet"),
    (Row::Board(0), "BOARDS: they name themselves; optional"),
];

/// All lines, in order.
pub fn rows(setup: &Setup) -> Vec<Row> {
    let mut rows = vec![
        Row::Node,
        Row::Gps,
        Row::Pattern,
        Row::Position,
        Row::Sigma,
        Row::StationName,
        Row::Height,
        Row::Title,
        Row::Note,
        Row::Delivery,
        Row::Confidence,
        Row::Margin,
        Row::Messages,
    ];
    rows.extend((0..setup.boards.len()).map(Row::Board));
    rows.extend([Row::AddBoard, Row::Begin]);
    rows
}

impl Row {
    /// What it is called.
    pub fn label(self) -> &'static str {
        match self {
            Self::Node => "Node",
            Self::Gps => "GPS",
            Self::Pattern => "Pattern",
            Self::Position => "Position",
            Self::Sigma => "Known to ±",
            Self::StationName => "Name",
            Self::Height => "Aerial height",
            Self::Title => "Title",
            Self::Note => "Conditions",
            Self::Delivery => "Delivered",
            Self::Confidence => "Sure to",
            Self::Margin => "To spare",
            Self::Messages => "Messages",
            Self::Board(_) => "Board",
            Self::AddBoard => "Add a board",
            Self::Begin => "Begin the survey",
        }
    }

    /// What it is now; `None` where nothing is said.
    pub fn value(self, at: &SetUp) -> Option<String> {
        let setup = &at.setup;
        let metres = |metres: Option<Metres>| metres.map(|metres| format!("{} m", short(metres.0)));
        match self {
            Self::Node => Some(address(at.node.as_deref())),
            Self::Gps => Some(address(at.gps.as_deref())),
            Self::Pattern => setup.sources.node_pattern.clone(),
            Self::Position => setup.station.position.map(typed::position_text),
            Self::Sigma => metres(setup.station.sigma),
            Self::StationName => setup.station.name.clone(),
            Self::Height => metres(setup.station.height),
            Self::Title => Some(setup.title.clone()).filter(|title| !title.is_empty()),
            Self::Note => setup.note.clone(),
            Self::Delivery => Some(format!("{} %", typed::share_text(setup.goal.delivery))),
            Self::Confidence => Some(format!("{} %", typed::share_text(setup.goal.confidence))),
            Self::Margin => Some(format!("{} dB", short(setup.goal.margin_db))),
            Self::Messages => Some(setup.goal.messages.to_string()),
            Self::Board(index) => setup.boards.get(index).map(board_words),
            Self::AddBoard | Self::Begin => Some(String::new()),
        }
    }

    /// What it is for, shown while it is chosen.
    pub fn explanation(self, scenery: &Scenery, at: &SetUp) -> String {
        let heard = |wanted: &Option<String>| match wanted.as_deref() {
            None => "Nothing is read. Enter chooses.".to_owned(),
            Some("auto") if scenery.is_probing => "The ports are being listened to. Enter chooses.".to_owned(),
            Some("auto") => "Found by listening at every port when the survey begins. Enter chooses.".to_owned(),
            Some(address) => match scenery.port(address) {
                Some(port) => format!("{} {}. Enter chooses another.", port.says.sign(), port.says.words()),
                None => "Enter chooses another.".to_owned(),
            },
        };
        let words = match self {
            Self::Node => return heard(&at.node),
            Self::Gps => return heard(&at.gps),
            Self::Pattern => {
                "Only for firmware that prints something else: a regular expression with the named groups n, here, there."
            }
            Self::Position => {
                "Distances and bearings are counted from here. Enter: type it, take it from the GPS, reuse it."
            }
            Self::Sigma => {
                "How well the position is known, one sigma per axis: about 3 m from a simple GPS. Empty: unknown."
            }
            Self::StationName => "What the station stands at, such as packing shed.",
            Self::Height => "Of the station's aerial above the ground it stands on.",
            Self::Title => "Names the survey and its folder.",
            Self::Note => "Weather, leaves, anything that may matter later.",
            Self::Delivery => "The least share of messages that must be answered.",
            Self::Confidence => "How sure one must be that a place delivers as much.",
            Self::Margin => "How far the level must stand above the one at which the board still delivers 90 %.",
            Self::Messages => "How many messages a run at a point takes: more is surer and slower.",
            Self::Board(_) => "Enter changes or removes it.",
            Self::AddBoard => {
                "Which board is the reference, its power or a note on it. A board that says hello needs no line here."
            }
            Self::Begin => "",
        };
        words.to_owned()
    }

    /// What a line being written begins with; `None` where the line is chosen in another way.
    pub fn text(self, setup: &Setup) -> Option<String> {
        let text = |text: &Option<String>| Some(text.clone().unwrap_or_default());
        let metres = |metres: Option<Metres>| Some(metres.map(|metres| short(metres.0)).unwrap_or_default());
        match self {
            Self::Pattern => text(&setup.sources.node_pattern),
            Self::Position => Some(setup.station.position.map(typed::position_text).unwrap_or_default()),
            Self::Sigma => metres(setup.station.sigma),
            Self::StationName => text(&setup.station.name),
            Self::Height => metres(setup.station.height),
            Self::Title => Some(setup.title.clone()),
            Self::Note => text(&setup.note),
            Self::Delivery => Some(typed::share_text(setup.goal.delivery)),
            Self::Confidence => Some(typed::share_text(setup.goal.confidence)),
            Self::Margin => Some(short(setup.goal.margin_db)),
            Self::Messages => Some(setup.goal.messages.to_string()),
            Self::Node | Self::Gps | Self::Board(_) | Self::AddBoard | Self::Begin => None,
        }
    }

    /// Takes what was written.
    ///
    /// # Errors
    /// In words, where it cannot be used; nothing is changed then.
    pub fn take(self, setup: &mut Setup, text: &str) -> Result<(), String> {
        let trimmed = text.trim();
        let said = (!trimmed.is_empty()).then(|| trimmed.to_owned());
        match self {
            Self::Pattern => {
                if let Some(pattern) = &said {
                    NodePattern::new(pattern).map_err(|wrong| wrong.to_string())?;
                }
                setup.sources.node_pattern = said;
            }
            Self::Position => {
                let position = typed::position(text)?;
                if position != setup.station.position {
                    // What was known of the old place says nothing of the new one.
                    setup.station.sigma = None;
                }
                setup.station.position = position;
            }
            Self::Sigma => setup.station.sigma = typed::metres(text, 0.0, 1e6)?,
            Self::StationName => setup.station.name = said,
            Self::Height => setup.station.height = typed::metres(text, -100.0, 10_000.0)?,
            Self::Title => setup.title = said.unwrap_or_default(),
            Self::Note => setup.note = said,
            Self::Delivery => setup.goal.delivery = typed::share(text, 0.0)?,
            Self::Confidence => setup.goal.confidence = typed::share(text, 50.0)?,
            Self::Margin => setup.goal.margin_db = typed::decibels(text, -50.0, 100.0)?,
            Self::Messages => setup.goal.messages = typed::count(text, 1, 100_000)?,
            Self::Node | Self::Gps | Self::Board(_) | Self::AddBoard | Self::Begin => {}
        }
        Ok(())
    }
}

fn address(address: Option<&str>) -> String {
    match address {
        None => "none".to_owned(),
        Some("auto") => "find it by listening (auto)".to_owned(),
        Some(address) => address.to_owned(),
    }
}

/// A board in a line.
pub fn board_words(board: &BoardNote) -> String {
    let mut words = if board.name.is_empty() {
        "(no name yet)".to_owned()
    } else {
        board.name.clone()
    };
    if board.reference {
        words.push_str(", the reference");
    }
    if let Some(tx) = board.tx {
        words.push_str(&format!(", {} dBm", short(tx.0)));
    }
    if let Some(note) = &board.note {
        words.push_str(&format!(", {note}"));
    }
    words
}

/// A number as short as it can be.
pub fn short(number: f64) -> String {
    let text = format!("{number:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
