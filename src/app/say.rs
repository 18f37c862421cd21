//! What commands say on standard error, and names from outside made fit for a terminal.

use std::fmt::Display;

use crate::survey::{Samples, Setup};
use crate::wire::visible;

/// Says something on standard error; nothing in it that came from outside is obeyed by the terminal.
pub fn say(what: impl Display) {
    eprintln!("farpace: {}", visible::shown(&what.to_string()));
}

/// Writes hidden characters out in every word of a survey, before figures are made of it: in a table names stand among the
/// program's own words, and one with a line end in it would pass for a line of the table.
pub fn harmless(setup: &mut Setup, samples: &mut Samples, references: &mut [String]) {
    let plain = |text: &mut String| {
        if let std::borrow::Cow::Owned(plain) = visible::in_line(text) {
            *text = plain;
        }
    };
    plain(&mut setup.title);
    setup.note.iter_mut().for_each(plain);
    setup.station.name.iter_mut().for_each(plain);
    setup.radio.kind.iter_mut().for_each(plain);
    for board in &mut setup.boards {
        plain(&mut board.name);
        board.note.iter_mut().for_each(plain);
    }
    setup.leave_out.iter_mut().for_each(|stretch| plain(&mut stretch.why));
    samples.boots.iter_mut().for_each(|boot| plain(&mut boot.board));
    samples.points.iter_mut().for_each(plain);
    samples.poses.iter_mut().for_each(plain);
    references.iter_mut().for_each(plain);
}
