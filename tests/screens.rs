//! Pages of text from lines and keys: the field screen and the replay, driven without clock or terminal.

#![expect(clippy::unwrap_used, reason = "a page that cannot be drawn is a failed test")]

use std::fmt::Write as _;

use crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use farpace::findings::curves::Known;
use farpace::findings::estimates::estimates;
use farpace::findings::groundwork::Groundwork;
use farpace::findings::side::Side;
use farpace::findings::together::learn::{Source as Figured, figures_of};
use farpace::findings::together::member::Member;
use farpace::findings::together::whole::together;
use farpace::ground::Position;
use farpace::screens::desk::{Desk, Seat};
use farpace::screens::field::Field;
use farpace::screens::playback::Playback;
use farpace::screens::scene::Subject;
use farpace::screens::theme::Theme;
use farpace::screens::ui::Wish;
use farpace::stats::cells::SCurve;
use farpace::stats::walk::scurve::MeasuredSCurve;
use farpace::survey::setup::BoardNote;
use farpace::survey::{JournalLine, Setup, Source, Survey};
use farpace::units::{Degrees, Elapsed, UtcMs};
use farpace::wire::visible::is_hidden;
use farpace::wire::{SurveyorRecord, surveyor};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use unicode_width::UnicodeWidthStr as _;

/// Ten past nine on an invented morning.
const BEGINS: i64 = 1_778_922_600_000;
/// Where the walk begins, degrees.
const STATION: (f64, f64) = (52.1, -2.9);

/// A survey being made by a script instead of gear.
#[expect(clippy::struct_excessive_bools, reason = "each is a piece of gear, there or not")]
struct Walk {
    survey: Survey,
    field: Field,
    lines: Vec<JournalLine>,
    at_s: f64,
    n: u64,
    east_m: f64,
    gps: bool,
    /// How far off the receiver thinks it is, metres east.
    gps_off_m: f64,
    /// Whether the receiver says how fast it moves.
    tells_speed: bool,
    node: bool,
    /// One in so many pings is lost; 0 for none.
    lost_every: u64,
    /// What is weaker than this is lost, dBm.
    floor_dbm: f64,
    /// The board's gain by turn, dB, and how it is turned.
    gain: fn(f64) -> f64,
    mark_deg: f64,
    ended: bool,
    rings: usize,
}

impl Walk {
    fn new() -> Self {
        let mut setup = Setup {
            title: "Larkfield orchard, east side".to_owned(),
            ..Setup::default()
        };
        setup.station.name = Some("packing shed".to_owned());
        setup.station.position = Position::new(Degrees(STATION.0), Degrees(STATION.1)).ok();
        setup.sources.gps = Some("serial:/dev/gps".to_owned());
        setup.sources.node = Some("serial:/dev/node".to_owned());
        setup.boards = vec![BoardNote {
            name: "yew".to_owned(),
            reference: true,
            ..BoardNote::default()
        }];
        Self::with(setup)
    }

    fn with(setup: Setup) -> Self {
        Self {
            survey: Survey::new(setup, None),
            field: Field::new(Theme::Plain),
            lines: Vec::new(),
            at_s: 0.0,
            n: 0,
            east_m: 8.0,
            gps: true,
            gps_off_m: 0.0,
            tells_speed: false,
            node: true,
            lost_every: 0,
            floor_dbm: -95.0,
            gain: |_| 0.0,
            mark_deg: 0.0,
            ended: false,
            rings: 0,
        }
    }

    fn line(&mut self, source: Source, text: &str) {
        let line = JournalLine {
            at: Elapsed::from_seconds(self.at_s),
            wall: UtcMs(BEGINS + (self.at_s * 1000.0).round() as i64),
            source,
            bytes: text.as_bytes().to_vec(),
            left_out: 0,
        };
        self.survey.apply(&line);
        self.lines.push(line);
    }

    fn hello(mut self, board: &str, boot: u32) -> Self {
        self.n = 0;
        self.line(
            Source::Node,
            &format!("hello board={board} boot={boot} radio=802.11 chan=6 rate=10"),
        );
        self
    }

    /// Lets seconds pass, walking east at `pace` metres a second: ten pings and a fix each.
    fn go(mut self, seconds: u32, pace: f64) -> Self {
        for _ in 0..seconds {
            if self.gps {
                self.fix();
                if self.tells_speed {
                    self.speed(pace);
                }
            }
            for _ in 0..10 {
                self.at_s += 0.1;
                self.east_m += pace / 10.0;
                self.n += 1;
                if self.node {
                    self.ping();
                }
            }
            self.page(80, 24);
        }
        self
    }

    fn ping(&mut self) {
        let n = self.n;
        let lost = self.lost_every > 0 && (n * 7 + n / 5).is_multiple_of(self.lost_every);
        let ripple = [0.0, 2.0, -1.0, 3.0, -3.0, 1.0, -2.0][(n % 7) as usize];
        let level = -45.0 - 24.0 * (self.east_m.max(1.0) / 10.0).log10() + ripple + (self.gain)(self.mark_deg);
        let text = if lost || level < self.floor_dbm {
            format!("lost n={n}")
        } else {
            format!("echo n={n} here={level:.0} there={:.0}", level - 2.0)
        };
        self.line(Source::Node, &text);
    }

    fn fix(&mut self) {
        let seconds = BEGINS / 1000 % 86_400 + self.at_s.floor() as i64;
        let lon = STATION.1 + (self.east_m + self.gps_off_m) / (111_320.0 * STATION.0.to_radians().cos());
        let minutes = |degrees: f64| (degrees.abs().floor(), degrees.abs().fract() * 60.0);
        let ((lat_d, lat_m), (lon_d, lon_m)) = (minutes(STATION.0), minutes(lon));
        let body = format!(
            "GPGGA,{:02}{:02}{:02}.00,{lat_d:02.0}{lat_m:08.5},N,{lon_d:03.0}{lon_m:08.5},W,1,10,0.9,40.0,M,47.0,M,,",
            seconds / 3600,
            seconds / 60 % 60,
            seconds % 60
        );
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        self.line(Source::Gps, &format!("${body}*{sum:02X}"));
    }

    /// The receiver says how fast it moves, metres a second.
    fn speed(&mut self, pace: f64) {
        let body = format!("GPVTG,90.0,T,,M,{:.2},N,{:.2},K,A", pace * 1.943_844, pace * 3.6);
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        self.line(Source::Gps, &format!("${body}*{sum:02X}"));
    }

    /// Has the slower estimates made, the needs of yew and fern being known from earlier surveys.
    fn estimated(mut self) -> Self {
        self.survey.samples();
        let subject = Subject::Survey(&self.survey);
        let found = estimates(subject.samples(), subject.setup(), &needs_known(), None, |_| false);
        self.field.estimated(&found, subject);
        self
    }

    fn with_gps(mut self, on: bool) -> Self {
        self.gps = on;
        self
    }

    fn with_node(mut self, on: bool) -> Self {
        self.node = on;
        self
    }

    fn losing(mut self, every: u64) -> Self {
        self.lost_every = every;
        self
    }

    fn with_gain(mut self, gain: fn(f64) -> f64) -> Self {
        self.gain = gain;
        self.floor_dbm = -70.0;
        self
    }

    /// Lets the slower figures be made of all that has come so far.
    fn reckon(mut self) -> Self {
        self.survey.samples();
        let subject = Subject::Survey(&self.survey);
        let made = estimates(subject.samples(), subject.setup(), &Known::default(), None, |_| false);
        self.field.estimated(&made, subject);
        self
    }

    /// Measures so many steps of the sweep that is going on, five seconds each.
    fn steps(mut self, count: u32) -> Self {
        for _ in 0..count {
            self = self.keys(" ").go(5, 0.0);
        }
        self
    }

    fn gear(mut self, line: &str) -> Self {
        self.line(Source::Gear, line);
        self
    }

    /// Presses keys as they are named: letters, and `<esc>` and the like.
    fn keys(mut self, keys: &str) -> Self {
        for key in keys_of(keys) {
            self.survey.samples();
            let at = Elapsed::from_seconds(self.at_s);
            for wish in self.field.press(key, Subject::Survey(&self.survey), at) {
                match wish {
                    Wish::Say(record) => {
                        if let SurveyorRecord::Turn { deg } = &record {
                            self.mark_deg = deg.0;
                        }
                        self.line(Source::Surveyor, &surveyor::line(&record));
                    }
                    Wish::End => self.ended = true,
                    other => panic!("{other:?} is no wish of a survey being made"),
                }
            }
        }
        self
    }

    fn page(&mut self, width: u16, height: u16) -> String {
        let area = Rect::new(0, 0, width, height);
        let mut buffer = Buffer::empty(area);
        self.survey.samples();
        let at = Elapsed::from_seconds(self.at_s);
        self.rings += usize::from(self.field.draw(&mut buffer, area, Subject::Survey(&self.survey), at));
        text_of(&buffer)
    }
}

/// What earlier surveys taught of yew and fern.
fn needs_known() -> Known {
    let mut known = Known::default();
    for (board, m) in [("yew", -92.0), ("fern", -75.0)] {
        let curve = SCurve::new(m, 1.2).unwrap();
        let need = MeasuredSCurve::new(curve, [[0.2, 0.0], [0.0, 0.02]], 3).unwrap();
        known.learn(board, Side::There, "earlier", &need);
    }
    known
}

fn keys_of(keys: &str) -> Vec<KeyEvent> {
    let mut pressed = Vec::new();
    let mut rest = keys;
    while let Some(letter) = rest.chars().next() {
        let named = rest.strip_prefix('<').and_then(|rest| rest.split_once('>'));
        let (code, after) = match named {
            Some((name, after)) => {
                let code = match name {
                    "esc" => KeyCode::Esc,
                    "enter" => KeyCode::Enter,
                    "up" => KeyCode::Up,
                    "down" => KeyCode::Down,
                    "left" => KeyCode::Left,
                    "right" => KeyCode::Right,
                    "home" => KeyCode::Home,
                    "end" => KeyCode::End,
                    "tab" => KeyCode::Tab,
                    "space" => KeyCode::Char(' '),
                    "backspace" => KeyCode::Backspace,
                    "interrupt" => {
                        pressed.push(KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL));
                        rest = after;
                        continue;
                    }
                    other => panic!("no key `{other}`"),
                };
                (code, after)
            }
            None => (KeyCode::Char(letter), &rest[letter.len_utf8()..]),
        };
        pressed.push(KeyEvent::from(code));
        rest = after;
    }
    pressed
}

/// A page as text, without the blanks at the ends of lines.
fn text_of(buffer: &Buffer) -> String {
    let mut text = String::new();
    for y in 0..buffer.area.height {
        let mut line = String::new();
        let mut x = 0;
        while x < buffer.area.width {
            let symbol = buffer[(x, y)].symbol();
            assert!(!symbol.contains(is_hidden), "a terminal would obey {symbol:?}");
            line.push_str(symbol);
            x += symbol.width().max(1) as u16;
        }
        assert!(
            line.width() <= usize::from(buffer.area.width),
            "a line is too wide: {line}"
        );
        writeln!(text, "{}", line.trim_end()).unwrap();
    }
    text
}

/// The words of the left panel, or of the whole page where there are no panels, as they are read.
fn words_of(page: &str) -> String {
    let left = page.lines().map(|line| line.split('│').nth(1).unwrap_or(line));
    left.flat_map(str::split_whitespace).collect::<Vec<_>>().join(" ")
}

const SIZES: [(u16, u16); 3] = [(40, 20), (80, 24), (140, 40)];

fn pages(name: &str, mut walk: Walk) {
    for (width, height) in SIZES {
        insta::assert_snapshot!(format!("{name}-{width}x{height}"), walk.page(width, height));
    }
}

#[test]
fn nothing_heard_yet() {
    let mut walk = Walk::new();
    walk.at_s = 6.0;
    pages("nothing-heard", walk);
}

#[test]
fn walking() {
    pages(
        "walking",
        Walk::new().hello("fern", 7).go(60, 1.3).losing(9).go(25, 1.3),
    );
}

#[test]
fn at_a_point() {
    let walk = Walk::new().hello("fern", 7).go(40, 1.3).losing(30).keys(" ").go(5, 0.0);
    pages("point", walk);
}

#[test]
fn at_a_point_that_surely_misses() {
    let walk = Walk::new().hello("fern", 7).go(40, 1.3).losing(3).keys(" ").go(12, 0.0);
    pages("point-misses", walk);
}

#[test]
fn a_verdict_does_not_outlive_the_place_it_was_of() {
    let mut walk = Walk::new().hello("fern", 7).go(40, 1.3).keys(" ").go(70, 0.0);
    let page = words_of(&walk.page(40, 20));
    assert!(
        page.contains("◐ It delivers as asked; what it has to spare is not known.")
            && page.contains("By count: surely meets 95 %"),
        "{page}"
    );
    let mut walk = walk.losing(4).go(25, 0.0);
    for (width, height) in SIZES {
        let page = words_of(&walk.page(width, height));
        assert!(page.contains("◐ It has changed here: measure anew."), "{page}");
        assert!(!page.contains("sure,"), "{page}");
        assert!(page.contains("since then more is lost: measure anew (r)."), "{page}");
    }
    pages("point-changed", walk);
}

#[test]
fn at_a_point_the_interval_is_that_of_the_count_at_any_moment() {
    let mut walk = Walk::new().hello("fern", 7).go(10, 1.0).keys(" ");
    let mut low_before = 0.0;
    for seconds in 1..=6 {
        walk = walk.go(1, 0.0);
        let page = walk.page(140, 40);
        assert!(page.contains(&format!("% delivered of {}", 10 * seconds)), "{page}");
        assert!(page.contains("bursts ≤ 0.8 s"), "{page}");
        let before = page.split("–100 %, bursts").next().unwrap();
        let low: f64 = before.rsplit(' ').next().unwrap().parse().unwrap();
        // Four messages are worth one: far below what 10 tosses of a coin would say (72 %), and rising without a jump.
        assert!(low > low_before && low - low_before < 32.0, "{low_before} {low}");
        assert!(seconds > 1 || low < 35.0, "{low}");
        low_before = low;
    }
}

#[test]
fn a_name_that_stands_for_another_place_is_told() {
    let walk = Walk::new().hello("fern", 7).go(10, 1.0).keys(" ").go(3, 0.0).keys(" ");
    let mut walk = walk.go(60, 1.3).keys("cP1");
    for (width, height) in SIZES {
        let page = walk.page(width, height);
        assert!(page.contains("P1 is 75 m away: another place."), "{page}");
    }
    let mut walk = walk.keys("<backspace>2");
    assert!(!walk.page(80, 24).contains("another place"));
}

#[test]
fn who_walks_off_a_point_is_told() {
    let mut walk = Walk::new()
        .hello("fern", 7)
        .go(10, 1.0)
        .keys("cfar gate<enter>")
        .go(5, 0.0);
    walk.tells_speed = true;
    assert!(!walk.page(140, 40).contains("away from where"));
    let mut walk = walk.go(30, 1.2);
    for (width, height) in SIZES {
        let page = words_of(&walk.page(width, height));
        assert!(
            page.contains("m away from where this point began: Space ends it."),
            "{page}"
        );
        assert!(page.contains("You have left this point: end it."), "{page}");
        assert!(
            !page.contains("By count"),
            "nothing is said of a place that was left: {page}"
        );
    }
    // What was counted of it is what was as held there: half a minute of walking is not.
    let setup = walk.survey.setup().clone();
    let points = farpace::findings::points::points(walk.survey.samples(), &setup);
    let row = points.last().unwrap();
    assert!((50..200).contains(&row.messages), "{row:?}");
    assert!(
        row.left
            .as_ref()
            .is_some_and(|left| left.away_m > 25.0 && left.all.messages == 350),
        "{row:?}"
    );
    assert!(row.distance.unwrap().0 < 25.0, "{row:?}");
    let mut walk = walk.keys(" ");
    assert!(!walk.page(140, 40).contains("away from where"));
}

#[test]
fn what_a_board_needs_is_the_reason_and_moving_is_not_asked_for() {
    let mut walk = Walk::new();
    walk.tells_speed = true;
    let mut walk = walk.hello("fern", 7).go(20, 1.3).keys(" ").go(11, 0.0).reckon();
    for (width, height) in SIZES {
        let page = words_of(&walk.page(width, height));
        assert!(
            page.contains("By level: open, for what fern needs is not known."),
            "{page}"
        );
        assert!(!page.contains("slowly"), "{page}");
        assert!(
            page.contains("Measure it at points where messages get lost, or walk out"),
            "{page}"
        );
        assert!(page.contains("until they do, then back"), "{page}");
        assert!(
            page.contains("(it was measured at one point only)") || width == 40,
            "{page}"
        );
    }
    pages("point-need-unknown", walk);
}

#[test]
fn a_board_without_levels_delivers_all_the_same() {
    let mut walk = Walk::new().hello("fern", 7).keys(" ");
    for n in 1..=60 {
        walk.at_s += 0.1;
        walk.n = n;
        let text = if n % 20 == 0 {
            format!("lost n={n}")
        } else {
            format!("echo n={n}")
        };
        walk.line(Source::Node, &text);
    }
    let mut walk = walk.reckon();
    for (width, height) in SIZES {
        let page = words_of(&walk.page(width, height));
        assert!(page.contains("·") && !page.contains("××"), "{page}");
        assert!(page.contains("the board prints no levels"), "{page}");
    }
}

#[test]
fn a_port_full_of_rubbish_is_named_with_what_to_do() {
    let mut walk = Walk::new().hello("fern", 7).go(10, 1.0).with_node(false);
    for _ in 0..60 {
        walk.at_s += 0.1;
        walk.line(Source::Node, "echo n=\u{7}#;; here=x");
    }
    for (width, height) in SIZES {
        let page = words_of(&walk.page(width, height));
        assert!(page.contains("lines of the node cannot be used"), "{page}");
        assert!(page.contains("speed of its port"), "{page}");
        assert!(page.contains("No answer: the node is not heard."), "{page}");
    }
    let mut walk = walk.with_node(true).go(3, 1.0);
    assert!(!walk.page(140, 40).contains("cannot be used"));
}

#[test]
fn without_a_node_no_messages_are_on_their_way() {
    let mut walk = Walk::new().with_node(false).go(6, 0.0).keys(" ").go(2, 0.0);
    for (width, height) in SIZES {
        let page = words_of(&walk.page(width, height));
        assert!(!page.contains("on their way"), "{page}");
        assert!(page.contains("Is it plugged in and switched on?"), "{page}");
    }
}

#[test]
fn a_sweep() {
    let mut walk = Walk::new().hello("fern", 7).go(30, 1.3).keys("s<down><right> ");
    for _ in 0..3 {
        walk = walk.keys(" ").go(5, 0.0);
    }
    pages("sweep", walk.keys(" ").go(2, 0.0));
}

#[test]
fn a_sweep_from_its_choice_to_its_end() {
    let mut walk = Walk::new().hello("fern", 7).go(20, 1.0).keys("s");
    insta::assert_snapshot!("sweep-choice-80x24", walk.page(80, 24));
    walk = walk.keys(" ");
    for _ in 0..9 {
        walk = walk.keys(" ").go(5, 0.0);
    }
    let rings = walk.rings;
    assert_eq!(rings, 9, "the bell rings at every step's end");
    insta::assert_snapshot!("sweep-done-80x24", walk.page(80, 24));
    let mut walk = walk.keys(" vvv");
    insta::assert_snapshot!("turns-40x20", walk.page(40, 20));
    insta::assert_snapshot!("turns-36x16", walk.page(36, 16));
}

/// One lobe towards 240°, its back so weak that turns beside it lose messages and one at 60° hears nothing.
fn lobe(turn: f64) -> f64 {
    let lobe = 7.0 * (turn - 240.0).to_radians().cos() - 7.0;
    if turn == 60.0 { lobe - 6.0 } else { lobe }
}

#[test]
fn a_sweep_grows_with_the_interval_of_each_step() {
    let walk = Walk::new()
        .hello("fern", 7)
        .go(20, 1.0)
        .with_gain(lobe)
        .keys("s<right> ");
    let walk = walk.steps(7).reckon().keys(" ").go(2, 0.0);
    let mut walk = walk;
    insta::assert_snapshot!("sweep-grows-80x24", walk.page(80, 24));
    insta::assert_snapshot!("sweep-grows-140x40", walk.page(140, 40));
    let mut walk = walk.keys("vvv");
    insta::assert_snapshot!("sweep-grows-turns-36x16", walk.page(36, 16));
    insta::assert_snapshot!("sweep-grows-turns-40x20", walk.page(40, 20));
    let counting = walk.page(40, 20);
    assert!(counting.contains("Step 8 of 13, hold still: 20 of 40"), "{counting}");
    for sign in ['◎', '▼', '×'] {
        assert!(counting.contains(sign), "no {sign}: {counting}");
    }
}

#[test]
fn a_sweep_says_what_it_shows_at_every_size_and_in_a_replay() {
    let walk = Walk::new()
        .hello("fern", 7)
        .go(20, 1.0)
        .with_gain(lobe)
        .keys("s<right> ");
    let walk = walk.steps(13).reckon();
    pages("sweep-said", walk.keys(""));
    let mut walk = Walk::new()
        .hello("fern", 7)
        .go(20, 1.0)
        .with_gain(lobe)
        .keys("s<right> ");
    walk = walk.steps(13).keys(" ").go(1, 0.0).reckon().keys("vvv");
    insta::assert_snapshot!("turns-said-36x16", walk.page(36, 16));
    insta::assert_snapshot!("turns-said-40x20", walk.page(40, 20));
    insta::assert_snapshot!("turns-said-80x24", walk.page(80, 24));
    insta::assert_snapshot!("turns-said-140x40", walk.page(140, 40));
    // Page by page everything that is said can be read on the smallest screen, and there is no page after the last.
    let mut read = String::new();
    for _ in 0..30 {
        read.push_str(&walk.page(36, 16).replace('\n', " "));
        walk = walk.keys("<down>");
    }
    for word in [
        "Directional",
        "Strongest",
        "Deepest null at least",
        "12 different turns",
    ] {
        assert!(read.contains(word), "{word}");
    }
    let last = walk.page(36, 16);
    let mut walk = walk.keys("<up>");
    assert_ne!(
        walk.page(36, 16),
        last,
        "one key back from the last page is another page"
    );

    let mut replay = replay_of(walk).keys("<end>vvv");
    let subject = replay.playback.subject();
    let made = estimates(subject.samples(), subject.setup(), &Known::default(), None, |_| false);
    replay.field.estimated(&made, subject);
    insta::assert_snapshot!("replay-turns-40x20", replay.page(40, 20));
    insta::assert_snapshot!("replay-turns-80x24", replay.page(80, 24));
}

#[test]
fn sweeps_are_laid_over_each_other_and_compared() {
    let walk = Walk::new()
        .hello("fern", 7)
        .go(20, 1.0)
        .with_gain(lobe)
        .keys("s<right> ");
    let walk = walk
        .steps(13)
        .keys(" ")
        .with_gain(|_| -4.0)
        .keys("s<right><down><right> ")
        .steps(13);
    let mut walk = walk.keys(" ").go(1, 0.0).reckon().keys("vvvo");
    insta::assert_snapshot!("turns-over-40x20", walk.page(40, 20));
    insta::assert_snapshot!("turns-over-80x24", walk.page(80, 24));
    assert!(walk.page(140, 40).contains("against fern S1, flat"));
    let mut walk = walk.keys("d");
    assert!(walk.page(140, 40).contains("the outermost at"));
}

#[test]
fn a_board_that_starts_anew_in_mid_sweep_makes_one_sweep() {
    let walk = Walk::new()
        .hello("fern", 7)
        .go(20, 1.0)
        .with_gain(lobe)
        .keys("s<right> ");
    let walk = walk
        .steps(6)
        .gear("down source=node why=\"unplugged\"")
        .with_node(false)
        .go(4, 0.0);
    let mut walk = walk
        .with_node(true)
        .gear("up source=node")
        .hello("fern", 8)
        .steps(7)
        .reckon();
    let page = walk.page(140, 40);
    assert!(page.contains("12 different turns"), "{page}");
}

#[test]
fn a_sweep_goes_on_in_a_survey_that_goes_on() {
    let walk = Walk::new()
        .hello("fern", 7)
        .go(20, 1.0)
        .with_gain(lobe)
        .keys("s<right> ")
        .steps(6);
    let mut walk = walk;
    walk.line(Source::Surveyor, "finish");
    let mut walk = walk
        .with_node(false)
        .go(30, 0.0)
        .with_node(true)
        .hello("fern", 8)
        .go(2, 0.0);
    let page = walk.page(80, 24);
    assert!(page.contains("step 7 of 13"), "{page}");
    let mut walk = walk.steps(7).reckon();
    let page = walk.page(140, 40);
    assert!(
        page.contains("All turns are done") && page.contains("12 different turns"),
        "{page}"
    );
}

#[test]
fn a_sweep_while_the_gps_wanders_or_is_lost_gives_its_pattern_and_says_so() {
    let begun = || {
        Walk::new()
            .hello("fern", 7)
            .go(20, 1.0)
            .with_gain(lobe)
            .keys("s<right> ")
            .steps(4)
    };
    let read = |walk: Walk| walk.reckon().keys(" ").go(1, 0.0).reckon().keys("vvv").page(140, 40);
    let still = read(begun().steps(9));
    assert!(
        still.contains("Strongest with the mark at 240°") && !still.contains("position"),
        "{still}"
    );
    let mut wandering = begun();
    for step in 0..9 {
        wandering.gps_off_m = 6.0 * f64::from(step);
        wandering = wandering.steps(1);
    }
    let page = read(wandering);
    assert!(page.contains("Strongest with the mark at 240°"), "{page}");
    assert!(page.contains("Its positions wander by up to"), "{page}");
    let page = read(begun().with_gps(false).steps(9));
    assert!(page.contains("Strongest with the mark at 240°"), "{page}");
    assert!(
        page.contains("Only ") && page.contains(" exchanges have a position"),
        "{page}"
    );
}

#[test]
fn a_turn_at_which_nobody_read_the_node_comes_again() {
    let mut walk = Walk::new()
        .hello("fern", 7)
        .go(20, 1.0)
        .keys("s ")
        .steps(2)
        .with_node(false)
        .gear("down source=node why=\"unplugged\"")
        .steps(3);
    let page = walk.page(80, 24);
    assert!(page.contains("step 3 of 9"), "{page}");
    let mut walk = walk
        .with_node(true)
        .gear("up source=node")
        .hello("fern", 8)
        .go(1, 0.0)
        .steps(7);
    let page = walk.page(80, 24);
    assert!(page.contains("All turns are done"), "{page}");
}

#[test]
fn a_sweep_that_hears_nothing_says_so() {
    let walk = Walk::new()
        .hello("fern", 7)
        .go(20, 1.0)
        .with_gain(|_| -60.0)
        .keys("s ")
        .steps(9)
        .reckon();
    let mut walk = walk;
    let page = walk.page(80, 24);
    assert!(page.contains("nothing was heard at any turn"), "{page}");
    let mut walk = walk.keys("vvv");
    assert!(walk.page(36, 16).contains('▼'));
}

#[test]
fn a_step_is_repeated_and_another_skipped() {
    let walk = Walk::new().hello("fern", 7).go(20, 1.0).keys("s  ").go(5, 0.0);
    let mut walk = walk.keys("r");
    assert!(walk.page(80, 24).contains("step 1 of 9"), "{}", walk.page(80, 24));
    let mut walk = walk.keys("x");
    assert!(walk.page(80, 24).contains("step 2 of 9"), "{}", walk.page(80, 24));
}

#[test]
fn the_gps_falls_silent() {
    pages(
        "gps-silent",
        Walk::new().hello("fern", 7).go(30, 1.3).with_gps(false).go(7, 1.3),
    );
}

#[test]
fn the_node_is_unplugged() {
    let walk = Walk::new()
        .hello("fern", 7)
        .go(30, 1.3)
        .gear("down source=node why=\"unplugged\"");
    pages("node-unplugged", walk.with_node(false).go(6, 1.3));
}

#[test]
fn the_node_falls_silent() {
    let mut walk = Walk::new().hello("fern", 7).go(30, 1.3).with_node(false).go(6, 1.3);
    let page = walk.page(80, 24);
    assert!(page.contains("The node has been silent for 6 s"), "{page}");
    assert!(!page.contains("lost in a row"), "{page}");
}

#[test]
fn every_ping_is_lost() {
    let mut walk = Walk::new().hello("fern", 7).go(30, 1.3).losing(1).go(6, 1.3);
    let page = walk.page(140, 40);
    assert!(page.contains("○ Nothing gets through here."), "{page}");
    assert!(page.contains("The last 60 pings were all"), "{page}");
}

#[test]
fn a_silent_station_is_named_and_not_held_against_the_place() {
    for (width, height) in [(40, 20), (80, 24), (140, 40)] {
        let mut walk = Walk::new()
            .hello("fern", 7)
            .go(30, 1.0)
            .losing(1)
            .go(5, 0.5)
            .losing(0)
            .go(3, 0.5);
        let page = words_of(&walk.page(width, height));
        assert!(
            page.contains("The station was silent") && page.contains("lost while the station"),
            "{page}"
        );
        assert!(!page.contains("No node here"), "{page}");
    }
}

#[test]
fn why_messages_are_lost_is_not_hidden_by_what_else_is_wrong() {
    let mut walk = Walk::new()
        .hello("fern", 7)
        .go(10, 1.0)
        .keys("cfar gate<enter>")
        .go(20, 0.0)
        .losing(1)
        .go(5, 0.0)
        .losing(0);
    walk.tells_speed = true;
    let mut walk = walk.go(7, 3.2);
    for (width, height) in [(80, 24), (140, 40)] {
        let page = words_of(&walk.page(width, height));
        assert!(page.contains("m away from where this point began"), "{page}");
        assert!(page.contains("lost while the station was silent"), "{page}");
        // Of a stretch that is not all of the point it is said which.
        assert!(page.contains("of the last 100 lost"), "{page}");
    }
}

#[test]
fn hostile_names_stay_inside_their_frames() {
    let mut setup = Walk::new().survey.setup().clone();
    setup.title = "果樹園 \u{301}\u{301} orchard ".repeat(9);
    setup.station.name = Some("倉庫".repeat(20));
    let walk = Walk::with(setup).hello("\"a board whose name is much too long for any line\"", 4_000_000_000);
    let walk = walk.go(20, 1.3).keys("n<esc>").go(2, 0.0);
    let mut walk = walk;
    walk.line(Source::Surveyor, "point name=\"\\u{1B}[2J 果樹園の奥の奥の奥の奥\"");
    pages("hostile", walk.go(5, 0.0));
}

/// What a terminal would obey, or hide: colours, a cleared screen, the bell, text turned round, a line of its own.
const EVIL: &str = "e\u{1b}[31m\u{9b}2J\u{7}\u{202e}\u{2028}\u{200b}\nFORGED";

#[test]
fn nothing_from_outside_reaches_a_terminal_unescaped_in_any_view() {
    let mut setup = Walk::new().survey.setup().clone();
    setup.title = format!("T{EVIL}");
    setup.note = Some(format!("N{EVIL}"));
    setup.station.name = Some(format!("S{EVIL}"));
    setup.boards[0].name = format!("yew{EVIL}");
    let mut walk = Walk::with(setup);
    let said = |text: &str| {
        text.replace('\u{1b}', "\\u001b")
            .replace('\u{9b}', "\\u009b")
            .replace('\u{7}', "\\u0007")
            .replace('\n', "\\n")
    };
    for (boot, board) in [(1, "yew"), (2, "fern")] {
        walk.n = 0;
        walk.line(
            Source::Node,
            &said(&format!(
                r#"{{"hello":{{"board":"{board}{EVIL}","boot":{boot},"rate":10}}}}"#
            )),
        );
        walk = walk.go(20, 1.3);
        for (point, pose) in [("P", None), ("Q", None), ("S", Some("flat"))] {
            let name = surveyor::line(&match pose {
                None => SurveyorRecord::Point {
                    name: Some(format!("{point}{EVIL}")),
                    messages: None,
                },
                Some(pose) => SurveyorRecord::Sweep {
                    name: Some(format!("{point}{boot}{EVIL}")),
                    pose: Some(format!("{pose}{EVIL}")),
                    steps: Some(4),
                    messages: Some(20),
                },
            });
            walk.line(Source::Surveyor, &name);
            walk = if pose.is_some() {
                walk.steps(5).keys(" ")
            } else {
                walk.go(11, 0.0)
            };
        }
        walk.line(Source::Node, &said(&format!(r#"{{"note":{{"text":"n{EVIL}"}}}}"#)));
        walk.line(Source::Gear, &format!("down source=gps why=\"{}\"", said(EVIL)));
    }
    let mut walk = walk.reckon();
    let mut seen = String::new();
    for view in 0..6 {
        for (width, height) in [(36, 16), (40, 20), (80, 24), (140, 40)] {
            seen += &walk.page(width, height);
        }
        walk = walk.keys(if view == 3 { "v<down><down>" } else { "v" });
    }
    for over in ["?", "c", "q", "s", "a"] {
        walk = walk.keys(over);
        for (width, height) in SIZES {
            seen += &walk.page(width, height);
        }
        walk = walk.keys("<esc>");
    }
    let mut replay = replay_of(walk).keys("<end>");
    for _ in 0..6 {
        for (width, height) in SIZES {
            seen += &replay.page(width, height);
        }
        replay = replay.keys("v");
    }
    let mut replay = replay.keys("g");
    seen += &replay.page(80, 24);
    // The words were there to be seen, on the line of what they belong to.
    for word in ["yew", "fern", "P", "Q", "S"] {
        assert!(seen.contains(word), "{word}");
    }
    assert!(
        !seen
            .lines()
            .any(|line| line.trim_start_matches(['│', ' ']).starts_with("FORGED")),
        "a line of its own"
    );
}

#[test]
fn help() {
    let mut walk = Walk::new().hello("fern", 7).go(3, 1.3).keys("?");
    insta::assert_snapshot!("help-40x20", walk.page(40, 20));
    insta::assert_snapshot!("help-80x24", walk.page(80, 24));
    let mut walk = walk.keys(&"<down>".repeat(99));
    insta::assert_snapshot!("help-end-40x20", walk.page(40, 20));
    let mut walk = walk.keys("<esc>");
    assert!(walk.page(80, 24).contains("Here and now"));
}

#[test]
fn asks_before_the_end() {
    let mut walk = Walk::new().hello("fern", 7).go(10, 1.3).keys("q");
    insta::assert_snapshot!("ask-40x20", walk.page(40, 20));
    insta::assert_snapshot!("ask-80x24", walk.page(80, 24));
    let walk = walk.keys("<esc>");
    assert!(!walk.ended);
    let walk = walk.keys("<interrupt>n");
    assert!(!walk.ended);
    assert!(walk.keys("q<enter>").ended);
}

#[test]
fn a_note_is_written_and_kept() {
    let mut walk = Walk::new().hello("fern", 7).go(10, 1.3).keys("ngate is open q?");
    insta::assert_snapshot!("note-40x20", walk.page(40, 20));
    let walk = walk.keys("<backspace><enter>");
    assert_eq!(walk.survey.activities().notes()[0].1, "gate is open q");
}

#[test]
fn every_view() {
    let walk = Walk::new()
        .hello("yew", 1)
        .go(20, 1.3)
        .keys(" ")
        .go(11, 0.0)
        .keys(" ")
        .go(20, 1.3);
    let walk = walk
        .keys(" ")
        .go(11, 0.0)
        .keys(" ")
        .hello("fern", 7)
        .losing(5)
        .go(2, 0.0);
    let mut walk = walk;
    walk.line(Source::Surveyor, "point name=P2");
    walk = walk.go(11, 0.0).keys(" ").go(3, 1.0);
    for name in ["map", "distance", "turns-none", "boards", "places"] {
        walk = walk.keys("v");
        insta::assert_snapshot!(format!("view-{name}-40x20"), walk.page(40, 20));
        insta::assert_snapshot!(format!("view-{name}-80x24"), walk.page(80, 24));
    }
    insta::assert_snapshot!("overview-two-boards-140x40", walk.keys("v").page(140, 40));
}

/// Yew at two points, then fern at the second one, its need known; the receiver tells the speed.
fn two_boards_at_points() -> Walk {
    let mut walk = Walk::new().hello("yew", 1);
    walk.tells_speed = true;
    let walk = walk.go(20, 1.3).keys(" ").go(11, 0.0).keys(" ").go(20, 1.3);
    let walk = walk.keys(" ").go(11, 0.0).keys(" ");
    walk.hello("fern", 7).losing(9).go(2, 0.0)
}

#[test]
fn boards_at_points_show_margins_and_what_is_still_open() {
    let walk = two_boards_at_points().keys(" ").go(5, 0.0).estimated();
    let walk = walk.keys("vvvv");
    pages("boards-measuring", walk);
    // The cell above is the reference's; the first point is empty for fern.
    let walk = two_boards_at_points()
        .keys(" ")
        .go(11, 0.0)
        .estimated()
        .keys("vvvv<left>");
    let mut walk = walk;
    let page = walk.page(80, 24);
    assert!(page.contains("fern at P1, 34 m: not measured yet."), "{page}");
    let mut walk = walk.keys("<right><up>");
    let page = walk.page(80, 24);
    assert!(
        page.contains("yew at P2, 60 m: 110 of 110 delivered (83–100 %)."),
        "{page}"
    );
    // A point begun elsewhere takes the choice with it.
    let mut walk = walk.keys(" ").go(20, 1.3).keys(" ").go(2, 0.0);
    let page = walk.page(80, 24);
    assert!(page.contains("fern at P3"), "{page}");
    // From every other view the arrows say where they belong.
    let mut walk = walk.keys("<esc><left>");
    assert!(
        walk.page(80, 24).contains("in the view of boards"),
        "{}",
        walk.page(80, 24)
    );
}

#[test]
fn space_goes_on_with_a_point_where_the_board_in_hand_is_missing() {
    let mut walk = two_boards_at_points();
    assert!(
        walk.page(80, 24).contains("Space measure fern at P2"),
        "{}",
        walk.page(80, 24)
    );
    let mut walk = walk.keys(" ").go(11, 0.0);
    let page = walk.page(80, 24);
    assert!(page.contains("P2  ") && page.contains("110, 100 wanted"), "{page}");
    // Measured now: further on Space begins a point of its own.
    let mut walk = walk.keys(" ").go(20, 1.3);
    assert!(walk.page(80, 24).contains("Space measure here"));
    let mut walk = walk.keys(" ").go(1, 0.0);
    assert!(walk.page(80, 24).contains("P3  "), "{}", walk.page(80, 24));
}

#[test]
fn a_point_is_named_or_chosen_among_those_before() {
    let mut walk = two_boards_at_points().keys("c");
    insta::assert_snapshot!("naming-40x20", walk.page(40, 20));
    insta::assert_snapshot!("naming-80x24", walk.page(80, 24));
    let mut walk = walk.keys("old pear<enter>").go(2, 0.0);
    assert!(walk.page(80, 24).contains("old pear  "), "{}", walk.page(80, 24));
    // The nearest one measured before stands first.
    let mut walk = walk.keys(" c<down><down><enter>").go(2, 0.0);
    assert!(walk.page(80, 24).contains("P2  "), "{}", walk.page(80, 24));
    let mut walk = walk.keys(" c<down><down><up><up><esc>");
    assert!(walk.page(80, 24).contains("Here and now"));
}

#[test]
fn standing_still_is_asked_to_move_and_moving_is_not() {
    for (width, height) in [(40, 20), (80, 24), (140, 40)] {
        let mut still = two_boards_at_points().keys(" ").go(8, 0.0).estimated();
        let page = still.page(width, height);
        let left = page.lines().map(|line| line.split('│').nth(1).unwrap_or(line).trim());
        let read = left.collect::<Vec<_>>().join(" ");
        assert!(read.contains("Move slowly through five metres"), "{page}");
        assert!(read.contains("By count:") && read.contains("By level:"), "{page}");
        let mut moving = two_boards_at_points().keys(" ").go(11, 0.5).estimated();
        let page = moving.page(width, height);
        assert!(!page.contains("slowly") && page.contains("By level:"), "{page}");
    }
}

#[test]
fn a_word_about_a_key_lasts_by_the_wall_clock() {
    let mut walk = Walk::new().hello("fern", 7).go(3, 1.3).keys("z").go(60, 1.3);
    let said = "That key does nothing here.";
    assert!(
        walk.page(80, 24).contains(said),
        "a minute of a fast survey is not long"
    );
    walk.field.wall_s = 7.0;
    assert!(!walk.page(80, 24).contains(said));
}

#[test]
fn too_small_is_said_in_words() {
    let mut walk = Walk::new().hello("fern", 7).go(10, 1.3);
    insta::assert_snapshot!("too-small-30x12", walk.page(30, 12));
    insta::assert_snapshot!("too-small-20x4", walk.page(20, 4));
}

#[test]
fn a_wrong_key_says_so() {
    let mut walk = Walk::new().hello("fern", 7).go(3, 1.3).keys("z");
    assert!(
        walk.page(80, 24)
            .contains("That key does nothing here. ? shows the keys.")
    );
    let mut walk = walk.keys("r");
    assert!(
        walk.page(80, 24)
            .contains("There is no point or step to measure again.")
    );
}

#[test]
fn no_size_panics_in_any_state() {
    let states: Vec<Walk> = vec![
        Walk::new(),
        Walk::new().hello("fern", 7).go(12, 1.3).keys(" ").go(3, 0.0),
        Walk::new().hello("fern", 7).go(12, 1.3).keys("s  ").go(3, 0.0),
        Walk::new().hello("fern", 7).go(12, 1.3).keys("s"),
        Walk::new().hello("fern", 7).go(12, 1.3).keys("nabc 果樹園"),
        Walk::new().hello("fern", 7).go(12, 1.3).keys("?"),
        Walk::new().hello("fern", 7).go(12, 1.3).keys("q"),
        Walk::new().hello("fern", 7).go(12, 1.3).keys(" ").go(3, 0.0).keys("v"),
        Walk::new().hello("fern", 7).go(12, 1.3).keys(" ").go(3, 0.0).keys("vv"),
        Walk::new()
            .hello("fern", 7)
            .go(12, 1.3)
            .keys("s  ")
            .go(6, 0.0)
            .keys("vvv"),
        Walk::new()
            .hello("fern", 7)
            .go(12, 1.3)
            .keys(" ")
            .go(3, 0.0)
            .keys("vvvv"),
        Walk::new()
            .hello("fern", 7)
            .go(12, 1.3)
            .keys(" ")
            .go(3, 0.0)
            .keys("vvvvv"),
    ];
    let swept = Walk::new()
        .hello("fern", 7)
        .go(12, 1.3)
        .with_gain(lobe)
        .keys("s ")
        .steps(9)
        .keys(" s<down><right> ");
    let swept = swept.steps(4).reckon().keys("ovvv<down><down>");
    for mut walk in states.into_iter().chain([swept]) {
        for width in 0..60 {
            for height in 0..30 {
                walk.page(width, height);
            }
        }
        for (width, height) in [(120, 36), (300, 12), (12, 300), (250, 90)] {
            walk.page(width, height);
        }
    }
}

/// A replay driven by keys.
struct Replay {
    playback: Playback,
    field: Field,
}

impl Replay {
    fn keys(mut self, keys: &str) -> Self {
        for key in keys_of(keys) {
            self.field.timeline = Some(self.playback.timeline());
            for wish in self.field.press(key, self.playback.subject(), self.playback.at()) {
                match wish {
                    Wish::LeaveOut(why) => {
                        let mut setup = self.playback.subject().setup().clone();
                        setup.leave_out.extend(self.playback.to_leave_out(why));
                        self.playback.set_up(setup);
                    }
                    Wish::TakeBack => {
                        let mut setup = self.playback.subject().setup().clone();
                        let stretch = self.playback.left_out_here().cloned();
                        setup.leave_out.retain(|one| Some(one) != stretch.as_ref());
                        self.playback.set_up(setup);
                    }
                    other => self.playback.wish(&other),
                }
                self.field.reckon_anew();
            }
        }
        self
    }

    /// Has the slower estimates made of what has been played so far, needs being known from earlier surveys.
    fn estimated(mut self) -> Self {
        let subject = self.playback.subject();
        let found = estimates(subject.samples(), subject.setup(), &needs_known(), None, |_| false);
        self.field.estimated(&found, subject);
        self
    }

    fn page(&mut self, width: u16, height: u16) -> String {
        let area = Rect::new(0, 0, width, height);
        let mut buffer = Buffer::empty(area);
        self.field.timeline = Some(self.playback.timeline());
        self.field
            .draw(&mut buffer, area, self.playback.subject(), self.playback.at());
        text_of(&buffer)
    }
}

fn walked() -> Walk {
    let walk = Walk::new()
        .hello("fern", 7)
        .go(20, 1.3)
        .keys(" ")
        .go(11, 0.0)
        .keys(" ")
        .losing(4);
    walk.go(5, 1.3)
        .keys("ngate<enter>")
        .go(15, 1.3)
        .keys(" ")
        .go(11, 0.0)
        .keys(" ")
        .go(5, 1.3)
}

fn replay_of(walk: Walk) -> Replay {
    let setup = walk.survey.setup().clone();
    Replay {
        playback: Playback::of_lines(walk.lines, setup, None, 1.0),
        field: Field::new(Theme::Plain),
    }
}

#[test]
fn a_replay_shows_what_was_seen() {
    let mut walk = walked();
    walk.survey.settle();
    let live = walk.page(140, 37);
    let mut replay = replay_of(walk).keys("<end>");
    insta::assert_snapshot!("replay-end-80x24", replay.page(80, 24));
    insta::assert_snapshot!("replay-end-40x20", replay.page(40, 20));
    let played = replay.page(140, 39);
    // Everything between title and foot is the same, the time line's two lines apart.
    let middle = |page: &str, lines: usize| page.lines().skip(1).take(lines).collect::<Vec<_>>().join("\n");
    assert_eq!(middle(&live, 35), middle(&played, 35));
}

/// Orders that only somebody who stands there could follow.
const ORDERS: [&str; 16] = [
    "slowly",
    "stand on",
    "anew",
    " more (",
    "more for 95",
    "Measure ",
    "measure ",
    "Check",
    "Wait",
    "wait",
    "Walk",
    "Press",
    "press",
    "Hold",
    "Go ",
    "Plug",
];

fn no_orders(replay: &mut Replay, what: &str) {
    for (width, height) in SIZES {
        let page = words_of(&replay.page(width, height));
        // Below the time line stand the keys of the replay.
        let said = page.split(" of 00:").next().unwrap_or(&page);
        for order in ORDERS {
            assert!(!said.contains(order), "{what}, `{order}`: {said}");
        }
    }
}

#[test]
fn a_replay_says_what_was_and_gives_no_orders() {
    // Standing still, the level open.
    let standing = || {
        replay_of(two_boards_at_points().keys(" ").go(8, 0.0))
            .keys("<end>")
            .estimated()
    };
    let mut replay = standing();
    no_orders(&mut replay, "at a point");
    let page = words_of(&replay.page(80, 24));
    assert!(
        page.contains("By level: still open. The board stood still: one fading sample."),
        "{page}"
    );
    assert!(page.contains("By count: "), "{page}");
    for view in ["map", "distance", "turns", "boards"] {
        replay = replay.keys("v");
        no_orders(&mut replay, view);
    }
    let page = replay.page(80, 24);
    assert!(page.contains("Open so far at P2: fern ("), "{page}");
    assert!(page.contains("* open"), "{page}");
    // Before any point.
    let mut replay = standing().keys("<home>vvv");
    no_orders(&mut replay, "no sweep yet");
    assert!(replay.page(80, 24).contains("No sweep had been made yet."));
    let mut replay = replay.keys("v");
    no_orders(&mut replay, "no point yet");
    assert!(replay.page(80, 24).contains("No point had been measured yet."));
}

#[test]
fn a_jump_back_knows_nothing_of_what_came_later() {
    let mut replay = replay_of(walked()).keys("<end>").estimated();
    let end = replay.page(80, 24);
    assert!(end.contains("between: + likely") || end.contains("+ likely"), "{end}");
    let spare = |page: &str| {
        page.lines()
            .find(|line| line.contains("to spare"))
            .unwrap_or_default()
            .to_owned()
    };
    assert!(spare(&end).contains(" to +"), "{end}");
    let mut replay = replay.keys("<home>");
    let page = replay.page(80, 24);
    assert!(page.contains("Nothing had been heard yet."), "{page}");
    assert!(!page.contains("+ likely"), "{page}");
    assert!(spare(&page).contains("– dB  not yet"), "{page}");
    assert_eq!(
        replay.keys("<end>").page(80, 24),
        end,
        "what is of this moment is shown again"
    );
}

#[test]
fn a_point_begins_with_nothing_of_the_walk() {
    let mut walk = Walk::new().hello("fern", 7).losing(3).go(30, 1.3).estimated();
    let page = walk.page(80, 24);
    assert!(page.contains("By count, likely not here."), "{page}");
    let spare = |page: &str| {
        page.lines()
            .find(|line| line.contains("to spare"))
            .unwrap_or_default()
            .to_owned()
    };
    assert!(spare(&page).contains(" to +"), "{page}");
    let mut walk = walk.losing(0).keys(" ");
    let page = walk.page(80, 24);
    assert!(page.contains("Not known yet: stand on."), "{page}");
    assert!(page.contains("0 of 100"), "{page}");
    assert!(
        spare(&page).contains("– dB") && words_of(&page).contains("eing worked out"),
        "{page}"
    );
    let mut walk = walk.go(4, 0.0);
    let page = walk.page(80, 24);
    assert!(
        spare(&page).contains("– dB") && words_of(&page).contains("eing worked out"),
        "{page}"
    );
    assert!(words_of(&page).contains("By level: being worked out."), "{page}");
    let mut walk = walk.estimated();
    let page = walk.page(80, 24);
    assert!(spare(&page).contains(" to +"), "{page}");
    // Walking on, that of the point is left behind.
    let page = walk.keys(" ").go(1, 1.3).page(80, 24);
    assert!(
        spare(&page).contains("– dB") && words_of(&page).contains("eing worked out"),
        "{page}"
    );
}

#[test]
fn a_replay_of_trouble_says_what_was() {
    let changed = Walk::new().hello("fern", 7).go(40, 1.3).keys(" ").go(70, 0.0);
    let mut replay = replay_of(changed.losing(4).go(25, 0.0)).keys("<end>").estimated();
    no_orders(&mut replay, "changed");
    let page = words_of(&replay.page(80, 24));
    assert!(page.contains("◐ It changed here, after a verdict."), "{page}");
    assert!(page.contains("since then more was lost."), "{page}");
    let unknown = Walk::new().hello("fern", 7).go(20, 1.3).keys(" ").go(11, 0.0);
    let mut replay = replay_of(unknown).keys("<end>");
    let subject = replay.playback.subject();
    let found = estimates(subject.samples(), subject.setup(), &Known::default(), None, |_| false);
    replay.field.estimated(&found, subject);
    for (width, height) in SIZES {
        let page = words_of(&replay.page(width, height));
        assert!(page.contains("What fern needs is not known (it was"), "{page}");
    }
    no_orders(&mut replay, "need unknown");
    let silent = Walk::new().hello("fern", 7).go(10, 1.3).with_gps(false).go(9, 1.3);
    let mut replay = replay_of(silent).keys("<end>");
    no_orders(&mut replay, "GPS silent");
    let page = words_of(&replay.page(140, 40));
    assert!(page.contains("The GPS was silent for"), "{page}");
    let mut replay = replay_of(Walk::new().hello("fern", 7).go(10, 1.3).keys("p").go(9, 1.3)).keys("<end>");
    no_orders(&mut replay, "paused");
    assert!(replay.page(80, 24).contains("Paused: nothing counted."));
}

#[test]
fn a_replay_goes_from_mark_to_mark() {
    let mut replay = replay_of(walked());
    replay.playback.play_or_hold();
    let replay = replay.keys("..");
    assert_eq!(replay.playback.at(), Elapsed::from_seconds(20.0), "the first point");
    let replay = replay.keys(".");
    assert!((replay.playback.at().seconds() - 31.0).abs() < 0.2, "walking on");
    let replay = replay.keys(".");
    assert!((replay.playback.at().seconds() - 36.0).abs() < 0.2, "the note");
    let replay = replay.keys(",,");
    assert_eq!(replay.playback.at(), Elapsed::from_seconds(20.0));
    let replay = replay.keys("<right><right><left><home>");
    assert_eq!(replay.playback.at(), Elapsed(0));
}

#[test]
fn a_replay_plays_at_its_speed_and_stops_at_the_end() {
    let mut replay = replay_of(walked()).keys("+++");
    replay.playback.pass(2.0);
    assert_eq!(replay.playback.at(), Elapsed::from_seconds(20.0));
    replay.playback.pass(1000.0);
    assert!(!replay.playback.is_playing());
    assert_eq!(replay.playback.at(), replay.playback.timeline().end);
}

#[test]
fn a_run_is_left_out_and_taken_back() {
    let mut replay = replay_of(walked()).keys("<end>");
    let whole = replay.page(80, 24);
    let mut replay = replay.keys(",x");
    insta::assert_snapshot!("replay-leave-out-80x24", replay.page(80, 24));
    let mut replay = replay.keys("tractor between us<enter>");
    let page = replay.page(80, 24);
    assert!(page.contains(", left out"), "{page}");
    let mut replay = replay.keys("x<end>");
    assert_eq!(replay.page(80, 24), whole);
}

#[test]
fn who_goes_to_a_point_leaves_out_that_point() {
    let mut replay = replay_of(walked()).keys("<home>g");
    insta::assert_snapshot!("replay-go-to-40x20", replay.page(40, 20));
    insta::assert_snapshot!("replay-go-to-80x24", replay.page(80, 24));
    let mut replay = replay.keys("<down><enter>");
    assert_eq!(replay.playback.at(), Elapsed::from_seconds(20.0));
    assert!(replay.page(80, 24).contains("fern at P1"), "{}", replay.page(80, 24));
    let replay = replay.keys("xdog<enter>");
    let out = &replay.playback.setup().leave_out[0];
    assert_eq!((out.from_s, out.to_s), (20.1, 31.0));
    let replay = replay.keys("g<up><up><up><esc>");
    assert_eq!(replay.playback.at(), Elapsed::from_seconds(20.0), "nothing was chosen");
}

#[test]
fn a_stretch_is_left_out_and_taken_back() {
    let replay = replay_of(walked()).keys("<home><right>s<right>");
    let mut replay = replay.keys("x");
    insta::assert_snapshot!("replay-stretch-80x24", replay.page(80, 24));
    let mut replay = replay.keys("a tractor<enter>");
    let out = replay.playback.setup().leave_out.clone();
    assert_eq!(
        (out[0].from_s, out[0].to_s, out[0].why.as_str()),
        (10.0, 20.0, "a tractor")
    );
    insta::assert_snapshot!("replay-stretch-out-40x20", replay.page(40, 20));
    let counted = |replay: &Replay| replay.playback.whole().rows.iter().filter(|row| row.counts()).count();
    let without = counted(&replay);
    let mut replay = replay.keys("<left>x");
    assert_eq!(replay.playback.setup().leave_out.len(), 0);
    assert_eq!(counted(&replay), without + 101, "both ends belonged to it");
    // A stretch begun can be forgotten, and then x means the run again.
    replay = replay.keys("ssx");
    assert!(
        replay.page(80, 24).contains("Leave this run out: why?"),
        "{}",
        replay.page(80, 24)
    );
}

/// Two surveys replayed by keys, as the shell does it.
struct Both {
    playbacks: Vec<Playback>,
    desk: Desk,
}

impl Both {
    fn of(walks: Vec<Walk>) -> Self {
        let playbacks: Vec<Playback> = walks
            .into_iter()
            .map(|walk| {
                let setup = walk.survey.setup().clone();
                Playback::of_lines(walk.lines, setup, None, 1.0)
            })
            .collect();
        Self {
            desk: Desk::new(playbacks.len(), Theme::Plain),
            playbacks,
        }
    }

    fn seats(&self) -> Vec<Seat<'_>> {
        self.playbacks
            .iter()
            .map(|playback| Seat {
                subject: playback.subject(),
                at: playback.at(),
                timeline: playback.timeline(),
            })
            .collect()
    }

    fn keys(mut self, keys: &str) -> Self {
        for key in keys_of(keys) {
            let mut desk = self.desk.clone();
            for wish in desk.press(key, &self.seats()) {
                self.playbacks[desk.front()].wish(&wish);
            }
            self.desk = desk;
            if self.desk.waits_for_comparison() {
                let references: Vec<String> = Vec::new();
                let sources: Vec<Figured<'_>> = self
                    .playbacks
                    .iter()
                    .map(|playback| Figured {
                        key: "",
                        samples: playback.whole(),
                        setup: playback.setup(),
                        references: &references,
                    })
                    .collect();
                let made = figures_of(&sources, &Known::default(), Groundwork::in_turn, |_, _| {});
                let members: Vec<Member<'_>> = sources
                    .iter()
                    .zip(&made)
                    .map(|(source, estimates)| Member {
                        name: "survey",
                        samples: source.samples,
                        setup: source.setup,
                        estimates,
                    })
                    .collect();
                self.desk.compared(std::sync::Arc::new(together(&members)));
            }
        }
        self
    }

    fn page(&mut self, width: u16, height: u16) -> String {
        let area = Rect::new(0, 0, width, height);
        let mut buffer = Buffer::empty(area);
        let mut desk = self.desk.clone();
        desk.draw(&mut buffer, area, &self.seats());
        self.desk = desk;
        text_of(&buffer)
    }
}

/// The same way on another day, with more lost.
fn before_and_after() -> Both {
    let mut later = Walk::new();
    later.survey = Survey::new(
        Setup {
            title: "Larkfield orchard, in leaf".to_owned(),
            ..later.survey.setup().clone()
        },
        None,
    );
    let route = |walk: Walk, lost: u64| {
        let walk = walk
            .hello("fern", 7)
            .losing(lost)
            .go(25, 1.3)
            .keys(" ")
            .go(11, 0.0)
            .keys(" ");
        walk.go(30, 1.3).keys(" ").go(11, 0.0).keys(" ").go(20, 1.3)
    };
    Both::of(vec![route(Walk::new(), 0), route(later, 2)])
}

#[test]
fn two_surveys_stand_side_by_side() {
    let mut both = before_and_after().keys("<end><tab><end><tab>");
    insta::assert_snapshot!("both-140x40", both.page(140, 40));
    insta::assert_snapshot!("both-80x24", both.page(80, 24));
    insta::assert_snapshot!("both-40x20", both.page(40, 20));
    // Keys of time act on the one in front, and views are chosen for both.
    let mut both = both.keys("<tab><home>v");
    assert_eq!(both.playbacks[1].at(), Elapsed(0));
    assert!(both.playbacks[0].at() > Elapsed(0));
    assert_eq!(
        both.page(140, 40).matches("─ Map ─").count(),
        2,
        "{}",
        both.page(140, 40)
    );
    assert!(both.page(80, 24).contains("▸B"), "{}", both.page(80, 24));
}

#[test]
fn two_surveys_are_seen_together() {
    let mut both = before_and_after().keys("c");
    for name in ["map", "places", "points", "distance", "turns", "mind"] {
        insta::assert_snapshot!(format!("together-{name}-40x20"), both.page(40, 20));
        insta::assert_snapshot!(format!("together-{name}-80x24"), both.page(80, 24));
        both = both.keys("v");
    }
    assert!(both.page(80, 24).contains("Map of both"));
    let mut both = both.keys("<space>");
    assert!(both.page(80, 24).contains("c goes back"), "{}", both.page(80, 24));
    let mut both = both.keys("c");
    assert!(both.page(80, 24).contains("Here and now"), "{}", both.page(80, 24));
}

#[test]
fn one_survey_alone_is_compared_with_nothing() {
    let mut one = Both::of(vec![walked()]).keys("c");
    assert!(
        one.page(80, 24).contains("Only one survey is open"),
        "{}",
        one.page(80, 24)
    );
}

#[test]
fn several_surveys_fit_every_size() {
    let mut states = vec![
        before_and_after(),
        before_and_after().keys("<end><tab>g"),
        before_and_after().keys("c"),
        Both::of(vec![Walk::new(), Walk::new()]).keys("c"),
    ];
    for views in 1..6 {
        states.push(before_and_after().keys(&format!("c{}<down>", "v".repeat(views))));
    }
    for mut state in states {
        for (width, height) in [
            (0, 0),
            (20, 4),
            (36, 16),
            (37, 17),
            (80, 24),
            (120, 36),
            (130, 24),
            (300, 12),
            (250, 90),
        ] {
            state.page(width, height);
        }
    }
}

#[test]
fn rows_alone_can_be_played() {
    let mut walk = walked();
    let setup = walk.survey.setup().clone();
    let samples = walk.survey.samples().clone();
    let mut replay = Replay {
        playback: Playback::of_rows(samples, setup, 1.0),
        field: Field::new(Theme::Plain),
    };
    replay.playback.pass(25.0);
    insta::assert_snapshot!("replay-rows-80x24", replay.page(80, 24));
    let mut replay = replay.keys("<end><left><left>");
    let far = replay.page(80, 24);
    let mut replay = replay.keys("<home><end><left><left>");
    assert_eq!(replay.page(80, 24), far);
}
