//! What one understood line says, as values.
//!
//! Text values are visible text: control, format and separator characters, bytes that are no UTF-8 and backslashes were
//! escaped when the line was read (see [`super::visible`]), so that nothing from outside reaches a terminal or a file raw.

#![expect(
    missing_docs,
    reason = "the fields of a variant are the keys of the line it stands for"
)]

use crate::units::{Db, Dbm, Degrees, Elapsed, Megahertz, UtcMs};

/// A line of a node (or of the firmware's boot noise), after reading.
#[derive(Clone, Debug, PartialEq)]
pub enum NodeLine {
    /// A record of the node. `checksummed`: the line carried a checksum, and it matched.
    Record { record: NodeRecord, checksummed: bool },
    /// A well-formed or free line with a record word that is not known: counted, ignored.
    Unknown,
    /// Nothing but white space.
    Blank,
}

/// A record a node prints.
#[derive(Clone, Debug, PartialEq)]
pub enum NodeRecord {
    /// Who is speaking.
    Hello(Hello),
    /// A ping was answered.
    Echo(Echo),
    /// A ping was not answered in time.
    Lost(Lost),
    /// Free text.
    Note { text: String },
}

/// Who is speaking: printed at start and, if possible, every ten seconds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hello {
    /// The board's name; never empty.
    pub board: String,
    /// Its count of starts.
    pub boot: Option<u64>,
    /// Firmware, as it names itself.
    pub fw: Option<String>,
    /// `802.11`, `802.15.4`, `ble` or another word.
    pub radio: Option<String>,
    /// Channel number in the radio's own plan.
    pub chan: Option<u32>,
    /// Centre frequency.
    pub mhz: Option<Megahertz>,
    /// Transmit power.
    pub tx: Option<Dbm>,
    /// Pings a second; positive.
    pub rate: Option<f64>,
    /// Modulus of `n`; at least 2.
    pub wrap: Option<u64>,
    /// Whether this is the reference board.
    pub reference: Option<bool>,
}

/// Ping number `n` was answered.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Echo {
    /// The ping's number, as printed (not unwrapped).
    pub n: u64,
    /// The station as this board heard it.
    pub here: Option<Dbm>,
    /// This board as the station heard it.
    pub there: Option<Dbm>,
    /// Round trip, microseconds.
    pub rtt_us: Option<u64>,
    /// Pings of this boot the station has heard so far, this one included.
    pub heard: Option<u64>,
    /// Channel number.
    pub chan: Option<u32>,
    /// Signal to noise.
    pub snr: Option<Db>,
    /// Noise floor.
    pub noise: Option<Dbm>,
    /// Tries the radio needed.
    pub tries: Option<u32>,
    /// A board named on this line (only through a pattern of the set-up).
    pub board: Option<String>,
    /// A boot named on this line (only through a pattern of the set-up).
    pub boot: Option<u64>,
}

/// Ping number `n` was not answered in time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Lost {
    /// The ping's number, as printed.
    pub n: u64,
    /// Channel number.
    pub chan: Option<u32>,
    /// A board named on this line (only through a pattern of the set-up).
    pub board: Option<String>,
    /// A boot named on this line (only through a pattern of the set-up).
    pub boot: Option<u64>,
}

/// What the person did.
#[derive(Clone, Debug, PartialEq)]
pub enum SurveyorRecord {
    /// Walking from here on; ends a point or sweep.
    Walk,
    /// Standing still from here on.
    Point {
        name: Option<String>,
        messages: Option<u32>,
    },
    /// A sweep begins at this point.
    Sweep {
        name: Option<String>,
        pose: Option<String>,
        steps: Option<u32>,
        messages: Option<u32>,
    },
    /// The board is steady at this turn.
    Turn { deg: Degrees },
    /// The board is being moved.
    Turning,
    /// The board in hand, where its lines do not say.
    Board { name: String, reference: Option<bool> },
    /// A note at this place and time.
    Mark { text: String },
    /// Exchanges from here on are kept but not counted.
    Pause,
    /// Counting again.
    Resume,
    /// The step or point just measured is measured anew.
    Again,
    /// The survey ends.
    Finish,
}

/// What became of a source.
#[derive(Clone, Debug, PartialEq)]
pub enum GearRecord {
    /// It can be read again.
    Up {
        source: GearSource,
        address: Option<String>,
    },
    /// It cannot be read.
    Down { source: GearSource, why: Option<String> },
}

/// Which of the two sources.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum GearSource {
    /// The node.
    Node,
    /// The GPS receiver.
    Gps,
}

/// Why a line of a known record was not used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Malformed {
    /// A checksum stands on the line and does not match.
    #[error("checksum *{given:02X} does not match the line's own {found:02X}")]
    Checksum { given: u8, found: u8 },
    /// A word stands where `key=value` should.
    #[error("`{0}` stands where key=value should")]
    BareToken(String),
    /// A quoted value has no end.
    #[error("a quoted value has no closing quote")]
    OpenQuote,
    /// A value is not what its key needs.
    #[error("`{key}={value}` is not a value that {key} can have")]
    Value { key: &'static str, value: String },
    /// A key stands twice.
    #[error("`{0}` stands twice")]
    Twice(&'static str),
    /// A key that the record needs is missing.
    #[error("`{record}` lacks `{key}`")]
    Missing { record: &'static str, key: &'static str },
    /// The line begins as JSON and is none.
    #[error("the line is no JSON object")]
    Json,
    /// A JSON object holds more than one record.
    #[error("the JSON object holds more than one record: write each on a line of its own")]
    SeveralRecords,
    /// Bytes that are no text.
    #[error("the line is not text")]
    NotText,
}

/// One position report: all sentences of a receiver that carry the same time, or one TPV of a gpsd server.
///
/// `position` is `None` where the receiver says it has no fix. Nothing here has been judged for plausibility.
#[derive(Clone, Debug, PartialEq)]
pub struct Epoch {
    /// UTC of the epoch. The date is the receiver's, or, where it names none, the one that puts it nearest to the
    /// computer's clock; a date exactly 1024 weeks off the computer's is brought back.
    pub utc: UtcMs,
    /// When the first line that carried this time arrived.
    pub arrival: Elapsed,
    /// The computer's clock at that arrival.
    pub wall: UtcMs,
    /// The fix, where there is one.
    pub fix: Option<EpochFix>,
    /// Why a position that stood on a line is not used.
    pub refused: Option<NoFix>,
}

/// The fix of an epoch.
#[derive(Clone, Debug, PartialEq)]
pub struct EpochFix {
    /// Where.
    pub position: crate::ground::Position,
    /// Above mean sea level, metres.
    pub alt_m: Option<f64>,
    /// One-sigma horizontal error per axis, metres, and where it is from.
    pub sigma: Option<(f64, SigmaFrom)>,
    /// GGA's quality number, or its equal (`None` where unknown).
    pub quality: Option<u8>,
    /// Satellites used.
    pub sats: Option<u32>,
    /// Horizontal dilution of precision.
    pub hdop: Option<f64>,
    /// Over ground, metres a second, from RMC, VTG or TPV.
    pub speed_mps: Option<f64>,
    /// True course over ground, degrees, 0 to below 360; as received, at any speed.
    pub course_deg: Option<f64>,
    /// Whether a height belongs to the fix: 3-D true, 2-D false, `None` where the receiver does not say.
    pub three_d: Option<bool>,
}

/// What a sigma was computed from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SigmaFrom {
    /// GST: root of the summed squares of both axes over √2.
    Gst,
    /// gpsd's `eph` over 2.45 (taken as a 95 % radius).
    Eph,
    /// HDOP × 4 m over √2.
    Hdop,
}

impl SigmaFrom {
    /// The word in `samples.csv`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Gst => "gst",
            Self::Eph => "eph",
            Self::Hdop => "hdop",
        }
    }
}

/// Why an epoch's position was refused before its plausibility was judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum NoFix {
    /// The receiver says that it has no fix (void, quality 0, mode N).
    Void,
    /// Quality 8 or mode S: a simulator.
    Simulator,
    /// Quality 7 or mode M: entered by hand.
    Manual,
    /// Quality 6 or mode E: dead reckoning, whose error nobody knows.
    Estimated,
    /// No sentence says in a way that is known whether there is a fix.
    Unsaid,
    /// The sentences of the epoch differ by more than 100 m.
    Disagree,
}
