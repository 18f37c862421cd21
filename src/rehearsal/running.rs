//! A board from its start on: it pings, counts, and prints.

use rand::RngExt;
use rand_distr::{Distribution, Exp1};
use rand_pcg::Pcg64Mcg;

use super::air::Exchange;
use super::boards::Board;
use super::orchard::Site;
use super::script::RATE;

/// A board that runs.
#[derive(Clone, Debug, PartialEq)]
pub struct Running {
    /// Which of the scenario's boards.
    pub board: usize,
    /// Its count of starts.
    pub boot: u64,
    /// Pings sent.
    pub n: u64,
    /// Pings the station has heard.
    pub heard: u64,
    /// When it pings next, seconds.
    pub next_ping_s: f64,
    /// When it says hello next, seconds.
    pub next_hello_s: f64,
    period_s: f64,
}

/// From a board's start to its first words, and to its first ping, seconds.
const FIRST_WORDS: f64 = 0.35;
const FIRST_PING: f64 = 0.8;
/// A board says hello again after so many seconds.
const HELLO_EVERY: f64 = 10.0;
/// Seconds after which a board gives a ping up: below the time to the next one, so lines keep their order.
const GIVES_UP: f64 = 0.08;
/// Two turnarounds of the radio, and the mean of a wait on top that has no memory, seconds.
const ROUND_TRIP: (f64, f64) = (0.0024, 0.0007);
/// A serial line over USB is polled: between these many seconds more.
const POLLED: (f64, f64) = (0.0003, 0.004);
/// How far a crystal may be off, parts in a million.
const CRYSTAL: f64 = 30.0;

impl Running {
    /// The board starts at a time in seconds.
    pub fn start(at_s: f64, board: usize, boot: u64, timing: &mut Pcg64Mcg) -> Self {
        Self {
            board,
            boot,
            n: 0,
            heard: 0,
            next_ping_s: at_s + FIRST_PING,
            next_hello_s: at_s + FIRST_WORDS,
            period_s: (1.0 + 1e-6 * timing.random_range(-CRYSTAL..CRYSTAL)) / RATE,
        }
    }

    /// Its hello, due now.
    pub fn hello(&mut self, board: &Board, site: &Site) -> Option<Vec<u8>> {
        self.next_hello_s += HELLO_EVERY;
        board.firmware.line(&board.hello(site, self.boot))
    }

    /// Counts the ping due now and what became of it; gives the line and when it comes, seconds.
    pub fn ping(&mut self, board: &Board, exchange: &Exchange, timing: &mut Pcg64Mcg) -> Option<(f64, Vec<u8>)> {
        let at_s = self.next_ping_s;
        self.next_ping_s += self.period_s;
        self.n += 1;
        self.heard += u64::from(exchange.ping_heard);
        let wait: f64 = Exp1.sample(timing);
        let polled: f64 = timing.random_range(POLLED.0..POLLED.1);
        // Cut so that an echo is always sooner than the giving up.
        let round_trip = (ROUND_TRIP.0 + ROUND_TRIP.1 * wait).min(0.06);
        let (record, after_s) = if exchange.echo_heard {
            let rtt_us = (round_trip * 1e6).round() as u64;
            let echo = board.echo(self.n, exchange.here_read, exchange.there_read, rtt_us, self.heard);
            (echo, round_trip)
        } else {
            (board.lost(self.n), GIVES_UP)
        };
        Some((at_s + after_s + polled, board.firmware.line(&record)?))
    }
}

#[cfg(test)]
mod tests {
    use super::super::boards::yew;
    use super::super::seeds::{Purpose, stream};
    use super::*;

    const HEARD: Exchange = Exchange {
        ping_heard: true,
        echo_heard: true,
        enough: true,
        here: -70.2,
        there: -70.2,
        local_mean: -70.0,
        here_read: -70,
        there_read: -71,
    };

    #[test]
    fn a_ping_heard_but_not_echoed_counts_as_heard_and_is_told_by_the_next_echo() {
        let mut timing = stream(1, Purpose::Timing);
        let mut running = Running::start(5.0, 0, 32, &mut timing);
        let one_way = Exchange {
            echo_heard: false,
            ..HEARD
        };
        let board = yew();
        let (lost_s, lost) = running.ping(&board, &one_way, &mut timing).unwrap();
        assert!(lost.starts_with(b"lost n=1 *"));
        let (echo_s, echo) = running.ping(&board, &HEARD, &mut timing).unwrap();
        let echo = String::from_utf8(echo).unwrap();
        assert!(echo.starts_with("echo n=2 here=-70 there=-71 rtt_us="), "{echo}");
        assert!(echo.contains(" heard=2 *"), "{echo}");
        assert!(5.8 < lost_s && lost_s < echo_s && echo_s < 5.97);
    }

    #[test]
    fn a_board_that_says_nothing_of_losses_still_counts_them() {
        let mut timing = stream(1, Purpose::Timing);
        let mut running = Running::start(0.0, 0, 1, &mut timing);
        let lost = Exchange {
            ping_heard: false,
            echo_heard: false,
            ..HEARD
        };
        let board = super::super::boards::thistle();
        assert_eq!(running.ping(&board, &lost, &mut timing), None);
        assert_eq!((running.n, running.heard), (1, 0));
    }
}
