//! Deliveries each way, told apart by the station's own count of what it heard.

/// Deliveries each way, from the station's own count of the pings it heard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Directions {
    /// Pings the station had the chance to hear.
    pub sent: u64,
    /// Pings it heard.
    pub heard: u64,
    /// Answers that arrived here.
    pub answered: u64,
}

/// A ping that counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ping {
    /// Its unwrapped number.
    pub number: u64,
    /// Whether its answer arrived.
    pub answered: bool,
    /// The station's count of pings, as the answer told it.
    pub heard: Option<u64>,
}

/// Returns deliveries each way over the pings of one boot that count, in order.
///
/// The station counts every ping, so its count is followed only over pings whose numbers run on: where one is left out, the
/// count went on meanwhile by what is not looked at here, and begins anew. So it does where it does not fit the numbers (it
/// fell, or rose by more than was sent): the station restarted or counts otherwise. The first and the last answer of each
/// stretch are left out themselves: they arrived by being chosen. `None` when nothing lies between.
pub fn directions(pings: impl IntoIterator<Item = Ping>) -> Option<Directions> {
    let mut total = Directions {
        sent: 0,
        heard: 0,
        answered: 0,
    };
    let mut stretch: Option<Stretch> = None;
    let mut before: Option<u64> = None;
    for ping in pings {
        let runs_on = before.is_some_and(|before| before.checked_add(1) == Some(ping.number));
        before = Some(ping.number);
        if !runs_on {
            total.add(stretch.take().as_ref());
        }
        let Some(heard) = ping.heard else {
            if let Some(stretch) = &mut stretch {
                stretch.since += u64::from(ping.answered);
            }
            continue;
        };
        if let Some(stretch) = stretch.as_mut().filter(|stretch| stretch.fits(ping.number, heard)) {
            stretch.answers += stretch.since + 1;
            stretch.since = 0;
            stretch.last = (ping.number, heard);
        } else {
            total.add(stretch.take().as_ref());
            stretch = Some(Stretch {
                first: (ping.number, heard),
                last: (ping.number, heard),
                answers: 0,
                since: 0,
            });
        }
    }
    total.add(stretch.as_ref());
    (total.sent > 0).then_some(total)
}

/// Pings that run on and whose counts fit.
struct Stretch {
    /// Number and count of the first answer that tells one, and of the last.
    first: (u64, u64),
    last: (u64, u64),
    /// Answers after the first as far as the last.
    answers: u64,
    /// Answers after the last that tell no count.
    since: u64,
}

impl Stretch {
    fn fits(&self, number: u64, heard: u64) -> bool {
        let sent = number.checked_sub(self.last.0).filter(|sent| *sent >= 1);
        let more = heard.checked_sub(self.last.1).filter(|more| *more >= 1);
        sent.zip(more).is_some_and(|(sent, more)| more <= sent)
    }
}

impl Directions {
    fn add(&mut self, stretch: Option<&Stretch>) {
        let Some(Stretch {
            first, last, answers, ..
        }) = stretch
        else {
            return;
        };
        let (apart, counted) = (last.0 - first.0, last.1 - first.1);
        if apart > 1 {
            self.sent = self.sent.saturating_add(apart - 1);
            self.heard = self.heard.saturating_add(counted - 1);
            self.answered = self.answered.saturating_add(answers - 1);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pings from 1 on; `None` is lost, else what the answer tells of the station's count.
    fn pings(counts: &[Option<u64>]) -> Vec<Ping> {
        let ping = |(number, heard): (u64, &Option<u64>)| Ping {
            number,
            answered: heard.is_some(),
            heard: *heard,
        };
        (1..).zip(counts).map(ping).collect()
    }

    #[test]
    fn a_station_that_restarts_counts_anew() {
        let counts = [Some(100), Some(101), None, Some(103), Some(1), Some(2), None, Some(4)];
        assert_eq!(
            directions(pings(&counts)).unwrap(),
            Directions {
                sent: 2 + 2,
                heard: 2 + 2,
                answered: 1 + 1
            }
        );
        assert_eq!(directions([]), None);
        assert_eq!(directions(pings(&[Some(1), Some(2)])), None);
        let last = |number| Ping {
            number,
            answered: true,
            heard: Some(number),
        };
        assert_eq!(directions([last(u64::MAX - 1), last(u64::MAX), last(0)]), None);
    }

    #[test]
    fn pings_left_out_are_left_out_on_both_sides() {
        // All pings are heard and answered, but every other twenty are of a board on its way to the next turn.
        let all: Vec<Option<u64>> = (0..200).map(|index| Some(5 + index)).collect();
        let counted = pings(&all).into_iter().filter(|ping| ping.number / 20 % 2 == 0);
        let found = directions(counted).unwrap();
        assert_eq!((found.heard, found.answered), (found.sent, found.sent), "{found:?}");
        assert!(found.sent > 80, "{found:?}");
    }

    #[test]
    fn an_answer_that_tells_no_count_is_an_answer() {
        let mut pings = pings(&(0..50).map(|index| Some(5 + index)).collect::<Vec<_>>());
        for ping in pings.iter_mut().step_by(3) {
            ping.heard = None;
        }
        let found = directions(pings).unwrap();
        assert_eq!((found.heard, found.answered), (found.sent, found.sent), "{found:?}");
    }
}
