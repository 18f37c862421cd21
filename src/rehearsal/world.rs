//! The world: every mean, field and habit that decides what an exchange meets.

use super::boards::{Board, Sensitivity};
use super::body::Body;
use super::bursts::{BurstParams, Tail};
use super::fading::{Fading, FadingParams};
use super::law::Law;
use super::orchard;
use super::pattern::Pose;
use super::place::Place;
use super::receiver::ReceiverParams;
use super::shadow::{Shadow, ShadowParams};

/// Everything that is fixed about a world but the fields a seed fills it with.
#[derive(Clone, Debug, PartialEq)]
pub struct WorldParams {
    /// Mean loss by place.
    pub law: Law,
    /// Shadowing: the sum of these fields.
    pub shadow: Vec<ShadowParams>,
    /// Fast fading.
    pub fading: FadingParams,
    /// Interference where the station listens.
    pub at_station: BurstParams,
    /// Interference where the board listens.
    pub at_board: BurstParams,
    /// Ground where the board meets more of it.
    pub patches: Vec<Patch>,
    /// The walker's body.
    pub body: Body,
    /// The fixed end.
    pub station: Station,
    /// Standard deviation of a level reading before rounding, dB.
    pub reading_noise: f64,
    /// The position receiver.
    pub receiver: ReceiverParams,
}

/// The fixed end of the link.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Station {
    /// Transmit power, dBm.
    pub tx: f64,
    /// Gain all round, dBi.
    pub gain: f64,
    /// How weak a ping it understands.
    pub sensitivity: Sensitivity,
    /// What its meter reads too much, dB.
    pub meter_offset: f64,
}

/// A round piece of ground where bursts hit the board more often.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Patch {
    /// Its middle.
    pub middle: Place,
    /// Metres from the middle at which it has faded to 61 %.
    pub radius: f64,
    /// Chance of a hit within a burst that it adds at its middle, 0 to 1.
    pub hit: f64,
}

/// How the board is held, where, at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stance {
    /// Where the board's aerial is.
    pub aerial: Place,
    /// Which way the walker faces, true bearing in degrees.
    pub facing: f64,
    /// The board's mark against the direction to the station, degrees, clockwise seen from above.
    pub turn: f64,
    /// How the board is held.
    pub pose: Pose,
}

/// A world filled by a seed. Everything read from it is a function of place and time, whatever was read before.
#[derive(Clone, Debug)]
pub struct World {
    /// What it is made of.
    pub params: WorldParams,
    /// Its shadows.
    pub shadow: Shadow,
    /// Its fast fading.
    pub fading: Fading,
}

impl World {
    /// The world of these parameters that belongs to a seed.
    pub fn new(params: WorldParams, seed: u64) -> Self {
        Self {
            shadow: Shadow::new(&params.shadow, seed),
            fading: Fading::new(params.fading, seed),
            params,
        }
    }

    /// Local mean gain from one connector to the other, dB, negative: everything but fast fading. `shadow` is the shadow
    /// at the aerial, dB.
    pub fn path_gain(&self, board: &Board, stance: &Stance, shadow: f64) -> f64 {
        let station = stance.aerial.bearing_to_station();
        self.params.station.gain + board.gain(stance.pose, stance.turn) + shadow
            - self.params.law.loss(stance.aerial)
            - self.params.body.loss(stance.facing, station)
    }

    /// The Rician factor at a place, dB.
    pub fn k_db(&self, place: Place) -> f64 {
        self.fading.k_db(self.params.law.foliage_loss(place))
    }

    /// The chance that a burst at the board hits a message there, 0 to 1.
    pub fn board_hit(&self, place: Place) -> f64 {
        let mut missed = 1.0 - self.params.at_board.hit.clamp(0.0, 1.0);
        for patch in &self.params.patches {
            let away = place.distance_to(patch.middle) / patch.radius.max(1e-6);
            missed *= 1.0 - patch.hit.clamp(0.0, 1.0) * (-away * away / 2.0).exp();
        }
        1.0 - missed
    }
}

impl WorldParams {
    /// Larkfield orchard on a dry day with a light wind.
    pub fn larkfield() -> Self {
        Self {
            law: orchard::larkfield_law(),
            shadow: vec![
                ShadowParams { sd: 3.2, reach: 9.0 },
                ShadowParams { sd: 1.6, reach: 45.0 },
            ],
            fading: FadingParams {
                k_db: 8.0,
                k_per_foliage_db: 0.6,
                stir: 0.15,
                wavelength: orchard::WAVELENGTH,
            },
            at_station: BurstParams {
                busy: 0.02,
                mean_s: 0.35,
                hit: 0.5,
                tail: Tail::Exponential,
            },
            at_board: BurstParams {
                busy: 0.06,
                mean_s: 0.5,
                hit: 0.08,
                tail: Tail::Heavy,
            },
            // A neighbour's house beyond the hedge.
            patches: vec![Patch {
                middle: Place::new(96.0, 58.0),
                radius: 22.0,
                hit: 0.85,
            }],
            body: Body {
                behind: 7.0,
                power: 1.4,
            },
            station: Station {
                tx: 14.0,
                gain: 2.0,
                sensitivity: Sensitivity {
                    half: -96.0,
                    scale: 0.8,
                },
                meter_offset: -0.5,
            },
            reading_noise: 0.8,
            receiver: ReceiverParams::default(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::boards;
    use super::*;

    #[test]
    fn the_gain_is_the_sum_of_its_parts() {
        let world = World::new(WorldParams::larkfield(), 4);
        let place = Place::new(100.0, 0.0);
        let face_on = Stance {
            aerial: place,
            facing: 270.0,
            turn: 0.0,
            pose: Pose::Upright,
        };
        let yew = boards::yew();
        let gain = world.path_gain(&yew, &face_on, 2.5);
        let sum = 2.0 + yew.gain(Pose::Upright, 0.0) + 2.5 - world.params.law.loss(place);
        assert!((gain - sum).abs() < 1e-9);
        let back = Stance {
            facing: 90.0,
            ..face_on
        };
        assert!((gain - world.path_gain(&yew, &back, 2.5) - 7.0).abs() < 1e-9);
    }

    #[test]
    fn interference_is_thicker_by_the_neighbours() {
        let world = World::new(WorldParams::larkfield(), 4);
        assert!(world.board_hit(Place::new(96.0, 58.0)) > 0.85);
        assert!((world.board_hit(Place::new(300.0, -200.0)) - 0.08).abs() < 1e-6);
    }
}
