//! What a survey of a million exchanges costs: from journal lines to rows, from rows to figures, and a frame while walking.
//!
//! `FARPACE_LARGE=FOLDER cargo bench --bench survey` also writes that survey into a new folder, to time `farpace figures` on.

#![expect(
    clippy::expect_used,
    reason = "a bench may stop where its own scenario is not what it should be"
)]

use std::hint::black_box;
use std::sync::LazyLock;

use crossbeam_channel::unbounded;
use divan::Bencher;
use divan::counter::ItemsCount;
use farpace::app::event::Event;
use farpace::app::rehearse::setup_of;
use farpace::app::worker::Worker;
use farpace::findings::curves::Known;
use farpace::findings::estimates::estimates;
use farpace::findings::now::now;
use farpace::rehearsal::draws::{Manner, drawn};
use farpace::rehearsal::place::Place;
use farpace::rehearsal::plans::{Route, walk_scenario};
use farpace::rehearsal::script::Script;
use farpace::rehearsal::{Scenario, What, perform};
use farpace::screens::field::Field;
use farpace::screens::scene::Subject;
use farpace::screens::theme::Theme;
use farpace::session::folder;
use farpace::session::journal::JournalWriter;
use farpace::stats::burst::BurstMemory;
use farpace::survey::{JournalLine, Source, Survey};
use farpace::units::UtcMs;
use farpace::wire::surveyor;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Exchanges, ten a second.
const EXCHANGES: f64 = 1e6;
/// Lines kept back for the live bench.
const KEPT_BACK: usize = 40_000;

fn main() {
    if let Ok(at) = std::env::var("FARPACE_LARGE") {
        write(std::path::Path::new(&at));
        return;
    }
    divan::main();
}

/// Out and back on ever new bearings, with a point at each end.
fn scenario() -> Scenario {
    let mut scenario = walk_scenario(&drawn(3, Manner::Plain), Route::Straight, 200.0, 60.0);
    let mut script = Script::begin(Place::out(8.0, 0.0)).stand(3.0);
    let mut leg: u32 = 0;
    while script.seconds() < EXCHANGES / 10.0 {
        let bearing = 23.0 * f64::from(leg);
        script = script
            .walking()
            .walk(Place::out(250.0, bearing))
            .point(&format!("P{}", leg % 40), 100)
            .walking()
            .walk(Place::out(15.0, bearing));
        leg += 1;
    }
    scenario.script = script.finish();
    scenario
}

static LINES: LazyLock<Vec<JournalLine>> = LazyLock::new(|| {
    let scenario = scenario();
    let begins = scenario.begins;
    let mut lines = Vec::new();
    for item in perform(scenario, 3) {
        let (source, bytes) = match item.what {
            What::NodeBytes(bytes) => (Source::Node, bytes),
            What::GpsBytes(bytes) => (Source::Gps, bytes),
            What::Surveyor(record) => (Source::Surveyor, surveyor::line(&record).into_bytes()),
            What::Unplug(_) | What::Replug(_) => continue,
        };
        for line in bytes
            .split(|byte| *byte == b'\n')
            .map(<[u8]>::trim_ascii_end)
            .filter(|line| !line.is_empty())
        {
            lines.push(JournalLine {
                at: item.at,
                wall: UtcMs(begins.0 + (item.at.0 / 1000) as i64),
                source,
                bytes: line.to_vec(),
                left_out: 0,
            });
        }
    }
    lines
});

fn survey(lines: &[JournalLine]) -> Survey {
    let mut survey = Survey::new(setup_of(&scenario(), 3), None);
    for line in lines {
        survey.apply(line);
    }
    survey
}

fn write(at: &std::path::Path) {
    folder::begin(at, &setup_of(&scenario(), 3)).expect("a new folder");
    let (mut journal, _) = JournalWriter::open(at).expect("a journal");
    for lines in LINES.chunks(100_000) {
        for line in lines {
            journal.append(line);
        }
        journal.sync().expect("room on the disk");
    }
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn lines_to_rows(bencher: Bencher) {
    LazyLock::force(&LINES);
    bencher.counter(ItemsCount::new(LINES.len())).bench(|| {
        let mut survey = survey(black_box(&LINES));
        survey.settle();
        survey.samples().rows.len()
    });
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn rows_to_figures(bencher: Bencher) {
    let mut survey = survey(&LINES);
    survey.samples();
    let setup = survey.setup().clone();
    let samples = survey.into_samples();
    bencher
        .counter(ItemsCount::new(samples.rows.len()))
        .bench(|| estimates(black_box(&samples), &setup, &Known::default(), None, |_| false));
}

/// What happens on the drawing thread between two frames: ten lines, the page, and what is asked of the worker, which goes
/// on with estimates beside it.
#[divan::bench(sample_count = 300, sample_size = 1)]
fn live_frame(bencher: Bencher) {
    let (before, after) = LINES.split_at(LINES.len() - KEPT_BACK);
    let mut survey = survey(before);
    survey.samples();
    let (tell, told) = unbounded();
    let mut worker = Worker::start(Known::default(), "bench".to_owned(), tell);
    let mut field = Field::new(Theme::Dark);
    let area = Rect::new(0, 0, 140, 40);
    let mut more = after.chunks(10);
    let mut frame = || {
        for line in more.next().unwrap_or_default() {
            survey.apply(line);
        }
        while let Ok(event) = told.try_recv() {
            if let Event::Estimated(estimates) = event {
                worker.has_come_back();
                field.estimated(&estimates, Subject::Survey(&survey));
            }
        }
        survey.samples();
        let mut buffer = Buffer::empty(area);
        field.draw(&mut buffer, area, Subject::Survey(&survey), survey.now());
        worker.ask(
            survey.samples_as_made(),
            Some(survey.remakes()),
            survey.setup(),
            Vec::new(),
        );
        buffer
    };
    // The first page of a survey that is gone on with reckons all of it.
    frame();
    bencher.bench_local(frame);
}

#[divan::bench(sample_count = 100, sample_size = 1)]
fn ten_more_lines(bencher: Bencher) {
    let (before, after) = LINES.split_at(LINES.len() - KEPT_BACK);
    let mut survey = survey(before);
    survey.samples();
    let mut more = after.chunks(10);
    bencher.bench_local(|| {
        for line in more.next().unwrap_or_default() {
            survey.apply(line);
        }
        let rows = survey.samples().rows.len();
        let at = survey.now();
        (rows, now(black_box(&survey), at, &BurstMemory::default()))
    });
}
