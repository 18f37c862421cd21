//! The one place where a drawing becomes text: every number checked, every foreign word escaped.

use std::fmt::Write as _;

use super::style::STYLE;
use crate::writeup::document::Figure;
use crate::writeup::text::{shortened, xml};

/// A drawing being made. One unit is one pixel of the file; y grows downward.
#[derive(Debug)]
pub struct Canvas {
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
    body: String,
}

/// Which side of its place a text lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// To the right of it.
    Start,
    /// Centred on it.
    Middle,
    /// To the left of it.
    End,
}

/// What a figure says of itself.
#[derive(Clone, Debug, Default)]
pub struct About {
    /// Names its files; letters, digits and dashes, made by us.
    pub name: String,
    /// Its title.
    pub title: String,
    /// What it shows, with numbers.
    pub alt: String,
    /// How to read it.
    pub caption: String,
}

/// A coordinate with at most two decimals; `None` where it is not finite.
fn px(value: f64) -> Option<String> {
    if !value.is_finite() {
        return None;
    }
    let mut text = format!("{value:.2}");
    while text.ends_with('0') {
        text.pop();
    }
    if text.ends_with('.') {
        text.pop();
    }
    Some(if text == "-0" { "0".to_owned() } else { text })
}

impl Canvas {
    /// An empty drawing.
    pub fn new(width: f64, height: f64) -> Self {
        Self {
            width,
            height,
            body: String::new(),
        }
    }

    /// A straight line.
    pub fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64)) {
        if let (Some(a), Some(b), Some(c), Some(d)) = (px(from.0), px(from.1), px(to.0), px(to.1)) {
            let _ = writeln!(
                self.body,
                r#"<line class="{class}" x1="{a}" y1="{b}" x2="{c}" y2="{d}"/>"#
            );
        }
    }

    /// A rectangle by its upper left corner.
    pub fn rect(&mut self, class: &str, corner: (f64, f64), size: (f64, f64)) {
        if let (Some(x), Some(y), Some(w), Some(h)) =
            (px(corner.0), px(corner.1), px(size.0.max(0.0)), px(size.1.max(0.0)))
        {
            let _ = writeln!(
                self.body,
                r#"<rect class="{class}" x="{x}" y="{y}" width="{w}" height="{h}"/>"#
            );
        }
    }

    /// A circle.
    pub fn circle(&mut self, class: &str, centre: (f64, f64), radius: f64) {
        if let (Some(x), Some(y), Some(r)) = (px(centre.0), px(centre.1), px(radius.max(0.0))) {
            let _ = writeln!(self.body, r#"<circle class="{class}" cx="{x}" cy="{y}" r="{r}"/>"#);
        }
    }

    /// A path; nothing where it is empty.
    pub fn path(&mut self, class: &str, path: &Path) {
        if !path.text.is_empty() {
            let _ = writeln!(self.body, r#"<path class="{class}" d="{}"/>"#, path.text);
        }
    }

    /// Words, cut to 60 characters.
    pub fn text(&mut self, class: &str, place: (f64, f64), anchor: Anchor, words: &str) {
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => r#" text-anchor="middle""#,
            Anchor::End => r#" text-anchor="end""#,
        };
        if let (Some(x), Some(y)) = (px(place.0), px(place.1)) {
            let _ = writeln!(
                self.body,
                r#"<text class="{class}" x="{x}" y="{y}"{anchor}>{}</text>"#,
                xml(&shortened(words, 60))
            );
        }
    }

    /// Words along the upward direction, centred on a place.
    pub fn text_upward(&mut self, class: &str, place: (f64, f64), words: &str) {
        if let (Some(x), Some(y)) = (px(place.0), px(place.1)) {
            let _ = writeln!(
                self.body,
                r#"<text class="{class}" transform="translate({x} {y}) rotate(-90)" text-anchor="middle">{}</text>"#,
                xml(&shortened(words, 60))
            );
        }
    }

    /// The figure: as it stands in a page, and as a file of its own.
    pub fn finish(self, about: About) -> Figure {
        let size = format!("{} {}", self.width.round(), self.height.round());
        let ids = format!("{0}-t {0}-d", about.name);
        let head = format!(
            "<title id=\"{0}-t\">{1}</title>\n<desc id=\"{0}-d\">{2}</desc>\n",
            about.name,
            xml(&about.title),
            xml(&about.alt)
        );
        let ground = format!(
            r#"<rect class="f-bg" x="0" y="0" width="{}" height="{}"/>"#,
            self.width.round(),
            self.height.round()
        );
        let inline = format!(
            "<svg class=\"fig\" viewBox=\"0 0 {size}\" role=\"img\" aria-labelledby=\"{ids}\">\n{head}{ground}\n{}</svg>",
            self.body
        );
        let file = format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"fig\" width=\"{}\" \
             height=\"{}\" viewBox=\"0 0 {size}\" role=\"img\" aria-labelledby=\"{ids}\">\n{head}<style>\n{STYLE}</style>\n{ground}\n{}</svg>\n",
            self.width.round(),
            self.height.round(),
            self.body
        );
        Figure {
            name: about.name,
            title: about.title,
            alt: about.alt,
            caption: about.caption,
            inline,
            file,
        }
    }
}

/// The `d` of a path being made; places that are not finite are left out.
#[derive(Clone, Debug, Default)]
pub struct Path {
    text: String,
    begun: bool,
}

impl Path {
    /// A path through places.
    pub fn through(places: impl IntoIterator<Item = (f64, f64)>) -> Self {
        let mut path = Self::default();
        for place in places {
            path.to(place);
        }
        path
    }

    /// Goes on to a place, or begins there.
    pub fn to(&mut self, (x, y): (f64, f64)) {
        if let (Some(x), Some(y)) = (px(x), px(y)) {
            let letter = if self.begun { 'L' } else { 'M' };
            let _ = write!(self.text, "{letter}{x} {y}");
            self.begun = true;
        }
    }

    /// Closes what was begun.
    pub fn close(&mut self) {
        if self.begun {
            self.text.push('Z');
            self.begun = false;
        }
    }

    /// Lets the next place begin anew.
    pub fn lift(&mut self) {
        self.begun = false;
    }

    /// A circle about a place.
    pub fn dot(&mut self, (x, y): (f64, f64), radius: f64) {
        if let (Some(left), Some(y), Some(r), Some(d)) = (px(x - radius), px(y), px(radius), px(2.0 * radius)) {
            let _ = write!(self.text, "M{left} {y}a{r} {r} 0 1 0 {d} 0a{r} {r} 0 1 0-{d} 0");
            self.begun = false;
        }
    }

    /// A closed shape about a place, its corners relative to it.
    pub fn shape(&mut self, (x, y): (f64, f64), corners: &[(f64, f64)]) {
        self.lift();
        for (dx, dy) in corners {
            self.to((x + dx, y + dy));
        }
        self.close();
    }

    /// A straight stroke.
    pub fn stroke(&mut self, from: (f64, f64), to: (f64, f64)) {
        self.lift();
        self.to(from);
        self.to(to);
        self.lift();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_number_that_is_none_and_no_markup_gets_in() {
        let mut canvas = Canvas::new(100.0, 50.0);
        canvas.line("f-ax", (f64::NAN, 0.0), (1.0, 2.0));
        canvas.circle("f-ax", (1.0, 2.0), f64::INFINITY);
        canvas.text(
            "f-tx",
            (1.0, 2.0),
            Anchor::Middle,
            "</text><script>alert(1)</script>\u{202E}",
        );
        let figure = canvas.finish(About {
            name: "a".to_owned(),
            title: "<b>".to_owned(),
            ..About::default()
        });
        assert!(!figure.file.contains("NaN") && !figure.file.contains("inf") && !figure.file.contains("<line"));
        assert!(!figure.file.contains("<script") && !figure.file.contains("<b>") && !figure.file.contains('\u{202E}'));
        assert!(figure.file.contains("&lt;script&gt;"));
    }

    #[test]
    fn coordinates_are_short() {
        assert_eq!(px(12.0).unwrap(), "12");
        assert_eq!(px(-0.001).unwrap(), "0");
        assert_eq!(px(1.256).unwrap(), "1.26");
        let mut path = Path::through([(0.0, 1.0), (f64::NAN, 2.0), (2.5, 3.0)]);
        path.close();
        assert_eq!(path.text, "M0 1L2.5 3Z");
    }
}
