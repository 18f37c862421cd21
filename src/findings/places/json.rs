//! Places as JSON.

use serde_json::{Value, json};

use super::telling;
use super::{NoPlaces, NoSecond, Places, SecondPlace};
use crate::findings::assumptions::{Assumption, Shift};
use crate::findings::words;
use crate::stats::places::{Class, Role};

/// The map, its spots and shortlists, or why there is none.
pub fn places(places: &Result<Places, NoPlaces>) -> Value {
    let places = match places {
        Err(why) => return json!({ "why_not": words::no_places(why) }),
        Ok(places) => places,
    };
    let spots: Vec<Value> = places
        .spots
        .iter()
        .map(|spot| {
            json!({
                "lat_deg": spot.position.lat().0,
                "lon_deg": spot.position.lon().0,
                "distance_m": spot.distance.0,
                "bearing_from_station_deg": spot.bearing.map(|bearing| bearing.0),
                "chance": spot.chance,
                "spare_beyond_goal_db": spot.spare_db,
                "spare_beyond_goal_low_db": spot.spare_low_db,
                "spare_beyond_goal_low_why_not": spot.spare_low_db.is_none().then_some(telling::NO_LOW_SPARE),
                "exchanges_near": spot.exchanges,
            })
        })
        .collect();
    json!({
        "board": places.board,
        "exchanges": places.exchanges,
        "needed_level_dbm": places.needed.map(|needed| needed.level),
        "needed_level_low_dbm": places.needed.map(|needed| needed.interval().0),
        "needed_level_high_dbm": places.needed.and_then(|needed| needed.interval().1),
        "needed_level_open_because": places.needed.and_then(|needed| telling::needed_is_open(&needed)),
        "needed_level_is": telling::NEEDED_LEVEL,
        "needed_level_why_not": places.needed.is_none().then(|| telling::no_spot(places)),
        "chances_rest_on": telling::limit_taken(places),
        "assumptions": places.assumptions.iter().map(assumption).collect::<Vec<_>>(),
        "not_assumed": places.not_assumed,
        "step_m": places.step_m,
        "good": places.count(Class::Good),
        "marginal": places.count(Class::Marginal),
        "poor": places.count(Class::Poor),
        "unwalked": places.count(Class::Unwalked),
        "spots": spots,
        "walk_next": places.legs.iter().map(|leg| json!({
            "bearing_deg": leg.bearing, "length_m": leg.length, "settles_share_of_doubt": leg.settles,
        })).collect::<Vec<_>>(),
        "station_silent": places.silences.iter().map(|silence| json!({
            "from_s": silence.from, "to_s": silence.to,
        })).collect::<Vec<_>>(),
        "second_station": second(&places.second.stations, Role::SecondStation),
        "relay": second(&places.second.relays, Role::Relay),
        "station_doubted": places.station_doubt.as_ref().map(telling::station_doubt),
        "station_rather": places.station_doubt.and_then(|doubt| doubt.rather).map(|rather| json!({
            "away_m": rather.away.0, "towards_deg": rather.towards.map(|towards| towards.0), "radius_m": rather.radius.0,
        })),
        "caveats": places.caveats.iter().map(|found| words::caveat(found, !places.silences.is_empty())).chain([telling::WALLS_AND_WOODS.to_owned()]).collect::<Vec<_>>(),
    })
}

fn assumption(assumption: &Assumption) -> Value {
    let mut value = json!({ "words": assumption.words, "source": assumption.source });
    match assumption.shift {
        Shift::Everywhere(change) => {
            value["gain_db"] = json!(change.gain);
            value["gain_sd_db"] = json!(change.sd);
        }
        Shift::ByDistance(lift) => {
            value["gain_by_distance"] = [50.0, 100.0, 200.0, 400.0, 800.0]
                .iter()
                .map(|metres| {
                    let change = lift.at(*metres);
                    json!({ "distance_m": metres, "gain_db": change.gain, "gain_sd_db": change.sd })
                })
                .collect();
        }
    }
    value
}

fn second(found: &Result<Vec<SecondPlace>, NoSecond>, role: Role) -> Value {
    let list: Vec<Value> = found
        .iter()
        .flatten()
        .map(|place| {
            json!({
                "lat_deg": place.position.lat().0,
                "lon_deg": place.position.lon().0,
                "distance_m": place.distance.0,
                "bearing_from_station_deg": place.bearing.map(|bearing| bearing.0),
                "newly_served_share": place.promise.score,
                "itself_in_reach": (role == Role::Relay).then_some(place.promise.served),
            })
        })
        .collect();
    json!({ "words": telling::second_head(role, found.as_ref().err().copied()), "shortlist": list })
}
