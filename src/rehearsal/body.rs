//! What the walker's body takes when the back is turned to the station.

/// Loss through the body that carries the board before the chest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// Loss with the back to the station, dB.
    pub behind: f64,
    /// How quickly it sets in: 1 for the raised cosine, more for a narrower shade.
    pub power: f64,
}

impl Body {
    /// Loss in decibels, facing a bearing with the station at another, both in degrees: 0 face on, `behind` back to it,
    /// `behind ((1 - cos) / 2)^power` between.
    ///
    /// A torso at 2.4 GHz takes some 5 to 20 dB when it stands between (order of magnitude: common practice).
    pub fn loss(&self, facing: f64, station: f64) -> f64 {
        let away = (1.0 - (facing - station).to_radians().cos()) / 2.0;
        self.behind * away.powf(self.power)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_back_costs() {
        let body = Body {
            behind: 9.0,
            power: 1.3,
        };
        assert_eq!(body.loss(240.0, 240.0), 0.0);
        assert!((body.loss(60.0, 240.0) - 9.0).abs() < 1e-9);
        assert!((body.loss(330.0, 240.0) - 9.0 * 0.5_f64.powf(1.3)).abs() < 1e-9);
    }
}
