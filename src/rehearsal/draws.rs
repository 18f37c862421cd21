//! Worlds, boards and patterns drawn at random, to see how often an interval holds the truth.

use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64Mcg;

use super::boards::{Board, Sensitivity, yew};
use super::body::Body;
use super::bursts::{BurstParams, Tail};
use super::fading::FadingParams;
use super::law::Law;
use super::orchard::{WAVELENGTH, larkfield_law};
use super::pattern::{Pattern, Shape};
use super::place::Place;
use super::receiver::ReceiverParams;
use super::seeds::{Purpose, stream};
use super::shadow::ShadowParams;
use super::world::{Patch, Station, WorldParams};

/// How far a drawn world keeps to what the usual models suppose.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Manner {
    /// One slope, one scale of shadow, one Rician factor, bursts without memory, no body: what the models suppose.
    Plain,
    /// What they lack as well: a law with a ripple and tree rows or with a bend, two scales of shadow, heavy-tailed
    /// bursts, patches of interference, the walker's body, a receiver that thinks too well of itself, wind.
    Rough,
}

/// A world and the board walked in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// The seed it was drawn by.
    pub seed: u64,
    /// The world.
    pub params: WorldParams,
    /// The board: round pattern, limited by its own receiver, not the station's.
    pub board: Board,
}

/// The world and board of a seed.
pub fn drawn(seed: u64, manner: Manner) -> Drawn {
    let mut random = stream(seed, Purpose::World);
    let rough = manner == Manner::Rough;
    let board = drawn_board(&mut random);
    let sd: f64 = random.random_range(2.5..7.5);
    let reach: f64 = random.random_range(5.0..22.0);
    let shadow = if rough {
        vec![
            ShadowParams { sd: 0.8 * sd, reach },
            ShadowParams {
                sd: 0.6 * sd,
                reach: 5.0 * reach,
            },
        ]
    } else {
        vec![ShadowParams { sd, reach }]
    };
    let tail = if rough { Tail::Heavy } else { Tail::Exponential };
    let bursts = |random: &mut Pcg64Mcg, most: f64| BurstParams {
        busy: random.random_range(0.0..most),
        mean_s: random.random_range(0.15..1.0),
        hit: random.random_range(0.5..0.95),
        tail,
    };
    let at_station = bursts(&mut random, 0.05);
    let at_board = bursts(&mut random, if rough { 0.04 } else { 0.01 });
    let patches = (0..if rough { 2 } else { 0 })
        .map(|_| Patch {
            middle: Place::out(random.random_range(20.0..150.0), random.random_range(0.0..360.0)),
            radius: random.random_range(8.0..25.0),
            hit: random.random_range(0.3..0.95),
        })
        .collect();
    let params = WorldParams {
        law: drawn_law(&mut random, manner),
        shadow,
        fading: FadingParams {
            k_db: random.random_range(-3.0..11.0),
            k_per_foliage_db: if rough { 0.5 } else { 0.0 },
            stir: if rough { 0.15 } else { 0.0 },
            wavelength: WAVELENGTH,
        },
        at_station,
        at_board,
        patches,
        body: Body {
            behind: if rough { random.random_range(3.0..10.0) } else { 0.0 },
            power: 1.4,
        },
        station: Station {
            tx: board.tx,
            gain: 2.0,
            // 8 dB better than the board: the way down decides, and the round trip keeps to one logistic curve.
            sensitivity: Sensitivity {
                half: board.sensitivity.half - 8.0,
                scale: 0.8,
            },
            meter_offset: random.random_range(-2.0..2.0),
        },
        reading_noise: random.random_range(0.5..1.2),
        receiver: ReceiverParams {
            drift: random.random_range(1.2..4.5),
            memory_s: random.random_range(25.0..90.0),
            jitter: 0.12,
            belief: if rough { random.random_range(0.6..1.1) } else { 1.0 },
        },
    };
    Drawn { seed, params, board }
}

fn drawn_board(random: &mut Pcg64Mcg) -> Board {
    let mut board = yew();
    board.patterns = [Pattern::round(0.0), Pattern::round(0.0), Pattern::round(0.0)];
    board.sensitivity = Sensitivity {
        half: random.random_range(-97.0..-88.0),
        scale: random.random_range(0.6..1.8),
    };
    board.meter_offset = random.random_range(-3.0..3.0);
    board
}

fn drawn_law(random: &mut Pcg64Mcg, manner: Manner) -> Law {
    let loss_1m = random.random_range(36.0..45.0);
    let exponent: f64 = random.random_range(2.0..3.6);
    let (kind, bend): (u32, f64) = (random.random_range(0..3), random.random_range(30.0..140.0));
    match (manner, kind) {
        (Manner::Rough, 0) => larkfield_law(),
        (Manner::Rough, 1) => Law::TwoSlope {
            loss_1m,
            near: exponent.min(2.4),
            far: exponent.min(2.4) + 1.4,
            bend,
        },
        _ => Law::LogDistance { loss_1m, exponent },
    }
}

/// A pattern of a seed: round, one lobe, two lobes, sharp nulls or a sum of harmonics, by turns of the seed.
pub fn drawn_pattern(seed: u64) -> Pattern {
    let mut random = stream(seed, Purpose::Plan);
    let depth = random.random_range(3.0..22.0);
    let towards = random.random_range(0.0..360.0);
    let mut term = |most: f64| (random.random_range(0.0..most), random.random_range(0.0..360.0));
    let harmonics = vec![term(5.0), term(3.0), term(1.5)];
    let shape = match seed % 5 {
        0 => Shape::Round,
        1 => Shape::OneLobe { depth },
        2 => Shape::TwoLobes { depth },
        3 => Shape::SharpNulls { depth },
        _ => Shape::Harmonics(harmonics),
    };
    Pattern {
        peak: 0.0,
        towards,
        shape,
    }
}

/// Boards alike but for gain (sd 3 dB), receiver (sd 1 dB) and meter, the first the reference with the drawn world's own.
///
/// What one truly gains over another is the difference of their `patterns`' peaks.
pub fn drawn_boards(seed: u64, count: usize) -> Vec<Board> {
    const NAMES: [&str; 6] = ["yew", "fern", "hazel", "sorrel", "thistle", "clover"];
    let reference = drawn(seed, Manner::Plain).board;
    let mut random = stream(seed, Purpose::Plan);
    let mut boards = vec![reference.clone()];
    for name in NAMES.into_iter().cycle().skip(1).take(count.saturating_sub(1)) {
        let [gain, half]: [f64; 2] = std::array::from_fn(|_| StandardNormal.sample(&mut random));
        let pattern = Pattern::round(3.0 * gain);
        boards.push(Board {
            name,
            reference: false,
            patterns: [pattern.clone(), pattern.clone(), pattern],
            sensitivity: Sensitivity {
                half: reference.sensitivity.half + half,
                ..reference.sensitivity
            },
            meter_offset: random.random_range(-3.0..3.0),
            ..reference.clone()
        });
    }
    boards
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seed_draws_the_same_world_and_another_seed_another() {
        for manner in [Manner::Plain, Manner::Rough] {
            assert_eq!(drawn(5, manner), drawn(5, manner));
            assert_ne!(drawn(5, manner), drawn(6, manner));
        }
        assert_eq!(drawn(5, Manner::Plain).params.body.behind, 0.0);
        assert!((0..30).any(|seed| matches!(drawn(seed, Manner::Rough).params.law, Law::Orchard(_))));
    }
}
