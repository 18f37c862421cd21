//! Points of two surveys that are one place.

use super::compared::{Compared, Measured};
use super::member::Member;
use super::pair::{level, rate};
use super::squares::Frame;
use crate::findings::points::PointRow;
use crate::findings::stop::{CONFIDENCE, Gauge};
use crate::ground::separation;
use crate::stats::burst::BurstMemory;
use crate::survey::sample::Sample;

/// Points closer than this are one place even where squares are smaller, metres.
const LEAST_M: f64 = 10.0;

/// A point of the first survey and one of the second that are one place.
#[derive(Clone, Debug, PartialEq)]
pub struct StopPair {
    /// What each calls it.
    pub names: [String; 2],
    /// Metres between the two; `None` where they are taken for one by their name alone.
    pub apart_m: Option<f64>,
    /// Metres from the first survey's station, where it is known.
    pub distance_m: Option<f64>,
    /// What both measured there.
    pub found: Compared,
}

/// Points of one name that lie apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Namesake {
    /// The name.
    pub name: String,
    /// How far apart, metres.
    pub apart_m: f64,
}

/// Finds and compares them: the nearest first, each point once, no farther apart than a square is wide. A point without a
/// position is known by its name alone, if a person gave it.
pub fn stops(
    members: [Member<'_>; 2],
    boards: [&str; 2],
    frame: Option<&Frame>,
    gauges: &[Option<Gauge>; 2],
    memories: &[BurstMemory; 2],
) -> (Vec<StopPair>, Vec<Namesake>) {
    let [a, b] = [0, 1].map(|index| last_runs(members[index], boards[index]));
    let reach = frame.map_or(LEAST_M, |frame| frame.side_m.max(LEAST_M));
    let apart = |one: &PointRow, other: &PointRow| {
        let places = one.position.zip(other.position)?;
        Some(separation(places.0, places.1).distance.0)
    };
    let mut near: Vec<(Option<f64>, usize, usize)> = Vec::new();
    let mut namesakes = Vec::new();
    for (i, one) in a.iter().enumerate() {
        for (j, other) in b.iter().enumerate() {
            let same = one.point == other.point;
            match apart(one, other) {
                Some(metres) if metres <= reach => near.push((Some(metres), i, j)),
                Some(metres) if same => namesakes.push(Namesake {
                    name: one.point.clone(),
                    apart_m: metres,
                }),
                None if same && !given(&one.point) => near.push((None, i, j)),
                Some(_) | None => {}
            }
        }
    }
    near.sort_by(|one, other| {
        let far = |metres: Option<f64>| metres.unwrap_or(f64::INFINITY);
        far(one.0).total_cmp(&far(other.0))
    });
    let (mut taken_a, mut taken_b) = (vec![false; a.len()], vec![false; b.len()]);
    let mut found: Vec<StopPair> = Vec::new();
    for (apart_m, i, j) in near {
        if taken_a[i] || taken_b[j] {
            continue;
        }
        taken_a[i] = true;
        taken_b[j] = true;
        let rows = [a[i], b[j]];
        let measured = [0, 1].map(|index| {
            let (row, samples) = (rows[index], members[index].samples);
            let own: Vec<&Sample> = samples.rows[row.rows.clone()]
                .iter()
                .filter(|row| row.counts())
                .collect();
            Measured {
                sent: row.messages,
                delivered: row.delivered,
                rate: rate(row.delivered, row.messages, &memories[index], CONFIDENCE),
                level: level(gauges[index].as_ref(), samples, &own, CONFIDENCE),
            }
        });
        found.push(StopPair {
            names: rows.map(|row| row.point.clone()),
            apart_m,
            distance_m: rows[0].distance.map(|distance| distance.0),
            found: Compared::new(measured),
        });
    }
    found.sort_by(|one, other| {
        let far = |stop: &StopPair| stop.distance_m.unwrap_or(f64::INFINITY);
        far(one).total_cmp(&far(other)).then(one.names.cmp(&other.names))
    });
    (found, namesakes)
}

/// The last run of a board at each point.
fn last_runs<'a>(member: Member<'a>, board: &str) -> Vec<&'a PointRow> {
    let mut runs: Vec<&PointRow> = Vec::new();
    for (row, _) in &member.estimates.points {
        if row.activity == "point" && row.board == board {
            runs.retain(|known| known.point != row.point);
            runs.push(row);
        }
    }
    runs
}

/// Whether a name is one the program gives in its order (`P1`, or `place 1` where names are left out): it tells no place.
fn given(name: &str) -> bool {
    let number = name.strip_prefix("place ").or_else(|| name.strip_prefix(['P', 'S']));
    number.is_some_and(|digits| !digits.is_empty() && digits.bytes().all(|digit| digit.is_ascii_digit()))
}

#[cfg(test)]
mod tests {
    use super::given;

    #[test]
    fn names_in_order_tell_no_place() {
        assert!(given("P1") && given("S12") && given("place 3"));
        assert!(!given("gate") && !given("P") && !given("P1a") && !given("place"));
    }
}
