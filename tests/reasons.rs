//! Where something cannot be said: the reason, in figures, JSON and write-up, from made-up tables of exchanges.

#![expect(clippy::unwrap_used, reason = "a survey that cannot be read is a failed test")]

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use farpace::app::figures::{Read, read_quietly};
use farpace::findings::curves::{Known, Learned};
use farpace::findings::{json, table};
use serde_json::Value;

const HEAD: &str = "time_utc,elapsed_s,board,boot,run,n,outcome,here_dbm,there_dbm,rtt_us,channel,heard,lat_deg,lon_deg,alt_m,sigma_m,sigma_from,fix,sats,hdop,speed_mps,course_deg,distance_m,bearing_deg,activity,point,pose,turn_deg,excluded\n";

/// A table of exchanges at points, ten a second.
struct Made {
    rows: String,
    tenths: u64,
    run: u32,
}

/// What is heard of a stop's exchanges.
#[derive(Clone, Copy)]
struct Stop<'a> {
    board: &'a str,
    metres: u32,
    level: i64,
    count: u64,
    /// Every so many exchanges are lost; 0: none, 1: all.
    lost_every: u64,
    there: bool,
}

fn stop(board: &str, metres: u32, level: i64) -> Stop<'_> {
    Stop {
        board,
        metres,
        level,
        count: 100,
        lost_every: 0,
        there: true,
    }
}

impl Made {
    fn new() -> Self {
        Self {
            rows: HEAD.to_owned(),
            tenths: 0,
            run: 0,
        }
    }

    fn stop(&mut self, of: Stop<'_>) {
        self.run += 1;
        self.tenths += 200;
        for n in 1..=of.count {
            self.tenths += 1;
            let (seconds, tenth) = (self.tenths / 10, self.tenths % 10);
            let (lost, level) = (
                of.lost_every > 0 && n % of.lost_every == 0,
                of.level + i64::try_from(n * 7 % 9).unwrap() - 4,
            );
            let (outcome, here, there) = match lost {
                true => ("lost", String::new(), String::new()),
                false if of.there => ("echo", (level - 2).to_string(), level.to_string()),
                false => ("echo", (level - 2).to_string(), String::new()),
            };
            let lon = -2.9 + f64::from(of.metres) / 68_381.0;
            writeln!(
                self.rows,
                "2026-05-16T09:{:02}:{:02}.{tenth}00Z,{seconds}.{tenth}00,{},1,{},{},{outcome},{here},{there},,6,,52.10000000,{lon:.8},,1.500,gst,1,9,0.9,0.00,,{}.00,270.0,point,{} m,,,",
                10 + seconds / 60,
                seconds % 60,
                of.board,
                self.run,
                self.tenths,
                of.metres,
                of.metres,
            )
            .unwrap();
        }
    }

    fn folder(&self, below: &Path, boards: &[&str]) -> PathBuf {
        let at = below.join("survey");
        std::fs::create_dir(&at).unwrap();
        std::fs::write(at.join("samples.csv"), &self.rows).unwrap();
        let mut setup = "format = 1\n[station]\nlat_deg = 52.1\nlon_deg = -2.9\nheight_m = 6.0\n".to_owned();
        for board in boards {
            writeln!(setup, "[[board]]\nname = \"{board}\"\nreference = {}", *board == "yew").unwrap();
        }
        std::fs::write(at.join("survey.toml"), setup).unwrap();
        at
    }

    /// Its figures as text and as JSON.
    fn figures(&self, boards: &[&str], known: &Known) -> (String, Value) {
        let below = tempfile::tempdir().unwrap();
        let read = read_quietly(&self.folder(below.path(), boards), known).unwrap();
        let Read {
            setup,
            samples,
            estimates,
            ..
        } = &read;
        (
            table::survey("made", samples, setup, estimates, false),
            json::survey("made", samples, setup, estimates),
        )
    }

    /// The page of its write-up.
    fn raw_page(&self, boards: &[&str]) -> String {
        let below = tempfile::tempdir().unwrap();
        self.folder(below.path(), boards);
        let mut command = Command::cargo_bin("farpace").unwrap();
        command.env("HOME", below.path()).current_dir(below.path());
        command.args(["report", "survey", "--out", "page"]).assert().success();
        let page = std::fs::read_dir(below.path().join("page")).unwrap();
        let page = page
            .map(|file| file.unwrap().path())
            .find(|path| path.extension().is_some_and(|end| end == "html"));
        std::fs::read_to_string(page.unwrap()).unwrap()
    }

    /// The same without its marks.
    fn page(&self, boards: &[&str]) -> String {
        let page = self.raw_page(boards);
        let mut text = String::new();
        for part in page.split('<') {
            text.push_str(part.split_once('>').map_or(part, |(_, text)| text));
        }
        text
    }
}

/// fern and yew at four points, fern silent at the last; yew measured again after fern save at 60 m.
fn silent_at_the_last(there: bool) -> Made {
    let mut made = Made::new();
    for (metres, level) in [(20, -58), (60, -69), (100, -75), (180, -81)] {
        made.stop(Stop {
            there,
            ..stop("yew", metres, level)
        });
        made.stop(Stop {
            lost_every: u64::from(metres == 180),
            there,
            ..stop("fern", metres, level - 8)
        });
        if metres != 60 {
            made.stop(Stop {
                there,
                ..stop("yew", metres, level + 1)
            });
        }
    }
    made
}

#[test]
fn a_point_where_a_board_was_silent_is_none_where_both_were_heard() {
    let (text, value) = silent_at_the_last(true).figures(&["yew", "fern"], &Known::default());
    assert!(text.contains("both heard at 3 points"), "{text}");
    assert!(text.contains("at 180 m fern was not heard, yew was"), "{text}");
    let fern = &value["comparison"]["boards"][0];
    assert_eq!(
        (fern["points_both_heard"].as_u64(), fern["cells"].as_u64()),
        (Some(3), Some(4))
    );
    assert_eq!(fern["not_heard_at"], serde_json::json!(["180 m"]));
    assert_eq!(fern["why_not"], Value::Null);
}

#[test]
fn drift_is_told_where_the_reference_brackets_and_why_it_is_not_elsewhere() {
    let made = silent_at_the_last(true);
    let (text, value) = made.figures(&["yew", "fern"], &Known::default());
    assert!(
        text.contains("drift from the first run at a point to its last, taken out: 20 m +"),
        "{text}"
    );
    assert!(
        text.contains("drift not known and not taken out at 60 m: yew was measured there once only"),
        "{text}"
    );
    let drifts = value["comparison"]["drifts_db"].as_array().unwrap();
    let at = |point: &str| drifts.iter().find(|drift| drift["point"] == point).unwrap();
    let number = |drift: &Value, key: &str| drift[key].as_f64().unwrap();
    let near = at("20 m");
    assert!(number(near, "low_db") < number(near, "drift_db") && number(near, "drift_db") < number(near, "high_db"));
    assert!((number(near, "drift_db") - 1.0).abs() < 1.0, "{near}");
    assert_eq!(at("60 m")["drift_db"], Value::Null);
    assert!(at("60 m")["why_not"].is_string());
    let page = made.page(&["yew", "fern"]);
    assert!(
        page.contains("Drift from the first run at a point to its last, taken out: 20 m"),
        "{page}"
    );
    assert!(page.contains("At 180 m fern was not heard, yew was."), "{page}");
}

#[test]
fn without_a_level_at_the_station_nothing_is_compared_and_the_reason_is_told() {
    let made = silent_at_the_last(false);
    let (text, value) = made.figures(&["yew", "fern"], &Known::default());
    assert!(text.contains("not compared: the reference's lines do not tell how the station heard it (no there=)"));
    let comparison = &value["comparison"];
    assert!(comparison["why_not"].as_str().unwrap().contains("there="));
    for key in ["putting_back_sd_db", "degrees_of_freedom"] {
        assert_eq!(comparison[key], Value::Null, "{key}");
    }
    assert!(comparison["drifts_db"].as_array().unwrap().is_empty());
    let page = made.page(&["yew", "fern"]);
    assert!(!page.contains("No board is shown to be better"), "{page}");
    // Of one board alone.
    let mut made = silent_at_the_last(true);
    for (metres, level) in [(20, -60), (60, -71)] {
        made.stop(Stop {
            there: false,
            ..stop("hazel", metres, level)
        });
    }
    let (text, value) = made.figures(&["yew", "fern", "hazel"], &Known::default());
    assert!(
        text.contains("nothing can be said: the lines of hazel do not tell how the station heard it"),
        "{text}"
    );
    let boards = value["comparison"]["boards"].as_array().unwrap();
    let hazel = boards.iter().find(|board| board["board"] == "hazel").unwrap();
    assert!(
        hazel["why_not"].is_string() && hazel["over_reference_db"].is_null(),
        "{hazel}"
    );
}

#[test]
fn every_null_has_its_reason() {
    let mut made = Made::new();
    for metres in [30, 60] {
        made.stop(Stop {
            lost_every: 1,
            ..stop("fern", metres, -60)
        });
    }
    let (text, value) = made.figures(&["fern"], &Known::default());
    assert!(text.contains("\n    no level: nothing was answered\n"), "{text}");
    assert!(text.contains("what fern needs is not known, nor how far it reaches: nothing has arrived from fern yet"));
    let board = &value["boards"][0];
    assert!(board["need"].is_null() && board["need_why_not"].is_string(), "{board}");
    let point = &value["points"][0];
    for key in ["level", "losses", "moved_m"] {
        assert!(point[key].is_null(), "{key}");
    }
    for key in ["level_why_not", "losses_why_not", "moved_why_not"] {
        assert!(point[key].is_string(), "{key}: {point}");
    }
    let (text, _) = Made::new().figures(&["fern"], &Known::default());
    assert!(
        text.contains("Nothing can be said of boards, points and places: no exchange was received."),
        "{text}"
    );
}

#[test]
fn five_exchanges_are_no_map_and_leave_the_rest_to_be_measured() {
    let mut made = Made::new();
    made.stop(Stop {
        count: 5,
        ..stop("fern", 30, -60)
    });
    let (text, value) = made.figures(&["fern"], &Known::default());
    assert!(
        text.contains("Still to be measured at points\n  30 m         fern (95 more)"),
        "{text}"
    );
    let why = value["places"]["why_not"].as_str().unwrap();
    assert_eq!(
        why,
        "only 5 exchanges with a position, 20 are needed before anything is said of a place"
    );
    assert!(text.contains(why) && !text.contains("sure;"), "{text}");
}

#[test]
fn a_limit_that_is_taken_stands_before_every_number_that_rests_on_it_and_a_known_one_is_used() {
    let mut made = Made::new();
    made.stop(stop("fern", 30, -60));
    let (text, value) = made.figures(&["fern"], &Known::default());
    assert!(
        text.contains("the best spots, if fern stops at −95 dBm, which is taken and not seen:"),
        "{text}"
    );
    assert!(
        text.contains("if so ") && text.contains("100 exchanges within 15 m"),
        "{text}"
    );
    assert!(value["places"]["chances_rest_on"].is_string());
    let mut known = Known::default();
    known.boards.insert(
        "fern".to_owned(),
        vec![Learned {
            survey: "earlier".to_owned(),
            side: "there".to_owned(),
            m_dbm: -85.0,
            s_db: 1.0,
            covariance: [[1.0, 0.0], [0.0, 0.04]],
            walks: 1,
        }],
    );
    let (text, learned) = made.figures(&["fern"], &known);
    assert!(!text.contains("taken") && text.contains("the best spots:"), "{text}");
    assert_eq!(learned["places"]["chances_rest_on"], Value::Null);
    let needed = |value: &Value| value["places"]["needed_level_dbm"].as_f64().unwrap();
    assert!(
        (needed(&learned) - needed(&value) - 10.0).abs() < 2.0,
        "ten dB less sensitive"
    );
    let need = &learned["boards"][0]["need"];
    assert!(need["exchanges"].is_null() && need["exchanges_why_not"].is_string());
}

#[test]
fn a_point_whose_interval_excludes_the_goal_is_called_so() {
    let mut made = Made::new();
    made.stop(Stop {
        count: 300,
        lost_every: 9,
        ..stop("fern", 30, -60)
    });
    let page = made.page(&["fern"]);
    let (text, value) = made.figures(&["fern"], &Known::default());
    let count = &value["points"][0]["count"];
    assert!(
        count["rate_high"].as_f64().unwrap() < 0.95 && count["verdict"] == "unsure",
        "{count}\n{text}"
    );
    assert!(page.contains("by that interval it misses the goal"), "{page}");
}

#[test]
fn a_chart_without_a_curve_speaks_of_none_and_gives_the_reason_of_the_text() {
    let page = silent_at_the_last(true).raw_page(&["yew", "fern"]);
    assert!(
        page.contains("bursts of losses allowed for as this survey shows them."),
        "{page}"
    );
    assert!(!page.contains("The curve is what") && !page.contains("The law is the mean over places"));
    assert!(page.contains("No law is fitted: nobody walked with it."));
    assert!(!page.contains("no exchange of a walk has a position"));
}

#[test]
fn a_map_without_a_point_is_no_proof_and_its_surest_place_is_told_from_its_farthest() {
    let below = tempfile::tempdir().unwrap();
    let walk = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sessions/walk");
    let mut command = Command::cargo_bin("farpace").unwrap();
    command.env("HOME", below.path()).current_dir(below.path());
    command
        .args(["report", walk.to_str().unwrap(), "--out", "page"])
        .assert()
        .success();
    let page = std::fs::read_dir(below.path().join("page")).unwrap();
    let page = page
        .map(|file| file.unwrap().path())
        .find(|path| path.extension().is_some_and(|end| end == "html"));
    let page = std::fs::read_to_string(page.unwrap()).unwrap();
    assert!(page.contains("By the map a node can likely go as far out as"));
    assert!(page.contains("It is not the place named above"));
    assert!(page.contains("No counts at a point were made"));
    assert!(!page.contains("the counts show"));
}
