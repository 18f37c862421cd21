//! When the bell rings: for what a person must know without looking.

use super::scene::Scene;
use super::ui::Doing;
use crate::findings::now::Line;
use crate::survey::Samples;

/// The link is lost after so many losses in a row.
const LOST_AFTER: usize = 10;
/// It is back when so many of the last ten came through.
const BACK_FROM: usize = 5;

/// What was so when it was last looked.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Bell {
    before: Option<State>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct State {
    /// A step is being counted.
    counting: bool,
    /// A point has its number.
    reached: bool,
    link: bool,
    node: bool,
    fix: bool,
    disk: bool,
}

impl Bell {
    /// Looks again, and says whether the bell rings.
    pub fn look(&mut self, scene: &Scene<'_>) -> bool {
        let before = self.before;
        let usable = |line: &Line| matches!(line, Line::Talking | Line::Waiting(_));
        let now = State {
            counting: matches!(scene.doing, Doing::Counting(..)),
            reached: matches!(scene.doing, Doing::Standing(done, wanted) if done >= u64::from(wanted)),
            link: link(scene.samples, before.is_none_or(|before| before.link)),
            node: usable(&scene.now.node),
            fix: scene.now.fixed && usable(&scene.now.gps),
            disk: scene.around.disk.is_none(),
        };
        self.before = Some(now);
        let Some(before) = before else { return false };
        let step_done = before.counting && !now.counting && matches!(scene.doing, Doing::Turning(_));
        step_done
            || (now.reached && !before.reached)
            || now.link != before.link
            || now.node != before.node
            || (before.fix && !now.fix)
            || (before.disk && !now.disk)
    }
}

/// Whether the link stands; between lost and back it is what it was.
fn link(samples: &Samples, was: bool) -> bool {
    let last = samples.rows.iter().rev().filter(|row| row.counts()).take(LOST_AFTER);
    let (sent, delivered) = last.fold((0, 0), |(sent, got), row| {
        (sent + 1, got + usize::from(row.delivered()))
    });
    if sent < LOST_AFTER {
        was
    } else if was {
        delivered > 0
    } else {
        delivered >= BACK_FROM
    }
}
