//! Losses that come at any level.

use crate::stats::special::beta_quantile;

/// The share of exchanges lost whatever their level: one number, or a number that differs from cell to cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Interference {
    nodes: Vec<f64>,
}

impl Interference {
    /// The same share `f` in every cell, taken into 0 to 0.98.
    pub fn fixed(f: f64) -> Self {
        Self {
            nodes: vec![if f.is_nan() { 0.0 } else { f.clamp(0.0, 0.98) }],
        }
    }

    /// A share that differs from cell to cell as Beta(8 f, 8 (1 - f)), so that a burst inside one cell is not read as a deep
    /// fade: nine nodes of equal probability. `f` is taken into 0.0001 to 0.95.
    pub fn varying(f: f64) -> Self {
        const CONCENTRATION: f64 = 8.0;
        const NODES: usize = 9;
        let f = if f.is_nan() { 1e-4 } else { f.clamp(1e-4, 0.95) };
        let nodes = (0..NODES)
            .map(|i| {
                let p = (i as f64 + 0.5) / NODES as f64;
                beta_quantile(f * CONCENTRATION, (1.0 - f) * CONCENTRATION, p).map_or(f, |q| q.x.clamp(0.0, 0.98))
            })
            .collect();
        Self { nodes }
    }

    /// The nodes, all equally likely.
    pub fn nodes(&self) -> &[f64] {
        &self.nodes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_varying_share_keeps_about_its_mean() {
        let nodes = Interference::varying(0.2);
        let mean = nodes.nodes().iter().sum::<f64>() / 9.0;
        assert!((mean - 0.2).abs() < 0.01, "{mean}");
        assert!(nodes.nodes().windows(2).all(|pair| pair[0] < pair[1]));
        for odd in [f64::NAN, -1.0, 0.0, 1.0, f64::INFINITY] {
            assert!(
                Interference::varying(odd)
                    .nodes()
                    .iter()
                    .all(|f| (0.0..=0.98).contains(f)),
                "{odd}"
            );
            assert!(
                Interference::fixed(odd)
                    .nodes()
                    .iter()
                    .all(|f| (0.0..=0.98).contains(f)),
                "{odd}"
            );
        }
    }
}
