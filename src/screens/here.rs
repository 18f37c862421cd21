//! Here and now: can a node go here, how much is delivered, how well each side hears the other, and where this is.
//!
//! ```text
//!  ● By level, a node can likely go here.
//!
//!  ██████  ██████
//!  ██  ██  ██  ██   % delivered of the last 100
//!  ██████  ██████   80–98 %, bursts ≤ 0.8 s
//!      ██  ██  ██   goal 95 %
//!  ██████  ██████
//!
//!  board hears    −71 dBm  ▂▃▅▄▃×▂▃
//!  station hears  −74 dBm  ▂▃▄▄▃×▁▃
//!  to spare       +14 dB   goal 10
//!
//!  128 m out, station bears 243° true
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::fresh::Unsaid;
use super::number::{UNKNOWN, count, dbm, goal, metres, percent, percents, signed, whole};
use super::paint::{below, columns, inset, put, put_pieces, put_wrapped, wrap};
use super::scene::Scene;
use super::stop;
use super::theme::{Theme, Tone};
use super::{digits, trouble_lines};
use crate::findings::answer::Answer;
use crate::findings::delivery::Standing;
use crate::findings::now::Window;
use crate::findings::points::mean;
use crate::findings::words;
use crate::stats::margin::Margin;
use crate::stats::proportions::Interval;

/// A sparkline spans at least so many decibels, so that small fading looks small.
const LEAST_SPAN_DB: f32 = 12.0;

/// Draws it.
pub fn render(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let area = inset(area, 1);
    if area.width < 20 || area.height < 6 {
        return;
    }
    let roomy = area.height >= 22 && area.width >= 34;
    let mut y = u16::from(area.height >= 15);
    y += headline(buffer, area, y, scene, theme);
    let place = place(scene);
    let place_lines = (wrap(&place, area.width).len() as u16).min(2);
    // What stands below is never pushed out: a line of what is delivered, both levels, what is to spare, the place.
    let below_words = 4 + place_lines;
    let room = |y: u16| area.height.saturating_sub(y + below_words);
    let words = trouble_lines::words(scene);
    let stop_least = if scene.stop.is_some() { 2 } else { 0 };
    let shown = if roomy { 3 } else { 1 };
    for (text, tone) in words.iter().take(shown) {
        let most = room(y + stop_least).max(1);
        y += put_wrapped(buffer, below(area, y), 0, text, most, theme.style(*tone));
    }
    // Why messages are lost is not hidden by what else is wrong, as long as there is room to say it whole.
    if let Some(cause) = hidden_cause(&words, shown, scene) {
        let lines = wrap(&cause, area.width).len() as u16;
        if lines <= room(y + stop_least) {
            y += put_wrapped(buffer, below(area, y), 0, &cause, lines, theme.style(Tone::Close));
        }
    }
    if let Some(stop) = &scene.stop {
        y += stop::render(buffer, below(area, y), stop, scene, room(y).max(2), theme);
    }
    let spare = Spare::of(scene, area.width);
    let tail = 3 + spare.lines(area.width) + place_lines;
    let left = area.height.saturating_sub(y);
    let scale = if roomy && left >= digits::Scale::Large.height() + 3 + tail {
        digits::Scale::Large
    } else {
        digits::Scale::Small
    };
    let big = left >= scale.height() + tail;
    // Blank lines between, as far as there is room for them.
    let mut blank = left.saturating_sub(tail + if big { scale.height() } else { 1 });
    let mut gap = || {
        let one = u16::from(blank > 0);
        blank -= one;
        one
    };
    y += gap();
    if big {
        delivered(buffer, below(area, y), scene, scale, theme);
        y += scale.height();
    } else {
        y += delivered_in_a_line(buffer, area, y, scene, theme);
    }
    y += gap();
    let most = area.height.saturating_sub(y + 3 + place_lines);
    y += levels(buffer, below(area, y), scene, &spare, most, theme);
    y += gap();
    put_wrapped(buffer, below(area, y), 0, &place, 2, theme.style(Tone::Text));
}

/// Why messages are lost, where none of the words that are shown says it.
fn hidden_cause(words: &[(String, Tone)], shown: usize, scene: &Scene<'_>) -> Option<String> {
    let cause = trouble_lines::causes(scene).into_iter().next()?;
    let said = |(text, _): &(String, Tone)| text.starts_with(&cause);
    let at = words.iter().position(said)?;
    (at >= shown).then_some(cause)
}

/// The sentence with its mark, and how many lines it took.
fn headline(buffer: &mut Buffer, area: Rect, y: u16, scene: &Scene<'_>, theme: Theme) -> u16 {
    let tone = match scene.answer {
        Answer::Can | Answer::Likely => Tone::Good,
        Answer::CanUnknown
        | Answer::CanOpen
        | Answer::CanWithLittle
        | Answer::LittleToSpare
        | Answer::Changed
        | Answer::TooClose
        | Answer::Worse
        | Answer::Better => Tone::Close,
        Answer::LikelyNot | Answer::Cannot | Answer::Nothing => Tone::Bad,
        Answer::NothingYet
        | Answer::LeftOut
        | Answer::Blind
        | Answer::Gone
        | Answer::Silenced
        | Answer::TooFew
        | Answer::StandOn
        | Answer::Walking => Tone::Strong,
    };
    let text = format!("{} {}", scene.answer.mark(), scene.sentence());
    put_wrapped(buffer, below(area, y), 0, &text, 2, theme.style(tone))
}

/// What is shown as delivered: at a point or step all of it as held there, walking the last hundred.
fn shown(scene: &Scene<'_>) -> (Window, Option<Interval>) {
    match scene.stop.as_ref().map(|stop| stop.standing) {
        Some(Some(Standing { delivery, .. })) => {
            let window = Window {
                pings: delivery.exchanges,
                echoes: delivery.delivered,
            };
            (window, Some(delivery.interval))
        }
        Some(None) => (Window::default(), None),
        None => (scene.now.long, scene.now.long_sure),
    }
}

fn rate_tone(rate: Option<f64>, scene: &Scene<'_>) -> Tone {
    match rate {
        Some(rate) if rate >= scene.setup.goal.delivery => Tone::Good,
        Some(rate) if rate >= scene.setup.goal.delivery - 0.1 => Tone::Close,
        Some(_) => Tone::Bad,
        None => Tone::Quiet,
    }
}

fn delivered(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, scale: digits::Scale, theme: Theme) {
    let (window, interval) = shown(scene);
    let rate = window.rate();
    let text = rate.map_or_else(|| "--".to_owned(), percent);
    let tone = rate_tone(rate, scene);
    let taken = digits::draw(buffer, area, (0, 0), &text, scale, theme.style(tone));
    let x = taken + 1;
    let middle = scale.height() / 2;
    let room = area.width.saturating_sub(x);
    let what = first_that_fits(
        room,
        [
            format!("% delivered{}", counted(scene, window)),
            format!("% delivered of {}", window.pings),
            "% delivered".to_owned(),
        ],
    );
    put(buffer, area, (x, middle - 1), &what, theme.style(Tone::Text));
    let sure = interval.map_or_else(
        || UNKNOWN.to_owned(),
        |interval| {
            let sure = percents(interval);
            first_that_fits(room, [format!("{sure}, {BURSTS}"), format!("{sure} {BRIEFLY}"), sure])
        },
    );
    put(buffer, area, (x, middle), &sure, theme.style(Tone::Strong));
    let wanted = goal(scene.setup.goal.delivery);
    put(
        buffer,
        area,
        (x, middle + 1),
        &format!("goal {wanted}"),
        theme.style(Tone::Text),
    );
}

/// What the interval beside it allows for.
const BURSTS: &str = "bursts ≤ 0.8 s";
const BRIEFLY: &str = "bursts 0.8 s";

/// Of how many messages: at a point all, walking the last ones; nothing of none.
fn counted(scene: &Scene<'_>, window: Window) -> String {
    if window.pings == 0 {
        String::new()
    } else if scene.stop.is_some() {
        format!(" of {}", count(window.pings))
    } else {
        format!(" of the last {}", window.pings)
    }
}

/// The first of some wordings that is no wider than there is room, else the last.
fn first_that_fits<const N: usize>(room: u16, wordings: [String; N]) -> String {
    let mut said = String::new();
    for words in wordings {
        let fits = columns(&words) <= room;
        said = words;
        if fits {
            break;
        }
    }
    said
}

fn delivered_in_a_line(buffer: &mut Buffer, area: Rect, y: u16, scene: &Scene<'_>, theme: Theme) -> u16 {
    let (window, interval) = shown(scene);
    let rate = window.rate();
    let figure = rate.map_or_else(|| UNKNOWN.to_owned(), percent);
    let sure = interval.map_or_else(String::new, |interval| format!("  {}", percents(interval)));
    let counted = counted(scene, window);
    let room = area.width.saturating_sub(columns(&figure));
    let rest = first_that_fits(
        room,
        [
            format!(" %{counted} delivered{sure}, {BURSTS}"),
            format!(" %{counted} delivered{sure}"),
            format!(" % of {} delivered{sure}", window.pings),
            format!(" % of {}{sure}", window.pings),
        ],
    );
    put_pieces(
        buffer,
        area,
        (0, y),
        &[(&figure, rate_tone(rate, scene)), (&rest, Tone::Text)],
        theme,
    );
    1
}

/// Columns of the labels before levels and what is to spare, and of the figures after them.
const LABEL: u16 = 14;
const FIGURE: u16 = 10;

/// What stands at "to spare".
enum Spare {
    /// The margin.
    Known(Margin),
    /// Why there is none, short enough to stand in the same line.
    Beside(String),
    /// The same below, in wordings that get shorter.
    Below(Vec<String>),
}

impl Spare {
    fn of(scene: &Scene<'_>, width: u16) -> Self {
        if let Some(margin) = scene.margin {
            return Self::Known(margin);
        }
        let wordings = match scene.why_no_margin() {
            Unsaid::NotYet => vec!["not yet".to_owned()],
            Unsaid::InWork => vec!["being worked out".to_owned()],
            Unsaid::For(why) if scene.doing.is_replay() => why.afterwards(),
            Unsaid::For(why) => why.advice(),
            Unsaid::NothingOfLevel => vec!["what arrived says nothing about the level".to_owned()],
        };
        match wordings.as_slice() {
            [one, ..] if columns(one) <= width.saturating_sub(LABEL + FIGURE) => Self::Beside(one.clone()),
            _ => Self::Below(wordings),
        }
    }

    /// Lines it takes besides its own, where there is room for all of it.
    fn lines(&self, width: u16) -> u16 {
        match self {
            Self::Below(wordings) => wordings.first().map_or(0, |longest| {
                wrap(&words::capital(longest), width.saturating_sub(2)).len() as u16
            }),
            Self::Known(_) | Self::Beside(_) => 0,
        }
    }
}

/// Both levels with their sparklines, and what is to spare with at most `most` lines below; says how many lines that took.
fn levels(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, spare: &Spare, most: u16, theme: Theme) -> u16 {
    let rows = [
        ("board hears", &scene.now.here, Tone::Here),
        ("station hears", &scene.now.there, Tone::There),
    ];
    for (y, (label, levels, tone)) in rows.into_iter().enumerate() {
        let y = y as u16;
        put(buffer, area, (0, y), label, theme.style(Tone::Text));
        let level = dbm(mean(levels.iter().flatten().map(|level| f64::from(*level))));
        put(
            buffer,
            area,
            (LABEL, y),
            &format!("{level:>8}"),
            theme.style(Tone::Strong),
        );
        if area.width > LABEL + 12 {
            let room = usize::from(area.width - LABEL - FIGURE);
            put(
                buffer,
                area,
                (LABEL + FIGURE, y),
                &sparkline(levels, &scene.now.arrived, room),
                theme.style(tone),
            );
        }
    }
    put(buffer, area, (0, 2), "to spare", theme.style(Tone::Text));
    let room = area.width.saturating_sub(LABEL + FIGURE);
    if let Spare::Known(margin) = spare {
        let wanted = format!("goal {}", whole(scene.setup.goal.margin_db));
        let (figure, span, little) = spare_words(margin, scene.setup.goal.margin_db);
        let tone = if little { Tone::Close } else { Tone::Good };
        put(buffer, area, (LABEL, 2), &figure, theme.style(tone));
        let long = format!("{span}, {wanted}");
        let words = if columns(&long) <= room { long } else { span };
        put(buffer, area, (LABEL + FIGURE, 2), &words, theme.style(Tone::Text));
        return 3;
    }
    put(
        buffer,
        area,
        (LABEL, 2),
        &format!("{UNKNOWN:>5} dB"),
        theme.style(Tone::Quiet),
    );
    match spare {
        Spare::Known(_) => 3,
        Spare::Beside(why) => {
            put(buffer, area, (LABEL + FIGURE, 2), why, theme.style(Tone::Quiet));
            3
        }
        Spare::Below(wordings) => {
            let under = Rect {
                x: area.x + 2.min(area.width),
                width: area.width.saturating_sub(2),
                ..below(area, 3)
            };
            let said: Vec<String> = wordings.iter().map(|words| words::capital(words)).collect();
            let fits = |words: &&String| wrap(words, under.width).len() <= usize::from(most);
            match said.iter().find(fits).or(said.last()) {
                Some(words) => 3 + put_wrapped(buffer, under, 0, words, most, theme.style(Tone::Quiet)),
                None => 3,
            }
        }
    }
}

/// What there is to spare: the figure, its interval, and whether it is less than wanted.
fn spare_words(margin: &Margin, wanted_db: f64) -> (String, String, bool) {
    let bound = |sign: &str, db: f64| format!("{:>5} dB", format!("{sign}{}", signed(db)));
    match margin {
        Margin::Between { estimate_db, interval } => {
            let span = format!("{} to {}", signed(interval.low), signed(interval.high));
            (bound("", *estimate_db), span, *estimate_db < wanted_db)
        }
        Margin::AtLeast { low_db } => (
            bound("≥", words::down(*low_db, 0)),
            "how much more is open".to_owned(),
            false,
        ),
        Margin::AtMost { high_db } => (
            bound("≤", words::up(*high_db, 0)),
            "how much less is open".to_owned(),
            *high_db < wanted_db,
        ),
    }
}

/// The levels of the last exchanges, oldest first; a lost one is a cross, a delivered one without a level a dot. One scale for
/// all of them.
fn sparkline(levels: &[Option<f32>], arrived: &[bool], room: usize) -> String {
    const STEPS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
    let known = || levels.iter().flatten().copied();
    let low = known().fold(f32::INFINITY, f32::min);
    let high = known().fold(f32::NEG_INFINITY, f32::max);
    let span = (high - low).max(LEAST_SPAN_DB);
    let middle = f32::midpoint(high, low);
    let step = |level: f32| {
        let part = (level - middle) / span + 0.5;
        STEPS[((part * 7.0).round().max(0.0) as usize).min(7)]
    };
    let shown = levels.iter().zip(arrived).skip(levels.len().saturating_sub(room));
    let sign = |(level, arrived): (&Option<f32>, &bool)| match (level, arrived) {
        (Some(level), _) => step(*level),
        (None, true) => '·',
        (None, false) => '×',
    };
    shown.map(sign).collect()
}

/// Where this is, in a sentence.
pub fn place(scene: &Scene<'_>) -> String {
    let Some(place) = scene.now.place else {
        return "Where this is, is not known.".to_owned();
    };
    let outlook = scene.around.outlook;
    let doubted = outlook.is_some_and(|outlook| outlook.read_with.station_doubted.is_some());
    match (place.distance, place.bearing) {
        (Some(distance), Some(bearing)) if doubted => {
            format!(
                "Doubted: {} out, station {}",
                metres(distance.0),
                words::true_bearing(bearing)
            )
        }
        (Some(distance), Some(bearing)) => {
            format!(
                "{} out, station bears {}",
                metres(distance.0),
                words::true_bearing(bearing)
            )
        }
        (Some(distance), None) => format!("{} out: at the station", metres(distance.0)),
        (None, _) => "The station's position is not set, so there is no distance.".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn losses_are_crosses_and_small_fading_looks_small() {
        assert_eq!(
            sparkline(&[Some(-70.0), None, Some(-69.0)], &[true, false, true], 8),
            "▄×▅"
        );
        assert_eq!(sparkline(&[Some(-90.0), Some(-60.0)], &[true, true], 8), "▁█");
        assert_eq!(sparkline(&[None, None], &[true, false], 1), "×");
        assert_eq!(sparkline(&[None, None, None], &[true, false, true], 8), "·×·");
        assert_eq!(sparkline(&[], &[], 8), "");
    }
}
