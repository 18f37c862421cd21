//! How often what was said held.

use std::collections::BTreeMap;

/// Counts by the name of a figure.
#[derive(Default)]
pub struct Tallies(BTreeMap<String, Tally>);

/// How often one figure held the truth, and how wide it was.
#[derive(Clone, Default)]
pub struct Tally {
    pub held: u64,
    pub of: u64,
    widths: Vec<f64>,
    errors: Vec<f64>,
}

impl Tally {
    pub fn share(&self) -> f64 {
        self.held as f64 / self.of.max(1) as f64
    }
}

impl Tallies {
    pub fn add(&mut self, name: impl Into<String>, held: bool) -> &mut Tally {
        let tally = self.0.entry(name.into()).or_default();
        tally.held += u64::from(held);
        tally.of += 1;
        tally
    }

    /// An interval with its middle, against the truth.
    pub fn interval(&mut self, name: impl Into<String>, low: f64, middle: f64, high: f64, truth: f64) {
        let tally = self.add(name, low <= truth && truth <= high);
        tally.widths.push(high - low);
        tally.errors.push(middle - truth);
    }

    pub fn get(&self, name: &str) -> Tally {
        self.0.get(name).cloned().unwrap_or_default()
    }

    pub fn merge(&mut self, other: Self) {
        for (name, tally) in other.0 {
            let own = self.0.entry(name).or_default();
            own.held += tally.held;
            own.of += tally.of;
            own.widths.extend(tally.widths);
            own.errors.extend(tally.errors);
        }
    }

    /// One row of the README's table: the figure in plain worlds, in rough ones, in both, and what the naive way gives.
    fn row(&self, words: &str, name: &str, naive: Option<&str>) -> String {
        let cell = |tally: &Tally| {
            let percent = 100.0 * tally.share();
            match tally.of {
                0 => "–".to_owned(),
                of => format!("{percent:.1} ({of})"),
            }
        };
        let (plain, rough) = (self.get(&format!("plain {name}")), self.get(&format!("rough {name}")));
        let both = Tally {
            held: plain.held + rough.held,
            of: plain.of + rough.of,
            ..Tally::default()
        };
        let beside = naive.map(|naive| self.get(&format!("plain {naive}")));
        let beside = beside
            .filter(|tally| tally.of > 0)
            .map_or("–".to_owned(), |tally| format!("{:.1}", 100.0 * tally.share()));
        format!(
            "| {words} | {} | {} | {} | {beside} |",
            cell(&plain),
            cell(&rough),
            cell(&both)
        )
    }

    /// The table as the README shows it.
    pub fn print_for_readme(&self) {
        println!("| figure | plain | rough | together | naive, plain |");
        println!("| --- | --- | --- | --- | --- |");
        for (words, name, naive) in README {
            println!("{}", self.row(words, name, *naive));
        }
    }

    pub fn print(&self) {
        println!(
            "{:<52} {:>7} {:>7}  {:>9} {:>9}",
            "figure", "held %", "of", "width", "bias"
        );
        for (name, tally) in &self.0 {
            let median = |numbers: &[f64]| {
                let mut sorted: Vec<f64> = numbers.iter().copied().filter(|number| number.is_finite()).collect();
                sorted.sort_by(f64::total_cmp);
                sorted
                    .get(sorted.len() / 2)
                    .map_or("—".to_owned(), |middle| format!("{middle:.3}"))
            };
            println!(
                "{name:<52} {:>7.1} {:>7}  {:>9} {:>9}",
                100.0 * tally.share(),
                tally.of,
                median(&tally.widths),
                median(&tally.errors)
            );
        }
    }
}

/// Rows of the README's table: words, figure, the naive way beside it.
const README: &[(&str, &str, Option<&str>)] = &[
    (
        "delivered at a point, as held there",
        "delivery as held",
        Some("delivery as held, naive Wilson"),
    ),
    ("the largest goal a count proves", "delivery proven", None),
    ("the smallest goal a count refutes", "delivery refuted", None),
    (
        "a verdict given is right",
        "verdict given, right",
        Some("verdict given, naive"),
    ),
    (
        "the same, bursts up to 0.8 s",
        "verdict given, right, bursts up to 0.8 s",
        None,
    ),
    (
        "a verdict, given or not, is not wrong, bursts up to 0.8 s",
        "verdict not wrong, bursts up to 0.8 s",
        None,
    ),
    ("level at a point", "level", Some("level, naive")),
    ("level given as at least or at most", "level at least or most", None),
    ("margin", "margin", None),
    ("margin at least", "margin at least", None),
    ("margin at most", "margin at most", None),
    ("what a board needs for 90 %", "need, 90 %", None),
    ("its level of half delivery", "need, half", None),
    ("its scale", "need, scale", None),
    ("exponent", "exponent", Some("exponent, naive")),
    ("exponent of a walk out and back", "exponent, out and back", None),
    ("shadowing", "shadowing", None),
    ("what the body takes", "body", None),
    (
        "level by distance, middle of the walk",
        "level by distance, middle",
        None,
    ),
    ("level by distance, its far end", "level by distance, far end", None),
    ("a range as an interval, all", "range, all intervals", None),
    ("of 99 %", "range 99 %, interval", None),
    ("of 95 %", "range 95 %, interval", None),
    ("of 90 %", "range 90 %, interval", None),
    ("of 50 %", "range 50 %, interval", None),
    ("a range given as at least", "range, all at least", None),
    ("a range given as about", "range, all about", None),
    ("one board over the reference", "boards alone", None),
    ("all boards at once", "boards together", None),
    ("strongest turn of a sweep", "sweep strongest turn", None),
    ("front to back of a sweep", "sweep front to back", None),
    ("front to back as at least", "sweep front to back, at least", None),
    (
        "front to back at the turn named",
        "sweep front to back at the turn named",
        None,
    ),
    (
        "the same as at least",
        "sweep front to back at the turn named, at least",
        None,
    ),
    ("deepest null of a sweep", "sweep null depth", None),
    ("deepest null as at least", "sweep null depth, at least", None),
    ("deepest null as at most", "sweep null depth, at most", None),
];
