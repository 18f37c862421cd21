//! Files share no clock with anything: their lines are given times that make sense.
//!
//! Position lines are timed by their own UTC. In one merged log the node's lines between two epochs are spread evenly.
//! Where node and receiver come from two files, exchanges are spaced by the node's rate from the first fix on, and the
//! program says so.

use super::say::say;
use crate::sources::{Address, RawLine, Role, Stamp};
use crate::units::{Elapsed, UtcMs};
use crate::wire::epoch::EpochReader;
use crate::wire::{NodeLine, NodeRecord, node};

use super::recorder::Recorder;
use super::walk::Inputs;
use super::{clock, file_lines};

/// The rate taken where no hello names one, pings a second (common practice).
const RATE: f64 = 10.0;

/// Whether every source is a file, so that nothing is live.
pub fn applies(inputs: &Inputs) -> bool {
    let file = |address: &Option<Address>| matches!(address, Some(Address::File(_)));
    let absent = |address: &Option<Address>| address.is_none();
    (file(&inputs.node) || file(&inputs.gps))
        && (file(&inputs.node) || absent(&inputs.node))
        && (file(&inputs.gps) || absent(&inputs.gps))
        && absent(&inputs.surveyor)
}

/// Reads the files to their ends into a survey.
///
/// # Errors
/// When a file cannot be read.
pub fn read_all(inputs: &Inputs, recorder: &mut Recorder) -> anyhow::Result<()> {
    let shared = inputs.wiring().shared;
    let node = match &inputs.node {
        Some(Address::File(path)) => file_lines::read(path)?,
        _ => Vec::new(),
    };
    let gps = match &inputs.gps {
        Some(Address::File(path)) if !shared => file_lines::read(path)?,
        _ => Vec::new(),
    };
    let start = recorder.now();
    let wall = clock::wall();
    let mut timed = if !node.is_empty() && !gps.is_empty() {
        say(
            "two files share no clock: exchanges are spaced by the node's rate from the first fix on, \
             and each position is only as good as that guess",
        );
        let gps = merged(gps, start);
        let first_fix = gps.first_fix.unwrap_or(start);
        let mut timed = gps.lines;
        timed.extend(
            spaced(node, first_fix)
                .into_iter()
                .map(|(at, line)| (at, Role::Node, line)),
        );
        timed.sort_by_key(|(at, _, _)| *at);
        timed
    } else if gps.is_empty() {
        let merged = merged(node, start);
        let role = |(at, role, line)| (at, if role == Role::Gps { Role::Node } else { role }, line);
        merged.lines.into_iter().map(role).collect()
    } else {
        merged(gps, start).lines
    };
    for (at, role, line) in timed.drain(..) {
        let utc_ms = wall.0 + (at.since(start) * 1000.0).round() as i64;
        let stamp = Stamp {
            elapsed_us: at.0,
            utc_ms,
        };
        recorder.line(role, RawLine { stamp, ..line });
    }
    Ok(())
}

struct Timed {
    lines: Vec<(Elapsed, Role, RawLine)>,
    first_fix: Option<Elapsed>,
}

/// Times the lines of one log that holds positions and perhaps exchanges: positions by their own UTC, what stands
/// between two of them evenly; before the first and after the last, and without any, by the node's rate.
fn merged(lines: Vec<RawLine>, start: Elapsed) -> Timed {
    let mut epochs = EpochReader::new();
    let mut anchors: Vec<(usize, UtcMs)> = Vec::new();
    let mut first_fix_line = None;
    for (index, line) in lines.iter().enumerate() {
        if !matches!(line.bytes.first(), Some(b'$' | b'!' | b'{')) || line.left_out > 0 {
            continue;
        }
        let before = epochs.open().map(|open| open.utc);
        epochs.feed(&line.bytes, Elapsed(index as u64), UtcMs(0));
        if let Some(open) = epochs.open() {
            if before != Some(open.utc) && anchors.last().is_none_or(|(_, last)| *last < open.utc) {
                anchors.push((index, open.utc));
            }
            if open.fix.is_some() {
                first_fix_line.get_or_insert(index);
            }
        }
    }
    let rate = rate_of(&lines);
    let told = |from: usize, to: usize| lines[from..to].iter().filter(|line| tells_ping(line)).count();
    let mut times = vec![start; lines.len()];
    match anchors.first() {
        None => spread(&mut times, &lines, 0, lines.len(), start.seconds(), None, rate),
        Some(&(first, begin)) => {
            let lead = told(0, first) as f64 / rate;
            let origin = start.seconds() + lead;
            let of = |utc: UtcMs| origin + (utc.0 - begin.0) as f64 / 1000.0;
            spread(&mut times, &lines, 0, first, start.seconds(), Some(origin), rate);
            for (position, &(from, utc)) in anchors.iter().enumerate() {
                let next = anchors.get(position + 1);
                let to = next.map_or(lines.len(), |(to, _)| *to);
                spread(
                    &mut times,
                    &lines,
                    from,
                    to,
                    of(utc),
                    next.map(|(_, utc)| of(*utc)),
                    rate,
                );
            }
        }
    }
    let first_fix = first_fix_line.map(|index| times[index]);
    let role = |line: &RawLine| {
        if matches!(line.bytes.first(), Some(b'$' | b'!')) {
            Role::Gps
        } else {
            Role::Node
        }
    };
    let lines = times
        .into_iter()
        .zip(lines)
        .map(|(at, line)| (at, role(&line), line))
        .collect();
    Timed { lines, first_fix }
}

/// Spreads the pings between two moments evenly, or by the rate where there is no second moment; other lines go with
/// what stands before them.
fn spread(times: &mut [Elapsed], lines: &[RawLine], from: usize, to: usize, begin: f64, end: Option<f64>, rate: f64) {
    let pings = lines[from..to].iter().filter(|line| tells_ping(line)).count() as f64;
    let step = end.map_or(1.0 / rate, |end| (end - begin) / (pings + 1.0));
    let mut so_far = 0.0;
    for index in from..to {
        so_far += f64::from(u8::from(tells_ping(&lines[index])));
        times[index] = Elapsed::from_seconds(begin + step * so_far);
    }
}

/// Times the lines of a node alone: by the numbers of its pings, `rate` a second.
fn spaced(lines: Vec<RawLine>, from: Elapsed) -> Vec<(Elapsed, RawLine)> {
    let rate = rate_of(&lines);
    let mut first: Option<u64> = None;
    let mut last = from;
    let mut timed = Vec::with_capacity(lines.len());
    for line in lines {
        if let Some(n) = ping_of(&line) {
            let base = *first.get_or_insert(n);
            let at = Elapsed::from_seconds(from.seconds() + n.saturating_sub(base) as f64 / rate);
            // A boot that counts from 1 again goes on where the one before it ended.
            if at < last && base.saturating_sub(n) > 0 {
                first = Some(n);
            }
            last = last
                .max(at)
                .max(Elapsed(last.0 + u64::from(at < last) * (1e6 / rate) as u64));
        }
        timed.push((last, line));
    }
    timed
}

fn rate_of(lines: &[RawLine]) -> f64 {
    let rate = |line: &RawLine| match node::read(&line.bytes) {
        Ok(NodeLine::Record {
            record: NodeRecord::Hello(hello),
            ..
        }) => hello.rate,
        _ => None,
    };
    lines.iter().find_map(rate).unwrap_or(RATE)
}

fn ping_of(line: &RawLine) -> Option<u64> {
    match node::read(&line.bytes) {
        Ok(NodeLine::Record {
            record: NodeRecord::Echo(echo),
            ..
        }) => Some(echo.n),
        Ok(NodeLine::Record {
            record: NodeRecord::Lost(lost),
            ..
        }) => Some(lost.n),
        _ => None,
    }
}

fn tells_ping(line: &RawLine) -> bool {
    !matches!(line.bytes.first(), Some(b'$' | b'!')) && ping_of(line).is_some()
}
