//! A survey made up for these tests: a walk out and back, two boards at two points, a sweep. Its levels come from a small
//! counter, so it is the same on every machine.

use std::fmt::Write as _;
use std::path::Path;

/// Words that people or firmware may put in.
#[derive(Clone, Debug)]
pub struct Words {
    pub title: String,
    pub note: String,
    pub station: String,
    pub board: String,
    pub point: String,
    pub mark: String,
}

impl Words {
    pub fn plain() -> Self {
        Self {
            title: "Larkfield orchard".to_owned(),
            note: "dry, light wind".to_owned(),
            station: "packing shed".to_owned(),
            board: "fern".to_owned(),
            point: "stile".to_owned(),
            mark: "gap in the hedge".to_owned(),
        }
    }

    /// Everything that could run, hide or be obeyed somewhere.
    pub fn hostile() -> Self {
        Self {
            title: "<script>document.title='ran'</script><img src=x onerror=\"document.title='ran'\">\u{202E}gnp".to_owned(),
            note: "]]> --> </style></svg> [click](javascript:alert(1)) ![i](http://198.51.100.7/i.png)\n# head\n\u{1B}[31mred\u{7}"
                .to_owned(),
            station: "<b onmouseover=alert(1)>&amp;\u{2028}".to_owned(),
            board: "=HYPERLINK(1)|`x`*b*<i>".to_owned(),
            point: "@SUM(1+1)</text><script>document.title='ran'</script>".to_owned(),
            mark: "-cmd|' /C calc'!A0 <iframe src=//198.51.100.7>".to_owned(),
        }
    }
}

struct Counter(u64);

impl Counter {
    /// A number from 0 to below 1 (a linear congruential generator, Knuth's MMIX constants).
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

struct Journal {
    text: String,
    at: f64,
    n: u64,
    chance: Counter,
}

/// Metres to a degree of latitude, and of longitude at 52.1 degrees: near enough to lay out a walk.
const METRES: (f64, f64) = (111_252.0, 68_500.0);

impl Journal {
    fn line(&mut self, source: &str, line: &str) {
        let ms = (self.at * 1000.0).round() as u64;
        let quoted = line.replace('"', "\"\"");
        let _ = writeln!(
            self.text,
            "{:.6},2026-05-02T19:{:02}:{:02}.{:03}Z,{source},\"{quoted}\"",
            self.at,
            41 + ms / 60_000,
            ms / 1000 % 60,
            ms % 1000
        );
    }

    fn surveyor(&mut self, line: &str) {
        self.line("surveyor", line);
    }

    fn fix(&mut self, east: f64, north: f64) {
        let sum = |body: &str| body.bytes().fold(0_u8, |sum, byte| sum ^ byte);
        let degrees = |value: f64, width: usize| {
            let whole = value.abs().floor();
            format!("{whole:0width$.0}{:09.6}", (value.abs() - whole) * 60.0)
        };
        let (lat, lon) = (52.1 + north / METRES.0, -2.9 + east / METRES.1);
        let (lat, lon) = (degrees(lat, 2), degrees(lon, 3));
        let seconds = self.at.round() as u64;
        let time = format!("19{:02}{:02}.00", 41 + seconds / 60, seconds % 60);
        for body in [
            format!("GPRMC,{time},A,{lat},N,{lon},W,2.0,90.0,020526,,,A"),
            format!("GPGGA,{time},{lat},N,{lon},W,1,10,0.8,61.0,M,48.0,M,,"),
        ] {
            let line = format!("${body}*{:02X}", sum(&body));
            self.line("gps", &line);
        }
    }

    /// One second: a fix, and five exchanges.
    fn second(&mut self, east: f64, north: f64, gain: f64) {
        self.fix(east, north);
        let distance = east.hypot(north).max(1.0);
        for _ in 0..5 {
            self.at += 0.2;
            self.n += 1;
            let fade = 10.0 * (-(1.0 - self.chance.next()).ln()).log10();
            let level = -34.0 - 27.0 * (distance / 10.0).log10() + gain + fade.max(-15.0);
            if level < -92.0 + 2.0 * self.chance.next() || self.chance.next() < 0.01 {
                self.line("node", &format!("lost n={}", self.n));
            } else {
                self.line(
                    "node",
                    &format!("echo n={} here={level:.0} there={:.0}", self.n, level - 3.0),
                );
            }
        }
    }

    fn hello(&mut self, board: &str, boot: u32) {
        self.n = 0;
        let board = board.replace('\\', "\\\\").replace('"', "\\\"");
        self.line(
            "node",
            &format!("hello board=\"{board}\" boot={boot} radio=802.11 chan=6 tx_dbm=14 rate=5"),
        );
    }
}

/// Writes a survey into a folder.
pub fn survey(folder: &Path, words: &Words) {
    std::fs::create_dir_all(folder).unwrap();
    let quoted = |text: &str| {
        let mut out = String::from("\"");
        for c in text.chars() {
            match c {
                '"' => out.push_str("\\\""),
                '\\' => out.push_str("\\\\"),
                c if c.is_control() => drop(write!(out, "\\u{:04X}", u32::from(c))),
                c => out.push(c),
            }
        }
        out + "\""
    };
    let setup = format!(
        "format = 1\ntitle = {}\nnote = {}\n\n[station]\nname = {}\nlat_deg = 52.10000000\nlon_deg = -2.90000000\nheight_m = 6.0\n\n\
         [goal]\ndelivery = 0.9\nmargin_db = 5.0\n\n[[board]]\nname = {}\nnote = {}\n\n[[board]]\nname = \"yew\"\nreference = true\n",
        quoted(&words.title),
        quoted(&words.note),
        quoted(&words.station),
        quoted(&words.board),
        quoted(&words.mark),
    );
    std::fs::write(folder.join("survey.toml"), setup).unwrap();
    let mut journal = Journal {
        text: "elapsed_s,time_utc,source,line\n".to_owned(),
        at: 0.0,
        n: 0,
        chance: Counter(7),
    };
    let spoken = |text: &str| {
        text.replace('\\', "\\\\")
            .replace('"', "\\\"")
            .replace(char::is_control, "")
    };
    journal.line("gear", "up source=node address=\"serial:/dev/ttyACM0\"");
    journal.hello("yew", 1);
    journal.surveyor("walk");
    for step in 0..120 {
        let out = f64::from(if step < 60 { step } else { 120 - step });
        journal.second(12.0 + out * 9.0, 8.0 + out * 2.0, 0.0);
        if step == 30 {
            let mark = format!("mark text=\"{}\"", spoken(&words.mark));
            journal.surveyor(&mark);
        }
    }
    for (boot, board, gain) in [(2, "yew", 0.0), (3, words.board.as_str(), -4.0)] {
        journal.hello(board, boot);
        for (name, east) in [(words.point.as_str(), 40.0), ("P2", 120.0)] {
            let point = format!("point name=\"{}\" messages=60", spoken(name));
            journal.surveyor(&point);
            for step in 0..14 {
                journal.second(east + 0.3 * f64::from(step % 4), 10.0, gain);
            }
        }
    }
    journal.surveyor("sweep name=S1 pose=flat steps=12 messages=10");
    for step in 0..13 {
        let turn = f64::from(step % 12) * 30.0;
        journal.surveyor(&format!("turn deg={turn}"));
        for _ in 0..3 {
            journal.second(45.0, 10.0, 6.0 * (turn - 40.0).to_radians().cos());
        }
        journal.surveyor("turning");
        journal.second(45.0, 10.0, 0.0);
    }
    journal.surveyor("finish");
    std::fs::write(folder.join("journal.csv"), journal.text).unwrap();
}
