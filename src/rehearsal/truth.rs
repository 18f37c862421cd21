//! What is true of a world, for whoever checks an estimate against it.
//!
//! Levels are those at the aerial's connector; a meter reads [`Board::meter_offset`] more. Means are means of power over
//! fast fading. Delivery is round trip.

use super::boards::Board;
use super::fading::rician_shares;
use super::place::Place;
use super::world::{Stance, World};
use crate::units::{Db, Dbm, Metres};

/// Answers about a world that no gear can give.
#[derive(Clone, Debug)]
pub struct Truth {
    world: World,
}

impl Truth {
    /// The truth of a world.
    pub const fn of(world: World) -> Self {
        Self { world }
    }

    /// The world it is about.
    pub const fn world(&self) -> &World {
        &self.world
    }

    /// Local mean of the level at which the board hears the station, shadow, pattern and body included.
    pub fn local_mean(&self, board: &Board, stance: &Stance) -> Dbm {
        let shadow = self.world.shadow.at(stance.aerial);
        Dbm(self.world.params.station.tx + self.world.path_gain(board, stance, shadow))
    }

    /// The same as the board's meter would show it on average.
    pub fn local_mean_read(&self, board: &Board, stance: &Stance) -> Dbm {
        self.local_mean(board, stance) + Db(board.meter_offset)
    }

    /// The mean law: the level the board would hear at a place without shadow or body, at its strongest turn in the pose
    /// of the stance.
    pub fn law(&self, board: &Board, stance: &Stance) -> Dbm {
        let params = &self.world.params;
        Dbm(params.station.tx + params.station.gain + board.pattern(stance.pose).peak - params.law.loss(stance.aerial))
    }

    /// The chance that an exchange is answered when the board hears the station at `here`, interference aside: the
    /// product of both ways' curves, the way up being weaker by the difference of powers.
    pub fn answered(&self, board: &Board, here: Dbm) -> f64 {
        let station = &self.world.params.station;
        station.sensitivity.understands(here.0 + board.tx - station.tx) * board.sensitivity.understands(here.0)
    }

    /// The level of the station at the board at which a share of exchanges is answered, interference aside: for 0.9 the
    /// level a margin is counted from. `None` unless the share lies strictly between 0 and 1.
    pub fn level_for(&self, board: &Board, share: f64) -> Option<Dbm> {
        if !(share > 0.0 && share < 1.0) {
            return None;
        }
        let (mut low, mut high) = (-300.0, 200.0);
        // Halved 60 times the 500 dB are some 1e-15 dB.
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if self.answered(board, Dbm(middle)) < share {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(Dbm(high))
    }

    /// How far the local mean stands above the level for 90 %.
    pub fn margin(&self, board: &Board, stance: &Stance) -> Option<Db> {
        self.level_for(board, 0.9)
            .map(|needed| self.local_mean(board, stance) - needed)
    }

    /// Share of exchanges lost to interference at a place, in the long run.
    pub fn interference(&self, place: Place) -> f64 {
        let params = &self.world.params;
        let down = params.at_board.busy.clamp(0.0, 0.9) * self.world.board_hit(place);
        1.0 - (1.0 - params.at_station.loss()) * (1.0 - down)
    }

    /// Delivery at a local mean over fast fading of a Rician factor in decibels, interference aside.
    pub fn delivery_for(&self, board: &Board, mean: Dbm, k_db: f64) -> f64 {
        rician_shares(k_db)
            .into_iter()
            .map(|(fade, share)| share * self.answered(board, mean + Db(fade)))
            .sum()
    }

    /// Delivery rate in the long run over the few metres round a place: fading and interference averaged, the local
    /// mean as it is there.
    pub fn delivery(&self, board: &Board, stance: &Stance) -> f64 {
        let mean = self.local_mean(board, stance);
        let k_db = self.world.k_db(stance.aerial);
        (1.0 - self.interference(stance.aerial)) * self.delivery_for(board, mean, k_db)
    }

    /// Standard deviation of the shadow, dB: the square root of the parts' summed squares.
    pub fn shadow_sd(&self) -> f64 {
        let parts = &self.world.params.shadow;
        parts.iter().map(|part| part.sd * part.sd).sum::<f64>().sqrt()
    }

    /// Delivery at a place averaged over shadow as well as fading, interference aside: what the law alone promises there
    /// to a walker who faces the station with the board at its strongest turn.
    pub fn promised(&self, board: &Board, stance: &Stance) -> f64 {
        let mean = self.law(board, stance);
        let k_db = self.world.k_db(stance.aerial);
        let sd = self.shadow_sd();
        let fades = rician_shares(k_db);
        // A normal weight on a fine grid: an integral of a smooth function over all of it, exact to rounding.
        let (mut sum, mut weights) = (0.0, 0.0);
        for step in -50..=50 {
            let z = f64::from(step) / 10.0;
            let weight = (-z * z / 2.0).exp();
            let over_fades: f64 = fades
                .iter()
                .map(|(fade, share)| share * self.answered(board, mean + Db(sd * z + fade)))
                .sum();
            sum += weight * over_fades;
            weights += weight;
        }
        sum / weights
    }

    /// The nearest distance on a bearing in degrees beyond which the law alone promises less than a share, interference
    /// aside; to a hundredth of a metre. `None` where it does so from the first metre or nowhere within 20 km.
    pub fn range(&self, board: &Board, stance: &Stance, bearing: f64, share: f64) -> Option<Metres> {
        let promised = |distance: f64| {
            let there = Stance {
                aerial: Place::out(distance, bearing),
                ..*stance
            };
            self.promised(board, &there)
        };
        let mut near = 1.0;
        if promised(near) < share {
            return None;
        }
        let mut far = near;
        loop {
            far *= 1.03;
            if far > 20_000.0 {
                return None;
            }
            if promised(far) < share {
                break;
            }
            near = far;
        }
        while far - near > 0.01 {
            let middle = f64::midpoint(near, far);
            if promised(middle) < share {
                far = middle;
            } else {
                near = middle;
            }
        }
        Some(Metres(f64::midpoint(near, far)))
    }
}

#[cfg(test)]
mod tests {
    use super::super::air::Air;
    use super::super::boards;
    use super::super::bursts::BurstParams;
    use super::super::law::Law;
    use super::super::pattern::Pose;
    use super::super::shadow::ShadowParams;
    use super::super::world::WorldParams;
    use super::*;

    fn stance(distance: f64) -> Stance {
        Stance {
            aerial: Place::out(distance, 70.0),
            facing: 250.0,
            turn: 10.0,
            pose: Pose::Upright,
        }
    }

    #[test]
    fn the_weaker_way_decides_the_level_needed() {
        let truth = Truth::of(World::new(WorldParams::larkfield(), 2));
        // yew sends as strongly as the station and hears 2.5 dB worse: down decides.
        let yew = boards::yew();
        let needed = truth.level_for(&yew, 0.9).unwrap();
        assert!((needed.0 - yew.sensitivity.level_for(0.9)).abs() < 0.3, "{needed:?}");
        // fern sends 6 dB less: the station hears it no more when fern still hears the station.
        let fern = boards::fern();
        let needed = truth.level_for(&fern, 0.9).unwrap();
        let up = truth.world().params.station.sensitivity.level_for(0.9) + 6.0;
        assert!(needed.0 >= up && needed.0 > fern.sensitivity.level_for(0.9));
        assert!((truth.answered(&fern, needed) - 0.9).abs() < 1e-9);
        assert_eq!(truth.level_for(&fern, 1.0), None);
    }

    #[test]
    fn exchanges_by_level_follow_the_curve() {
        let mut params = WorldParams::larkfield();
        params.at_station = BurstParams::NONE;
        params.at_board = BurstParams::NONE;
        params.patches.clear();
        let world = World::new(params, 5);
        let truth = Truth::of(world.clone());
        let mut air = Air::new(world, 5);
        let board = boards::fern();
        let mut bins = [(0.0, 0.0, 0.0); 12];
        for step in 0..60_000 {
            let stance = stance(150.0 + 0.004 * f64::from(step));
            let exchange = air.exchange(0.1 * f64::from(step), &board, &stance, true);
            let bin = exchange.here + 96.0;
            if (0.0..12.0).contains(&bin) {
                let (n, delivered, wanted) = &mut bins[bin as usize];
                *n += 1.0;
                *delivered += f64::from(u8::from(exchange.echo_heard));
                *wanted += truth.answered(&board, Dbm(exchange.here));
            }
        }
        for (n, delivered, wanted) in bins {
            assert!(n > 500.0, "{n} exchanges only");
            let (found, wanted): (f64, f64) = (delivered / n, wanted / n);
            // Four standard errors of a proportion.
            let tolerance = 4.0 * (wanted * (1.0 - wanted) / n).sqrt() + 1e-3;
            assert!((found - wanted).abs() < tolerance, "{found} for {wanted} of {n}");
        }
    }

    #[test]
    fn delivery_over_a_small_area_is_what_the_truth_says() {
        // Averaged over many worlds: a single one has only some tens of independent fades within the area.
        let (mut found, mut wanted, mut n) = (0.0, 0.0, 0.0);
        for seed in 0..40 {
            let world = World::new(WorldParams::larkfield(), seed);
            let truth = Truth::of(world.clone());
            let mut air = Air::new(world, seed);
            let board = boards::sorrel();
            for step in 0..400 {
                let mut stance = stance(165.0);
                stance.aerial.east += 0.05 * f64::from(step % 20);
                stance.aerial.north += 0.05 * f64::from(step / 20);
                let exchange = air.exchange(1.7 * f64::from(step), &board, &stance, true);
                found += f64::from(u8::from(exchange.echo_heard));
                if step % 40 == 0 {
                    wanted += 40.0 * truth.delivery(&board, &stance);
                }
                n += 1.0;
            }
        }
        let (found, wanted): (f64, f64) = (found / n, wanted / n);
        assert!((0.2..0.98).contains(&wanted), "{wanted}");
        assert!((found - wanted).abs() < 0.03, "{found} for {wanted}");
    }

    #[test]
    fn without_shadow_and_with_a_single_slope_the_range_is_that_of_the_formula() {
        let mut params = WorldParams::larkfield();
        params.law = Law::LogDistance {
            loss_1m: 40.0,
            exponent: 2.8,
        };
        params.shadow = vec![ShadowParams { sd: 0.0, reach: 9.0 }];
        params.fading.k_db = 20.0;
        let truth = Truth::of(World::new(params, 1));
        let board = boards::yew();
        let range = truth.range(&board, &stance(10.0), 70.0, 0.5).unwrap();
        // 14 + 2 + 1.8 - 40 - 28 log10 d = level for one half; a K of 20 dB still fades by some tenths.
        let needed = truth.level_for(&board, 0.5).unwrap().0;
        let formula = 10_f64.powf((14.0 + 2.0 + 1.8 - 40.0 - needed) / 28.0);
        assert!((range.0 / formula - 1.0).abs() < 0.02, "{range:?} for {formula}");
        assert_eq!(truth.range(&board, &stance(10.0), 70.0, 1.1), None);
    }

    #[test]
    fn interference_adds_up_to_what_is_lost_at_strong_levels() {
        let world = World::new(WorldParams::larkfield(), 8);
        let truth = Truth::of(world.clone());
        let mut air = Air::new(world, 8);
        let near = stance(15.0);
        let n = 400_000;
        let lost = (0..n)
            .filter(|step| {
                !air.exchange(0.1 * f64::from(*step), &boards::yew(), &near, true)
                    .echo_heard
            })
            .count();
        let found = lost as f64 / f64::from(n);
        let wanted = truth.interference(near.aerial);
        assert!((0.005..0.05).contains(&wanted));
        assert!((found - wanted).abs() < 0.15 * wanted, "{found} for {wanted}");
    }
}
