//! How places are said: what is assumed, what a map must be read with, where to walk next, where something further might stand.

use super::map::{Places, Spot};
use super::second::{NoSecond, SecondPlace};
use super::station::StationDoubt;
use crate::findings::assumptions::Assumption;
use crate::findings::words::{self, caveat, leg, metres, minus, percent, sentence};
use crate::ground::compass;
use crate::stats::places::{Caveat, Class, Role, Threshold};
use crate::units::Degrees;

/// Walls and woods, about which every map knows less than it says.
pub const WALLS_AND_WOODS: &str = "behind walls, in woods and where nobody walked \"good\" is wrong more often than it says: measure there before \
                                   a node goes up";

/// Exchanges so near a spot are counted with it, metres.
pub const NEAR_M: f64 = 15.0;

/// Legs that settle less than this share of the doubt are not worth a walk.
pub const WORTH_A_WALK: f64 = 0.01;

/// What is assumed, as briefly as it can be named; `None` for the node as it was walked with.
pub fn assumed(assumptions: &[Assumption]) -> Option<String> {
    let brief: Vec<&str> = assumptions.iter().map(|assumption| assumption.brief.as_str()).collect();
    (!brief.is_empty()).then(|| format!("Assumed: {}.", brief.join(", ")))
}

/// What is assumed, in a sentence, named as an assumption, with where it comes from.
pub fn assumption(assumption: &Assumption) -> String {
    format!("Assumed: {} ({}).", assumption.words, assumption.source)
}

/// Why something that was asked for is not assumed, in a sentence.
pub fn not_assumed(why: &str) -> String {
    format!("Not assumed, though asked for: {why}.")
}

/// That the levels would rather have the station elsewhere, and what to do about it; sentences.
pub fn station_doubt(doubt: &StationDoubt) -> String {
    let elsewhere = match &doubt.rather {
        Some(rather) => format!(
            "about {} {} of there (give or take {})",
            metres(rather.away.0),
            rather.towards.and_then(compass::point_in_words).unwrap_or("–"),
            metres(rather.radius.0)
        ),
        None => "elsewhere, and cannot tell where".to_owned(),
    };
    format!(
        "The station hardly stands where it is noted: the levels would have it {elsewhere}. Until that is settled doubt every \
         distance, bearing and range, and all ground nobody walked. Stand at the station, take its position anew, put it under [station] in \
         survey.toml, and run `farpace rebuild`."
    )
}

/// The same in a line, for what rests on the station's position.
pub const STATION_DOUBTED: &str = "Levels doubt where the station is noted: distances and bearings may be wrong.";

/// That what the board needs is taken, in a sentence; `None` where it was learned. It stands before the spots, whose chances
/// all rest on it.
pub fn limit_taken(places: &Places) -> Option<String> {
    let taken = |found: &&Caveat| matches!(found, Caveat::LimitTaken { .. });
    places
        .caveats
        .iter()
        .find(taken)
        .map(|found| sentence(&caveat(found, !places.silences.is_empty())))
}

/// What every chance rests on where what the board needs is taken, as a condition before it, such as `if yew stops at −95 dBm,
/// which is taken and not seen`; `None` where it was learned.
pub fn if_taken(places: &Places) -> Option<String> {
    places.caveats.iter().find_map(|found| match found {
        Caveat::LimitTaken { half_level, .. } => Some(format!(
            "if {} stops at {}, which is taken and not seen",
            places.board,
            words::dbm(*half_level)
        )),
        _ => None,
    })
}

/// Which level a place needs.
pub const NEEDED_LEVEL: &str = "the local mean level (the mean of dB over fading) that a place needs to deliver as asked with the margin \
                                asked for to spare; a board's need for 90 % is without fading, margin and interference, and lies lower";

/// Why the level needed has no upper end; `None` where it has one.
pub fn needed_is_open(needed: &Threshold) -> Option<&'static str> {
    needed
        .interval()
        .1
        .is_none()
        .then_some("so much may be lost at any level that no level is enough")
}

/// Why what a spot has to spare has no lower end.
pub const NO_LOW_SPARE: &str = "so much may be lost there at any level that no level is enough";

/// What a spot has to spare at least, rounded down to whole decibels, such as `−3`; a dash where there is no lower end.
pub fn spare_at_least(spot: &Spot) -> String {
    spot.spare_low_db
        .map_or_else(|| "–".to_owned(), |low| words::minus(words::down(low, 0), 0))
}

/// How many exchanges lie near a spot, in words.
pub fn near(exchanges: u32) -> String {
    if exchanges == 0 {
        format!("no exchange within {NEAR_M:.0} m: from the law and what lies farther off alone")
    } else {
        format!(
            "{} within {NEAR_M:.0} m",
            words::so_many(u64::from(exchanges), "exchange", "exchanges")
        )
    }
}

/// What the numbers of a spot are, in a sentence.
const WHAT_IS_SAID: &str = "The chance is that a node there meets the goal, its margin included. What the level lies over the goal is the best guess \
                                and, in brackets, the lower end of its 95 % interval; a dash stands there where so much may be lost at any \
                                level that none is enough.";

/// What the numbers of the spots are, where there are any.
pub fn what_is_said(places: &Places) -> Option<&'static str> {
    (!places.spots.is_empty()).then_some(WHAT_IS_SAID)
}

/// Why there are no spots to choose from, in a sentence.
pub fn no_spot(places: &Places) -> &'static str {
    let (poor, unwalked) = (places.count(Class::Poor), places.count(Class::Unwalked));
    if places.needed.is_none() {
        "No spot can be named: so much was lost at any level on this walk that no place meets the goal; walk again at another hour."
    } else if poor > 0 && poor + unwalked == places.places.len() {
        "No spot stands out: where the ground was walked a node hardly meets the goal."
    } else {
        "No spot stands out yet: too little of the ground was walked."
    }
}

/// What unwalked ground is, in a sentence.
pub const UNWALKED: &str = "Unwalked: so far from all that was walked that what is said is the trend with distance alone, which no message tested; \
                            its chance, however high, makes no place good.";

/// Everything a map of places must be read with but its assumptions and a doubted station, which stand before it; a sentence each.
pub fn place_notes(places: &Places) -> Vec<String> {
    let silences = places.silences.iter().map(|silence| {
        format!(
            "The station was silent for {} s: those exchanges are left out of the map.",
            minus(silence.to - silence.from, 0)
        )
    });
    let others = places.caveats.iter();
    let others = others.filter(|found| !matches!(found, Caveat::LimitTaken { .. }));
    let caveats = others.map(|found| sentence(&caveat(found, !places.silences.is_empty())));
    let unwalked = (places.count(Class::Unwalked) > 0).then(|| UNWALKED.to_owned());
    let caveats = caveats.chain(unwalked);
    limit_taken(places)
        .into_iter()
        .chain(silences)
        .chain(caveats)
        .chain([sentence(WALLS_AND_WOODS)])
        .collect()
}

/// What might stand somewhere further, or why nowhere.
pub fn second_head(role: Role, why_not: Option<NoSecond>) -> String {
    let what = match role {
        Role::SecondStation => "A second station",
        Role::Relay => "A relay",
    };
    match why_not {
        None => format!(
            "{what}: a shortlist to test by walking; its own links were never measured, so no interval is given."
        ),
        Some(NoSecond::NoLevelIsEnough) => {
            format!("{what}: – (losses that no level explains break the goal wherever it stands).")
        }
        Some(NoSecond::NothingToGain) => {
            format!("{what}: – (nowhere would it newly serve a hundredth of this ground).")
        }
        Some(NoSecond::NowhereInReach) => {
            format!("{what}: – (nowhere on walked ground would it likely reach the station).")
        }
    }
}

/// A place of such a shortlist, in a line.
pub fn second_place(role: Role, place: &SecondPlace) -> String {
    let served = match role {
        Role::SecondStation => String::new(),
        Role::Relay => format!(", itself in reach {}", percent(place.promise.served)),
    };
    format!(
        "{} {}: might newly serve {} of this ground{served}",
        metres(place.distance.0),
        from_station(place.bearing),
        percent(place.promise.score),
    )
}

/// A bearing from the station, such as `at 063° true ENE`; nothing where it has none.
pub fn from_station(bearing: Option<Degrees>) -> String {
    bearing.map_or_else(String::new, |bearing| format!("at {}", words::bearing(bearing)))
}

/// What the list of legs to walk next is in the order of.
pub const WALK_NEXT: &str = "walk next, what settles most for its length first";

/// Where to walk next and why, the best leg; or that none is worth it. `None` where nothing at all is in doubt.
pub fn walk_next(places: &Places) -> Option<String> {
    let best = places.legs.first()?;
    Some(if best.settles >= WORTH_A_WALK {
        sentence(&leg(best))
    } else {
        "no straight walk of up to 120 m from here would settle a hundredth of what is still open: go to another end of the ground, \
         or measure at a spot of the list."
            .to_owned()
    })
}
