//! Places for another node than the one walked with: each assumption against what it is worked out from.

#![expect(
    clippy::unwrap_used,
    reason = "a sample session that cannot be read is a failed test"
)]

use std::path::Path;

use farpace::app::figures::{Read, read_quietly};
use farpace::findings::assumptions::{Shift, Wanted, measured_boards};
use farpace::findings::curves::Known;
use farpace::findings::places::{Places, telling};
use farpace::stats::boards::Effect;
use farpace::units::{Db, Metres};

fn boards() -> Read {
    let at = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sessions/boards");
    read_quietly(&at, &Known::default()).unwrap()
}

fn places(read: &Read) -> &Places {
    read.estimates.places.as_ref().unwrap().as_ref().unwrap()
}

/// The same survey's places for what is wanted, and as it was walked.
fn under(wanted: &Wanted) -> (Places, Places) {
    let mut read = boards();
    let before = places(&read).clone();
    read.estimates.assume(wanted, &read.setup);
    (before, places(&read).clone())
}

fn chances(places: &Places) -> Vec<f64> {
    let told = places.places.iter().filter_map(|place| place.estimate);
    told.map(|estimate| estimate.chance).collect()
}

#[test]
fn another_board_differs_as_it_was_measured() {
    let read = boards();
    let walked = &places(&read).board;
    assert_eq!(walked, "yew");
    let names = measured_boards(&read.estimates, walked);
    assert!(
        names.contains(&"fern".to_owned()) && !names.contains(walked),
        "{names:?}"
    );
    let boards = read.estimates.comparison.as_ref().unwrap();
    let index = boards.names.iter().position(|name| name == "fern").unwrap();
    let found = boards.comparison.as_ref().unwrap();
    let effect = found.boards.iter().find(|effect| effect.board == index).unwrap();
    let Effect::Measured {
        estimate_db,
        standard_error_db,
        ..
    } = effect.effect
    else {
        panic!("fern was measured")
    };
    let (before, after) = under(&Wanted {
        board: Some("fern".to_owned()),
        ..Wanted::default()
    });
    let Shift::Everywhere(change) = after.assumptions[0].shift else {
        panic!("a board is the same board everywhere")
    };
    // What a board needs is not known of either here: the level alone counts, and that it may differ widens it.
    assert!((change.gain - estimate_db).abs() < 1e-9);
    assert!(change.sd > standard_error_db.hypot(found.spread_db));
    let level = |places: &Places| places.needed.unwrap().level;
    assert!((level(&after) - level(&before) + estimate_db).abs() < 1e-9);
    assert!(estimate_db < -5.0);
    let (before, after) = (chances(&before), chances(&after));
    assert!(after.iter().sum::<f64>() < before.iter().sum::<f64>());
}

#[test]
fn leaves_take_what_is_said_and_the_height_walked_at_changes_nothing() {
    let (before, after) = under(&Wanted {
        leaves: Some(Db(6.0)),
        ..Wanted::default()
    });
    assert!((after.needed.unwrap().level - before.needed.unwrap().level - 6.0).abs() < 1e-9);
    assert!(telling::assumption(&after.assumptions[0]).starts_with("Assumed: leaves that are not out yet take 6 dB"));
    let (before, after) = under(&Wanted {
        mounted: Some(Metres(1.2)),
        ..Wanted::default()
    });
    assert_eq!(chances(&after), chances(&before));
    assert_eq!(after.assumptions.len(), 1);
}

#[test]
fn what_cannot_be_assumed_says_why() {
    let (before, after) = under(&Wanted {
        board: Some("bramble".to_owned()),
        mounted: Some(Metres(400.0)),
        leaves: None,
    });
    assert!(after.assumptions.is_empty());
    assert_eq!(after.not_assumed.len(), 2);
    assert!(after.not_assumed[0].contains("bramble differs from yew was not measured"));
    assert!(after.not_assumed[1].contains("400 m is not between"));
    assert_eq!(chances(&after), chances(&before));
    let mut read = boards();
    read.setup.station.height = None;
    let wanted = Wanted {
        mounted: Some(Metres(3.0)),
        ..Wanted::default()
    };
    read.estimates.assume(&wanted, &read.setup);
    assert!(places(&read).not_assumed[0].contains("height_m under [station]"));
    // Asked for nothing again, the places are those of the node as it was walked with.
    read.estimates.assume(&Wanted::default(), &read.setup);
    assert!(places(&read).not_assumed.is_empty() && places(&read).assumptions.is_empty());
}

#[test]
fn a_survey_without_a_single_answer_still_says_that_its_ground_is_dead() {
    use farpace::findings::estimates::estimates;
    use farpace::stats::places::{Caveat, Class};
    let at = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sessions/walk");
    let mut read = read_quietly(&at, &Known::default()).unwrap();
    for row in &mut read.samples.rows {
        row.echo = None;
    }
    let found = estimates(&read.samples, &read.setup, &Known::default(), None, |_| false);
    let places = found.places.unwrap().unwrap();
    assert_eq!(places.count(Class::Good), 0);
    assert!(places.count(Class::Poor) > 0);
    assert!(
        places.caveats.contains(&Caveat::NothingDelivered),
        "{:?}",
        places.caveats
    );
    assert!(places.spots.is_empty());
}
