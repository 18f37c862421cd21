//! One ping through the air, and its echo back.

use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64Mcg;

use super::boards::Board;
use super::bursts::Bursts;
use super::seeds::{Purpose, stream};
use super::shadow::Remembered;
use super::world::{Stance, World};

/// The air of a world as time goes on: bursts come and go, every exchange has its luck.
#[derive(Clone, Debug)]
pub struct Air {
    world: World,
    shadow: Remembered,
    station_bursts: Bursts,
    board_bursts: Bursts,
    random: Pcg64Mcg,
}

/// What became of one ping, and what truly lay behind it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exchange {
    /// Whether the station heard the ping.
    pub ping_heard: bool,
    /// Whether the board heard the echo; only if the ping was heard.
    pub echo_heard: bool,
    /// Whether both levels were enough, interference and a silent station aside.
    pub enough: bool,
    /// True level of the station at the board, dBm, fading included.
    pub here: f64,
    /// True level of the board at the station, dBm, fading included.
    pub there: f64,
    /// Local mean of `here` over fast fading, dBm of mean power.
    pub local_mean: f64,
    /// What the board's meter reads, whole dBm.
    pub here_read: i32,
    /// What the station's meter reads, whole dBm.
    pub there_read: i32,
}

impl Air {
    /// The air of a world; its luck belongs to the seed.
    pub fn new(world: World, seed: u64) -> Self {
        Self {
            shadow: Remembered::default(),
            station_bursts: Bursts::new(world.params.at_station, seed, Purpose::StationBursts),
            board_bursts: Bursts::new(world.params.at_board, seed, Purpose::BoardBursts),
            random: stream(seed, Purpose::Exchanges),
            world,
        }
    }

    /// The world it fills.
    pub const fn world(&self) -> &World {
        &self.world
    }

    /// Sends one ping at a time in seconds, not before the last one.
    ///
    /// The path is the same both ways (reciprocity: one frequency, some milliseconds apart); powers, receivers, meters
    /// and interference are each end's own. A message is lost to a burst or to a level too low for the receiver.
    pub fn exchange(&mut self, at_s: f64, board: &Board, stance: &Stance, station_answers: bool) -> Exchange {
        let shadow = self.shadow.at(&self.world.shadow, stance.aerial);
        let mean = self.world.path_gain(board, stance, shadow);
        let fade = self
            .world
            .fading
            .at(stance.aerial, at_s, self.world.k_db(stance.aerial));
        let params = &self.world.params;
        let here = params.station.tx + mean + fade;
        let there = board.tx + mean + fade;
        // As many draws for every exchange, so that what happens to one never shifts the luck of the next.
        let luck: [f64; 4] = self.random.random();
        let noise: [f64; 2] = std::array::from_fn(|_| StandardNormal.sample(&mut self.random));
        let hit_up = self.station_bursts.busy_at(at_s) && luck[0] < params.at_station.hit;
        let hit_down = self.board_bursts.busy_at(at_s) && luck[1] < self.world.board_hit(stance.aerial);
        let enough_up = luck[2] < params.station.sensitivity.understands(there);
        let enough_down = luck[3] < board.sensitivity.understands(here);
        let ping_heard = station_answers && !hit_up && enough_up;
        let echo_heard = ping_heard && !hit_down && enough_down;
        Exchange {
            ping_heard,
            echo_heard,
            enough: enough_up && enough_down,
            here,
            there,
            local_mean: params.station.tx + mean,
            here_read: (here + board.meter_offset + params.reading_noise * noise[0]).round() as i32,
            there_read: (there + params.station.meter_offset + params.reading_noise * noise[1]).round() as i32,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::boards;
    use super::super::pattern::Pose;
    use super::super::place::Place;
    use super::super::world::WorldParams;
    use super::*;

    fn stance(east: f64) -> Stance {
        Stance {
            aerial: Place::new(east, 12.0),
            facing: 265.0,
            turn: 20.0,
            pose: Pose::Upright,
        }
    }

    #[test]
    fn the_path_is_the_same_both_ways_and_meters_read_their_own_offset_too_much() {
        let mut air = Air::new(World::new(WorldParams::larkfield(), 3), 3);
        let board = boards::fern();
        let (mut here_over, mut there_over, n) = (0.0, 0.0, 20_000);
        for step in 0..n {
            let exchange = air.exchange(
                0.1 * f64::from(step),
                &board,
                &stance(20.0 + 0.01 * f64::from(step)),
                true,
            );
            // The station sends 14 dBm, fern 8.
            assert!((exchange.here - exchange.there - 6.0).abs() < 1e-9);
            here_over += f64::from(exchange.here_read) - exchange.here;
            there_over += f64::from(exchange.there_read) - exchange.there;
        }
        // Noise of 0.8 dB and a rounding of 0.29 dB over 20 000 readings: good to 0.03 dB at five standard errors.
        assert!((here_over / f64::from(n) - board.meter_offset).abs() < 0.03);
        assert!((there_over / f64::from(n) - -0.5).abs() < 0.03);
    }

    #[test]
    fn a_silent_station_answers_nothing_and_shifts_nobodys_luck() {
        let world = World::new(WorldParams::larkfield(), 3);
        let (mut whole, mut broken) = (Air::new(world.clone(), 3), Air::new(world, 3));
        let board = boards::yew();
        for step in 0..600 {
            let at_s = 0.1 * f64::from(step);
            let answers = !(200..320).contains(&step);
            let full = whole.exchange(at_s, &board, &stance(120.0), true);
            let found = broken.exchange(at_s, &board, &stance(120.0), answers);
            assert!(answers || !(found.ping_heard || found.echo_heard));
            assert!(!answers || found == full);
            assert!(!found.echo_heard || found.ping_heard);
        }
    }
}
