//! How much doubt a walk can settle.

/// Nodes and weights of the four-point Gauss-Legendre rule (Abramowitz & Stegun 1964, table 25.4).
const RULE: [(f64, f64); 4] = [
    (-0.861_136_311_594_052_6, 0.347_854_845_137_453_8),
    (-0.339_981_043_584_856_3, 0.652_145_154_862_546_1),
    (0.339_981_043_584_856_3, 0.652_145_154_862_546_1),
    (0.861_136_311_594_052_6, 0.347_854_845_137_453_8),
];

/// The expected fall of P(1-P) at a place with standardised spare margin `t` when new records explain the share `rho` of
/// its variance (0 to 0.999).
///
/// Stepwise uncertainty reduction (Bect et al. 2012, Stat. Comput. 22:773-793; Chevalier et al. 2014, Technometrics
/// 56:455-465) in one dimension: (1/2π) ∫ exp(-t²/(1+sin u)) du from 0 to asin ρ.
pub(super) fn settled(t: f64, rho: f64) -> f64 {
    let half = 0.5 * rho.clamp(0.0, 0.999).asin();
    RULE.iter()
        .map(|(node, weight)| half * weight * (-t * t / (1.0 + (half * (node + 1.0)).sin())).exp())
        .sum::<f64>()
        / std::f64::consts::TAU
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn knowing_everything_at_even_odds_settles_a_quarter() {
        assert_eq!(settled(0.0, 0.0), 0.0);
        // asin(1)/2π = 1/4; the share is capped just below.
        assert!((settled(0.0, 1.0) - 0.25).abs() < 0.01);
        assert!(settled(3.0, 0.5) < settled(0.0, 0.5));
    }
}
