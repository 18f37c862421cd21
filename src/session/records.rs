//! The records of a journal: its whole rows are cut out in pieces, and pieces may be read side by side.

use std::io::{self, BufRead as _, Read};

use super::numbers;
use crate::survey::{JournalLine, Source};
use crate::units::UtcMs;
use crate::wire::visible;

/// A piece holds about so many bytes: its rows and what they say stay near the processor that reads them.
const PIECE_BYTES: usize = 1 << 16;

/// The byte-order mark that some editors put before UTF-8.
const MARK: &[u8] = b"\xEF\xBB\xBF";

/// A journal cut into pieces of whole rows, one after the other: it need not fit into memory.
#[derive(Debug)]
pub struct Pieces<R> {
    input: R,
    /// What came behind the last whole row.
    rest: Vec<u8>,
    rows: usize,
    wall: UtcMs,
    whole_bytes: u64,
}

/// Some whole rows of a journal, and what reading them takes from those before.
#[derive(Debug)]
pub struct Piece {
    bytes: Vec<u8>,
    rows_before: usize,
    wall_before: UtcMs,
}

impl<R: Read> Pieces<R> {
    /// The pieces of the journal that `input` holds, its header first.
    pub fn of(input: R) -> Self {
        Self {
            input,
            rest: Vec::new(),
            rows: 0,
            wall: UtcMs::default(),
            whole_bytes: 0,
        }
    }

    /// Cuts out the next piece, into the memory of one that nobody needs any more; `None` once there are no more whole rows.
    ///
    /// # Errors
    /// When the journal cannot be read on.
    pub fn cut(&mut self, used: Vec<u8>) -> io::Result<Option<Piece>> {
        let mut bytes = used;
        bytes.clear();
        bytes.append(&mut self.rest);
        let whole = loop {
            let before = bytes.len();
            let more = self.input.by_ref().take(PIECE_BYTES as u64).read_to_end(&mut bytes)?;
            match whole_rows(&bytes[before..]) {
                0 if more > 0 => {}
                0 => {
                    self.rest = bytes;
                    return Ok(None);
                }
                whole => break before + whole,
            }
        };
        self.rest.extend_from_slice(&bytes[whole..]);
        bytes.truncate(whole);
        let piece = Piece {
            rows_before: self.rows,
            wall_before: self.wall,
            bytes,
        };
        self.rows += line_ends(&piece.bytes);
        self.wall = last_moment(&piece.bytes).unwrap_or(self.wall);
        self.whole_bytes += whole as u64;
        Ok(Some(piece))
    }

    /// Where the whole rows cut out so far end, bytes.
    pub fn whole_bytes(&self) -> u64 {
        self.whole_bytes
    }

    /// How many bytes a last record has that was cut off, if there is one; known once there are no more pieces.
    pub fn torn(&self) -> Option<usize> {
        (!self.rest.is_empty()).then_some(self.rest.len())
    }
}

impl Piece {
    /// Its records.
    pub fn records(&self) -> Records<'_> {
        Records {
            row: self.rows_before,
            wall: self.wall_before,
            ..Records::of(&self.bytes)
        }
    }

    /// Its memory, to be used again.
    pub fn into_bytes(self) -> Vec<u8> {
        self.bytes
    }
}

/// How many bytes of a journal are whole rows; what comes behind them was cut off.
pub fn whole_rows(bytes: &[u8]) -> usize {
    bytes.iter().rposition(|byte| *byte == b'\n').map_or(0, |last| last + 1)
}

/// How many line ends there are.
pub fn line_ends(bytes: &[u8]) -> usize {
    // In pieces whose count fits into a byte, processors count many bytes at once.
    let few = bytes.chunks(192);
    few.map(|few| usize::from(few.iter().fold(0, |ends, byte| ends + u8::from(*byte == b'\n'))))
        .sum()
}

/// What the computer's clock said at the last of some rows that tells.
fn last_moment(rows: &[u8]) -> Option<UtcMs> {
    let mut rows = rows.split_inclusive(|byte| *byte == b'\n').rev();
    let mut parser = Parser::new();
    rows.find_map(|row| Some(parser.line(row, None, Vec::new()).ok()?.wall))
}

/// The records of some whole rows, one after the other.
#[derive(Debug)]
pub struct Records<'a> {
    rest: &'a [u8],
    /// The number in the journal of the row read last.
    row: usize,
    wall: UtcMs,
    parser: Parser,
    spare: Vec<u8>,
}

impl<'a> Records<'a> {
    /// The records of a journal's whole rows, its header first.
    pub fn of(rows: &'a [u8]) -> Self {
        Self {
            rest: rows,
            row: 0,
            wall: UtcMs::default(),
            parser: Parser::new(),
            spare: Vec::new(),
        }
    }

    /// Takes back the bytes of a line that nobody needs any more, for the next.
    pub fn take_back(&mut self, used: Vec<u8>) {
        self.spare = used;
    }

    /// The next row, without what stands before a journal's first.
    fn advance(&mut self) -> Option<&'a [u8]> {
        let rows = self.rest;
        // A slice in memory can always be read.
        let end = self.rest.skip_until(b'\n').unwrap_or_default();
        let row = rows.get(..end).filter(|row| !row.is_empty())?;
        self.row += 1;
        Some(if self.row == 1 {
            row.strip_prefix(MARK).unwrap_or(row)
        } else {
            row
        })
    }
}

impl Iterator for Records<'_> {
    /// A line, or the number in the file of a record that cannot be read and why.
    type Item = Result<JournalLine, (usize, &'static str)>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            let row = self.advance()?;
            let header = self.row == 1 && row.starts_with(b"elapsed_s");
            if header || row.trim_ascii_start().is_empty() {
                continue;
            }
            let mut bytes = std::mem::take(&mut self.spare);
            bytes.clear();
            let line = self.parser.line(row, Some(self.wall), bytes);
            if let Ok(line) = &line {
                self.wall = line.wall;
            }
            return Some(line.map_err(|why| (self.row, why)));
        }
    }
}

/// Reads rows, one by one.
#[derive(Debug)]
struct Parser {
    reader: csv_core::Reader,
    cells: Vec<u8>,
}

impl Parser {
    fn new() -> Self {
        Self {
            reader: csv_core::Reader::new(),
            cells: Vec::new(),
        }
    }

    /// The line of a row, its own bytes in `bytes`, which is empty; a moment that cannot be read is the one `before`.
    fn line(&mut self, row: &[u8], before: Option<UtcMs>, bytes: Vec<u8>) -> Result<JournalLine, &'static str> {
        if let Some(plain) = plain_cells(row) {
            return line_of(|index| Ok(plain[index]), before, bytes);
        }
        let cells = &mut self.cells;
        cells.resize(cells.len().max(row.len() + 8), 0);
        let mut ends = [0; 8];
        self.reader.reset();
        let (result, _, _, fields) = self.reader.read_record(row, cells, &mut ends);
        match result {
            csv_core::ReadRecordResult::Record if fields >= 4 => {}
            csv_core::ReadRecordResult::Record => return Err("it has fewer than four cells"),
            csv_core::ReadRecordResult::OutputEndsFull => return Err("it has more than eight cells"),
            _ => return Err("a quote in it has no end"),
        }
        let cell = |index: usize| {
            let begin = if index == 0 { 0 } else { ends[index - 1] };
            cells.get(begin..ends[index]).unwrap_or_default()
        };
        let text = |index| std::str::from_utf8(cell(index)).map_err(|_| "it holds bytes that are no text");
        line_of(text, before, bytes)
    }
}

/// The cells of a row with no quotes but around its last cell, as most are; `None` where it takes more to tell them apart.
fn plain_cells(row: &[u8]) -> Option<[&str; 4]> {
    let row = std::str::from_utf8(row).ok()?.strip_suffix('\n')?;
    let mut cells = row.splitn(4, ',');
    let [at, wall, source, last] = [cells.next()?, cells.next()?, cells.next()?, cells.next()?];
    let (line, odd) = match last.as_bytes() {
        [b'"', quoted @ .., b'"'] => (&last[1..last.len() - 1], any_of(quoted, *b"\"\r")),
        bare => (last, any_of(bare, *b"\"\r,")),
    };
    let before = &row.as_bytes()[..row.len() - last.len()];
    (!odd && !any_of(before, *b"\"\r")).then_some([at, wall, source, line])
}

/// Whether some of the bytes are among `odd` ones.
fn any_of<const COUNT: usize>(bytes: &[u8], odd: [u8; COUNT]) -> bool {
    let is_odd = |byte: &u8| odd.iter().fold(0_u8, |any, odd| any | u8::from(odd == byte));
    // All are looked at, whatever the first are: processors do that for many bytes at once.
    bytes.iter().fold(0, |any, byte| any | is_odd(byte)) > 0
}

/// The line of four cells, its own bytes in `bytes`, which is empty.
fn line_of<'a>(
    text: impl Fn(usize) -> Result<&'a str, &'static str>,
    before: Option<UtcMs>,
    mut bytes: Vec<u8>,
) -> Result<JournalLine, &'static str> {
    let at = numbers::read_seconds(text(0)?).ok_or("its elapsed_s is no number of seconds")?;
    let source = Source::from_word(text(2)?).ok_or("its source is none of node, gps, surveyor, gear")?;
    let left_out = visible::from_line_cell(text(3)?, &mut bytes);
    let wall = UtcMs::parse(text(1)?).or(before).ok_or("its time_utc is no moment")?;
    Ok(JournalLine {
        at,
        wall,
        source,
        bytes,
        left_out: left_out as usize,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A journal of several pieces: rows of all kinds, some that cannot be read, some without a moment, one longer than a piece.
    fn journal() -> String {
        let mut text = "\u{feff}elapsed_s,time_utc,source,line\n".to_owned();
        let mut seed: u64 = 11;
        for row in 0..6000_u64 {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let wall = match (seed >> 33) % 3 {
                0 => format!("2026-05-16T09:{:02}:{:02}.{:03}Z", row / 60 % 60, row % 60, row % 1000),
                _ => "noon".to_owned(),
            };
            let line = match (seed >> 40) % 9 {
                0 => "\"$GNVTG,,T,,M,0.137,N,0.255,K,A*3A\"",
                1 => "\"note text=\"\"by the gate\"\"\"",
                2 => "one,more",
                3 => "\"no end",
                4 => "",
                5 => "\"\"",
                _ => "echo n=1 here=-51 *56",
            };
            text.push_str(&format!("{row}.5,{wall},node,{line}\n"));
            if row == 3000 {
                text.push_str(&format!(
                    "\n3000.6,,gps,{}\nelapsed_s,,,\n",
                    "x".repeat(3 * PIECE_BYTES)
                ));
            }
        }
        text + "6001.0,2026-05-16"
    }

    #[test]
    fn pieces_say_what_the_whole_says() {
        let text = journal();
        let whole = whole_rows(text.as_bytes());
        let expected: Vec<_> = Records::of(&text.as_bytes()[..whole]).collect();
        let mut pieces = Pieces::of(text.as_bytes());
        let (mut found, mut count, mut used) = (Vec::new(), 0, Vec::new());
        while let Some(piece) = pieces.cut(used).unwrap() {
            found.extend(piece.records());
            count += 1;
            used = piece.into_bytes();
        }
        assert!(count > 3, "{count} pieces");
        assert!(expected.iter().any(Result::is_err) && expected.len() > 6000);
        assert_eq!(found, expected);
        assert_eq!(pieces.whole_bytes(), whole as u64);
        assert_eq!(pieces.torn(), Some("6001.0,2026-05-16".len()));
    }

    #[test]
    fn a_moment_that_cannot_be_read_is_that_of_the_line_before() {
        let text =
            "1,2026-05-16T09:12:00.050Z,node,a\n2,,node,b\nthree,2026-05-16T09:12:09.000Z,node,c\n4,noon,node,d\n";
        let read: Vec<_> = Records::of(text.as_bytes()).collect();
        let first = read[0].as_ref().unwrap().wall;
        assert_eq!(first, UtcMs::parse("2026-05-16T09:12:00.050Z").unwrap());
        assert_eq!(read[1].as_ref().unwrap().wall, first);
        assert_eq!(read[2], Err((3, "its elapsed_s is no number of seconds")));
        assert_eq!(read[3].as_ref().unwrap().wall, first);
        assert_eq!(last_moment(text.as_bytes()), Some(first));
        assert_eq!(last_moment(b"1,,node,a\n"), None);
    }

    #[test]
    fn rows_are_read_as_the_csv_reader_does() {
        let mut plain = 0;
        for row in [
            "1,t,node,echo n=1\n",
            "1,t,gps,\"$GNVTG,,T*3A\"\n",
            "1,t,gps,\"\"\n",
            "1,t,gps,\n",
            "1,t,gps,\"a \"\"b\"\" c\"\n",
            "1,\"t\",gps,a\n",
            "1,t,gps,a\r\n",
            "1,t,gps,a,b\n",
            "1,t,gps,\"a\",b\n",
            "1,t,gps,\"a\",\"b\"\n",
        ] {
            let mut table = csv::ReaderBuilder::new()
                .has_headers(false)
                .flexible(true)
                .from_reader(row.as_bytes());
            let record = table.byte_records().next().unwrap().unwrap();
            let line = Parser::new().line(row.as_bytes(), Some(UtcMs(0)), Vec::new()).unwrap();
            assert_eq!(line.bytes, record[3], "{row}");
            if let Some(cells) = plain_cells(row.as_bytes()) {
                assert_eq!(record.iter().collect::<Vec<_>>(), cells.map(str::as_bytes), "{row}");
                plain += 1;
            }
        }
        assert_eq!(plain, 4);
        let refused = |row: &str| {
            Parser::new()
                .line(row.as_bytes(), Some(UtcMs(0)), Vec::new())
                .unwrap_err()
        };
        assert_eq!(refused("1,t,gps\n"), "it has fewer than four cells");
        assert_eq!(refused("1,t,gps,\"\n"), "a quote in it has no end");
        assert_eq!(refused("1,t,gps,a,b,c,d,e,f\n"), "it has more than eight cells");
    }

    #[test]
    fn every_line_end_is_counted() {
        assert_eq!(line_ends(b""), 0);
        for count in [1, 191, 192, 193, 5000] {
            assert_eq!(line_ends(&vec![b'\n'; count]), count);
            assert_eq!(line_ends("ab\n".repeat(count).as_bytes()), count);
        }
    }
}
