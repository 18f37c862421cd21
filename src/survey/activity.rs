//! What was going on: walking, standing at a point, sweeping; what the surveyor's records say of it.

use crate::units::Elapsed;
use crate::wire::SurveyorRecord;

/// Messages a turn of a sweep where nothing is said (common practice).
pub const SWEEP_MESSAGES: u32 = 40;
/// Turns of a sweep where nothing is said.
pub const SWEEP_STEPS: u32 = 8;
/// A step ends at this multiple of the time its number should take.
const STEP_PATIENCE: f64 = 1.5;

/// What was going on, and since when.
#[derive(Clone, Debug)]
pub struct Activities {
    stretches: Vec<Stretch>,
    segments: Vec<Segment>,
    pauses: Vec<(Mark, Option<Mark>)>,
    marks: Vec<(Mark, String)>,
    finished: Option<Elapsed>,
    used_names: Vec<String>,
}

/// A moment among the lines of the journal: ties in time are told apart by the ordinal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Mark {
    /// On the survey's clock.
    pub at: Elapsed,
    /// Ordinal of the journal line.
    pub line: u32,
}

/// A walk, a point or a sweep, from beginning to end.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// When it began.
    pub since: Mark,
    /// What it is.
    pub doing: Doing,
}

/// What somebody is doing.
#[derive(Clone, Debug, PartialEq)]
pub enum Doing {
    /// Walking.
    Walk,
    /// Standing still.
    Point {
        /// The point's name.
        name: String,
        /// Messages wanted.
        messages: u32,
    },
    /// Turning the board through set angles.
    Sweep {
        /// The point's name.
        name: String,
        /// How the board is held; `None` where nobody said.
        pose: Option<String>,
        /// Turns wanted.
        steps: u32,
        /// Messages wanted a turn.
        messages: u32,
    },
}

/// A part of a stretch in which exchanges are treated alike.
#[derive(Clone, Debug, PartialEq)]
pub struct Segment {
    /// When it began.
    pub since: Mark,
    /// Index of its stretch.
    pub stretch: usize,
    /// Which part it is.
    pub part: Part,
    /// Whether the surveyor had it measured anew.
    pub again: bool,
}

/// A part of a stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Part {
    /// All exchanges count.
    Counting,
    /// The board is being moved.
    Turning,
    /// The board is steady at a turn.
    Step {
        /// The turn, degrees.
        deg: f64,
        /// Exchanges wanted.
        messages: u32,
        /// When the step ends even if they have not come.
        until: Elapsed,
    },
}

/// What a surveyor's record changed.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Rows from this moment on may differ.
    Since(Elapsed),
    /// Nothing that rows show.
    Nothing,
    /// The record makes no sense here: why, in words.
    Refused(&'static str),
}

impl Default for Activities {
    /// A survey begins walking.
    fn default() -> Self {
        let since = Mark {
            at: Elapsed(0),
            line: 0,
        };
        Self {
            stretches: vec![Stretch {
                since,
                doing: Doing::Walk,
            }],
            segments: vec![Segment {
                since,
                stretch: 0,
                part: Part::Counting,
                again: false,
            }],
            pauses: Vec::new(),
            marks: Vec::new(),
            finished: None,
            used_names: Vec::new(),
        }
    }
}

impl Activities {
    /// All stretches in order.
    pub fn stretches(&self) -> &[Stretch] {
        &self.stretches
    }

    /// All segments in order.
    pub fn segments(&self) -> &[Segment] {
        &self.segments
    }

    /// The surveyor's notes and when they were made.
    pub fn notes(&self) -> &[(Mark, String)] {
        &self.marks
    }

    /// What is going on now.
    pub fn now(&self) -> &Stretch {
        &self.stretches[self.stretches.len() - 1]
    }

    /// The part of it that is going on now.
    pub fn part(&self) -> &Segment {
        &self.segments[self.segments.len() - 1]
    }

    /// Whether counting is paused.
    pub fn is_paused(&self) -> bool {
        self.pauses.last().is_some_and(|(_, end)| end.is_none())
    }

    /// When the surveyor finished, if nothing was begun since.
    pub fn finished(&self) -> Option<Elapsed> {
        self.finished
    }

    /// The name the next point (or sweep) without one will get: the lowest of `P1`, `P2` … (`S1` …) not yet used.
    pub fn next_name(&self, letter: char) -> String {
        let free = |number: &u32| !self.used_names.contains(&format!("{letter}{number}"));
        let number = (1..=u32::MAX).find(free).unwrap_or(u32::MAX);
        format!("{letter}{number}")
    }

    /// Index of the segment in which a row lies. `line` is that of the row's own line; an inferred row has none.
    pub fn segment_at(&self, at: Elapsed, line: Option<u32>) -> usize {
        let mark = Mark {
            at,
            line: line.unwrap_or(u32::MAX),
        };
        self.segments
            .partition_point(|segment| segment.since <= mark)
            .saturating_sub(1)
    }

    /// Whether counting was paused for a row.
    pub fn paused_at(&self, at: Elapsed, line: Option<u32>) -> bool {
        let mark = Mark {
            at,
            line: line.unwrap_or(u32::MAX),
        };
        let index = self.pauses.partition_point(|(begin, _)| *begin <= mark);
        index > 0 && self.pauses[index - 1].1.is_none_or(|end| mark < end)
    }

    /// Takes a record. `goal_messages` is a point's default number; `rate` the pings a second to expect now.
    pub fn take(&mut self, record: SurveyorRecord, mark: Mark, goal_messages: u32, rate: f64) -> Change {
        match record {
            SurveyorRecord::Walk => self.begin(Doing::Walk, mark),
            SurveyorRecord::Point { name, messages } => {
                let name = self.named(name, 'P');
                self.begin(
                    Doing::Point {
                        name,
                        messages: messages.unwrap_or(goal_messages),
                    },
                    mark,
                )
            }
            SurveyorRecord::Sweep {
                name,
                pose,
                steps,
                messages,
            } => {
                let name = self.named(name, 'S');
                let steps = steps.unwrap_or(SWEEP_STEPS);
                let messages = messages.unwrap_or(SWEEP_MESSAGES);
                self.begin(
                    Doing::Sweep {
                        name,
                        pose,
                        steps,
                        messages,
                    },
                    mark,
                )
            }
            SurveyorRecord::Turn { deg } => {
                let Doing::Sweep { messages, .. } = self.now().doing else {
                    return Change::Refused("a turn belongs to a sweep: begin one first");
                };
                let seconds = STEP_PATIENCE * f64::from(messages) / rate.max(1e-3);
                let until = Elapsed(mark.at.0.saturating_add((seconds * 1e6) as u64));
                self.part_from(
                    Part::Step {
                        deg: deg.0,
                        messages,
                        until,
                    },
                    mark,
                )
            }
            SurveyorRecord::Turning => {
                if !matches!(self.now().doing, Doing::Sweep { .. }) {
                    return Change::Refused("the board is turned in a sweep only: begin one first");
                }
                self.part_from(Part::Turning, mark)
            }
            SurveyorRecord::Again => self.again(mark),
            SurveyorRecord::Pause => {
                if self.is_paused() {
                    return Change::Refused("it is paused already");
                }
                self.pauses.push((mark, None));
                Change::Since(mark.at)
            }
            SurveyorRecord::Resume => match self.pauses.last_mut() {
                Some((_, end)) if end.is_none() => {
                    *end = Some(mark);
                    Change::Since(mark.at)
                }
                _ => Change::Refused("it is not paused"),
            },
            SurveyorRecord::Mark { text } => {
                self.marks.push((mark, text));
                Change::Nothing
            }
            SurveyorRecord::Finish => {
                self.finished = Some(mark.at);
                if let Some((_, end)) = self.pauses.last_mut() {
                    end.get_or_insert(mark);
                }
                Change::Nothing
            }
            SurveyorRecord::Board { .. } => Change::Nothing,
        }
    }

    fn named(&mut self, name: Option<String>, letter: char) -> String {
        let name = name
            .filter(|name| !name.is_empty())
            .unwrap_or_else(|| self.next_name(letter));
        if !self.used_names.contains(&name) {
            self.used_names.push(name.clone());
        }
        name
    }

    fn begin(&mut self, doing: Doing, since: Mark) -> Change {
        self.finished = None;
        if doing == Doing::Walk && self.now().doing == Doing::Walk {
            return Change::Nothing;
        }
        let part = if matches!(doing, Doing::Sweep { .. }) {
            Part::Turning
        } else {
            Part::Counting
        };
        self.stretches.push(Stretch { since, doing });
        self.part_from(part, since)
    }

    fn part_from(&mut self, part: Part, since: Mark) -> Change {
        self.segments.push(Segment {
            since,
            stretch: self.stretches.len() - 1,
            part,
            again: false,
        });
        Change::Since(since.at)
    }

    /// Has the step or point just measured measured anew: its earlier rows no longer count.
    fn again(&mut self, since: Mark) -> Change {
        let stretch = self.stretches.len() - 1;
        let (dropped, next) = match self.now().doing {
            Doing::Walk => return Change::Refused("there is no point or step to measure again: begin one first"),
            Doing::Point { .. } => {
                let first = self.segments.iter().position(|segment| segment.stretch == stretch);
                (first, Part::Counting)
            }
            Doing::Sweep { .. } => {
                let is_step =
                    |segment: &Segment| matches!(segment.part, Part::Step { .. }) && segment.stretch == stretch;
                (self.segments.iter().rposition(is_step), Part::Turning)
            }
        };
        let Some(dropped) = dropped else {
            return Change::Refused("no step of this sweep has been measured yet");
        };
        let sweeping = next == Part::Turning;
        for segment in &mut self.segments[dropped..] {
            segment.again |= !sweeping || matches!(segment.part, Part::Step { .. });
        }
        let from = self.segments[dropped].since.at;
        self.part_from(next, since);
        Change::Since(from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Degrees;

    fn mark(seconds: f64, line: u32) -> Mark {
        Mark {
            at: Elapsed::from_seconds(seconds),
            line,
        }
    }

    fn take(activities: &mut Activities, record: SurveyorRecord, seconds: f64) -> Change {
        activities.take(record, mark(seconds, (seconds * 10.0) as u32), 100, 10.0)
    }

    fn sweep() -> SurveyorRecord {
        SurveyorRecord::Sweep {
            name: None,
            pose: Some("flat".into()),
            steps: None,
            messages: None,
        }
    }

    #[test]
    fn names_left_out_are_the_lowest_free_ones() {
        let mut activities = Activities::default();
        let point = |name: Option<&str>| SurveyorRecord::Point {
            name: name.map(str::to_owned),
            messages: None,
        };
        take(&mut activities, point(Some("P1")), 1.0);
        take(&mut activities, point(None), 2.0);
        let Doing::Point { name, messages } = &activities.now().doing else {
            panic!("no point")
        };
        assert_eq!((name.as_str(), *messages), ("P2", 100));
        assert_eq!(activities.next_name('S'), "S1");
    }

    #[test]
    fn a_step_lasts_at_most_half_as_long_again() {
        let mut activities = Activities::default();
        take(&mut activities, sweep(), 1.0);
        assert_eq!(activities.part().part, Part::Turning);
        take(&mut activities, SurveyorRecord::Turn { deg: Degrees(45.0) }, 2.0);
        let until = Elapsed::from_seconds(8.0);
        assert_eq!(
            activities.part().part,
            Part::Step {
                deg: 45.0,
                messages: 40,
                until
            }
        );
    }

    #[test]
    fn again_drops_the_last_step_and_waits_for_the_next_turn() {
        let mut activities = Activities::default();
        take(&mut activities, sweep(), 1.0);
        for (deg, seconds) in [(0.0, 2.0), (45.0, 8.0)] {
            take(&mut activities, SurveyorRecord::Turn { deg: Degrees(deg) }, seconds);
        }
        assert_eq!(
            take(&mut activities, SurveyorRecord::Again, 13.0),
            Change::Since(Elapsed::from_seconds(8.0))
        );
        let again: Vec<bool> = activities.segments().iter().map(|segment| segment.again).collect();
        assert_eq!(again, [false, false, false, true, false]);
        assert_eq!(activities.part().part, Part::Turning);
    }

    #[test]
    fn records_out_of_place_are_refused_in_words() {
        let mut activities = Activities::default();
        assert!(matches!(
            take(&mut activities, SurveyorRecord::Turning, 1.0),
            Change::Refused(_)
        ));
        assert!(matches!(
            take(&mut activities, SurveyorRecord::Again, 1.0),
            Change::Refused(_)
        ));
        assert!(matches!(
            take(&mut activities, SurveyorRecord::Resume, 1.0),
            Change::Refused(_)
        ));
    }

    #[test]
    fn a_row_at_the_moment_of_a_record_goes_by_the_order_of_the_lines() {
        let mut activities = Activities::default();
        activities.take(
            SurveyorRecord::Point {
                name: None,
                messages: None,
            },
            mark(5.0, 50),
            100,
            10.0,
        );
        assert_eq!(activities.segment_at(Elapsed::from_seconds(5.0), Some(49)), 0);
        assert_eq!(activities.segment_at(Elapsed::from_seconds(5.0), Some(51)), 1);
        assert_eq!(activities.segment_at(Elapsed::from_seconds(5.0), None), 1);
    }
}
