//! What the sentences of one moment say together.

use super::calendar::{Calendar, Dated};
use crate::{
    ground::{Position, separation},
    units::{Elapsed, UtcMs},
    wire::{
        Epoch, EpochFix, NoFix, SigmaFrom,
        nmea::{
            Sentence,
            fields::{Day, DayTime, Place},
            gga::Gga,
            gns::Gns,
            state::{State, quality_of_modes},
        },
    },
};

/// Sentences of one moment further apart than this, in metres, are damaged or not of one receiver.
const MOST_APART_M: f64 = 100.0;

/// Different positions kept of one moment; a receiver sends one, in up to four sentences.
const MOST_PLACES: usize = 16;

/// The horizontal error of a receiver at HDOP 1, metres: common practice for single-frequency receivers under open sky.
const METRES_PER_HDOP: f64 = 4.0;

/// The sentences of one moment, gathered.
#[derive(Clone, Debug)]
pub(super) struct Evidence {
    pub(super) time: DayTime,
    days: Vec<Day>,
    arrival: Elapsed,
    wall: UtcMs,
    /// Whether any sentence spoke of a position, or of having none.
    spoken: bool,
    none: Option<NoFix>,
    places: Vec<(Rank, Place)>,
    gga: Option<Gga>,
    gns: Option<Gns>,
    rmc_motion: Motion,
    vtg_motion: Motion,
    sigma_m: Option<f64>,
    gsa_hdop: Option<f64>,
    gsa_sats: Option<u32>,
    three_d: Option<bool>,
}

/// Speed over ground, metres a second, and true course, degrees.
type Motion = (Option<f64>, Option<f64>);

/// Which of the positions of a moment is taken: that with the most digits, then that of the fuller sentence.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Rank {
    digits: usize,
    fullness: u8,
}

impl Evidence {
    /// Nothing yet of a moment whose first line arrived now.
    pub(super) fn new(time: DayTime, arrival: Elapsed, wall: UtcMs) -> Self {
        Self {
            time,
            days: Vec::new(),
            arrival,
            wall,
            spoken: false,
            none: None,
            places: Vec::new(),
            gga: None,
            gns: None,
            rmc_motion: (None, None),
            vtg_motion: (None, None),
            sigma_m: None,
            gsa_hdop: None,
            gsa_sats: None,
            three_d: None,
        }
    }

    /// Adds a sentence of this moment, or one without a time.
    pub(super) fn add(&mut self, sentence: Sentence) {
        match sentence {
            Sentence::Gga(gga) => {
                self.position(gga.state, gga.place, 3);
                self.gga = Some(gga);
            }
            Sentence::Gns(gns) => {
                self.position(gns.state, gns.place, 2);
                self.gns = Some(gns);
            }
            Sentence::Rmc(rmc) => {
                self.position(rmc.state, rmc.place, 1);
                self.days.extend(rmc.day);
                self.rmc_motion = (rmc.speed_mps, rmc.course_deg);
            }
            Sentence::Gll(gll) => self.position(gll.state, gll.place, 0),
            Sentence::Zda(zda) => self.days.extend(zda.day),
            Sentence::Gst(gst) => self.sigma_m = gst.sigma_m(),
            Sentence::Vtg(vtg) => self.vtg_motion = (vtg.speed_mps, vtg.course_deg),
            Sentence::Gsa(gsa) => {
                self.gsa_hdop = gsa.hdop.or(self.gsa_hdop);
                self.gsa_sats = Some(self.gsa_sats.unwrap_or(0).saturating_add(gsa.sats as u32));
                self.three_d = match gsa.dimension {
                    Some(3) => Some(true),
                    Some(2) => self.three_d.or(Some(false)),
                    _ => self.three_d,
                };
            }
            Sentence::Other => {}
        }
        self.days.dedup();
    }

    /// The moment on the calendar.
    pub(super) fn moment(&self, calendar: &Calendar) -> Dated {
        calendar.moment(self.time, &self.days, self.wall)
    }

    /// The moment as an epoch; `None` when no sentence spoke of a position.
    pub(super) fn epoch(&self, calendar: &Calendar) -> Option<Epoch> {
        if !self.spoken {
            return None;
        }
        let (fix, refused) = match self.place() {
            Ok(position) => (Some(self.fix(position)), None),
            Err(why) => (None, Some(why)),
        };
        Some(Epoch {
            utc: self.moment(calendar).utc,
            arrival: self.arrival,
            wall: self.wall,
            fix,
            refused,
        })
    }

    fn position(&mut self, state: State, place: Option<Place>, fullness: u8) {
        self.spoken = true;
        // Why there is no fix says more than that there is none.
        if let (State::None(why), None | Some(NoFix::Void)) = (state, self.none) {
            self.none = Some(why);
        }
        let (State::Fix, Some(place)) = (state, place) else {
            return;
        };
        let rank = Rank {
            digits: place.digits,
            fullness,
        };
        let room = self.places.len() < MOST_PLACES;
        match self
            .places
            .iter_mut()
            .find(|(_, other)| other.position == place.position)
        {
            Some(other) => other.0 = other.0.max(rank),
            None if room => self.places.push((rank, place)),
            None => {}
        }
    }

    /// The position of the moment. One sentence that says there is none outweighs any that say there is one.
    fn place(&self) -> Result<Position, NoFix> {
        if let Some(why) = self.none {
            return Err(why);
        }
        let (_, best) = self.places.iter().max_by_key(|(rank, _)| *rank).ok_or(NoFix::Unsaid)?;
        let apart = |(at, (_, place)): (usize, &(Rank, Place))| {
            self.places[..at]
                .iter()
                .any(|(_, other)| disagree(other.position, place.position))
        };
        if self.places.iter().enumerate().any(apart) {
            return Err(NoFix::Disagree);
        }
        Ok(best.position)
    }

    fn fix(&self, position: Position) -> EpochFix {
        let gga = self.gga.as_ref();
        let gns = self.gns.as_ref();
        let vouched = gga.filter(|gga| gga.state == State::Fix);
        let hdop = gga
            .and_then(|gga| gga.hdop)
            .or(gns.and_then(|gns| gns.hdop))
            .or(self.gsa_hdop);
        EpochFix {
            position,
            alt_m: vouched.and_then(|gga| gga.alt_m).or(gns.and_then(|gns| gns.alt_m)),
            sigma: self
                .sigma_m
                .map(|sigma| (sigma, SigmaFrom::Gst))
                .or(hdop.map(sigma_of_hdop)),
            quality: vouched
                .and_then(|gga| gga.quality)
                .map(|quality| quality as u8)
                .or(gns.and_then(|gns| quality_of_modes(&gns.modes)))
                .or(Some(1)),
            sats: gga
                .and_then(|gga| gga.sats)
                .or(gns.and_then(|gns| gns.sats))
                .or(self.gsa_sats),
            hdop,
            speed_mps: self.rmc_motion.0.or(self.vtg_motion.0),
            course_deg: self.rmc_motion.1.or(self.vtg_motion.1),
            three_d: self.three_d,
        }
    }
}

/// The one-sigma error per axis that an HDOP stands for.
pub(super) fn sigma_of_hdop(hdop: f64) -> (f64, SigmaFrom) {
    (hdop * METRES_PER_HDOP / std::f64::consts::SQRT_2, SigmaFrom::Hdop)
}

/// Whether two positions of one moment are too far apart to be one.
pub(super) fn disagree(one: Position, other: Position) -> bool {
    separation(one, other).distance.0 > MOST_APART_M
}
