//! Lines in, epochs out.

use super::{
    calendar::Calendar,
    evidence::{Evidence, disagree, sigma_of_hdop},
};
use crate::{
    units::{Elapsed, UtcMs},
    wire::{
        Epoch, EpochFix, NoFix, SigmaFrom,
        gpsd::{self, Report, Sky, Tpv},
        nmea::{
            Sentence,
            fields::{Day, DayTime},
            framing::{Framed, sentences},
            sentence,
        },
    },
};

/// Seconds after which satellites and dilution of a gpsd server are no longer those of its position.
const SKY_AGE_S: f64 = 10.0;

/// gpsd's `eph` over the one-sigma error per axis, `eph` being taken as a 95 % radius: the root of minus two times the
/// logarithm of 0.05 (Rayleigh distribution), 2.448, as the format rounds it.
const EPH_PER_SIGMA: f64 = 2.45;

/// How many sentences and reports came to what.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PositionCounts {
    /// Understood, and part of an epoch.
    pub used: u64,
    /// Well formed, but of a kind that says nothing of position or time.
    pub other: u64,
    /// Understood, but without the time that an epoch needs: a receiver that has just started.
    pub untimed: u64,
    /// Their checksum does not match.
    pub bad_checksum: u64,
    /// Without checksum, from a receiver that sends them otherwise, or cut short.
    pub no_checksum: u64,
    /// Their checksum matches, but a field holds what no receiver in order sends; or JSON that is none.
    pub malformed: u64,
    /// Pieces of sentences, and lines without any.
    pub garbled: u64,
}

/// Reads position lines in order of arrival and joins those of one moment.
///
/// The sentences that carry one UTC are an epoch; one without a time belongs to the epoch that is open; the first line that
/// carries another time completes it. Of a gpsd server, the reports of one time are an epoch in the same way.
///
/// The position of an epoch is the one with the most digits, then GGA's before that of GNS, RMC and GLL. Where one sentence
/// of an epoch says that there is no fix, there is none, whatever the others say. `quality` is GGA's, else that of the best
/// mode letter of GNS, else 1: RMC's own mode letter does not count.
///
/// Sentences without a checksum are used while none with a good one has come, and when no field that counts can have been
/// cut short.
#[derive(Clone, Debug, Default)]
pub struct EpochReader {
    open: Option<Open>,
    calendar: Calendar,
    sky: Sky,
    sky_arrival: Elapsed,
    checksums: bool,
    counts: PositionCounts,
}

/// The epoch that may still gain.
#[derive(Clone, Debug)]
enum Open {
    Sentences(Box<Evidence>),
    Reports(Box<Epoch>),
}

impl EpochReader {
    /// A reader that has seen nothing.
    pub fn new() -> Self {
        Self::default()
    }

    /// Reads one line, with or without its line end, and gives the epochs that it completes.
    ///
    /// `arrival` and `wall` are the survey's and the computer's clock when the line came.
    pub fn feed(&mut self, line: &[u8], arrival: Elapsed, wall: UtcMs) -> Vec<Epoch> {
        let line = line.trim_ascii();
        if line.is_empty() {
            return Vec::new();
        }
        if line.starts_with(b"{") {
            return self.report(line, arrival, wall).into_iter().collect();
        }
        let mut completed = Vec::new();
        let mut any = false;
        for framed in sentences(line) {
            any = true;
            let body = match framed {
                Framed::Good(body) => {
                    self.checksums = true;
                    body
                }
                Framed::NoChecksum(body) if !self.checksums && sentence::is_whole(body) => body,
                Framed::NoChecksum(_) => {
                    self.counts.no_checksum += 1;
                    continue;
                }
                Framed::BadChecksum => {
                    self.counts.bad_checksum += 1;
                    continue;
                }
                Framed::Garbled => {
                    self.counts.garbled += 1;
                    continue;
                }
            };
            completed.extend(self.sentence(body, arrival, wall));
        }
        if !any {
            self.counts.garbled += 1;
        }
        completed
    }

    /// The epoch that is not complete yet, as it stands.
    pub fn open(&self) -> Option<Epoch> {
        match self.open.as_ref()? {
            Open::Sentences(evidence) => evidence.epoch(&self.calendar),
            Open::Reports(epoch) => Some((**epoch).clone()),
        }
    }

    /// Completes the open epoch: the source has ended or broken off.
    pub fn finish(&mut self) -> Option<Epoch> {
        let epoch = self.open();
        self.open = None;
        if let Some(Epoch {
            utc,
            wall,
            fix: Some(_),
            ..
        }) = epoch
        {
            self.calendar.keep(utc, wall);
        }
        epoch
    }

    /// How many sentences and reports came to what, so far.
    pub fn counts(&self) -> PositionCounts {
        self.counts
    }

    fn sentence(&mut self, body: &str, arrival: Elapsed, wall: UtcMs) -> Option<Epoch> {
        let sentence = match sentence::read(body) {
            Ok(Sentence::Other) => {
                self.counts.other += 1;
                return None;
            }
            Ok(sentence) => sentence,
            Err(_) => {
                self.counts.malformed += 1;
                return None;
            }
        };
        match timing(&sentence) {
            Timing::At(time, day) => {
                self.counts.used += 1;
                let mut completed = None;
                match &mut self.open {
                    Some(Open::Sentences(open)) if open.time == time && !open.is_of_another_day(day) => {
                        open.add(sentence);
                    }
                    _ => {
                        completed = self.finish();
                        let mut open = Evidence::new(time, arrival, wall);
                        open.add(sentence);
                        self.open = Some(Open::Sentences(Box::new(open)));
                    }
                }
                completed
            }
            Timing::Untimed => {
                self.counts.untimed += 1;
                None
            }
            Timing::Whenever => {
                self.counts.used += 1;
                if let Some(Open::Sentences(open)) = &mut self.open {
                    open.add(sentence);
                }
                None
            }
        }
    }

    fn report(&mut self, line: &[u8], arrival: Elapsed, wall: UtcMs) -> Option<Epoch> {
        match gpsd::read(line) {
            Err(_) => self.counts.malformed += 1,
            Ok(Report::Other) => self.counts.other += 1,
            Ok(Report::Sky(sky)) => {
                self.counts.used += 1;
                let old = if self.sky_is_fresh(arrival) {
                    self.sky
                } else {
                    Sky::default()
                };
                self.sky = Sky {
                    hdop: sky.hdop.or(old.hdop),
                    sats: sky.sats.or(old.sats),
                };
                self.sky_arrival = arrival;
            }
            Ok(Report::Tpv(tpv)) => {
                let Some(time) = tpv.time else {
                    self.counts.untimed += 1;
                    return None;
                };
                self.counts.used += 1;
                let utc = Calendar::dated(time, wall);
                let epoch = self.epoch_of(&tpv, utc, arrival, wall);
                return self.report_epoch(epoch);
            }
        }
        None
    }

    fn report_epoch(&mut self, epoch: Epoch) -> Option<Epoch> {
        if let Some(Open::Reports(open)) = &mut self.open
            && open.utc == epoch.utc
        {
            **open = joined(open, epoch);
            return None;
        }
        let completed = self.finish();
        self.open = Some(Open::Reports(Box::new(epoch)));
        completed
    }

    fn epoch_of(&self, tpv: &Tpv, utc: UtcMs, arrival: Elapsed, wall: UtcMs) -> Epoch {
        let sky = if self.sky_is_fresh(arrival) {
            self.sky
        } else {
            Sky::default()
        };
        let fix = tpv.place.ok().map(|position| EpochFix {
            position,
            alt_m: tpv.alt_m,
            sigma: tpv
                .eph_m
                .map(|eph| (eph / EPH_PER_SIGMA, SigmaFrom::Eph))
                .or(sky.hdop.map(sigma_of_hdop)),
            quality: tpv.quality,
            sats: sky.sats,
            hdop: sky.hdop,
            speed_mps: tpv.speed_mps,
            course_deg: tpv.course_deg,
            three_d: Some(tpv.three_d),
        });
        Epoch {
            utc,
            arrival,
            wall,
            fix,
            refused: tpv.place.err(),
        }
    }

    fn sky_is_fresh(&self, arrival: Elapsed) -> bool {
        arrival.since(self.sky_arrival).abs() <= SKY_AGE_S
    }
}

/// Where a sentence belongs in time.
enum Timing {
    /// At a time of day, of a day where it names one.
    At(DayTime, Option<Day>),
    /// It should carry a time and does not.
    Untimed,
    /// Its kind carries none.
    Whenever,
}

fn timing(sentence: &Sentence) -> Timing {
    let (time, day) = match sentence {
        Sentence::Gga(gga) => (gga.time, None),
        Sentence::Gns(gns) => (gns.time, None),
        Sentence::Gll(gll) => (gll.time, None),
        Sentence::Gst(gst) => (gst.time, None),
        Sentence::Rmc(rmc) => (rmc.time, rmc.day),
        Sentence::Zda(zda) => (zda.time, zda.day),
        Sentence::Gsa(_) | Sentence::Vtg(_) | Sentence::Other => return Timing::Whenever,
    };
    time.map_or(Timing::Untimed, |time| Timing::At(time, day))
}

/// Two reports of one time: the later one, unless either says that there is no fix or they are too far apart.
fn joined(first: &Epoch, later: Epoch) -> Epoch {
    let (fix, refused) = match (&first.fix, later.fix) {
        (Some(one), Some(other)) if disagree(one.position, other.position) => (None, Some(NoFix::Disagree)),
        (Some(_), Some(other)) => (Some(other), None),
        _ => (None, later.refused.or(first.refused)),
    };
    Epoch {
        arrival: first.arrival,
        wall: first.wall,
        utc: first.utc,
        fix,
        refused,
    }
}
