//! What a plan is asked for: the two ends, the ground, what is in the way, the goal.

use serde::Serialize;
use thiserror::Error;

use crate::link::channel::NoChannel;
use crate::link::{ChannelPlan, wavelength};
use crate::propagation::woodland::{Wood, mixed_forest};
use crate::propagation::{noise, woodland};
use crate::units::{Db, Dbm, Megahertz, Metres};

/// Everything a plan depends on. The defaults are a fair first guess at a small node in a field; each says where it is from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlanInputs {
    /// The fixed end. Default: aerial 3 m up, 15 dBm, 0 dBi, no feeder loss.
    pub station: End,
    /// The carried end. Default: 1.2 m up (held before the body), 15 dBm, 0 dBi, no feeder loss.
    pub node: End,
    /// The radio's channel plan, which also says how wide its receiver listens. Default 802.11.
    pub radio: ChannelPlan,
    /// The channel. Default 6 (2437 MHz); not looked at when `mhz` is given.
    pub channel: u32,
    /// The frequency itself, 300 to 3000 MHz. Default: the channel's.
    pub mhz: Option<Megahertz>,
    /// How wide the receiver listens, 0.001 to 100 MHz. Default by the radio: 22 MHz for 802.11, 2 MHz for 802.15.4, 1 MHz for
    /// BLE (its 1 Mbit/s layer).
    pub bandwidth_mhz: Option<Megahertz>,
    /// What the ground is like. Default [`Ground::Cluttered`], the more careful of the two.
    pub ground: Ground,
    /// Trees on the way. Default none.
    pub trees: Option<Trees>,
    /// An edge the signal must pass over. Default none.
    pub edge: Option<Edge>,
    /// What a wall or roof that the signal passes through takes, 0 to 60 dB. Default 0.
    pub through_db: Db,
    /// How weak a signal the receivers still read. Default worked out from noise.
    pub receiver: Receiver,
    /// How steady the signal is over centimetres: steady over scattered power. Default: 6 dB in clear sight (common practice
    /// outdoors), none (Rayleigh) where trees, an edge or a wall are in the way.
    pub rice_k_db: Option<Db>,
    /// How local means scatter about the expected level, one sigma, 0 to 20 dB. Default 7 dB (Rec. ITU-R P.1411-12, 4.3.1).
    pub sigma_db: Db,
    /// What a place must meet.
    pub goal: PlanGoal,
    /// The distance at which budget and clearance are shown, 1 to 20000 m. Default: where half of the places still meet the
    /// goal, or 100 m.
    pub at_m: Option<Metres>,
    /// How far the table goes, 10 to 20000 m. Default 1000 m.
    pub farthest_m: Metres,
}

/// One end of the link.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct End {
    /// Aerial above the ground it stands on, 0.05 to 500 m.
    pub height_m: Metres,
    /// Transmit power at the radio, -40 to 40 dBm.
    pub tx_dbm: Dbm,
    /// Aerial gain over isotropic towards the other end, -40 to 40 dBi. A small board's aerial has nulls 10 dB and more below
    /// its best direction.
    pub gain_dbi: Db,
    /// What cable and connectors take, 0 to 40 dB.
    pub loss_db: Db,
}

/// What the ground between is like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Ground {
    /// Flat, open, nothing near the path: free space, then the plane earth.
    Flat,
    /// Trees, hedges, fences, sheds beside the path, which itself is clear: the median of Rec. ITU-R P.1411.
    Cluttered,
}

/// Trees the path runs through.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Trees {
    /// Where they begin, metres from the station.
    pub from_station_m: Metres,
    /// How deep they are along the path; the node may stand among them.
    pub depth_m: Metres,
    /// Loss for each of the first metres, 0.001 to 10 dB. Default: measured mixed forest.
    pub db_per_m: Option<f64>,
    /// The most they can take, 1 to 100 dB. Default: measured mixed forest.
    pub most_db: Option<Db>,
}

/// An edge across the path.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Edge {
    /// Where it stands, metres from the station.
    pub from_station_m: Metres,
    /// Its top above the ground, 0 to 500 m.
    pub height_m: Metres,
}

/// How weak a signal the receivers at both ends still read.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Receiver {
    /// Stated: the level at which 90 % of messages still come through, -150 to -20 dBm.
    Stated {
        /// That level.
        level90_dbm: Dbm,
    },
    /// Worked out: thermal noise in the radio's bandwidth plus these.
    Worked {
        /// What the receiver's own circuits add, 0 to 30 dB. Default 7 dB (common practice).
        noise_figure_db: Db,
        /// Signal over noise it wants, -20 to 40 dB; `None`: 4 dB for 802.11 at its slowest and for 802.15.4, 10 dB for BLE
        /// (common practice).
        wanted_ratio_db: Option<Db>,
        /// How far other radios lift the noise where it is to be, 0 to 40 dB. Default 0, which a busy band is not.
        noise_rise_db: Db,
    },
}

/// What a place must meet.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PlanGoal {
    /// Share of messages that must come through, there and back, above 0 and below 1. Default 0.95.
    pub delivery: f64,
    /// How sure a place picked unseen should be, above 0 and below 1. Default 0.95.
    pub confidence: f64,
    /// How far the local mean should stand above the receiver's 90 % level, 0 to 60 dB. Default 10 dB.
    pub margin_db: Db,
}

/// Why no plan can be made: what was given and what to give instead.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum PlanProblem {
    /// A figure is not a number or out of its range.
    #[error("{what} {value} {unit} is outside {low} to {high} {unit}: {remedy}")]
    Range {
        /// What it is.
        what: &'static str,
        /// What was given.
        value: f64,
        /// Lowest that makes sense.
        low: f64,
        /// Highest that makes sense.
        high: f64,
        /// Unit of the three.
        unit: &'static str,
        /// What to give.
        remedy: &'static str,
    },
    /// A share is not strictly between none and all.
    #[error("{what} {value} is not between 0 and 1: give a share such as 0.95")]
    Share {
        /// What it is.
        what: &'static str,
        /// What was given.
        value: f64,
    },
    /// The channel is not in the plan.
    #[error(transparent)]
    Channel(#[from] NoChannel),
}

impl Default for PlanInputs {
    fn default() -> Self {
        let end = |height: f64| End {
            height_m: Metres(height),
            tx_dbm: Dbm(15.0),
            gain_dbi: Db(0.0),
            loss_db: Db(0.0),
        };
        Self {
            station: end(3.0),
            node: end(1.2),
            radio: ChannelPlan::Ieee80211,
            channel: 6,
            mhz: None,
            bandwidth_mhz: None,
            ground: Ground::Cluttered,
            trees: None,
            edge: None,
            through_db: Db(0.0),
            receiver: Receiver::Worked {
                noise_figure_db: Db(7.0),
                wanted_ratio_db: None,
                noise_rise_db: Db(0.0),
            },
            rice_k_db: None,
            sigma_db: Db(7.0),
            goal: PlanGoal {
                delivery: 0.95,
                confidence: 0.95,
                margin_db: Db(10.0),
            },
            at_m: None,
            farthest_m: Metres(1000.0),
        }
    }
}

impl PlanInputs {
    /// The frequency asked for.
    ///
    /// # Errors
    /// When the channel is not in the plan, or the frequency outside the formulas' range.
    pub fn frequency(&self) -> Result<Megahertz, PlanProblem> {
        let frequency = match self.mhz {
            Some(frequency) => frequency,
            None => self.radio.centre(self.channel)?,
        };
        let remedy = "the formulas hold there; 2.4 GHz channels lie at 2400 to 2484";
        within("frequency", frequency.0, 300.0, 3000.0, "MHz", remedy)?;
        Ok(frequency)
    }

    /// Checks every figure.
    ///
    /// # Errors
    /// On the first that is no number or out of range, saying what to give.
    pub fn check(&self) -> Result<(), PlanProblem> {
        self.frequency()?;
        if let Some(width) = self.bandwidth_mhz {
            let leave = "leave it out to take the radio's own";
            within("bandwidth", width.0, 0.001, 100.0, "MHz", leave)?;
        }
        self.station.check([
            "height of the station's aerial",
            "the station's power",
            "the station's aerial gain",
            "the station's cable loss",
        ])?;
        self.node.check([
            "height of the node's aerial",
            "the node's power",
            "the node's aerial gain",
            "the node's cable loss",
        ])?;
        let way = "measure along the ground from the station";
        if let Some(trees) = self.trees {
            within("start of the trees", trees.from_station_m.0, 0.0, 20_000.0, "m", way)?;
            within("depth of the trees", trees.depth_m.0, 0.0, 20_000.0, "m", way)?;
            let leave = "leave it out to take a measured mixed forest";
            if let Some(loss) = trees.db_per_m {
                within("loss among trees", loss, 0.001, 10.0, "dB/m", leave)?;
            }
            if let Some(most) = trees.most_db {
                within("most the trees can take", most.0, 1.0, 100.0, "dB", leave)?;
            }
        }
        if let Some(edge) = self.edge {
            within("distance of the edge", edge.from_station_m.0, 0.1, 20_000.0, "m", way)?;
            within(
                "height of the edge",
                edge.height_m.0,
                0.0,
                500.0,
                "m",
                "measure from the ground",
            )?;
        }
        let wall = "common practice: some 5 dB for a wooden wall, 10 to 15 for brick or concrete";
        within("loss through a wall", self.through_db.0, 0.0, 60.0, "dB", wall)?;
        match self.receiver {
            Receiver::Stated { level90_dbm } => {
                let remedy = "give the level at which 90 % of messages still come through, such as -90";
                within("the receiver's level", level90_dbm.0, -150.0, -20.0, "dBm", remedy)?;
            }
            Receiver::Worked {
                noise_figure_db,
                wanted_ratio_db,
                noise_rise_db,
            } => {
                within("noise figure", noise_figure_db.0, 0.0, 30.0, "dB", "7 is usual")?;
                let ratio = wanted_ratio_db.unwrap_or_default();
                within("signal over noise", ratio.0, -20.0, 40.0, "dB", "4 to 10 is usual")?;
                within(
                    "rise of the noise",
                    noise_rise_db.0,
                    0.0,
                    40.0,
                    "dB",
                    "0 in a quiet band",
                )?;
            }
        }
        if let Some(k) = self.rice_k_db {
            within(
                "steadiness (Rice K)",
                k.0,
                -40.0,
                40.0,
                "dB",
                "6 in clear sight, -40 for none",
            )?;
        }
        within(
            "scatter of local means",
            self.sigma_db.0,
            0.0,
            20.0,
            "dB",
            "7 is usual in sight",
        )?;
        share("delivery goal", self.goal.delivery)?;
        share("confidence", self.goal.confidence)?;
        within("margin goal", self.goal.margin_db.0, 0.0, 60.0, "dB", "10 is usual")?;
        if let Some(at) = self.at_m {
            within("distance to look at", at.0, 1.0, 20_000.0, "m", "give one to walk to")?;
        }
        within(
            "end of the table",
            self.farthest_m.0,
            10.0,
            20_000.0,
            "m",
            "1000 is usual",
        )
    }

    /// Whether anything stands in the way, so that the signal arrives scattered.
    pub fn barred(&self) -> bool {
        self.trees.is_some_and(|trees| trees.depth_m.0 > 0.0) || self.edge.is_some() || self.through_db.0 > 0.0
    }

    /// Steady over scattered power, a plain ratio, 0 for Rayleigh.
    pub fn steadiness(&self) -> f64 {
        match self.rice_k_db {
            Some(k) => crate::propagation::fading::ratio(k),
            None if self.barred() => 0.0,
            None => crate::propagation::fading::ratio(Db(6.0)),
        }
    }

    /// The receivers' level: stated, or thermal noise and what is added to it.
    pub fn threshold(&self) -> Option<Dbm> {
        match self.receiver {
            Receiver::Stated { level90_dbm } => Some(level90_dbm),
            Receiver::Worked {
                noise_figure_db,
                wanted_ratio_db,
                noise_rise_db,
            } => {
                let thermal = noise::thermal(noise::REFERENCE_KELVIN, self.bandwidth().0 * 1e6)?;
                let ratio = wanted_ratio_db.unwrap_or_else(|| usual_ratio(self.radio));
                Some(noise::sensitivity(thermal + noise_rise_db, noise_figure_db, ratio))
            }
        }
    }

    /// How wide the receiver listens.
    pub fn bandwidth(&self) -> Megahertz {
        self.bandwidth_mhz.unwrap_or(Megahertz(match self.radio {
            ChannelPlan::Ieee80211 => 22.0,
            ChannelPlan::Ieee802154 => 2.0,
            ChannelPlan::Ble => 1.0,
        }))
    }

    /// The wood on the way, figures not given taken from a measured mixed forest.
    pub fn wood(&self) -> Option<Wood> {
        let trees = self.trees?;
        let forest = mixed_forest(self.frequency().ok()?)?;
        Some(woodland::Wood {
            db_per_m: trees.db_per_m.unwrap_or(forest.db_per_m),
            most: trees.most_db.unwrap_or(forest.most),
        })
    }

    /// The wavelength of the frequency asked for.
    pub fn wavelength(&self) -> Option<Metres> {
        wavelength(self.frequency().ok()?)
    }
}

impl End {
    fn check(&self, what: [&'static str; 4]) -> Result<(), PlanProblem> {
        let ground = "give metres above the ground";
        within(what[0], self.height_m.0, 0.05, 500.0, "m", ground)?;
        let power = "give what the radio itself sends, such as 15";
        within(what[1], self.tx_dbm.0, -40.0, 40.0, "dBm", power)?;
        let gain = "give decibels over isotropic, 0 if unknown";
        within(what[2], self.gain_dbi.0, -40.0, 40.0, "dBi", gain)?;
        within(
            what[3],
            self.loss_db.0,
            0.0,
            40.0,
            "dB",
            "give a loss as a positive number",
        )
    }
}

/// Signal over noise a radio of this kind wants (common practice).
fn usual_ratio(radio: ChannelPlan) -> Db {
    match radio {
        ChannelPlan::Ieee80211 | ChannelPlan::Ieee802154 => Db(4.0),
        ChannelPlan::Ble => Db(10.0),
    }
}

fn within(
    what: &'static str,
    value: f64,
    low: f64,
    high: f64,
    unit: &'static str,
    remedy: &'static str,
) -> Result<(), PlanProblem> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(PlanProblem::Range {
        what,
        value,
        low,
        high,
        unit,
        remedy,
    })
}

fn share(what: &'static str, value: f64) -> Result<(), PlanProblem> {
    if value > 0.0 && value < 1.0 {
        return Ok(());
    }
    Err(PlanProblem::Share { what, value })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_defaults_are_sound() {
        let inputs = PlanInputs::default();
        assert_eq!(inputs.check(), Ok(()));
        assert_eq!(inputs.frequency(), Ok(Megahertz(2437.0)));
        // -100.551 dBm of noise in 22 MHz, 7 dB of noise figure, 4 dB wanted.
        assert!((inputs.threshold().unwrap().0 - -89.551).abs() < 1e-3);
    }

    #[test]
    fn a_wrong_figure_is_quoted_with_what_to_give() {
        let mut inputs = PlanInputs::default();
        inputs.node.height_m = Metres(0.0);
        assert_eq!(
            inputs.check().unwrap_err().to_string(),
            "height of the node's aerial 0 m is outside 0.05 to 500 m: give metres above the ground"
        );
        let mut inputs = PlanInputs::default();
        inputs.goal.delivery = 95.0;
        assert_eq!(
            inputs.check().unwrap_err().to_string(),
            "delivery goal 95 is not between 0 and 1: give a share such as 0.95"
        );
        let inputs = PlanInputs {
            channel: 15,
            ..PlanInputs::default()
        };
        assert!(inputs.check().unwrap_err().to_string().contains("give 1 to 14"));
        let inputs = PlanInputs {
            sigma_db: Db(f64::NAN),
            ..PlanInputs::default()
        };
        assert!(inputs.check().is_err());
    }

    #[test]
    fn a_barred_way_is_taken_as_scattered() {
        let mut inputs = PlanInputs::default();
        assert!(inputs.steadiness() > 3.9);
        inputs.through_db = Db(8.0);
        assert_eq!(inputs.steadiness(), 0.0);
        inputs.rice_k_db = Some(Db(0.0));
        assert_eq!(inputs.steadiness(), 1.0);
    }
}
