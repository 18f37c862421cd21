//! The way these figures are usually had: what arrived, taken at its word.

use farpace::findings::side::Side;
use farpace::survey::{Activity, Sample, Samples};

/// The mean of received dBm with its usual 95 % interval.
pub fn level(rows: &[Sample], side: Side) -> Option<(f64, f64, f64)> {
    mean(rows.iter().filter_map(|row| side.level(row)).map(f64::from))
}

/// The mean of some numbers with its usual 95 % interval.
pub fn mean(levels: impl Iterator<Item = f64>) -> Option<(f64, f64, f64)> {
    let levels: Vec<f64> = levels.collect();
    let n = levels.len() as f64;
    if n < 2.0 {
        return None;
    }
    let mean = levels.iter().sum::<f64>() / n;
    let variance = levels.iter().map(|level| (level - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let half = 1.96 * (variance / n).sqrt();
    Some((mean - half, mean, mean + half))
}

/// A least-squares line.
pub struct Line {
    pub at_1m: f64,
    pub exponent: f64,
    /// Standard error of the exponent, rows taken as independent.
    pub error: f64,
    /// Standard deviation about the line, dB.
    pub spread: f64,
}

/// The line through received dBm against log distance of a board's walks.
pub fn line(samples: &Samples, board: &str, side: Side) -> Option<Line> {
    let points: Vec<(f64, f64)> = samples
        .rows
        .iter()
        .filter(|row| row.counts() && row.activity == Activity::Walk && samples.board(row) == board)
        .filter_map(|row| {
            let distance = row.distance()?.0;
            (distance >= 12.0).then_some((distance.log10(), f64::from(side.level(row)?)))
        })
        .collect();
    let n = points.len() as f64;
    if n < 10.0 {
        return None;
    }
    let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / n;
    let (mx, my) = (mean(|point| point.0), mean(|point| point.1));
    let sxx: f64 = points.iter().map(|(x, _)| (x - mx).powi(2)).sum();
    let slope = points.iter().map(|(x, y)| (x - mx) * (y - my)).sum::<f64>() / sxx;
    let left: f64 = points.iter().map(|(x, y)| (y - my - slope * (x - mx)).powi(2)).sum();
    let spread = (left / (n - 2.0)).sqrt();
    Some(Line {
        at_1m: my - slope * mx,
        exponent: -slope / 10.0,
        error: spread / sxx.sqrt() / 10.0,
        spread,
    })
}

/// Received dBm of spots, each the mean of a stretch of rows: east, north, level.
pub fn spots(rows: &[(f64, f64, f64)]) -> Vec<(f64, f64, f64)> {
    rows.chunks(20)
        .map(|chunk| {
            let n = chunk.len() as f64;
            let mean = |of: fn(&(f64, f64, f64)) -> f64| chunk.iter().map(of).sum::<f64>() / n;
            (mean(|row| row.0), mean(|row| row.1), mean(|row| row.2))
        })
        .collect()
}

/// The mean of spots weighed by the inverse square of their distance.
pub fn inverse_distance(spots: &[(f64, f64, f64)], x: f64, y: f64) -> f64 {
    let (mut sum, mut weights) = (0.0, 0.0);
    for (east, north, level) in spots {
        let weight = 1.0 / ((east - x).powi(2) + (north - y).powi(2) + 1.0);
        sum += weight * level;
        weights += weight;
    }
    sum / weights
}
