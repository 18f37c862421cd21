//! The best spots on the map.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use super::answer::{Estimate, Place};

/// A spot worth a look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Its index among the places asked about.
    pub index: usize,
    /// The numbers of that place.
    pub estimate: Estimate,
}

/// The best resolved place of every `tile` (side in metres), best first, at most `most` of them.
///
/// Order: chance to the hundredth, then the lower bound of the spare margin, then the place's index. Places carried by the
/// trend alone are never listed.
pub fn spots(places: &[Place], tile: f64, most: usize) -> Vec<Spot> {
    if !(tile.is_finite() && tile > 0.0) {
        return Vec::new();
    }
    let mut best: BTreeMap<(i64, i64), Spot> = BTreeMap::new();
    for (index, place) in places.iter().enumerate() {
        if let Some(spot) = listed(index, place) {
            let key = ((place.y / tile).floor() as i64, (place.x / tile).floor() as i64);
            let held = best.entry(key).or_insert(spot);
            if order(&spot, held) == Ordering::Less {
                *held = spot;
            }
        }
    }
    let mut all: Vec<Spot> = best.into_values().collect();
    all.sort_by(order);
    all.truncate(most);
    all
}

/// The best resolved place within `radius` metres of each pin at metres (x, y); `None` for a pin with none.
pub fn spots_near(places: &[Place], pins: &[(f64, f64)], radius: f64) -> Vec<Option<Spot>> {
    pins.iter()
        .map(|pin| {
            places
                .iter()
                .enumerate()
                .filter(|(_, place)| (place.x - pin.0).hypot(place.y - pin.1) <= radius)
                .filter_map(|(index, place)| listed(index, place))
                .min_by(order)
        })
        .collect()
}

fn listed(index: usize, place: &Place) -> Option<Spot> {
    place
        .estimate
        .filter(Estimate::is_resolved)
        .map(|estimate| Spot { index, estimate })
}

fn order(a: &Spot, b: &Spot) -> Ordering {
    let hundredths = |spot: &Spot| (spot.estimate.chance * 100.0).round_ties_even();
    let low = |spot: &Spot| spot.estimate.spare_low.unwrap_or(f64::NEG_INFINITY);
    hundredths(b)
        .total_cmp(&hundredths(a))
        .then(low(b).total_cmp(&low(a)))
        .then(a.index.cmp(&b.index))
}

#[cfg(test)]
mod tests {
    use super::super::answer::Class;
    use super::*;

    fn place(x: f64, chance: f64, low: f64, resolved: f64) -> Place {
        let estimate = Estimate {
            chance,
            level: -70.0,
            sd: 2.0,
            heard: true,
            exchanges: 40,
            resolved,
            near: 0.9,
            clean: 0.98,
            spare: Some(low + 4.0),
            spare_low: Some(low),
            nearest: 1.0,
        };
        Place {
            x,
            y: 0.0,
            class: Class::Good,
            estimate: Some(estimate),
        }
    }

    #[test]
    fn one_spot_a_tile_and_margin_breaks_ties() {
        let places = [
            place(1.0, 0.951, 3.0, 0.9),
            place(2.0, 0.953, 1.0, 0.9),
            place(41.0, 0.99, 0.0, 0.9),
            place(81.0, 0.999, 9.0, 0.1),
        ];
        let found = spots(&places, 40.0, 10);
        assert_eq!(found.iter().map(|spot| spot.index).collect::<Vec<_>>(), [2, 0]);
        assert!(spots(&places, 0.0, 10).is_empty());
    }

    #[test]
    fn pins_get_the_best_within_reach() {
        let places = [place(1.0, 0.5, 0.0, 0.9), place(8.0, 0.8, 0.0, 0.9)];
        let found = spots_near(&places, &[(0.0, 0.0), (500.0, 0.0)], 5.0);
        assert_eq!(found[0].map(|spot| spot.index), Some(0));
        assert_eq!(found[1], None);
    }
}
