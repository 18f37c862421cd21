//! What a source tells: its lines, and what becomes of it.

/// What a source is there for: a plain label, handed back with everything it tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Role {
    /// The carried board.
    Node,
    /// The positioning receiver.
    Gps,
    /// The surveyor's own records, fed in as lines.
    Surveyor,
}

/// When something was, by the caller's clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Stamp {
    /// Microseconds since the caller's beginning; never steps back.
    pub elapsed_us: u64,
    /// Milliseconds since 1970-01-01 UTC by the computer's clock, which may be set and so step.
    pub utc_ms: i64,
}

/// The clock that stamps lines; the caller lends it, so that this folder never reads one.
pub trait Clock: Send + Sync {
    /// The time now.
    fn now(&self) -> Stamp;
}

impl<F: Fn() -> Stamp + Send + Sync> Clock for F {
    fn now(&self) -> Stamp {
        self()
    }
}

/// One line as it came, without its line end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RawLine {
    /// The first bytes, at most as many as the source keeps (512; 16384 for gpsd).
    pub bytes: Vec<u8>,
    /// How many bytes past those the line had; 0 for nearly every line.
    pub left_out: usize,
    /// When the read came back that completed the line.
    pub stamp: Stamp,
}

/// What a source tells.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Happening {
    /// A line came; blank ones too.
    Line(RawLine),
    /// The source is open (again) from here on.
    Up {
        /// Where, in the form of [`super::Address`]: the speed that was found, the path a replugged device moved to.
        address: String,
    },
    /// The source broke; it is tried again without being told to.
    Down {
        /// In a few words: `unplugged`, `closed by the other end`.
        why: String,
    },
    /// A file or standard input is at its end, and nothing more will come.
    Ended,
    /// Something stands in the way, said once, with what to do; it is tried again (a file is not: [`Self::Ended`]
    /// follows).
    Trouble {
        /// A sentence for the surveyor.
        why: String,
    },
}
