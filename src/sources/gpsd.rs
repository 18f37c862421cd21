//! A gpsd server: asked for JSON reports, and asked again when it falls silent.
//!
//! The protocol: <https://gpsd.gitlab.io/gpsd/gpsd_json.html>. After a receiver was unplugged the server may keep the
//! connection and say nothing more until it is asked to watch anew.

use std::convert::Infallible;
use std::io::Write;
use std::net::TcpStream;
use std::time::Duration;

use crossbeam_channel::{Receiver, after};

use super::address::Address;
use super::happening::{Clock, Happening};
use super::lines::{GPSD_LINE_CAP, LineCutter};
use super::outlet::{Outlet, Stopped};
use super::reading::{Broke, ReadOutcome, read_once};
use super::tcp::{Ending, follow, why_broken};

/// What makes the server report in JSON. It answers at once, receiver or not.
const WATCH: &[u8] = b"?WATCH={\"enable\":true,\"json\":true};\n";

/// Silence after which it is asked again.
pub(super) const PATIENCE: Duration = Duration::from_secs(5);

/// Questions left unanswered after which the connection is taken for dead.
const UNANSWERED: u32 = 3;

/// Follows the reports of the gpsd server at `host_port`.
pub(super) fn run(
    host_port: &str,
    patience: Duration,
    clock: &dyn Clock,
    outlet: &Outlet,
) -> Result<Infallible, Stopped> {
    follow(&Address::Gpsd(host_port.to_owned()), host_port, outlet, |stream| {
        converse(stream, patience, clock, outlet)
    })
}

fn converse(stream: &mut TcpStream, patience: Duration, clock: &dyn Clock, outlet: &Outlet) -> Result<Ending, Stopped> {
    let mut cutter = LineCutter::new(GPSD_LINE_CAP);
    let mut chunk = [0; 4096];
    let mut lines = 0;
    let mut asked = 0;
    let mut ask_at: Option<Receiver<_>> = None;
    let error = loop {
        outlet.stop.check()?;
        if ask_at.as_ref().is_none_or(|timer| timer.try_recv().is_ok()) {
            if asked == UNANSWERED {
                return Ok(Ending {
                    why: "the gpsd server no longer answers".to_owned(),
                    useful: lines > 0,
                });
            }
            if let Err(error) = stream.write_all(WATCH) {
                break Some(error);
            }
            asked += 1;
            ask_at = Some(after(patience));
        }
        match read_once(stream, &mut chunk) {
            ReadOutcome::Bytes(bytes) => {
                let stamp = clock.now();
                for line in cutter.feed(bytes, stamp) {
                    outlet.say(Happening::Line(line))?;
                    lines += 1;
                }
                asked = 0;
                ask_at = Some(after(patience));
            }
            ReadOutcome::Quiet => {}
            ReadOutcome::End => break None,
            ReadOutcome::Broken(error) => break Some(error),
        }
    };
    Ok(Ending {
        why: why_broken(&Broke { error, lines }),
        useful: lines > 0,
    })
}
