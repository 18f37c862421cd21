//! Lines in, epochs out.

use super::{
    calendar::{Calendar, Dated},
    evidence::{Evidence, disagree, sigma_of_hdop},
    line::{Piece, PositionLine},
};
use crate::{
    units::{Elapsed, UtcMs},
    wire::{
        Epoch, EpochFix, NoFix, SigmaFrom,
        gpsd::{Report, Sky, Tpv},
        nmea::{Sentence, fields::DayTime},
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
/// The sentences that carry one UTC are an epoch; one without a time belongs to the epoch that is open; the first line
/// that carries another time completes it. Of a gpsd server, the reports of one time are an epoch in the same way.
///
/// The position of an epoch is the one with the most digits, then GGA's before that of GNS, RMC and GLL. Where one
/// sentence of an epoch says that there is no fix, there is none, whatever the others say. `quality` is GGA's, else
/// that of the best mode letter of GNS, else 1: RMC's own mode letter does not count.
///
/// Sentences without a checksum are used while none with a good one has come, and when no field that counts can have
/// been cut short.
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
        self.take(PositionLine::read(line), arrival, wall)
    }

    /// As [`Self::feed`], of a line that has been read.
    pub fn take(&mut self, line: PositionLine, arrival: Elapsed, wall: UtcMs) -> Vec<Epoch> {
        let pieces = match line {
            PositionLine::Blank => return Vec::new(),
            PositionLine::Report(report) => return self.report(report, arrival, wall).into_iter().collect(),
            PositionLine::Garbled => {
                self.counts.garbled += 1;
                return Vec::new();
            }
            PositionLine::Sentences(first, more) => std::iter::once(first).chain(more),
        };
        let mut completed = Vec::new();
        for piece in pieces {
            let sentence = match piece {
                Piece::Good(sentence) => {
                    self.checksums = true;
                    sentence
                }
                Piece::NoChecksum { sentence, whole } if !self.checksums && whole => sentence,
                Piece::NoChecksum { .. } => {
                    self.counts.no_checksum += 1;
                    continue;
                }
                Piece::BadChecksum => {
                    self.counts.bad_checksum += 1;
                    continue;
                }
                Piece::Garbled => {
                    self.counts.garbled += 1;
                    continue;
                }
            };
            completed.extend(self.sentence(sentence, arrival, wall));
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
        let open = self.open.take()?;
        if let Some(Epoch {
            utc,
            wall,
            fix: Some(_),
            ..
        }) = epoch
        {
            let moment = match open {
                Open::Sentences(evidence) => evidence.moment(&self.calendar),
                Open::Reports(_) => Dated::sure(utc),
            };
            self.calendar.keep(moment, wall);
        }
        epoch
    }

    /// How many sentences and reports came to what, so far.
    pub fn counts(&self) -> PositionCounts {
        self.counts
    }

    fn sentence(&mut self, sentence: Option<Sentence>, arrival: Elapsed, wall: UtcMs) -> Option<Epoch> {
        let sentence = match sentence {
            Some(Sentence::Other) => {
                self.counts.other += 1;
                return None;
            }
            Some(sentence) => sentence,
            None => {
                self.counts.malformed += 1;
                return None;
            }
        };
        match timing(&sentence) {
            Timing::At(time) => {
                self.counts.used += 1;
                let mut completed = None;
                match &mut self.open {
                    Some(Open::Sentences(open)) if open.time == time => {
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

    fn report(&mut self, report: Option<Report>, arrival: Elapsed, wall: UtcMs) -> Option<Epoch> {
        match report {
            None => self.counts.malformed += 1,
            Some(Report::Other) => self.counts.other += 1,
            Some(Report::Sky(sky)) => {
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
            Some(Report::Tpv(tpv)) => {
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
    /// At a time of day.
    At(DayTime),
    /// It should carry a time and does not.
    Untimed,
    /// Its kind carries none.
    Whenever,
}

fn timing(sentence: &Sentence) -> Timing {
    let time = match sentence {
        Sentence::Gga(gga) => gga.time,
        Sentence::Gns(gns) => gns.time,
        Sentence::Gll(gll) => gll.time,
        Sentence::Gst(gst) => gst.time,
        Sentence::Rmc(rmc) => rmc.time,
        Sentence::Zda(zda) => zda.time,
        Sentence::Gsa(_) | Sentence::Vtg(_) | Sentence::Other => return Timing::Whenever,
    };
    time.map_or(Timing::Untimed, Timing::At)
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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::{
        ground::{Position, separation},
        units::{Degrees, MetresPerSecond},
        wire::nmea::write::{Report, gga, gsa, gst, rmc, vtg},
    };

    const START: UtcMs = UtcMs(1_777_723_200_000);

    fn report(second: i64, lat: f64, lon: f64) -> Report {
        Report {
            utc: UtcMs(START.0 + second * 1000),
            position: Position::new(Degrees(lat), Degrees(lon)).ok(),
            quality: 1,
            sats: 9,
            hdop: 0.9,
            alt_m: Some(61.2),
            geoid_m: Some(48.9),
            speed: MetresPerSecond(1.2),
            course: Some(Degrees(84.4)),
            sigma_m: Some([1.2, 0.9, 2.5]),
        }
    }

    fn whole_epoch(sent: &Report) -> [String; 5] {
        [
            rmc("GN", sent),
            vtg("GN", sent),
            gga("GN", sent),
            gsa("GN", sent, &[4, 5]),
            gst("GN", sent),
        ]
    }

    #[test]
    fn an_epoch_is_open_until_another_time_comes() {
        let mut reader = EpochReader::new();
        assert_eq!((reader.open(), reader.finish()), (None, None));
        let first = report(0, 52.1, -2.9);
        assert_eq!(reader.feed(gst("GN", &first).as_bytes(), Elapsed(100), START), []);
        assert_eq!(reader.open(), None, "an error without a position is no epoch");
        assert_eq!(reader.feed(rmc("GN", &first).as_bytes(), Elapsed(200), START), []);
        let open = reader.open().unwrap();
        assert_eq!((open.utc, open.arrival, open.wall), (first.utc, Elapsed(100), START));
        assert_eq!(open.fix.as_ref().unwrap().alt_m, None);
        assert_eq!(reader.feed(gga("GN", &first).as_bytes(), Elapsed(300), START), []);
        let completed = reader.feed(gga("GN", &report(1, 52.1, -2.9)).as_bytes(), Elapsed(1_000_000), START);
        assert_eq!(completed.len(), 1);
        assert_eq!(completed[0].arrival, Elapsed(100));
        assert_eq!(completed[0].fix.as_ref().unwrap().alt_m, Some(61.2));
        assert_eq!(reader.finish().unwrap().arrival, Elapsed(1_000_000));
        assert_eq!(reader.open(), None);
    }

    #[test]
    fn a_time_without_a_position_is_no_epoch() {
        let mut reader = EpochReader::new();
        reader.feed(gga("GN", &report(0, 52.1, -2.9)).as_bytes(), Elapsed(0), START);
        let zda = crate::wire::nmea::write::sentence("GNZDA,120000.500,02,05,2026,00,00");
        assert_eq!(reader.feed(zda.as_bytes(), Elapsed(500_000), START).len(), 1);
        assert_eq!(
            reader.feed(gga("GN", &report(1, 52.1, -2.9)).as_bytes(), Elapsed(1_000_000), START),
            []
        );
    }

    #[test]
    fn old_satellites_are_forgotten() {
        let mut reader = EpochReader::new();
        let tpv = |second: u64| {
            format!(
                "{{\"class\":\"TPV\",\"mode\":3,\"time\":\"2026-05-02T12:00:{second:02}.000Z\",\"lat\":52.1,\"lon\":-2.9}}"
            )
        };
        reader.feed(br#"{"class":"SKY","hdop":1.2,"uSat":8}"#, Elapsed(0), START);
        reader.feed(tpv(1).as_bytes(), Elapsed(1_000_000), START);
        let fresh = reader.open().unwrap().fix.unwrap();
        assert_eq!((fresh.sats, fresh.hdop), (Some(8), Some(1.2)));
        reader.feed(tpv(11).as_bytes(), Elapsed(11_000_000), START);
        let old = reader.open().unwrap().fix.unwrap();
        assert_eq!((old.sats, old.hdop, old.sigma), (None, None, None));
    }

    proptest! {
        #[test]
        fn what_a_receiver_writes_is_what_is_read(
            lat in -90.0..=90.0, lon in -180.0..=180.0,
            alt in -400.0..=9000.0, speed in 0.0..=60.0, course in 0.0..360.0,
            sigma in (0.01..=50.0, 0.01..=50.0),
        ) {
            let sent = Report {
                alt_m: Some(alt),
                speed: MetresPerSecond(speed),
                course: Some(Degrees(course)),
                sigma_m: Some([sigma.0, sigma.1, 1.0]),
                ..report(0, lat, lon)
            };
            let mut reader = EpochReader::new();
            for line in whole_epoch(&sent) {
                prop_assert_eq!(reader.feed(line.as_bytes(), Elapsed(0), START), []);
            }
            let read = reader.finish().unwrap();
            prop_assert_eq!(read.utc, sent.utc);
            let fix = read.fix.unwrap();
            let off = separation(fix.position, sent.position.unwrap()).distance.0;
            prop_assert!(off < 0.002, "{} m", off);
            prop_assert!((fix.alt_m.unwrap() - alt).abs() <= 0.0501);
            prop_assert!((fix.speed_mps.unwrap() - speed).abs() <= 0.0003);
            prop_assert!((fix.course_deg.unwrap() - course).abs().min(360.0 - course) <= 0.0051);
            let expected = sigma.0.hypot(sigma.1) / std::f64::consts::SQRT_2;
            prop_assert!((fix.sigma.unwrap().0 - expected).abs() <= 0.0051);
            prop_assert_eq!((fix.quality, fix.sats, fix.hdop, fix.three_d), (Some(1), Some(9), Some(0.9), Some(true)));
        }

        #[test]
        fn another_reader_finds_the_same_places(lat in -89.99..=89.99, lon in -179.99..=179.99) {
            let line = gga("GP", &report(0, lat, lon));
            let Ok(nmea::ParseResult::GGA(theirs)) = nmea::parse_str(&line) else { panic!("{line}") };
            let mut reader = EpochReader::new();
            reader.feed(line.as_bytes(), Elapsed(0), START);
            let ours = reader.finish().unwrap().fix.unwrap().position;
            prop_assert!((theirs.latitude.unwrap() - ours.lat().0).abs() < 1e-12);
            prop_assert!((theirs.longitude.unwrap() - ours.lon().0).abs() < 1e-12);
        }

        #[test]
        fn any_lines_are_read_or_counted(
            lines in prop::collection::vec(any::<Vec<u8>>(), 0..8), arrival: u64, wall: i64,
        ) {
            let mut reader = EpochReader::new();
            for line in lines {
                reader.feed(&line, Elapsed(arrival), UtcMs(wall));
            }
            reader.finish();
        }

        #[test]
        fn damaged_sentences_are_read_or_counted(
            second in 0_i64..3, flips in prop::collection::vec((0_usize..80, any::<u8>()), 0..4),
            resum: bool, wall: i64,
        ) {
            let mut reader = EpochReader::new();
            let sent = report(second, 52.1, -2.9);
            for line in whole_epoch(&sent) {
                let mut bytes = line.into_bytes();
                for &(at, byte) in &flips {
                    if let Some(old) = bytes.get_mut(at) {
                        *old = byte;
                    }
                }
                // With its checksum made good again, the damage reaches the fields.
                if resum && let Some(star) = bytes.iter().rposition(|&byte| byte == b'*') {
                    let sum = crate::wire::pairs::exclusive_or(bytes.get(1..star).unwrap_or_default());
                    bytes.truncate(star);
                    bytes.extend_from_slice(format!("*{sum:02X}").as_bytes());
                }
                for epoch in reader.feed(&bytes, Elapsed(0), UtcMs(wall)) {
                    prop_assert!(epoch.fix.is_none() != epoch.refused.is_none());
                }
            }
        }
    }
}
