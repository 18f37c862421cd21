//! The set-up of a survey: gear, station, title, goal, boards; what is missing, and what that costs.
//!
//! ```text
//!  Begin a survey                                             farpace
//!
//!  GEAR
//!  ▸ Node         serial:/dev/ttyACM0
//!      ● node: fern boot 7. Enter chooses another.
//!    GPS          gpsd:127.0.0.1:2947
//!  STATION: the fixed end, which answers
//!    Position     –
//! ```

use crossterm::event::{KeyCode, KeyEvent};
use tui_input::Input;
use tui_input::backend::crossterm::EventHandler as _;

use super::board_page::{self, BoardRow};
use super::gear_page;
use super::keys::Press;
use super::opening::{Chosen, Scenery, Wish, moved};
use super::page::{Line, Page};
use super::port::Port;
use super::setup_rows::{HEADINGS, Row, rows};
use super::source_page::{self, Offer, Which, offers};
use super::station_page::{self, Way, ways};
use super::survey_list::Saved;
use crate::findings::station::Averaged;
use crate::screens::theme::Tone;
use crate::survey::Setup;
use crate::survey::setup::BoardNote;

/// A set-up being made.
#[derive(Clone, Debug)]
pub struct SetUp {
    /// What it comes to so far; the addresses stand in `node` and `gps`.
    pub setup: Setup,
    /// Where the node's lines come from, `auto` or an address.
    pub node: Option<String>,
    /// Where the positions come from.
    pub gps: Option<String>,
    row: usize,
    over: Over,
    /// What is wrong with the line being written.
    wrong: Option<String>,
    /// Whether the person chose the node and the GPS.
    by_hand: [bool; 2],
    touched: bool,
}

/// What lies over the set-up.
#[derive(Clone, Debug)]
enum Over {
    Nothing,
    Writing(Input),
    Source(Which, usize),
    Address(Which, Input),
    Station(usize),
    Averaging(Averaging),
    Board(usize, usize, Option<Input>),
    Missing,
    Leaving,
}

/// The station's position being taken from the GPS.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Averaging {
    /// What the receiver does.
    pub fixing: Fixing,
    /// The mean so far.
    pub mean: Option<Averaged>,
}

/// What the receiver does.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Fixing {
    /// Nothing has come.
    #[default]
    Waiting,
    /// It speaks and has no fix.
    NoFix,
    /// It has a fix.
    Fixed,
    /// It cannot be read: why.
    Trouble(String),
}

impl SetUp {
    /// A set-up with what the last survey had, where that serves again.
    pub fn new(last: Option<&Saved>) -> Self {
        let mut new = Self {
            setup: Setup::default(),
            node: Some("auto".to_owned()),
            gps: Some("auto".to_owned()),
            row: 0,
            over: Over::Nothing,
            wrong: None,
            by_hand: [false; 2],
            touched: false,
        };
        new.take_over(last);
        new
    }

    /// Takes over goal, boards and pattern of the last survey; its station only when asked for: one may be elsewhere.
    pub fn take_over(&mut self, last: Option<&Saved>) {
        if let Some(setup) = last.and_then(|last| last.setup.as_ref()) {
            self.setup.goal = setup.goal;
            self.setup.boards.clone_from(&setup.boards);
            self.setup.sources.node_pattern.clone_from(&setup.sources.node_pattern);
        }
    }

    /// Whether the person has changed anything.
    pub fn is_touched(&self) -> bool {
        self.touched
    }

    /// Whether a line is being written, so that letters are letters.
    pub fn is_writing(&self) -> bool {
        matches!(
            self.over,
            Over::Writing(_) | Over::Address(..) | Over::Board(_, _, Some(_))
        )
    }

    /// Whether it asks before leaving: any key but one stays then.
    pub fn is_asking(&self) -> bool {
        matches!(self.over, Over::Leaving)
    }

    /// Takes the ports that are heard to be node and GPS, where the person has not chosen.
    pub fn choose_by_ear(&mut self, ports: &[Port]) {
        let first = |speaks: fn(&Port) -> bool| ports.iter().find(|port| speaks(port)).map(|port| port.address.clone());
        if !self.by_hand[0] {
            self.node = first(Port::is_node).or(Some("auto".to_owned()));
        }
        if !self.by_hand[1] {
            self.gps = first(Port::is_gps).or(Some("auto".to_owned()));
        }
    }

    /// The averaging has come on.
    pub fn averaged(&mut self, averaging: Averaging) {
        if let Over::Averaging(at) = &mut self.over {
            *at = averaging;
        }
    }

    /// The set-up with its addresses.
    pub fn result(&self) -> Setup {
        let mut setup = self.setup.clone();
        setup.sources.node.clone_from(&self.node);
        setup.sources.gps.clone_from(&self.gps);
        setup.boards.retain(|board| !board.name.is_empty());
        setup
    }

    /// What is missing, and what that costs.
    pub fn missing(&self, scenery: &Scenery) -> Vec<&'static str> {
        let mut missing = Vec::new();
        let heard = |speaks: fn(&Port) -> bool| scenery.ports.iter().any(speaks);
        match self.node.as_deref() {
            None => missing.push("No node: only the way walked is recorded, no exchanges."),
            Some("auto") if !heard(Port::is_node) => missing.push(
                "No node is heard yet: the survey begins without exchanges and takes the node as soon as it speaks.",
            ),
            Some(_) => {}
        }
        match self.gps.as_deref() {
            None => missing.push("No GPS: exchanges have no position, so distance, bearing and maps stay empty."),
            Some("auto") if !heard(Port::is_gps) => missing.push(
                "No GPS is heard yet: exchanges have no position until it speaks; it is taken as soon as it does.",
            ),
            Some(_) => {}
        }
        if self.setup.station.position.is_none() {
            missing.push(
                "No station position: distances and bearings stay empty until survey.toml is edited and the survey rebuilt.",
            );
        }
        if self.setup.title.is_empty() {
            missing.push("No title: its folder is named by date and time and the word survey.");
        }
        missing
    }

    fn chosen(&self) -> Row {
        rows(&self.setup).get(self.row).copied().unwrap_or(Row::Begin)
    }

    fn address(&mut self, which: Which) -> &mut Option<String> {
        match which {
            Which::Node => &mut self.node,
            Which::Gps => &mut self.gps,
        }
    }

    /// A key that is no letter being written; says whether the set-up stays open, and what is to be done.
    pub fn press(&mut self, press: Press, scenery: &Scenery) -> (bool, Vec<Wish>) {
        let none = (true, Vec::new());
        if press == Press::Leave && !matches!(self.over, Over::Leaving) {
            let stop = matches!(self.over, Over::Averaging(_)).then_some(Wish::StopAveraging);
            if !self.touched {
                return (true, stop.into_iter().chain([Wish::Choose(Chosen::Leave)]).collect());
            }
            self.over = Over::Leaving;
            return (true, stop.into_iter().collect());
        }
        if press == Press::Again && !matches!(self.over, Over::Averaging(_)) {
            return (
                true,
                if scenery.is_probing {
                    Vec::new()
                } else {
                    vec![Wish::LookAtPorts]
                },
            );
        }
        match std::mem::replace(&mut self.over, Over::Nothing) {
            Over::Nothing => return self.press_row(press, scenery),
            Over::Source(which, at) => return (true, self.press_source(press, which, at, scenery)),
            Over::Station(at) => return (true, self.press_station(press, at, scenery)),
            Over::Averaging(at) => return (true, self.press_averaging(press, at)),
            Over::Board(index, at, None) => self.press_board(press, index, at),
            Over::Missing => match press {
                Press::Next | Press::Open => return (true, self.begin()),
                Press::Back => {}
                _ => self.over = Over::Missing,
            },
            Over::Leaving if press == Press::Leave => return (true, vec![Wish::Choose(Chosen::Leave)]),
            Over::Leaving | Over::Writing(_) | Over::Address(..) | Over::Board(_, _, Some(_)) => {}
        }
        none
    }

    fn press_row(&mut self, press: Press, scenery: &Scenery) -> (bool, Vec<Wish>) {
        let all = rows(&self.setup);
        self.wrong = None;
        match press {
            Press::Back if scenery.is_probing => return (true, vec![Wish::StopListening]),
            Press::Back => return (false, Vec::new()),
            Press::Next => return (true, self.ask_to_begin(scenery)),
            Press::Open | Press::More => match self.chosen() {
                Row::Node => self.over = Over::Source(Which::Node, self.offered(Which::Node, scenery)),
                Row::Gps => self.over = Over::Source(Which::Gps, self.offered(Which::Gps, scenery)),
                Row::Position => self.over = Over::Station(0),
                Row::Board(index) => self.over = Over::Board(index, 0, None),
                Row::AddBoard => {
                    self.touched = true;
                    self.setup.boards.push(BoardNote::default());
                    self.over = Over::Board(self.setup.boards.len() - 1, 0, Some(Input::default()));
                }
                Row::Begin => return (true, self.ask_to_begin(scenery)),
                row => self.over = Over::Writing(Input::new(row.text(&self.setup).unwrap_or_default())),
            },
            Press::Number(_) | Press::Less => {}
            press => self.row = moved(press, self.row, all.len()).unwrap_or(self.row),
        }
        (true, Vec::new())
    }

    fn offered(&self, which: Which, scenery: &Scenery) -> usize {
        let now = match which {
            Which::Node => &self.node,
            Which::Gps => &self.gps,
        };
        let offer = match now.as_deref() {
            None => Offer::Without,
            Some("auto") => Offer::Auto,
            Some(address) => Offer::Address(address.to_owned()),
        };
        offers(scenery).iter().position(|other| *other == offer).unwrap_or(0)
    }

    fn ask_to_begin(&mut self, scenery: &Scenery) -> Vec<Wish> {
        if self.node.is_none() && self.gps.is_none() {
            self.wrong = Some("Neither node nor GPS: there is nothing to record. Choose at least one.".to_owned());
            self.row = 0;
            return Vec::new();
        }
        if self.missing(scenery).is_empty() {
            return self.begin();
        }
        self.over = Over::Missing;
        Vec::new()
    }

    fn begin(&self) -> Vec<Wish> {
        vec![Wish::Choose(Chosen::Begin(Box::new(self.result())))]
    }

    fn press_source(&mut self, press: Press, which: Which, at: usize, scenery: &Scenery) -> Vec<Wish> {
        let all = offers(scenery);
        match (press, all.get(at)) {
            (Press::Back, _) => {}
            (Press::Next | Press::Open, Some(Offer::Type)) => {
                let now = self.address(which).clone().filter(|address| address != "auto");
                self.over = Over::Address(which, Input::new(now.unwrap_or_default()));
            }
            (Press::Next | Press::Open, Some(offer)) => {
                self.choose(
                    which,
                    match offer {
                        Offer::Address(address) => Some(address.clone()),
                        Offer::Auto => Some("auto".to_owned()),
                        Offer::Without | Offer::Type => None,
                    },
                );
            }
            (press, _) => self.over = Over::Source(which, moved(press, at, all.len()).unwrap_or(at)),
        }
        Vec::new()
    }

    fn choose(&mut self, which: Which, address: Option<String>) {
        *self.address(which) = address;
        self.by_hand[usize::from(which == Which::Gps)] = true;
        self.touched = true;
    }

    fn press_station(&mut self, press: Press, at: usize, scenery: &Scenery) -> Vec<Wish> {
        let all = ways(scenery);
        match (press, all.get(at)) {
            (Press::Back, _) => {}
            (Press::Next | Press::Open, Some(Way::FromGps)) => match &self.gps {
                Some(gps) => {
                    let wish = Wish::Average(gps.clone());
                    self.over = Over::Averaging(Averaging::default());
                    return vec![wish];
                }
                None => self.wrong = Some("No GPS is chosen: choose one above first.".to_owned()),
            },
            (Press::Next | Press::Open, Some(Way::Type)) => {
                self.over = Over::Writing(Input::new(Row::Position.text(&self.setup).unwrap_or_default()));
            }
            (Press::Next | Press::Open, Some(Way::Reuse)) => {
                if let Some(setup) = scenery.last().and_then(|last| last.setup.as_ref()) {
                    self.setup.station.clone_from(&setup.station);
                    self.touched = true;
                }
            }
            (Press::Next | Press::Open, Some(Way::Without) | None) => {
                self.setup.station.position = None;
                self.setup.station.sigma = None;
                self.touched = true;
            }
            (press, _) => self.over = Over::Station(moved(press, at, all.len()).unwrap_or(at)),
        }
        Vec::new()
    }

    fn press_averaging(&mut self, press: Press, at: Averaging) -> Vec<Wish> {
        match (press, at.mean) {
            (Press::Back, _) => vec![Wish::StopAveraging],
            (Press::Next | Press::Open, Some(mean)) => {
                self.setup.station.position = Some(mean.position);
                // Decimetres are more than this figure is worth.
                let sigma = |sigma: crate::units::Metres| crate::units::Metres((sigma.0 * 10.0).round() / 10.0);
                self.setup.station.sigma = mean.sigma.map(sigma);
                self.touched = true;
                vec![Wish::StopAveraging]
            }
            _ => {
                self.over = Over::Averaging(at);
                Vec::new()
            }
        }
    }

    fn press_board(&mut self, press: Press, index: usize, at: usize) {
        let Some(board) = self.setup.boards.get_mut(index) else {
            return;
        };
        let row = board_page::ROWS[at.min(board_page::ROWS.len() - 1)];
        self.wrong = None;
        match press {
            Press::Back | Press::Next => {
                // A board without a name is none.
                if board.name.is_empty() {
                    self.setup.boards.remove(index);
                }
            }
            Press::Open | Press::More | Press::Less => {
                self.touched = true;
                match (row, row.text(board)) {
                    (BoardRow::Remove, _) => {
                        self.setup.boards.remove(index);
                    }
                    (_, Some(text)) => self.over = Over::Board(index, at, Some(Input::new(text))),
                    (_, None) => {
                        let is_reference = !board.reference;
                        // There is one reference: the others are compared with it.
                        for (other, board) in self.setup.boards.iter_mut().enumerate() {
                            board.reference = is_reference && other == index;
                        }
                        self.over = Over::Board(index, at, None);
                    }
                }
            }
            press => self.over = Over::Board(index, moved(press, at, board_page::ROWS.len()).unwrap_or(at), None),
        }
    }

    /// A key while a line is being written.
    pub fn write(&mut self, key: KeyEvent, scenery: &Scenery) -> Vec<Wish> {
        if !matches!(key.code, KeyCode::Enter | KeyCode::Esc) {
            if let Over::Writing(input) | Over::Address(_, input) | Over::Board(_, _, Some(input)) = &mut self.over {
                input.handle_event(&crossterm::event::Event::Key(key));
            }
            return Vec::new();
        }
        let keeps = key.code == KeyCode::Enter;
        self.wrong = None;
        match std::mem::replace(&mut self.over, Over::Nothing) {
            Over::Writing(input) if keeps => {
                self.touched = true;
                if let Err(wrong) = self.chosen().take(&mut self.setup, input.value()) {
                    self.wrong = Some(wrong);
                    self.over = Over::Writing(input);
                }
            }
            Over::Address(which, input) if keeps => match (scenery.check_address)(input.value().trim()) {
                Ok(address) => {
                    self.choose(which, Some(address.clone()));
                    let known = scenery.port(&address).is_some() || address == "auto";
                    return if known { Vec::new() } else { vec![Wish::Listen(address)] };
                }
                Err(wrong) => {
                    self.wrong = Some(wrong);
                    self.over = Over::Address(which, input);
                }
            },
            Over::Address(which, _) => self.over = Over::Source(which, self.offered(which, scenery)),
            Over::Board(index, at, Some(input)) => {
                self.over = Over::Board(index, at, None);
                let row = board_page::ROWS[at.min(board_page::ROWS.len() - 1)];
                if let (true, Some(board)) = (keeps, self.setup.boards.get_mut(index))
                    && let Err(wrong) = row.take(board, input.value())
                {
                    self.wrong = Some(wrong);
                    self.over = Over::Board(index, at, Some(input));
                }
            }
            _ => {}
        }
        Vec::new()
    }

    /// The page.
    pub fn page(&self, scenery: &Scenery) -> Page {
        match &self.over {
            Over::Source(which, at) => source_page::page(*which, scenery, *at),
            Over::Address(which, input) => self.address_page(*which, input),
            Over::Station(at) => station_page::choice(scenery, *at),
            Over::Averaging(at) => station_page::averaging(at, self.gps.as_deref().unwrap_or("auto")),
            Over::Board(index, at, writing) => {
                let board = self.setup.boards.get(*index).cloned().unwrap_or_default();
                board_page::page(&board, *at, writing.as_ref(), self.wrong.as_deref())
            }
            Over::Missing => self.missing_page(scenery),
            Over::Leaving => {
                let mut page = Page::titled("Leave farpace?");
                page.push(Line::words("What was typed into the set-up is not kept."), false);
                page.hint("q", "leave");
                page.hint("any other key", "stay");
                page
            }
            Over::Nothing | Over::Writing(_) => self.rows_page(scenery),
        }
    }

    fn rows_page(&self, scenery: &Scenery) -> Page {
        let mut page = Page::titled("Begin a survey");
        let chosen = self.chosen();
        for row in rows(&self.setup) {
            let is_first_of_boards = |first: Row| {
                first == Row::Board(0) && (row == first || (row == Row::AddBoard && self.setup.boards.is_empty()))
            };
            if let Some((first, heading)) = HEADINGS
                .iter()
                .find(|(first, _)| *first == row || is_first_of_boards(*first))
            {
                if *first != Row::Node {
                    page.push(Line::Gap, false);
                }
                page.push(Line::Heading((*heading).to_owned()), false);
            }
            if row == Row::Begin {
                page.push(Line::Gap, false);
            }
            self.push_row(row, row == chosen, scenery, &mut page);
            if row == Row::Gps {
                page.beside("What the ports say", Self::port_lines(scenery));
            }
        }
        let missing = self.missing(scenery);
        let missing = if missing.is_empty() {
            vec![Line::Under("Nothing is missing.".to_owned(), Tone::Good)]
        } else {
            let said = missing.into_iter();
            said.map(|words| Line::Under(format!("! {words}"), Tone::Close))
                .collect()
        };
        page.beside("Before it begins", missing);
        if let Over::Writing(_) = self.over {
            page.hint("Enter", "keep it");
            page.hint("Esc", "as it was");
        } else {
            page.hint("Space", "begin");
            page.hint("Enter", if chosen == Row::Begin { "begin" } else { "change" });
            page.hint("↑ ↓", "choose");
            page.hint("r", "look again");
            page.hint("Esc", if scenery.is_probing { "stop listening" } else { "back" });
        }
        page
    }

    fn port_lines(scenery: &Scenery) -> Vec<Line> {
        if scenery.ports.is_empty() {
            let words = gear_page::no_port(scenery.is_probing).to_owned();
            return vec![Line::Under(words, Tone::Text)];
        }
        let ports = scenery.ports.iter();
        ports
            .map(|port| {
                let words = format!("{} {} – {}", port.says.sign(), port.address, port.says.words());
                Line::Under(words, gear_page::tone(&port.says))
            })
            .collect()
    }

    fn push_row(&self, row: Row, is_chosen: bool, scenery: &Scenery, page: &mut Page) {
        let line = match (&self.over, is_chosen) {
            (Over::Writing(input), true) => Line::Writing {
                label: row.label().to_owned(),
                input: input.clone(),
            },
            _ => match row.value(self) {
                Some(value) => Line::choice(row.label(), value),
                None => Line::Choice {
                    label: row.label().to_owned(),
                    value: "–".to_owned(),
                    tone: Tone::Quiet,
                },
            },
        };
        page.push(line, is_chosen);
        if !is_chosen {
            return;
        }
        if let Some(wrong) = &self.wrong {
            page.push(Line::Under(format!("✗ {wrong}"), Tone::Bad), false);
        }
        let words = row.explanation(scenery, self);
        if !words.is_empty() {
            page.push(Line::Under(words, Tone::Text), false);
        }
    }

    fn address_page(&self, which: Which, input: &Input) -> Page {
        let mut page = Page::titled(match which {
            Which::Node => "The node's address",
            Which::Gps => "The GPS's address",
        });
        page.push(
            Line::Writing {
                label: "Address".to_owned(),
                input: input.clone(),
            },
            true,
        );
        if let Some(wrong) = &self.wrong {
            page.push(Line::Under(format!("✗ {wrong}"), Tone::Bad), false);
        }
        for (example, words) in [
            ("serial:/dev/ttyACM0", "a serial port"),
            ("serial:/dev/ttyUSB0@9600", "one at this speed"),
            ("tcp:127.0.0.1:10110", "connects there"),
            ("udp:127.0.0.1:10110", "listens there"),
            ("gpsd:127.0.0.1:2947", "a gpsd server"),
            ("auto", "found by listening"),
        ] {
            page.push(Line::under(format!("{example} – {words}")), false);
        }
        page.hint("Enter", "take it and listen");
        page.hint("Esc", "back");
        page
    }

    fn missing_page(&self, scenery: &Scenery) -> Page {
        let mut page = Page::titled("Begin all the same?");
        for words in self.missing(scenery) {
            page.push(Line::Words(format!("! {words}"), Tone::Close), false);
            page.push(Line::Gap, false);
        }
        page.push(
            Line::words("Everything that is received is recorded from the first moment on."),
            false,
        );
        page.hint("Space", "begin");
        page.hint("Esc", "back to the set-up");
        page
    }
}
