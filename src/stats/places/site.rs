//! A record as a Gaussian site: what it says of the level, losses included.

use super::record::Record;
use super::summary::Summary;
use super::tails::normal_below;

/// The widest a site may be, in dB²: as good as silent.
pub(super) const WIDEST: f64 = 1e4;
/// Variance in dB² of reporting whole decibels, 1/12, rounded up.
const ROUNDING: f64 = 0.1;
/// Share of the new site taken in one sweep.
const DAMPING: f64 = 0.7;

/// A Gaussian that stands for a record in the field.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Site {
    /// Level in dBm.
    pub level: f64,
    /// Variance in dB².
    pub variance: f64,
}

/// What the loss model needs of the receiver and the ground.
#[derive(Clone, Copy, Debug)]
pub(super) struct Delivery {
    /// Fading variance in dB².
    pub fading: f64,
    /// Level of 50 % delivery in dBm.
    pub half_level: f64,
    /// Waterfall width in dB.
    pub waterfall: f64,
    /// Share lost whatever the level.
    pub background_loss: f64,
}

impl Site {
    /// The site of a record before losses are looked at: its mean level, or nearly nothing when all was lost.
    pub(super) fn first(record: &Record, summary: &Summary) -> Self {
        let fading = summary.fading_sd * summary.fading_sd;
        record.level.map_or(
            Self {
                level: summary.level,
                variance: WIDEST,
            },
            |level| Self {
                level,
                variance: (fading / record.received_weight().max(1e-9) + ROUNDING).min(WIDEST),
            },
        )
    }

    /// What this site and `other` say together.
    pub(super) fn times(self, other: Self) -> Self {
        let precision = 1.0 / other.variance + 1.0 / self.variance;
        Self {
            level: (other.level / other.variance + self.level / self.variance) / precision,
            variance: 1.0 / precision,
        }
    }

    /// This site moved towards `new` in natural parameters.
    pub(super) fn damped(self, new: Self) -> Self {
        let precision = (1.0 - DAMPING) / self.variance + DAMPING / new.variance;
        let pull = (1.0 - DAMPING) * self.level / self.variance + DAMPING * new.level / new.variance;
        Self {
            level: pull / precision,
            variance: (1.0 / precision).min(WIDEST),
        }
    }
}

/// The site of a record with losses, by expectation propagation (Minka 2001, UAI 17:362-369).
///
/// `cavity` is what the other records say here. Delivered exchanges enter exactly (their mean `level` in dBm, counting
/// `received` independent fades); the loss factor, `lost` fades, by a sum over 41 points.
pub(super) fn moment_site(cavity: Site, received: f64, level: f64, lost: f64, delivery: &Delivery) -> Site {
    let variance = 1.0 / (1.0 / cavity.variance + received / delivery.fading);
    let mean = variance * (cavity.level / cavity.variance + received * level / delivery.fading);
    let spread = (delivery.fading + delivery.waterfall * delivery.waterfall).sqrt();
    let root = variance.sqrt();
    let nodes: [(f64, f64); 41] = std::array::from_fn(|i| {
        let u = -5.0 + 0.25 * i as f64;
        let at = mean + root * u;
        let delivered = normal_below((at - delivery.half_level) / spread).min(1.0 - 1e-12);
        (
            at,
            -0.5 * u * u + lost * (-(1.0 - delivery.background_loss) * delivered).ln_1p(),
        )
    });
    let top = nodes.iter().map(|node| node.1).fold(f64::NEG_INFINITY, f64::max);
    let weights = nodes.map(|node| (node.1 - top).exp());
    let total: f64 = weights.iter().sum();
    let told: f64 = nodes.iter().zip(&weights).map(|(node, w)| w * node.0).sum::<f64>() / total;
    let width = nodes
        .iter()
        .zip(&weights)
        .map(|(node, w)| w * (node.0 - told) * (node.0 - told))
        .sum::<f64>()
        / total;
    let width = width.max(1e-4);
    let precision = 1.0 / width - 1.0 / cavity.variance;
    if precision > 1.0 / WIDEST {
        let variance = 1.0 / precision;
        Site {
            level: variance * (told / width - cavity.level / cavity.variance),
            variance,
        }
    } else {
        Site {
            level: told,
            variance: WIDEST,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DELIVERY: Delivery = Delivery {
        fading: 25.0,
        half_level: -98.0,
        waterfall: 1.2,
        background_loss: 0.005,
    };

    #[test]
    fn losses_where_level_is_plenty_pull_down() {
        let cavity = Site {
            level: -85.0,
            variance: 30.0,
        };
        let silent = moment_site(cavity, 0.0, 0.0, 0.0, &DELIVERY);
        assert_eq!(silent.variance, WIDEST);
        let few = moment_site(cavity, 0.0, 0.0, 3.0, &DELIVERY);
        let many = moment_site(cavity, 0.0, 0.0, 30.0, &DELIVERY);
        assert!(few.level < cavity.level && many.variance < few.variance);
    }

    #[test]
    fn without_losses_the_record_is_its_own_mean() {
        let cavity = Site {
            level: -70.0,
            variance: 40.0,
        };
        let site = moment_site(cavity, 10.0, -75.0, 0.0, &DELIVERY);
        // The 41-point sum stops at five standard deviations, hence not to the last digit.
        assert!((site.level + 75.0).abs() < 1e-3, "{site:?}");
        assert!((site.variance - 2.5).abs() < 1e-3, "{site:?}");
    }

    #[test]
    fn damping_stays_between() {
        let old = Site {
            level: -80.0,
            variance: 4.0,
        };
        let new = Site {
            level: -90.0,
            variance: 1.0,
        };
        let damped = old.damped(new);
        assert!(damped.level > -90.0 && damped.level < -80.0);
        assert!(damped.variance > 1.0 && damped.variance < 4.0);
    }
}
