//! Makes the figures of a saved survey on two threads.

use std::panic::resume_unwind;
use std::thread;

use crate::findings::estimates::Estimates;
use crate::findings::groundwork::Groundwork;

/// Makes at once what need not wait: while boards are fitted the walk is gathered, while the map is made all that was
/// measured standing is weighed.
pub fn figures(groundwork: Groundwork<'_>) -> Estimates {
    let (boards, walk) = thread::scope(|scope| {
        let walk = scope.spawn(|| groundwork.walk());
        let boards = groundwork.boards();
        (boards, walk.join().unwrap_or_else(|panic| resume_unwind(panic)))
    });
    let (stood, places) = thread::scope(|scope| {
        let map = scope.spawn(|| groundwork.places(&boards, walk));
        let stood = groundwork.stood(&boards);
        (stood, map.join().unwrap_or_else(|panic| resume_unwind(panic)))
    });
    groundwork.figures(boards, stood, places)
}
