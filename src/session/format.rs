//! The names, columns and version of a survey's files: the one place that knows them.

/// The version of the formats, as `survey.toml` says it.
pub const VERSION: i64 = 1;

/// The set-up: people may edit it and rebuild the rest.
pub const SETUP: &str = "survey.toml";
/// Every line received: the only file that cannot be rebuilt.
pub const JOURNAL: &str = "journal.csv";
/// A row for each exchange.
pub const SAMPLES: &str = "samples.csv";
/// A row for each point and sweep step.
pub const POINTS: &str = "points.csv";
/// What is put behind the name of a table that is kept beside a shorter one.
pub const BEFORE: &str = "before";
/// The torn end of a journal whose writing was cut off, set aside when the survey goes on.
pub const TORN: &str = "journal.torn";

/// The columns of `journal.csv`.
pub const JOURNAL_COLUMNS: [&str; 4] = ["elapsed_s", "time_utc", "source", "line"];

/// The columns of `samples.csv`, in order; the last is empty where a row counts.
pub const SAMPLE_COLUMNS: [&str; 29] = [
    "time_utc",
    "elapsed_s",
    "board",
    "boot",
    "run",
    "n",
    "outcome",
    "here_dbm",
    "there_dbm",
    "rtt_us",
    "channel",
    "heard",
    "lat_deg",
    "lon_deg",
    "alt_m",
    "sigma_m",
    "sigma_from",
    "fix",
    "sats",
    "hdop",
    "speed_mps",
    "course_deg",
    "distance_m",
    "bearing_deg",
    "activity",
    "point",
    "pose",
    "turn_deg",
    "excluded",
];

/// The columns of `points.csv` that the contract names, in order; further ones may follow.
pub const POINT_COLUMNS: [&str; 21] = [
    "point",
    "activity",
    "pose",
    "turn_deg",
    "board",
    "boot",
    "run",
    "begin_utc",
    "messages",
    "delivered",
    "rate",
    "rate_low",
    "rate_high",
    "here_dbm",
    "there_dbm",
    "lat_deg",
    "lon_deg",
    "sigma_m",
    "distance_m",
    "bearing_deg",
    "verdict",
];
