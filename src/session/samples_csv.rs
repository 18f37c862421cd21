//! `samples.csv`: a row for each exchange, written and read by one list of columns.

use std::io::{self, Write};
use std::ops::Range;

use thiserror::Error;

use super::format::SAMPLE_COLUMNS;
use super::numbers::{angle, fixed, level, seconds_3, shortest, whole};
use crate::ground::Position;
use crate::survey::exchange::Heard;
use crate::survey::fixes::Facts;
use crate::survey::sample::{Activity, BootName, Excluded, Place, Sample, Samples};
use crate::units::{Degrees, Metres, UtcMs};
use crate::wire::{SigmaFrom, visible};

/// Below this speed over ground, metres a second, a course says nothing.
const COURSE_FROM_MPS: f64 = 0.4;

/// Writes the header and a row for each exchange.
///
/// # Errors
/// When `out` does not take them.
pub fn write(samples: &Samples, mut out: impl Write) -> io::Result<()> {
    write_header(&mut out)?;
    write_rows(samples, 0..samples.rows.len(), out)
}

/// Writes the header.
///
/// # Errors
/// When `out` does not take it.
pub fn write_header(mut out: impl Write) -> io::Result<()> {
    writeln!(out, "{}", SAMPLE_COLUMNS.join(","))
}

/// Writes some of the rows, as they stand in the table.
///
/// # Errors
/// When `out` does not take them.
pub fn write_rows(samples: &Samples, rows: Range<usize>, out: impl Write) -> io::Result<()> {
    let mut table = csv::WriterBuilder::new()
        .terminator(csv::Terminator::Any(b'\n'))
        .from_writer(out);
    let boards: Vec<String> = samples
        .boots
        .iter()
        .map(|boot| visible::guard(&boot.board).into_owned())
        .collect();
    let points: Vec<String> = samples
        .points
        .iter()
        .map(|name| visible::guard(name).into_owned())
        .collect();
    let poses: Vec<String> = samples
        .poses
        .iter()
        .map(|name| visible::guard(name).into_owned())
        .collect();
    let mut cell = String::new();
    for row in &samples.rows[rows] {
        let mut put = |write: &dyn Fn(&mut String)| {
            cell.clear();
            write(&mut cell);
            table.write_field(&cell)
        };
        let facts = row.place.map(|place| samples.facts(&place));
        let course = facts.filter(|facts| facts.speed_mps.is_some_and(|speed| speed >= COURSE_FROM_MPS));
        let (pose, turn) = match row.activity {
            Activity::Sweep { pose, turn, .. } => (pose, turn),
            Activity::Walk | Activity::Point(_) => (None, None),
        };
        put(&|out| row.utc.push_rfc3339(out).unwrap_or_default())?;
        put(&|out| seconds_3(out, row.at))?;
        put(&|out| out.push_str(&boards[row.boot as usize]))?;
        put(&|out| whole(out, Some(samples.boots[row.boot as usize].boot)))?;
        put(&|out| whole(out, Some(u64::from(row.run))))?;
        put(&|out| whole(out, Some(row.n)))?;
        put(&|out| out.push_str(if row.delivered() { "echo" } else { "lost" }))?;
        put(&|out| level(out, row.here()))?;
        put(&|out| level(out, row.there()))?;
        put(&|out| whole(out, row.echo.and_then(|heard| heard.rtt_us)))?;
        put(&|out| whole(out, row.channel.map(u64::from)))?;
        put(&|out| whole(out, row.echo.and_then(|heard| heard.heard)))?;
        put(&|out| fixed(out, row.place.map(|place| place.position.lat().0), 8))?;
        put(&|out| fixed(out, row.place.map(|place| place.position.lon().0), 8))?;
        put(&|out| shortest(out, facts.and_then(|facts| facts.alt_m)))?;
        put(&|out| fixed(out, facts.and_then(|facts| facts.sigma).map(|(sigma, _)| sigma), 3))?;
        put(&|out| out.push_str(facts.and_then(|facts| facts.sigma).map_or("", |(_, from)| from.word())))?;
        put(&|out| whole(out, facts.and_then(|facts| facts.quality).map(u64::from)))?;
        put(&|out| whole(out, facts.and_then(|facts| facts.sats).map(u64::from)))?;
        put(&|out| shortest(out, facts.and_then(|facts| facts.hdop)))?;
        put(&|out| fixed(out, facts.and_then(|facts| facts.speed_mps), 2))?;
        put(&|out| angle(out, course.and_then(|facts| facts.course_deg), 1))?;
        put(&|out| fixed(out, row.distance().map(|distance| distance.0), 2))?;
        put(&|out| {
            angle(
                out,
                row.place.and_then(|place| place.bearing).map(|bearing| bearing.0),
                1,
            );
        })?;
        put(&|out| out.push_str(row.activity.word()))?;
        put(&|out| out.push_str(row.activity.point().map_or("", |point| &points[point as usize])))?;
        put(&|out| out.push_str(pose.map_or("", |pose| &poses[pose as usize])))?;
        put(&|out| shortest(out, turn.map(|turn| turn.0)))?;
        put(&|out| out.push_str(row.excluded.map_or("", Excluded::word)))?;
        table.write_record(None::<&[u8]>)?;
    }
    table.flush()
}

/// Why a `samples.csv` cannot be used.
#[derive(Debug, Error)]
pub enum SamplesError {
    /// A column is missing.
    #[error("the column `{0}` is missing: is this a samples.csv?")]
    Column(&'static str),
    /// It is no CSV.
    #[error("it cannot be read as CSV: {0}")]
    Csv(#[from] csv::Error),
    /// It cannot be read.
    #[error(transparent)]
    Io(#[from] io::Error),
}

/// Rows read back, and the ones that could not be.
#[derive(Debug)]
pub struct ReadBack {
    /// The rows.
    pub samples: Samples,
    /// Rows that cannot be read: line number in the file and which column is to blame.
    pub unreadable: Vec<(u64, &'static str)>,
}

/// Reads rows back from the text of a `samples.csv`. Rows that cannot be read are reported, never fatal.
///
/// # Errors
/// When columns are missing or the text is no CSV.
pub fn read(bytes: &[u8]) -> Result<ReadBack, SamplesError> {
    let mut table = csv::ReaderBuilder::new().flexible(true).from_reader(bytes);
    let headers = table.byte_headers()?.clone();
    let mut columns = [0; SAMPLE_COLUMNS.len()];
    for (index, name) in SAMPLE_COLUMNS.into_iter().enumerate() {
        let found = headers
            .iter()
            .position(|header| header.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(header) == name.as_bytes());
        columns[index] = found.ok_or(SamplesError::Column(name))?;
    }
    let mut back = ReadBack {
        samples: Samples::default(),
        unreadable: Vec::new(),
    };
    let mut steps = Steps::default();
    let mut record = csv::ByteRecord::new();
    while table.read_byte_record(&mut record)? {
        let line = record.position().map_or(0, csv::Position::line);
        let cells = Cells {
            record: &record,
            columns: &columns,
        };
        match cells.sample(&mut back.samples, &mut steps) {
            Ok(sample) => back.samples.rows.push(sample),
            Err(column) => back.unreadable.push((line, column)),
        }
    }
    Ok(back)
}

/// Tells the steps of a sweep apart where only their turns are known.
#[derive(Default)]
struct Steps {
    last: Option<(u32, u32, f64)>,
    count: u32,
}

impl Steps {
    fn ordinal(&mut self, run: u32, point: u32, turn: Option<Degrees>) -> u32 {
        let Some(turn) = turn else {
            self.last = None;
            return 0;
        };
        let step = (run, point, turn.0);
        if self.last != Some(step) {
            self.last = Some(step);
            self.count += 1;
        }
        self.count
    }
}

struct Cells<'a> {
    record: &'a csv::ByteRecord,
    columns: &'a [usize; SAMPLE_COLUMNS.len()],
}

impl Cells<'_> {
    fn text(&self, column: usize) -> Result<&str, &'static str> {
        let bytes = self.record.get(self.columns[column]).unwrap_or_default();
        std::str::from_utf8(bytes).map_err(|_| SAMPLE_COLUMNS[column])
    }

    fn maybe<T: std::str::FromStr>(&self, column: usize) -> Result<Option<T>, &'static str> {
        let text = self.text(column)?;
        if text.is_empty() {
            Ok(None)
        } else {
            text.parse().map(Some).map_err(|_| SAMPLE_COLUMNS[column])
        }
    }

    fn real(&self, column: usize) -> Result<Option<f64>, &'static str> {
        let number = self.maybe::<f64>(column)?;
        if number.is_some_and(|number| !number.is_finite()) {
            Err(SAMPLE_COLUMNS[column])
        } else {
            Ok(number)
        }
    }

    fn must<T: std::str::FromStr>(&self, column: usize) -> Result<T, &'static str> {
        self.maybe(column)?.ok_or(SAMPLE_COLUMNS[column])
    }

    fn name(&self, column: usize) -> Result<String, &'static str> {
        Ok(visible::unguard(self.text(column)?).to_owned())
    }

    fn sample(&self, samples: &mut Samples, steps: &mut Steps) -> Result<Sample, &'static str> {
        let utc = UtcMs::parse(self.text(0)?).ok_or(SAMPLE_COLUMNS[0])?;
        let at = super::numbers::read_seconds(self.text(1)?).ok_or(SAMPLE_COLUMNS[1])?;
        let boot = BootName {
            board: self.name(2)?,
            boot: self.must(3)?,
        };
        let run: u32 = self.must(4)?;
        let echo = match self.text(6)? {
            "echo" => Some(Heard {
                here: self.maybe(7)?,
                there: self.maybe(8)?,
                rtt_us: self.maybe(9)?,
                heard: self.maybe(11)?,
            }),
            "lost" => None,
            _ => return Err(SAMPLE_COLUMNS[6]),
        };
        let place = self.place(samples)?;
        let activity = match self.text(24)? {
            "walk" => Activity::Walk,
            "point" => Activity::Point(Samples::intern(&mut samples.points, &self.name(25)?)),
            "sweep" => {
                let point = Samples::intern(&mut samples.points, &self.name(25)?);
                let pose = self.name(26)?;
                let turn = self.real(27)?.map(Degrees);
                Activity::Sweep {
                    point,
                    pose: (!pose.is_empty()).then(|| Samples::intern(&mut samples.poses, &pose)),
                    turn,
                    step: steps.ordinal(run, point, turn),
                }
            }
            _ => return Err(SAMPLE_COLUMNS[24]),
        };
        let excluded = match self.text(28)? {
            "" => None,
            word => Some(Excluded::from_word(word).ok_or(SAMPLE_COLUMNS[28])?),
        };
        let boot_index = samples
            .boots
            .iter()
            .rposition(|known| *known == boot)
            .unwrap_or_else(|| {
                samples.boots.push(boot);
                samples.boots.len() - 1
            });
        Ok(Sample {
            utc,
            at,
            boot: boot_index as u32,
            run,
            n: self.must(5)?,
            echo,
            channel: self.maybe(10)?,
            place,
            activity,
            excluded,
        })
    }

    fn place(&self, samples: &mut Samples) -> Result<Option<Place>, &'static str> {
        let (Some(lat), Some(lon)) = (self.real(12)?, self.real(13)?) else {
            return Ok(None);
        };
        let position = Position::new(Degrees(lat), Degrees(lon)).map_err(|_| SAMPLE_COLUMNS[12])?;
        let from = match self.text(16)? {
            "gst" => Some(SigmaFrom::Gst),
            "eph" => Some(SigmaFrom::Eph),
            "hdop" => Some(SigmaFrom::Hdop),
            "" => None,
            _ => return Err(SAMPLE_COLUMNS[16]),
        };
        let facts = Facts {
            alt_m: self.real(14)?,
            sigma: self.real(15)?.zip(from),
            quality: self.maybe(17)?,
            sats: self.maybe(18)?,
            hdop: self.real(19)?,
            speed_mps: self.real(20)?,
            course_deg: self.real(21)?,
        };
        if samples.facts.last() != Some(&facts) {
            samples.facts.push(facts);
        }
        Ok(Some(Place {
            position,
            facts: samples.facts.len() as u32 - 1,
            distance: self.real(22)?.map(Metres),
            bearing: self.real(23)?.map(Degrees),
        }))
    }
}
