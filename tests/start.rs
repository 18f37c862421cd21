//! The pages before a survey: keys in, pages of text out, at the size of a phone, a small and a large window.

#![expect(clippy::unwrap_used, reason = "a page that cannot be drawn is a failed test")]

use std::path::PathBuf;

use crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use farpace::findings::station::Averaged;
use farpace::ground::Position;
use farpace::screens::start::opening::{Chosen, Opening, Scenery, Wish};
use farpace::screens::start::port::{Port, Says, Voice};
use farpace::screens::start::rehearsal_page::Story;
use farpace::screens::start::setup_page::{Averaging, Fixing};
use farpace::screens::start::survey_list::{Saved, State};
use farpace::screens::theme::Theme;
use farpace::survey::Setup;
use farpace::survey::setup::{BoardNote, Station};
use farpace::units::{Degrees, Metres, Seconds};
use farpace::wire::visible::is_hidden;
use ratatui::Terminal;
use ratatui::backend::TestBackend;

const SIZES: [(u16, u16); 3] = [(40, 20), (80, 24), (140, 40)];

fn scenery() -> Scenery {
    let story = |name: &str, line: &str, seconds| Story {
        name: name.to_owned(),
        line: line.to_owned(),
        seconds,
    };
    Scenery {
        surveys: Vec::new(),
        is_looking: false,
        kept_in: "/home/walker/farpace".to_owned(),
        ports: Vec::new(),
        is_probing: false,
        stories: vec![
            story("first-look", "a short walk", 240),
            story("sweep", "fern turned round", 600),
        ],
        check_address: |text| match text.split_once(':') {
            Some(("serial" | "tcp", _)) => Ok(text.to_owned()),
            _ => Err(format!("address \"{text}\" is none that is known")),
        },
    }
}

fn survey(title: &str, state: State) -> Saved {
    let setup = Setup {
        title: title.to_owned(),
        station: Station {
            name: Some("packing shed".to_owned()),
            position: Some(Position::new(Degrees(52.1), Degrees(-2.9)).unwrap()),
            height: Some(Metres(6.0)),
            sigma: Some(Metres(1.5)),
        },
        boards: vec![BoardNote {
            name: "yew".to_owned(),
            reference: true,
            ..BoardNote::default()
        }],
        ..Setup::default()
    };
    Saved {
        folder: PathBuf::from(format!("/home/walker/farpace/2026-05-02-1941-{title}")),
        title: title.to_owned(),
        when: "2 May 2026, 19:41".to_owned(),
        is_recent: false,
        exchanges: Some(7604),
        boards: vec!["fern".to_owned(), "yew".to_owned()],
        state,
        torn: None,
        more_in_table: None,
        rehearsed: false,
        setup: Some(setup),
    }
}

fn talks(address: &str, node: Option<&str>, gps: Option<&str>) -> Port {
    let voice = |about: Option<&str>| about.map(|about| Voice(Some(about.to_owned())));
    Port {
        address: address.to_owned(),
        device: Some("orchard serial".to_owned()),
        says: Says::Talks {
            node: voice(node),
            gps: voice(gps),
            baud: Some(115_200),
        },
    }
}

/// A person at the pages.
struct Person {
    opening: Opening,
    wishes: Vec<Wish>,
}

impl Person {
    fn at(scenery: Scenery) -> Self {
        Self {
            opening: Opening::new(scenery, Theme::Plain),
            wishes: Vec::new(),
        }
    }

    fn key(&mut self, code: KeyCode) -> &mut Self {
        self.wishes = self.opening.press(KeyEvent::from(code));
        self
    }

    fn keys(&mut self, codes: &[KeyCode]) -> &mut Self {
        for code in codes {
            self.key(*code);
        }
        self
    }

    fn types(&mut self, text: &str) -> &mut Self {
        for letter in text.chars() {
            self.key(KeyCode::Char(letter));
        }
        self
    }

    fn page(&self, (width, height): (u16, u16)) -> String {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        terminal
            .draw(|frame| {
                let area = frame.area();
                self.opening.render(frame.buffer_mut(), area);
            })
            .unwrap();
        let buffer = terminal.backend().buffer();
        let mut text = String::new();
        for y in 0..height {
            let line: String = (0..width).map(|x| buffer[(x, y)].symbol()).collect();
            assert!(!line.contains(is_hidden), "a terminal would obey {line:?}");
            text.push_str(line.trim_end());
            text.push('\n');
        }
        text
    }

    /// The page in one line, as it is read: the left column before the frames beside it.
    fn reads(&self, size: (u16, u16)) -> String {
        let page = self.page(size);
        let (mut left, mut right) = (String::new(), String::new());
        for line in page.lines() {
            let frame = line.find(['┌', '│', '└']).unwrap_or(line.len());
            left.push_str(&line[..frame]);
            left.push('\n');
            right.push_str(&line[frame..].replace(['┌', '│', '└', '─', '┐', '┘'], " "));
            right.push('\n');
        }
        left.push_str(&right);
        left.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    fn sees(&self, words: &str) {
        for size in SIZES {
            let reads = self.reads(size);
            assert!(reads.contains(words), "{size:?} lacks “{words}”:\n{}", self.page(size));
        }
    }

    fn chose(&self) -> &Chosen {
        match &self.wishes[..] {
            [Wish::Choose(chosen)] => chosen,
            other => panic!("{other:?} is no choice"),
        }
    }
}

use KeyCode::{Char, Down, Enter, Esc, Left, Right, Up};
const SPACE: KeyCode = Char(' ');

#[test]
fn pages_of_text() {
    let mut person = Person::at(scenery());
    person.opening.found_survey(Saved {
        torn: Some(17),
        ..survey("Larkfield orchard, east side", State::Unfinished)
    });
    for (width, height) in SIZES {
        insta::assert_snapshot!(format!("start_menu_{width}x{height}"), person.page((width, height)));
    }
    person.keys(&[Down, SPACE]);
    assert_eq!(person.wishes, [Wish::LookAtPorts]);
    person
        .opening
        .found_port(talks("serial:/dev/ttyACM0", Some("fern boot 7"), None));
    let why = "/dev/ttyUSB0 may not be opened by this user, only by the group dialout: run `sudo usermod -aG dialout \
               $USER`, then log out and in again";
    person.opening.found_port(Port {
        address: "serial:/dev/ttyUSB0".to_owned(),
        device: None,
        says: Says::Denied(why.to_owned()),
    });
    for (width, height) in SIZES {
        insta::assert_snapshot!(format!("start_set_up_{width}x{height}"), person.page((width, height)));
    }
}

#[test]
fn a_survey_that_was_broken_off_is_offered_first() {
    let mut person = Person::at(scenery());
    person.opening.found_survey(Saved {
        torn: Some(17),
        ..survey("Larkfield", State::Unfinished)
    });
    person.sees("▸ Go on with “Larkfield” It was not finished: 2 May 2026, 19:41, 7,604 exchanges, fern, yew.");
    person.sees("Its 17 bytes are set aside");
    person.key(SPACE);
    assert!(matches!(person.chose(), Chosen::GoOn(folder) if folder.ends_with("2026-05-02-1941-Larkfield")));
}

#[test]
fn one_that_was_finished_long_ago_comes_second_and_a_rehearsal_never() {
    let mut person = Person::at(scenery());
    person.opening.found_survey(Saved {
        rehearsed: true,
        is_recent: true,
        ..survey("Zinnia", State::Unfinished)
    });
    person.opening.found_survey(survey("Larkfield", State::Finished));
    person.sees("▸ Begin a survey");
    person.sees("Go on with “Larkfield”");
    assert!(!person.reads((140, 40)).contains("Go on with “Zinnia”"));
}

#[test]
fn with_nothing_saved_one_can_begin_rehearse_and_look() {
    let mut person = Person::at(scenery());
    person.sees("▸ Begin a survey");
    person.sees("Nothing is saved yet");
    assert!(!person.reads((140, 40)).contains("Go on"));
    person.keys(&[Char('2')]);
    person.sees("No survey is saved in /home/walker/farpace yet.");
    person.keys(&[Esc, Char('q')]);
    assert_eq!(*person.chose(), Chosen::Leave);
}

#[test]
fn a_saved_survey_is_chosen_to_replay() {
    let mut person = Person::at(scenery());
    person.opening.found_survey(survey("a", State::Finished));
    person
        .opening
        .found_survey(survey("b", State::Unreadable("it is torn".to_owned())));
    person.opening.found_survey(survey("c", State::RowsOnly));
    person.keys(&[Char('3')]);
    person.sees("Replay which survey?");
    person.sees("only samples.csv is left");
    person.keys(&[Down, SPACE]);
    assert_eq!(person.wishes, []);
    person.sees("It cannot be replayed: it is torn");
    person.keys(&[Down, SPACE]);
    assert!(matches!(person.chose(), Chosen::Replay(folder) if folder.ends_with("2026-05-02-1941-a")));
}

#[test]
fn a_survey_whose_table_holds_more_than_its_journal_says_so_in_the_list() {
    let mut person = Person::at(scenery());
    person.opening.found_survey(Saved {
        more_in_table: Some("samples.csv holds 46 exchanges more than journal.csv".to_owned()),
        ..survey("Larkfield orchard", State::Finished)
    });
    person.keys(&[Char('3')]);
    person.sees("! samples.csv holds 46 exchanges more than journal.csv");
}

#[test]
fn a_rehearsal_has_a_story_a_world_and_a_speed() {
    let mut person = Person::at(scenery());
    person.keys(&[Char('3')]);
    person.sees("‹ first-look › a short walk. It takes 4 min.");
    person.keys(&[Right, Down, Right, Right, Left, Down, Right, Right]);
    person.sees("‹ sweep › fern turned round. It takes 2 min.");
    person.key(SPACE);
    assert_eq!(
        *person.chose(),
        Chosen::Rehearse {
            scenario: "sweep".to_owned(),
            seed: 2,
            speed: 5.0
        }
    );
}

#[test]
fn esc_stops_the_listening_first_and_goes_back_then() {
    let mut person = Person::at(scenery());
    person.key(SPACE);
    person.opening.scenery.is_probing = true;
    person.sees("Esc stop listening");
    person.key(KeyCode::Esc);
    assert_eq!(person.wishes, [Wish::StopListening]);
    person.sees("Begin a survey");
    person.opening.scenery.is_probing = false;
    person.opening.found_port(Port {
        address: "serial:/dev/ttyACM0".to_owned(),
        device: None,
        says: Says::BrokenOff,
    });
    person.sees("not listened to the end; r looks again");
    person.key(KeyCode::Esc).sees("What would you like to do?");
}

#[test]
fn ports_are_shown_as_they_are_heard_and_taken_unless_chosen_by_hand() {
    let mut person = Person::at(scenery());
    person.key(SPACE);
    assert_eq!(person.wishes, [Wish::LookAtPorts]);
    person.opening.found_port(Port {
        address: "serial:/dev/ttyACM0".to_owned(),
        device: None,
        says: Says::Listening,
    });
    person.sees("… serial:/dev/ttyACM0 – listening");
    person
        .opening
        .found_port(talks("serial:/dev/ttyACM0", Some("fern boot 7"), None));
    person
        .opening
        .found_port(talks("serial:/dev/ttyUSB0", None, Some("fix, 9 satellites")));
    person.sees("▸ Node serial:/dev/ttyACM0 ● node: fern boot 7.");
    person
        .key(Down)
        .sees("▸ GPS serial:/dev/ttyUSB0 ● GPS: fix, 9 satellites.");
    // Another address, typed.
    person.keys(&[Up, Enter]).sees("▸ serial:/dev/ttyACM0");
    person
        .keys(&[Down, Down, Down, Enter])
        .keys(&[KeyCode::Backspace; 40])
        .types("!")
        .key(Enter);
    person.sees("is none that is known");
    assert_eq!(person.wishes, []);
    person.key(KeyCode::Backspace).types("tcp:127.0.0.1:9").key(Enter);
    assert_eq!(person.wishes, [Wish::Listen("tcp:127.0.0.1:9".to_owned())]);
    person
        .opening
        .found_port(talks("serial:/dev/ttyACM7", Some("hazel boot 1"), None));
    person.sees("▸ Node tcp:127.0.0.1:9");
}

#[test]
fn nothing_that_gear_or_a_saved_survey_says_reaches_a_terminal_unescaped() {
    let evil = "e\u{1b}[31m\u{9b}2J\u{7}\u{202e}\u{2028}\u{200b}\nFORGED";
    let hostile = |state| {
        let mut saved = survey(&format!("T{evil}"), state);
        saved.folder = PathBuf::from(format!("/home/walker/{evil}"));
        saved.boards = vec![format!("fern{evil}")];
        if let Some(setup) = &mut saved.setup {
            setup.note = Some(format!("N{evil}"));
            setup.station.name = Some(format!("S{evil}"));
        }
        saved
    };
    // The menu, the gear as it is heard, and what may not be opened.
    let mut person = Person::at(scenery());
    person.opening.found_survey(hostile(State::Unfinished));
    person
        .opening
        .found_survey(hostile(State::Unreadable(format!("why{evil}"))));
    let look = |person: &Person| SIZES.map(|size| person.page(size)).concat();
    let mut seen = look(&person);
    person.keys(&[Down, SPACE]);
    let voice = format!("fern{evil} boot 7");
    let mut port = talks(&format!("serial:/dev/{evil}"), Some(&voice), Some(&voice));
    port.device = Some(format!("device{evil}"));
    person.opening.found_port(port);
    person.opening.found_port(Port {
        address: format!("serial:/dev/other{evil}"),
        device: Some(format!("device{evil}")),
        says: Says::Denied(format!("denied{evil}")),
    });
    for _ in 0..6 {
        seen += &look(&person);
        person.key(Down);
    }
    // The list of what can be replayed.
    let mut person = Person::at(scenery());
    for state in [
        State::Finished,
        State::RowsOnly,
        State::Unreadable(format!("why{evil}")),
    ] {
        person.opening.found_survey(Saved {
            more_in_table: Some(format!("more{evil}")),
            ..hostile(state)
        });
    }
    person.key(Char('3'));
    for _ in 0..5 {
        person.key(Down);
        seen += &look(&person);
    }
    person.key(SPACE);
    seen += &look(&person);
    assert!(seen.contains("fern") && seen.contains("Te"), "{seen}");
}

#[test]
fn a_port_that_may_not_be_opened_says_what_to_do() {
    let mut person = Person::at(scenery());
    person.keys(&[Char('4')]);
    let says = Says::Denied(
        "it may not be opened: run `sudo usermod -aG dialout $USER`, then log out and in again".to_owned(),
    );
    person.opening.found_port(Port {
        address: "serial:/dev/ttyUSB0".to_owned(),
        device: None,
        says,
    });
    person.sees(
        "✗ serial:/dev/ttyUSB0 it may not be opened: run `sudo usermod -aG dialout $USER`, then log out and in again",
    );
}

#[test]
fn a_survey_begins_with_something_missing_after_saying_what() {
    let mut person = Person::at(scenery());
    person.keys(&[SPACE, SPACE]);
    person.sees("Begin all the same?");
    person.sees("No station position: distances and bearings stay empty until survey.toml is edited");
    person.sees("No node is heard yet");
    person.key(Esc).sees("Begin a survey");
    person.keys(&[SPACE, SPACE]);
    let Chosen::Begin(setup) = person.chose() else { panic!() };
    assert_eq!(setup.sources.node.as_deref(), Some("auto"));
    assert_eq!(setup.station.position, None);
}

#[test]
fn a_survey_without_any_gear_does_not_begin() {
    let mut person = Person::at(scenery());
    person.keys(&[SPACE, Enter, Down, Down, SPACE, Down, Enter, Down, Down, SPACE, SPACE]);
    assert_eq!(person.wishes, []);
    person.sees("Neither node nor GPS: there is nothing to record.");
}

#[test]
fn what_is_typed_comes_into_the_set_up_and_errors_are_said_in_words() {
    let mut person = Person::at(scenery());
    person.key(SPACE);
    person
        .opening
        .found_port(talks("serial:/dev/ttyACM0", Some("fern boot 7"), Some("no fix yet")));
    person
        .keys(&[Down, Down, Down, Enter, Down, SPACE])
        .types("52.1")
        .key(Enter);
    person.sees("✗ that is one number; write latitude, longitude");
    person.types(", -2.9").key(Enter);
    person.keys(&[Down, Enter]).types("3").key(Enter);
    person.keys(&[Down, Enter]).types("packing shed q?").key(Enter);
    person.keys(&[Down, Enter]).types("6").key(Enter);
    person.keys(&[Down, Enter]).types("Larkfield").key(Enter);
    person.keys(&[Down, Enter]).types("dry").key(Enter);
    person
        .keys(&[Down, Enter, KeyCode::Backspace, KeyCode::Backspace])
        .types("100")
        .key(Enter);
    person.sees("✗ 100 % can never be proved");
    person.keys(&[KeyCode::Backspace; 3]).types("90").key(Enter);
    person.keys(&[Down, Down, Down, Down, Enter]).types("fern").key(Enter);
    person.keys(&[Down, Enter]);
    person.sees("▸ Reference yes");
    person.keys(&[SPACE, SPACE]);
    let Chosen::Begin(setup) = person.chose() else { panic!() };
    assert_eq!(
        setup.station.position,
        Some(Position::new(Degrees(52.1), Degrees(-2.9)).unwrap())
    );
    assert_eq!(setup.station.sigma, Some(Metres(3.0)));
    assert_eq!(setup.station.name.as_deref(), Some("packing shed q?"));
    assert_eq!(setup.station.height, Some(Metres(6.0)));
    assert_eq!(
        (setup.title.as_str(), setup.note.as_deref()),
        ("Larkfield", Some("dry"))
    );
    assert_eq!((setup.goal.delivery, setup.goal.messages), (0.9, 100));
    assert_eq!(
        setup.boards,
        [BoardNote {
            name: "fern".to_owned(),
            reference: true,
            ..BoardNote::default()
        }]
    );
    assert_eq!(setup.sources.node, setup.sources.gps, "one port says both");
}

#[test]
fn the_last_survey_lends_its_goal_and_boards_and_its_station_when_asked() {
    let mut person = Person::at(scenery());
    person.opening.found_survey(survey("Larkfield", State::Finished));
    person.key(SPACE);
    person.keys(&[Down, Down, Down]).sees("▸ Position –");
    person.key(Enter);
    person.sees(
        "As in the last survey packing shed, 52.10000000, -2.90000000 ±1.5 m, from “Larkfield”, 2 May 2026, 19:41.",
    );
    person.keys(&[Down, Down, SPACE]);
    person.sees("▸ Position 52.10000000, -2.90000000");
    person.keys(&[SPACE, SPACE]);
    let Chosen::Begin(setup) = person.chose() else { panic!() };
    assert_eq!(setup.station.name.as_deref(), Some("packing shed"));
    assert_eq!(setup.boards.len(), 1);
    assert_eq!(setup.title, "", "another survey is another survey");
}

#[test]
fn the_station_is_taken_from_the_gps_with_its_spread() {
    let mut person = Person::at(scenery());
    person.key(SPACE);
    person
        .opening
        .found_port(talks("serial:/dev/ttyUSB0", None, Some("fix, 9 satellites")));
    person.keys(&[Down, Down, Down, Enter, SPACE]);
    assert_eq!(person.wishes, [Wish::Average("serial:/dev/ttyUSB0".to_owned())]);
    person.sees("Waiting for the GPS at serial:/dev/ttyUSB0");
    person.key(SPACE).sees("Waiting for the GPS");
    person.opening.averaged(Averaging {
        fixing: Fixing::NoFix,
        mean: None,
    });
    person.sees("has no fix yet");
    let position = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
    let mean = Averaged {
        count: 64,
        time: Seconds(63.0),
        position,
        spread: Some((Metres(0.62), Metres(0.91))),
        own_sigma: Some(Metres(2.55)),
        sigma: Some(Metres(2.46)),
        wanders: false,
    };
    person.opening.averaged(Averaging {
        fixing: Fixing::Fixed,
        mean: Some(mean),
    });
    person.sees("Fixes 64 in 63 s");
    person.sees("Spread ±0.6 m east, ±0.9 m north");
    person.sees("Known to ±2.5 m");
    person.key(SPACE);
    assert_eq!(person.wishes, [Wish::StopAveraging]);
    person.keys(&[SPACE, SPACE]);
    let Chosen::Begin(setup) = person.chose() else { panic!() };
    assert_eq!(setup.station.position, Some(position));
    assert_eq!(setup.station.sigma, Some(Metres(2.5)));
}

#[test]
fn nothing_typed_is_lost_by_going_back_or_by_one_q() {
    let mut person = Person::at(scenery());
    person.keys(&[SPACE]);
    person.keys(&[Down; 7]).key(Enter).types("Larkfield").key(Enter);
    person.key(Esc).sees("What would you like to do?");
    person.key(SPACE).sees("Larkfield");
    person
        .key(Char('q'))
        .sees("What was typed into the set-up is not kept.");
    person.key(Char('n')).sees("Larkfield");
    person.keys(&[Char('q'), Char('q')]);
    assert_eq!(*person.chose(), Chosen::Leave);
}

#[test]
fn help_lists_the_keys_and_goes_again() {
    let mut person = Person::at(scenery());
    person.key(Char('?')).sees("Space The main next thing");
    person.key(Esc).sees("What would you like to do?");
}

#[test]
fn an_interrupt_leaves_even_while_writing() {
    let mut person = Person::at(scenery());
    person.keys(&[SPACE, Down, Down, Enter]);
    let wishes = person.opening.press(KeyEvent::new(Char('c'), KeyModifiers::CONTROL));
    assert_eq!(wishes, [Wish::Choose(Chosen::Leave)]);
}

#[test]
fn no_size_and_no_key_panics() {
    let all = [
        SPACE,
        Enter,
        Up,
        Down,
        Left,
        Right,
        Esc,
        Char('r'),
        Char('t'),
        Char('?'),
        Char('x'),
        Char('9'),
    ];
    let mut person = Person::at(scenery());
    person
        .opening
        .found_survey(survey("Larkfield orchard", State::Unfinished));
    person
        .opening
        .found_port(talks("serial:/dev/ttyACM0", Some("fern boot 7"), None));
    // A walk through the pages that meets most of them, by a fixed rule.
    let mut at: usize = 7;
    for step in 0..600_usize {
        at = (at * 31 + 17 + step / 12) % 1009;
        person.key(all[at % all.len()]);
        if step % 7 == 0 {
            let (width, height) = ((at % 150) as u16, (at % 47) as u16);
            person.page((width.max(1), height.max(1)));
        }
    }
    for size in [(1, 1), (2, 1), (35, 16), (36, 15)] {
        person.page(size);
    }
    person.keys(&[Esc, Esc, Esc, Esc]);
    assert!(person.reads((35, 16)).contains("It needs 36 × 16"));
}
