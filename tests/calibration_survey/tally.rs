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
