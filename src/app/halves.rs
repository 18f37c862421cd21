//! Makes the figures of a saved survey on two threads.

use std::panic::resume_unwind;
use std::thread;

use crate::findings::estimates::Estimates;
use crate::findings::groundwork::Groundwork;
use crate::findings::places::Cleared;

/// Makes at once what need not wait: while boards are fitted the walk is gathered, while the map is made all that was
/// measured standing is weighed, and whether the station stands where it is said to.
pub fn figures(groundwork: Groundwork<'_>) -> Estimates {
    let (boards, walk) = thread::scope(|scope| {
        let walk = scope.spawn(|| groundwork.walk());
        let boards = groundwork.boards();
        (boards, walk.join().unwrap_or_else(|panic| resume_unwind(panic)))
    });
    let cleared = groundwork.cleared(&boards, walk);
    let cleared = cleared.as_ref().map(|cleared| cleared.as_ref().map_err(|why| *why));
    let (stood, doubt, map) = thread::scope(|scope| {
        let map = scope.spawn(|| cleared.map(|cleared| cleared.and_then(Cleared::map)));
        let stood = groundwork.stood(&boards);
        let doubt = cleared.and_then(|cleared| cleared.ok()?.station_doubt());
        (stood, doubt, map.join().unwrap_or_else(|panic| resume_unwind(panic)))
    });
    let places = map.map(|map| map.map(|places| places.doubting(doubt)));
    groundwork.figures(boards, stood, places)
}
