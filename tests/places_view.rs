//! The places of a sample session on the screen: map, list, and what they assume, by keys.

#![expect(
    clippy::unwrap_used,
    reason = "a sample session that cannot be read is a failed test"
)]

use std::path::Path;

use crossterm::event::{KeyCode, KeyEvent};
use farpace::app::figures::{Read, read_quietly};
use farpace::findings::curves::Known;
use farpace::screens::field::Field;
use farpace::screens::scene::Subject;
use farpace::screens::theme::Theme;
use farpace::screens::ui::Wish;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

struct Looking {
    read: Read,
    field: Field,
}

impl Looking {
    fn at(session: &str) -> Self {
        let at = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("sample-sessions")
            .join(session);
        let mut looking = Self {
            read: read_quietly(&at, &Known::default()).unwrap(),
            field: Field::new(Theme::Dark),
        };
        looking.estimated();
        looking
    }

    fn estimated(&mut self) {
        let subject = Subject::Rows(&self.read.samples, &self.read.setup);
        self.field.estimated(&self.read.estimates, subject);
    }

    /// Presses keys, and has the places made anew where they wish it, as the shell does.
    fn keys(mut self, keys: &[KeyCode]) -> Self {
        for key in keys {
            let subject = Subject::Rows(&self.read.samples, &self.read.setup);
            let at = self.read.samples.rows.last().unwrap().at;
            let wishes = self.field.press(KeyEvent::from(*key), subject, at);
            if wishes.contains(&Wish::Assume) {
                self.read.estimates.assume(&self.field.ui.assumed, &self.read.setup);
                self.estimated();
            }
        }
        self
    }

    fn page(&mut self, width: u16, height: u16) -> String {
        let area = Rect::new(0, 0, width, height);
        let mut buffer = Buffer::empty(area);
        let subject = Subject::Rows(&self.read.samples, &self.read.setup);
        let at = self.read.samples.rows.last().unwrap().at;
        self.field.draw(&mut buffer, area, subject, at);
        let line = |y| -> String {
            let cells = (0..width).map(|x| buffer.cell((x, y)).unwrap().symbol());
            cells.collect::<String>().trim_end().to_owned()
        };
        (0..height).map(line).collect::<Vec<_>>().join("\n")
    }
}

const PLACES: [KeyCode; 5] = [KeyCode::Char('v'); 5];

#[test]
fn places_at_each_size() {
    let mut looking = Looking::at("walk").keys(&PLACES);
    insta::assert_snapshot!("places-walk-40x20", looking.page(40, 20));
    insta::assert_snapshot!("places-walk-80x24", looking.page(80, 24));
    insta::assert_snapshot!("places-walk-140x40", looking.page(140, 40));
    let mut looking = looking.keys(&[KeyCode::Down; 12]);
    insta::assert_snapshot!("places-walk-down-80x24", looking.page(80, 24));
}

#[test]
fn what_is_assumed_is_chosen_named_and_taken_back() {
    let (right, down, space) = (KeyCode::Right, KeyCode::Down, KeyCode::Char(' '));
    let choose = [KeyCode::Char('a'), right, down, right, right, down, right];
    let mut looking = Looking::at("boards").keys(&choose);
    insta::assert_snapshot!("places-assume-40x20", looking.page(40, 20));
    insta::assert_snapshot!("places-assume-80x24", looking.page(80, 24));
    let mut looking = looking.keys(&[space]);
    let page = looking.page(80, 24);
    assert!(
        page.contains("Assumed: fern for yew, mounted 0.5 m up, leaves 2 dB."),
        "{page}"
    );
    insta::assert_snapshot!("places-assumed-80x24", page);
    // A choice left by Esc changes nothing; taken back, nothing is assumed.
    let mut looking = looking.keys(&[KeyCode::Char('a'), right, KeyCode::Esc]);
    assert!(looking.page(80, 24).contains("Assumed: fern for yew"));
    let left = KeyCode::Left;
    let mut looking = looking.keys(&[KeyCode::Char('a'), left, down, left, left, down, left, space]);
    assert!(!looking.page(80, 24).contains("Assumed:"));
}

#[test]
fn no_size_panics() {
    let mut looking = Looking::at("boards").keys(&PLACES);
    for width in (0..140).step_by(7) {
        for height in 0..40 {
            looking.page(width, height);
        }
    }
}
