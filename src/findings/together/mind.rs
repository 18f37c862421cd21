//! What a reader of a comparison must keep in mind.

use super::member::Member;
use super::pair::{NoLevels, Pair};
use super::squares::Frame;
use crate::ground::separation;
use crate::survey::sample::Samples;

/// Stations whose positions differ by less are taken for one, metres, where nothing is known of how good they are.
const ONE_STATION_M: f64 = 10.0;
const DAY_MS: i64 = 86_400_000;

/// What must be kept in mind.
#[derive(Clone, Debug, PartialEq)]
pub enum Mind {
    /// They share no square of ground: the nearest places of the two are so far apart, metres.
    NothingShared(Option<f64>),
    /// They were made so many whole days apart.
    DaysApart(u64),
    /// They were made so many hours apart, within a day.
    HoursApart(u64),
    /// The boards differ.
    Boards,
    /// Why levels are not compared.
    Levels(NoLevels),
    /// The stations' positions are so far apart, metres.
    StationsApart(f64),
    /// The station's position is not known in the first, in the second.
    StationUnknown([bool; 2]),
    /// The stations' aerials stood at these heights, metres.
    StationHeights(f64, f64),
    /// They were on these channels.
    Channels(u32, u32),
    /// Their goals differ: delivery wanted.
    Goals(f64, f64),
    /// Positions are known to so many metres, one sigma per axis, the worse of the two.
    Positions(f64),
    /// Boards that took part in one survey and are not compared.
    OtherBoards(Vec<String>),
}

/// Gathers it.
pub fn mind(members: [Member<'_>; 2], pair: &Pair, sigmas: [Option<f64>; 2]) -> Vec<Mind> {
    let mut found = Vec::new();
    if pair.places.is_empty() {
        found.push(Mind::NothingShared(nearest(members, pair)));
    }
    let begins = members.map(|member| member.samples.rows.first().map(|row| row.utc.0));
    if let [Some(a), Some(b)] = begins {
        let apart = a.abs_diff(b);
        found.push(if apart >= DAY_MS.unsigned_abs() {
            Mind::DaysApart((apart as f64 / DAY_MS as f64).round() as u64)
        } else {
            Mind::HoursApart((apart as f64 / 3_600_000.0).round() as u64)
        });
    }
    if pair.boards[0] != pair.boards[1] {
        found.push(Mind::Boards);
    }
    if let Err(why) = pair.side {
        found.push(Mind::Levels(why));
    }
    let stations = members.map(|member| &member.setup.station);
    match stations.map(|station| station.position) {
        [Some(a), Some(b)] => {
            let apart = separation(a, b).distance.0;
            let doubt = stations.map(|station| station.sigma.map_or(0.0, |sigma| sigma.0));
            if apart > (3.0 * doubt[0].hypot(doubt[1])).max(ONE_STATION_M) {
                found.push(Mind::StationsApart(apart));
            }
        }
        known => found.push(Mind::StationUnknown(known.map(|known| known.is_none()))),
    }
    if let [Some(a), Some(b)] = stations.map(|station| station.height)
        && (a.0 - b.0).abs() > 0.5
    {
        found.push(Mind::StationHeights(a.0, b.0));
    }
    if let [Some(a), Some(b)] = members.map(|member| channel(member.samples).or(member.setup.radio.channel))
        && a != b
    {
        found.push(Mind::Channels(a, b));
    }
    let goals = members.map(|member| member.setup.goal.delivery);
    if (goals[0] - goals[1]).abs() > 1e-9 {
        found.push(Mind::Goals(goals[0], goals[1]));
    }
    if let Some(worse) = sigmas.into_iter().flatten().reduce(f64::max) {
        found.push(Mind::Positions(worse));
    }
    let mut others: Vec<String> = Vec::new();
    for (index, member) in members.into_iter().enumerate() {
        for board in member.boards() {
            if board != pair.boards[index] && !pair.boards.iter().any(|name| name == board) {
                others.push(board.to_owned());
            }
        }
    }
    others.sort();
    others.dedup();
    if !others.is_empty() {
        found.push(Mind::OtherBoards(others));
    }
    found
}

/// The channel most exchanges name.
fn channel(samples: &Samples) -> Option<u32> {
    let mut counts: std::collections::BTreeMap<u32, usize> = std::collections::BTreeMap::new();
    for channel in samples.rows.iter().filter_map(|row| row.channel) {
        *counts.entry(channel).or_default() += 1;
    }
    counts
        .into_iter()
        .max_by_key(|(channel, count)| (*count, std::cmp::Reverse(*channel)))
        .map(|(channel, _)| channel)
}

/// The least distance between squares of the two, metres.
fn nearest(members: [Member<'_>; 2], pair: &Pair) -> Option<f64> {
    let frame = Frame::of(&members, [None, None])?;
    let squares = [0, 1].map(|index| {
        let member: Member<'_> = members[index];
        let own = member.placed(&pair.boards[index]);
        let mut keys: Vec<_> = own.filter_map(|row| Some(frame.key(row.place?.position))).collect();
        keys.sort_unstable();
        keys.dedup();
        keys
    });
    let mut least: Option<f64> = None;
    for one in &squares[0] {
        for other in &squares[1] {
            let (a, b) = (frame.middle(*one), frame.middle(*other));
            let apart = (a.0 - b.0).hypot(a.1 - b.1);
            least = Some(least.map_or(apart, |known| known.min(apart)));
        }
    }
    least
}
