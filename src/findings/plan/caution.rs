//! What a plan's figures leave out or lean on, in words.

use serde::Serialize;

use super::inputs::{PlanInputs, Receiver};
use super::reach::Reaches;
use super::room::Room;
use crate::link::channel::{Band, EXAMPLE_BAND};
use crate::link::limits::CHECK_LOCAL_RULES;
use crate::propagation::fresnel;
use crate::units::Megahertz;

/// Something to know before trusting the figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Caution {
    /// A transmit power is named.
    LocalRules,
    /// The signal would lie outside the band two widely used rule books name.
    OutsideBand,
    /// The receivers' level is worked out.
    WorkedReceiver,
    /// The goal is out of reach from the first metre.
    OutOfReach,
    /// The goal is met again beyond a break.
    MetAgain,
    /// The goal reaches beyond a kilometre.
    BeyondAKilometre,
    /// The ground is inside the room wanted.
    GroundInTheZone,
    /// Forest figures are used above the frequency they were measured at.
    ForestBelow,
    /// The person carrying the node is not in the figures.
    Body,
    /// Aerials have nulls.
    Nulls,
    /// Other radios are not in the figures.
    OtherRadios,
    /// Weather was considered.
    Weather,
    /// What kind of figure this is.
    NotMeasured,
}

impl Caution {
    /// The sentence.
    pub const fn words(self) -> &'static str {
        match self {
            Self::LocalRules => CHECK_LOCAL_RULES,
            Self::OutsideBand => {
                "this signal reaches outside 2400 to 2483.5 MHz, the band that two widely used rule books name: make sure it may be \
                 sent where you are, or choose a channel inside"
            }
            Self::WorkedReceiver => {
                "the receivers' 90 % level is worked out from noise, not measured, and may be some 5 dB out: walk to the edge \
                 once, then give the level found there"
            }
            Self::OutOfReach => {
                "the goal is not met even at 1 m: lower the goal, raise power or aerials, or take away what is in the way"
            }
            Self::MetAgain => {
                "the goal fails behind the edge and is met again farther out: test both sides on the ground"
            }
            Self::BeyondAKilometre => {
                "the formulas over ground are published for paths up to about a kilometre; beyond that these figures are \
                 stretched"
            }
            Self::GroundInTheZone => {
                "the ground itself reaches into the room the signal wants: raising either aerial gains more than power does"
            }
            Self::ForestBelow => {
                "the forest was measured at 2117.5 MHz at the most; at 2.4 GHz, in full leaf or wet, expect more loss"
            }
            Self::Body => {
                "the person carrying the node is not in these figures: with the back turned to the station count on several \
                 decibels less"
            }
            Self::Nulls => {
                "gains are towards the other end: a small aerial turned the wrong way may lose 10 dB and more, which an \
                 orientation sweep shows"
            }
            Self::OtherRadios => {
                "messages lost to other radios on the channel come on top, at every distance: a busy band can spoil a strong link"
            }
            Self::Weather => "air and rain cost less than 0.1 dB over two kilometres at 2.4 GHz and are left out",
            Self::NotMeasured => {
                "nothing here is measured: places at the same distance differ by the sigma given, and only a walk tells which \
                 is which"
            }
        }
    }
}

/// The cautions that apply, the gravest first.
pub fn cautions(inputs: &PlanInputs, frequency: Megahertz, reaches: &Reaches, room: &Room) -> Vec<Caution> {
    let reach_m = reaches.even.distance_m.map_or(0.0, |distance| distance.0);
    let forest = inputs
        .trees
        .is_some_and(|trees| trees.db_per_m.is_none() || trees.most_db.is_none());
    let inside = EXAMPLE_BAND.holds(Band::about(
        frequency,
        inputs.bandwidth_mhz.unwrap_or(inputs.radio.width()),
    ));
    [
        (reaches.even.distance_m.is_none(), Caution::OutOfReach),
        (!inside, Caution::OutsideBand),
        (true, Caution::LocalRules),
        (true, Caution::NotMeasured),
        (reaches.even.again_from_m.is_some(), Caution::MetAgain),
        (
            matches!(inputs.receiver, Receiver::Worked { .. }),
            Caution::WorkedReceiver,
        ),
        (reach_m > 1000.0, Caution::BeyondAKilometre),
        (room.clear_share < fresnel::CLEAR_SHARE, Caution::GroundInTheZone),
        (forest && frequency.0 > 2117.5, Caution::ForestBelow),
        (true, Caution::Body),
        (true, Caution::Nulls),
        (true, Caution::OtherRadios),
        (true, Caution::Weather),
    ]
    .into_iter()
    .filter_map(|(holds, caution)| holds.then_some(caution))
    .collect()
}
