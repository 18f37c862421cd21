//! The three channel plans at 2.4 GHz: number to frequency and back, the band a channel fills, which ones overlap.

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::units::Megahertz;

/// A numbering of channels at 2.4 GHz.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum ChannelPlan {
    /// Channels 1 to 14: 2407 + 5 n MHz, and 2484 MHz for 14 (IEEE Std 802.11-2020, Annex E, operating classes 81 and 82).
    #[serde(rename = "802.11")]
    Ieee80211,
    /// Channels 11 to 26: 2405 + 5 (n - 11) MHz (IEEE Std 802.15.4-2020, 10.1.3.3).
    #[serde(rename = "802.15.4")]
    Ieee802154,
    /// Channel indices 0 to 39 (Bluetooth Core Specification 5.4, 2023, vol. 6 part A 2 and part B 1.4.1): 37, 38 and 39 are
    /// the primary advertising channels at 2402, 2426 and 2480 MHz, the others fill the gaps upwards in steps of 2 MHz.
    #[serde(rename = "ble")]
    Ble,
}

/// Why there is no such channel or plan.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum NoChannel {
    /// The number is outside the plan.
    #[error("channel {number} is not in the {plan} plan at 2.4 GHz: give {first} to {last}")]
    Number {
        /// The number asked for.
        number: u32,
        /// The plan's word.
        plan: &'static str,
        /// Lowest number of the plan.
        first: u32,
        /// Highest number of the plan.
        last: u32,
    },
    /// No plan has this name.
    #[error("radio {0:?} has no channel plan here: give 802.11, 802.15.4 or ble, or the frequency in MHz")]
    Plan(String),
}

/// What a BLE channel is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BleUse {
    /// 37, 38, 39: where devices announce themselves.
    PrimaryAdvertising,
    /// 0 to 36: everything else.
    GeneralPurpose,
}

/// A stretch of frequencies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Lower edge.
    pub low: Megahertz,
    /// Upper edge.
    pub high: Megahertz,
}

/// The band these plans live in, as two widely used sets of rules have it (ETSI EN 300 328 V2.2.2, 2019, and 47 CFR 15.247);
/// an example, not a permission.
pub const EXAMPLE_BAND: Band = Band {
    low: Megahertz(2400.0),
    high: Megahertz(2483.5),
};

/// Width between the first nulls of 802.11 direct-sequence signals (IEEE Std 802.11, DSSS mask).
pub const WIDTH_DSSS: Megahertz = Megahertz(22.0);
/// Width of an 802.11 OFDM channel (20 MHz).
pub const WIDTH_OFDM: Megahertz = Megahertz(20.0);
/// Width filled by an 802.15.4 O-QPSK signal or a BLE channel.
pub const WIDTH_NARROW: Megahertz = Megahertz(2.0);

impl ChannelPlan {
    /// Every plan.
    pub const ALL: [Self; 3] = [Self::Ieee80211, Self::Ieee802154, Self::Ble];

    /// The word node lines use for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Ieee80211 => "802.11",
            Self::Ieee802154 => "802.15.4",
            Self::Ble => "ble",
        }
    }

    /// The plan a node line's word means, capitals or not.
    ///
    /// # Errors
    /// When no plan has this word.
    pub fn named(word: &str) -> Result<Self, NoChannel> {
        Self::ALL
            .into_iter()
            .find(|plan| plan.word().eq_ignore_ascii_case(word.trim()))
            .ok_or_else(|| NoChannel::Plan(word.to_owned()))
    }

    /// Lowest and highest channel number.
    pub const fn numbers(self) -> (u32, u32) {
        match self {
            Self::Ieee80211 => (1, 14),
            Self::Ieee802154 => (11, 26),
            Self::Ble => (0, 39),
        }
    }

    /// The centre frequency of a channel.
    ///
    /// # Errors
    /// When the plan has no such number.
    pub fn centre(self, number: u32) -> Result<Megahertz, NoChannel> {
        let (first, last) = self.numbers();
        if !(first..=last).contains(&number) {
            return Err(NoChannel::Number {
                number,
                plan: self.word(),
                first,
                last,
            });
        }
        Ok(Megahertz(f64::from(match self {
            Self::Ieee80211 if number == 14 => 2484,
            Self::Ieee80211 => 2407 + 5 * number,
            Self::Ieee802154 => 2405 + 5 * (number - 11),
            Self::Ble => 2402 + 2 * ble_rf_channel_in_range(number),
        })))
    }

    /// The channel centred on exactly this frequency (within a hertz); `None` when none is.
    pub fn channel_at(self, frequency: Megahertz) -> Option<u32> {
        let (first, last) = self.numbers();
        (first..=last).find(|&number| {
            self.centre(number)
                .is_ok_and(|centre| (centre.0 - frequency.0).abs() < 1e-6)
        })
    }

    /// How wide a signal of this plan is taken to be: [`WIDTH_DSSS`] (the wider of the two), else [`WIDTH_NARROW`].
    pub const fn width(self) -> Megahertz {
        match self {
            Self::Ieee80211 => WIDTH_DSSS,
            Self::Ieee802154 | Self::Ble => WIDTH_NARROW,
        }
    }

    /// The channels of `other` whose signal overlaps this plan's channel `number`.
    ///
    /// # Errors
    /// When the plan has no such number.
    pub fn overlapping(self, number: u32, other: Self) -> Result<Vec<u32>, NoChannel> {
        let mine = Band::about(self.centre(number)?, self.width());
        let (first, last) = other.numbers();
        Ok((first..=last)
            .filter(|&theirs| {
                other
                    .centre(theirs)
                    .is_ok_and(|centre| mine.overlaps(Band::about(centre, other.width())))
            })
            .collect())
    }
}

impl Band {
    /// The band of a given width about a centre frequency.
    pub fn about(centre: Megahertz, width: Megahertz) -> Self {
        Self {
            low: Megahertz(centre.0 - width.0 / 2.0),
            high: Megahertz(centre.0 + width.0 / 2.0),
        }
    }

    /// Whether the two share more than an edge.
    pub fn overlaps(self, other: Self) -> bool {
        self.low.0 < other.high.0 && other.low.0 < self.high.0
    }

    /// Whether `other` lies wholly inside, edges included.
    pub fn holds(self, other: Self) -> bool {
        self.low.0 <= other.low.0 && other.high.0 <= self.high.0
    }
}

/// The radio-frequency channel 0 to 39 (2402 + 2 k MHz) of a BLE channel index; `None` past 39.
pub fn ble_rf_channel(index: u32) -> Option<u32> {
    (index <= 39).then(|| ble_rf_channel_in_range(index))
}

/// What a BLE channel index is for; `None` past 39.
pub fn ble_use(index: u32) -> Option<BleUse> {
    match index {
        0..=36 => Some(BleUse::GeneralPurpose),
        37..=39 => Some(BleUse::PrimaryAdvertising),
        _ => None,
    }
}

/// The advertising channels sit at 0, 12 and 39, so the data indices skip those.
const fn ble_rf_channel_in_range(index: u32) -> u32 {
    match index {
        37 => 0,
        38 => 12,
        39 => 39,
        0..=10 => index + 1,
        _ => index + 2,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_channel_comes_back_from_its_frequency() {
        for plan in ChannelPlan::ALL {
            let (first, last) = plan.numbers();
            for number in first..=last {
                assert_eq!(plan.channel_at(plan.centre(number).unwrap()), Some(number), "{plan:?}");
            }
            assert_eq!(plan.channel_at(Megahertz(f64::NAN)), None);
        }
    }

    #[test]
    fn a_wrong_number_says_which_are_right() {
        assert_eq!(
            ChannelPlan::Ieee80211.centre(15).unwrap_err().to_string(),
            "channel 15 is not in the 802.11 plan at 2.4 GHz: give 1 to 14"
        );
        assert!(ChannelPlan::Ieee802154.centre(u32::MAX).is_err());
        assert_eq!(ChannelPlan::named(" BLE "), Ok(ChannelPlan::Ble));
        assert!(ChannelPlan::named("lora").unwrap_err().to_string().contains("in MHz"));
    }

    #[test]
    fn narrow_channels_under_a_wide_one() {
        assert_eq!(
            ChannelPlan::Ieee80211.overlapping(6, ChannelPlan::Ieee802154),
            Ok(vec![16, 17, 18, 19])
        );
        assert_eq!(
            ChannelPlan::Ieee80211.overlapping(6, ChannelPlan::Ieee80211),
            Ok((2..=10).collect())
        );
    }
}
