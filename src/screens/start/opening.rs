//! Which page is open, what was found so far, and what a key changes; a wish to touch the world is a value given back.

use std::path::PathBuf;

use crossterm::event::KeyEvent;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::keys::{self, Press};
use super::menu::{self, Item};
use super::page::{self, Page};
use super::port::Port;
use super::rehearsal_page::{self, Rehearsing, SPEEDS, Story};
use super::setup_page::{Averaging, SetUp};
use super::survey_list::{self, Saved, State};
use super::{gear_page, help};
use crate::screens::theme::Theme;
use crate::survey::Setup;

/// What was found so far.
#[derive(Clone, Debug)]
pub struct Scenery {
    /// The saved surveys, the latest first.
    pub surveys: Vec<Saved>,
    /// Whether the disk is still being looked at.
    pub is_looking: bool,
    /// Where surveys are kept, as a person writes it.
    pub kept_in: String,
    /// What each port is heard to say.
    pub ports: Vec<Port>,
    /// Whether some are still being listened to.
    pub is_probing: bool,
    /// What can be rehearsed.
    pub stories: Vec<Story>,
    /// Understands an address, and writes it as it should be; or says in words what is wrong with it.
    pub check_address: fn(&str) -> Result<String, String>,
}

impl Scenery {
    /// The last survey that can be gone on with.
    pub fn last(&self) -> Option<&Saved> {
        menu::last(&self.surveys)
    }

    /// What is heard at an address.
    pub fn port(&self, address: &str) -> Option<&Port> {
        self.ports.iter().find(|port| port.address == address)
    }
}

/// What the person wants done.
#[derive(Clone, Debug, PartialEq)]
pub enum Wish {
    /// Look at the serial ports.
    LookAtPorts,
    /// Listen no longer, and let the ports go.
    StopListening,
    /// Listen at an address.
    Listen(String),
    /// Take fixes from the receiver at an address and average them.
    Average(String),
    /// Take no more fixes.
    StopAveraging,
    /// Leave these pages for something.
    Choose(Chosen),
}

/// What the person has chosen to do.
#[derive(Clone, Debug, PartialEq)]
pub enum Chosen {
    /// Begin a survey with this set-up.
    Begin(Box<Setup>),
    /// Go on with a survey.
    GoOn(PathBuf),
    /// Replay one.
    Replay(PathBuf),
    /// Rehearse.
    Rehearse {
        /// Which story.
        scenario: String,
        /// Which world.
        seed: u64,
        /// Times life.
        speed: f64,
    },
    /// Leave the program.
    Leave,
}

/// The pages before a survey, as they stand.
#[derive(Clone, Debug)]
pub struct Opening {
    /// What was found so far.
    pub scenery: Scenery,
    /// The palette.
    pub theme: Theme,
    /// Something to be said, until the next key.
    pub word: Option<String>,
    open: Open,
    item: Option<Item>,
    setup: Option<SetUp>,
    help: Option<usize>,
}

#[derive(Clone, Debug)]
enum Open {
    Menu,
    SetUp,
    Surveys(usize),
    Rehearsal(Rehearsing),
    Gear(usize),
}

impl Opening {
    /// The menu, over what was found so far.
    pub fn new(scenery: Scenery, theme: Theme) -> Self {
        Self {
            scenery,
            theme,
            word: None,
            open: Open::Menu,
            item: None,
            setup: None,
            help: None,
        }
    }

    /// A survey on the disk was looked at.
    pub fn found_survey(&mut self, saved: Saved) {
        self.scenery.surveys.push(saved);
        self.scenery.surveys.sort_by(|one, other| other.folder.cmp(&one.folder));
        if let Some(setup) = &mut self.setup
            && !setup.is_touched()
        {
            setup.take_over(menu::last(&self.scenery.surveys));
        }
    }

    /// What is heard at an address has changed.
    pub fn found_port(&mut self, port: Port) {
        match self
            .scenery
            .ports
            .iter_mut()
            .find(|known| known.address == port.address)
        {
            Some(known) => *known = port,
            None => self.scenery.ports.push(port),
        }
        if let Some(setup) = &mut self.setup {
            setup.choose_by_ear(&self.scenery.ports);
        }
    }

    /// The averaging has come on.
    pub fn averaged(&mut self, averaging: Averaging) {
        if let Some(setup) = &mut self.setup {
            setup.averaged(averaging);
        }
    }

    /// A key was pressed.
    pub fn press(&mut self, key: KeyEvent) -> Vec<Wish> {
        self.word = None;
        if let (Open::SetUp, None, Some(setup)) = (&self.open, self.help, &mut self.setup)
            && setup.is_writing()
            && !keys::is_interrupt(key)
        {
            return setup.write(key, &self.scenery);
        }
        let is_asking = matches!(self.open, Open::SetUp) && self.setup.as_ref().is_some_and(SetUp::is_asking);
        let Some(press) = keys::read(key).or(is_asking.then_some(Press::Back)) else {
            self.word = Some("That key does nothing here. ? shows the keys.".to_owned());
            return Vec::new();
        };
        if let Some(from) = self.help {
            self.help =
                moved(press, from, usize::MAX).or((press != Press::Back && press != Press::Help).then_some(from));
            return if press == Press::Leave {
                vec![Wish::Choose(Chosen::Leave)]
            } else {
                Vec::new()
            };
        }
        match press {
            Press::Help => self.help = Some(0),
            Press::Theme => {
                self.theme = match self.theme {
                    Theme::Dark => Theme::Light,
                    Theme::Light => Theme::Plain,
                    Theme::Plain => Theme::Dark,
                };
            }
            press => return self.turn(press),
        }
        Vec::new()
    }

    fn turn(&mut self, press: Press) -> Vec<Wish> {
        let surveys = self.scenery.surveys.len();
        match &mut self.open {
            Open::Menu => return self.menu(press),
            Open::SetUp => {
                let Some(setup) = &mut self.setup else {
                    self.open = Open::Menu;
                    return Vec::new();
                };
                let (stays, wishes) = setup.press(press, &self.scenery);
                if !stays {
                    self.open = Open::Menu;
                }
                return wishes;
            }
            Open::Surveys(at) => match press {
                Press::Next | Press::Open => return self.replay(),
                Press::Back => self.open = Open::Menu,
                Press::Leave => return vec![Wish::Choose(Chosen::Leave)],
                press => *at = moved(press, *at, surveys).unwrap_or(*at),
            },
            Open::Rehearsal(at) => match press {
                Press::Next => return rehearse(&self.scenery.stories, at),
                Press::Open | Press::More => at.change(true, self.scenery.stories.len()),
                Press::Less => at.change(false, self.scenery.stories.len()),
                Press::Back => self.open = Open::Menu,
                Press::Leave => return vec![Wish::Choose(Chosen::Leave)],
                press => at.row = moved(press, at.row, Rehearsing::ROWS).unwrap_or(at.row),
            },
            Open::Gear(from) => match press {
                Press::Next | Press::Again if !self.scenery.is_probing => return vec![Wish::LookAtPorts],
                Press::Next | Press::Again => self.word = Some("The ports are still being listened to.".to_owned()),
                Press::Back if self.scenery.is_probing => return vec![Wish::StopListening],
                Press::Back => self.open = Open::Menu,
                Press::Leave => return vec![Wish::Choose(Chosen::Leave)],
                press => *from = moved(press, *from, 2 * self.scenery.ports.len()).unwrap_or(*from),
            },
        }
        Vec::new()
    }

    fn menu(&mut self, press: Press) -> Vec<Wish> {
        let items = menu::items(&self.scenery);
        let at = self.item_index(&items);
        match press {
            Press::Next | Press::Open => return self.act(items[at]),
            Press::Number(number) => {
                if let Some(item) = items.get(number - 1) {
                    self.item = Some(*item);
                    return self.act(*item);
                }
            }
            Press::Leave => return vec![Wish::Choose(Chosen::Leave)],
            Press::Back => self.word = Some("This is the first page. q leaves.".to_owned()),
            press => self.item = moved(press, at, items.len()).map(|at| items[at]).or(self.item),
        }
        Vec::new()
    }

    fn item_index(&self, items: &[Item]) -> usize {
        self.item
            .and_then(|item| items.iter().position(|other| *other == item))
            .unwrap_or(0)
    }

    fn act(&mut self, item: Item) -> Vec<Wish> {
        match item {
            Item::GoOn => {
                let folder = self.scenery.last().map(|last| last.folder.clone());
                return folder
                    .map(|folder| Wish::Choose(Chosen::GoOn(folder)))
                    .into_iter()
                    .collect();
            }
            Item::Begin => {
                self.open = Open::SetUp;
                let last = menu::last(&self.scenery.surveys);
                let setup = self.setup.get_or_insert_with(|| SetUp::new(last));
                setup.choose_by_ear(&self.scenery.ports);
                return self.look_once();
            }
            Item::Replay => self.open = Open::Surveys(0),
            Item::Rehearse => self.open = Open::Rehearsal(Rehearsing::default()),
            Item::Gear => {
                self.open = Open::Gear(0);
                return self.look_once();
            }
            Item::Leave => return vec![Wish::Choose(Chosen::Leave)],
        }
        Vec::new()
    }

    /// Ports are looked at when a page first shows them: opening one restarts many boards.
    fn look_once(&self) -> Vec<Wish> {
        let known = self.scenery.is_probing || !self.scenery.ports.is_empty();
        if known { Vec::new() } else { vec![Wish::LookAtPorts] }
    }

    fn replay(&mut self) -> Vec<Wish> {
        let Open::Surveys(at) = self.open else {
            return Vec::new();
        };
        match self.scenery.surveys.get(at) {
            Some(Saved {
                state: State::Unreadable(why),
                ..
            }) => {
                self.word = Some(format!("It cannot be replayed: {why}"));
                Vec::new()
            }
            Some(saved) => vec![Wish::Choose(Chosen::Replay(saved.folder.clone()))],
            None => Vec::new(),
        }
    }

    /// The page that is open.
    pub fn page(&self) -> Page {
        let mut page = match (&self.help, &self.open, &self.setup) {
            (Some(from), ..) => help::page(*from),
            (None, Open::SetUp, Some(setup)) => setup.page(&self.scenery),
            (None, Open::Surveys(at), _) => survey_list::page(&self.scenery, *at),
            (None, Open::Rehearsal(at), _) => rehearsal_page::page(&self.scenery.stories, at),
            (None, Open::Gear(from), _) => gear_page::page(&self.scenery, *from),
            (None, Open::Menu | Open::SetUp, _) => {
                menu::page(&self.scenery, self.item_index(&menu::items(&self.scenery)))
            }
        };
        if let Some(word) = &self.word {
            page.word = Some(word.clone());
        }
        page
    }

    /// Draws the page that is open.
    pub fn render(&self, buffer: &mut Buffer, area: Rect) {
        page::render(buffer, area, &self.page(), self.theme);
    }
}

fn rehearse(stories: &[Story], at: &Rehearsing) -> Vec<Wish> {
    let Some(story) = stories.get(at.story) else {
        return Vec::new();
    };
    vec![Wish::Choose(Chosen::Rehearse {
        scenario: story.name.clone(),
        seed: at.seed,
        speed: SPEEDS[at.speed.min(SPEEDS.len() - 1)],
    })]
}

/// Where a key moves the choice among so many lines; `None` where it moves nothing.
pub fn moved(press: Press, at: usize, lines: usize) -> Option<usize> {
    let last = lines.saturating_sub(1);
    match press {
        Press::Up => Some(at.saturating_sub(1)),
        Press::Down => Some(at.saturating_add(1).min(last)),
        Press::PageUp => Some(at.saturating_sub(5)),
        Press::PageDown => Some(at.saturating_add(5).min(last)),
        Press::Number(number) if number <= lines => Some(number - 1),
        _ => None,
    }
}
