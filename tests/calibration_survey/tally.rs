//! How often what was said held.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};

/// Counts by the name of a figure.
#[derive(Default)]
pub struct Tallies {
    figures: BTreeMap<String, Tally>,
    /// The survey that is being counted, and the figures whose misses are printed.
    seed: u64,
    misses: Option<String>,
}

/// Counts over so many surveys on two threads; `one` adds that of an index.
pub fn over(surveys: u64, one: impl Fn(u64, &mut Tallies) + Sync) -> Tallies {
    let next = AtomicU64::new(0);
    let run = || {
        let mut tallies = Tallies::default();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= surveys {
                return tallies;
            }
            one(index, &mut tallies);
        }
    };
    std::thread::scope(|scope| {
        let other = scope.spawn(run);
        let mut tallies = run();
        tallies.merge(other.join().expect("no survey panics"));
        tallies
    })
}

/// How often one figure held the truth, and how wide it was.
#[derive(Clone, Default)]
pub struct Tally {
    pub held: u64,
    pub of: u64,
    widths: Vec<f64>,
    errors: Vec<f64>,
    /// By how much each interval would have to be stretched about its middle to hold just so.
    stretches: Vec<f64>,
}

impl Tally {
    pub fn share(&self) -> f64 {
        self.held as f64 / self.of.max(1) as f64
    }
}

impl Tallies {
    /// Begins a survey; misses of figures whose names begin so are printed.
    pub fn begin(&mut self, seed: u64, misses: Option<&str>) {
        self.seed = seed;
        self.misses = misses.map(str::to_owned);
    }

    pub fn add(&mut self, name: impl Into<String>, held: bool) -> &mut Tally {
        let tally = self.figures.entry(name.into()).or_default();
        tally.held += u64::from(held);
        tally.of += 1;
        tally
    }

    /// Whether the misses of a figure are printed.
    fn prints(&self, name: &str) -> bool {
        self.misses
            .as_ref()
            .is_some_and(|misses| name.starts_with(misses.as_str()))
    }

    /// One limit, against the truth.
    pub fn bound(&mut self, name: impl Into<String>, limit: f64, truth: f64, held: bool) {
        let name = name.into();
        if !held && self.prints(&name) {
            println!("seed {}: {name}: limit {limit:.3}, true {truth:.3}", self.seed);
        }
        self.add(name, held).errors.push(limit - truth);
    }

    /// An interval with its middle, against the truth.
    pub fn interval(&mut self, name: impl Into<String>, low: f64, middle: f64, high: f64, truth: f64) {
        let (name, held) = (name.into(), low <= truth && truth <= high);
        if !held && self.prints(&name) {
            println!(
                "seed {}: {name}: {low:.3} to {high:.3}, middle {middle:.3}, true {truth:.3}",
                self.seed
            );
        }
        let tally = self.add(name, held);
        tally.widths.push(high - low);
        tally.errors.push(middle - truth);
        let (off, half) = if truth > middle {
            (truth - middle, high - middle)
        } else {
            (middle - truth, middle - low)
        };
        tally.stretches.push(if off > 0.0 { off / half } else { 0.0 });
    }

    pub fn get(&self, name: &str) -> Tally {
        self.figures.get(name).cloned().unwrap_or_default()
    }

    pub fn merge(&mut self, other: Self) {
        for (name, tally) in other.figures {
            let own = self.figures.entry(name).or_default();
            own.held += tally.held;
            own.of += tally.of;
            own.widths.extend(tally.widths);
            own.errors.extend(tally.errors);
            own.stretches.extend(tally.stretches);
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

    /// Every figure with cases enough must hold in 93 of 100, in worlds of either kind and together.
    pub fn check(&self) {
        let enough = self.figures.iter().filter(|(_, tally)| tally.of >= 15);
        let short: Vec<String> = enough
            .filter(|(name, tally)| tally.share() < 0.93 && !name.contains("no claim"))
            .map(|(name, tally)| format!("{name}: {} of {}", tally.held, tally.of))
            .collect();
        assert!(short.is_empty(), "{short:#?}");
    }

    /// The table as the README shows it.
    pub fn print_for_readme(&self) {
        println!("| figure | plain | rough | together | naive, plain |");
        println!("| --- | --- | --- | --- | --- |");
        self.print_rows(README);
        self.print_rows(WHY_LOST);
        self.print_rows(LIVE);
    }

    /// The table of surveys with troubles, as the README shows it.
    pub fn print_reasons_for_readme(&self) {
        println!("| said | plain | rough | together | naive, plain |");
        println!("| --- | --- | --- | --- | --- |");
        self.print_rows(SILENT);
        self.print_rows(WHY_LOST);
        self.print_rows(LIVE);
    }

    fn print_rows(&self, rows: &[(&str, &str, Option<&str>)]) {
        for (words, name, naive) in rows {
            println!("{}", self.row(words, name, *naive));
        }
    }

    pub fn print(&self) {
        println!(
            "{:<52} {:>7} {:>7}  {:>9} {:>9} {:>8}",
            "figure", "held %", "of", "width", "bias", "for 96 %"
        );
        for (name, tally) in &self.figures {
            let point = |numbers: &[f64], share: f64| {
                let mut sorted: Vec<f64> = numbers.iter().copied().filter(|number| number.is_finite()).collect();
                sorted.sort_by(f64::total_cmp);
                sorted
                    .get((share * sorted.len() as f64) as usize)
                    .map_or("—".to_owned(), |middle| format!("{middle:.3}"))
            };
            println!(
                "{name:<52} {:>7.1} {:>7}  {:>9} {:>9} {:>8}",
                100.0 * tally.share(),
                tally.of,
                point(&tally.widths, 0.5),
                point(&tally.errors, 0.5),
                point(&tally.stretches, 0.96)
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
    ("the same, need from points", "margin, need from points", None),
    ("margin at least", "margin at least", None),
    ("margin at most", "margin at most", None),
    ("what a board needs for 90 %", "need, 90 %", None),
    ("its level of half delivery", "need, half", None),
    ("its scale", "need, scale", None),
    (
        "what a board needs for 90 %, from its points",
        "need, from points, 90 %",
        None,
    ),
    ("its level of half delivery", "need, from points, half", None),
    ("its scale", "need, from points, scale", None),
    (
        "what a board needs for 90 %, from two surveys",
        "two surveys need, 90 %",
        None,
    ),
    ("its level of half delivery", "two surveys need, half", None),
    ("its scale", "two surveys need, scale", None),
    ("margin, need from two surveys", "two surveys margin", None),
    (
        "a range as an interval, need from two surveys",
        "two surveys range, all intervals",
        None,
    ),
    ("exponent", "exponent", Some("exponent, naive")),
    ("exponent of a walk out and back", "exponent, out and back", None),
    ("shadowing", "shadowing", None),
    ("what the body takes", "body", None),
    ("what interference takes", "interference", None),
    (
        "level by distance, middle of the walk",
        "level by distance, middle",
        None,
    ),
    ("level by distance, its far end", "level by distance, far end", None),
    (
        "level by distance, drawn beyond the walk",
        "level by distance, beyond",
        None,
    ),
    (
        "delivery by distance, middle of the walk",
        "delivery by distance, middle",
        None,
    ),
    (
        "delivery by distance, its far end",
        "delivery by distance, far end",
        None,
    ),
    (
        "delivery by distance, drawn beyond the walk",
        "delivery by distance, beyond",
        None,
    ),
    (
        "delivery in a ring of 60 exchanges or more",
        "ring, of many",
        Some("ring, naive Wilson, of many"),
    ),
    (
        "delivery in a ring of 10 to 59 exchanges",
        "ring, of few",
        Some("ring, naive Wilson, of few"),
    ),
    ("fading on the walk", "fading", None),
    ("a range as an interval, all", "range, all intervals", None),
    ("of 99 %", "range 99 %, interval", None),
    ("of 95 %", "range 95 %, interval", None),
    ("of 90 %", "range 90 %, interval", None),
    ("of 50 %", "range 50 %, interval", None),
    ("a range given as at least", "range, all at least", None),
    ("a range given as about", "range, all about", None),
    ("a range given as less than", "range, all less than", None),
    ("the level a place needs", "map, level needed", None),
    ("the same as at least", "map, level needed at least", None),
    ("what a spot has to spare at least", "map, spot's spare at least", None),
    (
        "another board's strength, as a map for it assumes",
        "map, another board's gain",
        None,
    ),
    ("one board over the reference", "boards alone", None),
    ("all boards at once", "boards together", None),
    ("the same, the link changing", "boards alone, changing", None),
    ("a board given as at least or at most", "boards at least or most", None),
    ("drift at a point", "drift", None),
    ("the same, the link changing", "drift, changing", None),
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
    ("weakest turn", "sweep weakest turn", None),
    ("3 dB width", "sweep 3 dB width", None),
    ("share within 3 dB", "sweep share within 3 dB", None),
    (
        "a round board is not called directional",
        "sweep round, not called directional",
        None,
    ),
    (
        "level at a turn, as held there",
        "turn level as held",
        Some("turn level as held, naive"),
    ),
    ("the same as at most", "turn level as held, at most", None),
    ("fitted level, any turn", "turn fitted level", None),
    ("delivered at a turn, as held there", "turn delivered", None),
    ("level at a turn, as at a point", "turn level as at a point", None),
    (
        "the same as at least or at most",
        "turn level as at a point, at least or most",
        None,
    ),
    ("margin at a turn", "turn margin", None),
    ("the same as at least or at most", "turn margin, at least or most", None),
    ("the first turn again", "turn first again", None),
    (
        "one sweep less another, at a turn",
        "turn difference",
        Some("turn difference, naive"),
    ),
    (
        "the same as at least or at most",
        "turn difference, at least or most",
        None,
    ),
    ("at all turns together", "turn difference, all turns", None),
    (
        "a turn said to differ for sure does",
        "turn difference called sure",
        None,
    ),
    ("in the mean over the turns", "turn difference in the mean", None),
];

/// Why messages were lost: words, figure, the naive way beside it.
const WHY_LOST: &[(&str, &str, Option<&str>)] = &[
    (
        "losses of a walk because the signal was too weak",
        "walk losses too weak",
        None,
    ),
    (
        "losses of a walk at levels that were enough",
        "walk losses at strong levels",
        None,
    ),
    ("either of them as at most", "walk losses at most", None),
    (
        "\"too weak\" at a point, or in a sweep, is right",
        "reason too weak, told rightly",
        None,
    ),
    ("how many were too weak", "reason too weak, limits", None),
    (
        "\"interference\" there is right",
        "reason interference, told rightly",
        None,
    ),
    ("how many it took", "reason interference, limits", None),
    ("\"mostly one way\" is right", "reason one way, told rightly", None),
];

/// What stands on the screen while walking: words, figure, the naive way beside it.
const LIVE: &[(&str, &str, Option<&str>)] = &[
    (
        "walking: delivered of the last 100",
        "live delivery of the last 100",
        Some("live delivery of the last 100, naive Wilson"),
    ),
    (
        "walking: delivered of the last 20",
        "live delivery of the last 20",
        Some("live delivery of the last 20, naive Wilson"),
    ),
    ("walking: to spare", "live margin", None),
    ("walking: to spare as at least or at most", "live margin open", None),
    (
        "walking: \"interference\" of the last 100 is right",
        "live reason interference, told rightly",
        None,
    ),
    (
        "walking: \"mostly one way\" of the last 100 is right",
        "live reason one way, told rightly",
        None,
    ),
    (
        "walking: a reason here is right",
        "live here reason, told rightly",
        None,
    ),
    ("walking: how many were lost so here", "live here reason, limits", None),
];

/// Where the station fell silent.
const SILENT: &[(&str, &str, Option<&str>)] = &[
    (
        "\"the station was silent\" at a point is right",
        "reason silence, told rightly",
        None,
    ),
    (
        "\"the station was silent\" on a walk is right",
        "walk losses in a silence, told rightly",
        None,
    ),
    (
        "walking: \"the station was silent\" is right",
        "live reason silence, told rightly",
        None,
    ),
];
