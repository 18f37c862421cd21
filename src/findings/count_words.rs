//! What a count proves, in words: one wording for screen, figures and write-up.
//!
//! ```text
//!  82 % proven here, however long you look; about 550 more (55 s) to show 95 %
//!  surely meets 95 % as held here (found after 340 messages); it proves 97 %
//! ```

use super::amounts::{count, so_many};
use super::course::Left;
use super::delivery::{More, Standing, two_figures};
use super::points::PointRow;
use super::words::{down, goal, metres, up};
use crate::stats::verdict::Verdict;

/// What is still missing, in the words of the one who reads it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Missing {
    /// Somebody stands there, at so many pings a second where that is known: the interval beside it is of one look.
    Live(Option<f64>),
    /// The same where there is little room and no interval beside it.
    Briefly,
    /// The run is over: a verdict takes a longer one from its beginning.
    Over,
    /// Figures of a run, read afterwards by somebody who is not there.
    Figures,
}

impl Missing {
    fn words(self, sent: u64, more: u64) -> String {
        match self {
            Self::Live(Some(rate)) => format!(
                "about {} more ({})",
                count(more),
                super::words::span(more as f64 / rate)
            ),
            Self::Live(None) | Self::Briefly => format!("about {} more", count(more)),
            Self::Over | Self::Figures => {
                format!("about {} in one run", count(two_figures(sent.saturating_add(more))))
            }
        }
    }
}

/// What the count proves, without a full stop.
pub fn by_count(standing: &Standing, missing: Missing) -> String {
    let wanted = goal(standing.judgement.goal);
    if let Some((first, after)) = standing.taken_back {
        let (met, turn) = match first {
            Verdict::Fails => ("did not meet", "less"),
            Verdict::Meets | Verdict::KeepMeasuring => ("met", "more"),
        };
        let now = match missing {
            Missing::Live(_) | Missing::Briefly => "is lost: measure anew (r)",
            Missing::Over => "is lost: measure it anew",
            Missing::Figures => "was lost",
        };
        return format!("it {met} {wanted} after {}; since then {turn} {now}", count(after));
    }
    if let Some(after) = standing.found_after {
        let meets = standing.verdict == Verdict::Meets;
        let (does, rest) = if meets {
            ("meets", proves_more(standing))
        } else {
            ("does not meet", not_even(standing))
        };
        return format!(
            "surely {does} {wanted} as held here (found after {} messages){}",
            count(after),
            rest.map_or_else(String::new, |rest| format!("; {rest}"))
        );
    }
    let here = if matches!(missing, Missing::Live(_)) {
        " here, however long you look"
    } else {
        ""
    };
    let proven = proves(standing).map_or_else(
        || "nothing proven yet".to_owned(),
        |proven| format!("{proven} proven{here}"),
    );
    match standing.more() {
        Some(more) => {
            let words = missing.words(standing.delivery.exchanges, more.messages);
            format!("{proven}; {words} {}", towards(more, &wanted))
        }
        None => format!("{proven}; too close to {wanted} to tell soon"),
    }
}

/// The largest goal that the count proves to be met; `None` where it proves none yet.
pub fn proves(standing: &Standing) -> Option<String> {
    let proven = standing.judgement.proven?;
    // Rounded down, for it is what is surely met.
    whole(down(proven, 2)).filter(|_| proven >= 0.01)
}

/// The verdict in a few words, with what is still missing.
pub fn verdict(standing: &Standing) -> String {
    let wanted = goal(standing.judgement.goal);
    match (standing.verdict, standing.taken_back, standing.more()) {
        (_, Some(_), _) => "changed meanwhile".to_owned(),
        (Verdict::Meets, ..) => "meets the goal".to_owned(),
        (Verdict::Fails, ..) => "misses the goal".to_owned(),
        (Verdict::KeepMeasuring, None, Some(more)) => format!(
            "not sure yet: about {} more {}",
            count(more.messages),
            towards(more, &wanted)
        ),
        (Verdict::KeepMeasuring, None, None) => format!("too close to {wanted} to tell soon"),
    }
}

/// That a point was left before it was ended, in words.
pub fn left(row: &PointRow, left: &Left) -> String {
    let aside = left.all.messages.saturating_sub(row.messages);
    format!(
        "then carried {} away before the point was ended: {} of that left aside",
        metres(left.away_m),
        so_many(aside, "message", "messages")
    )
}

fn towards(more: More, wanted: &str) -> String {
    let word = if more.would_meet { "to show" } else { "to rule out" };
    format!("{word} {wanted}")
}

fn proves_more(standing: &Standing) -> Option<String> {
    let proven = standing.judgement.proven?;
    let finer = if proven > 0.99 {
        down(proven, 3)
    } else {
        down(proven, 2)
    };
    (finer > standing.judgement.goal + 1e-9).then(|| format!("it proves {}", goal(finer)))
}

fn not_even(standing: &Standing) -> Option<String> {
    let refuted = up(standing.judgement.refuted?, 2);
    (refuted < standing.judgement.goal - 1e-9).then(|| format!("not even {}", goal(refuted)))
}

fn whole(share: f64) -> Option<String> {
    share.is_finite().then(|| goal(share))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::delivery::Stops;
    use crate::survey::exchange::Heard;
    use crate::survey::sample::{Activity, Sample};
    use crate::survey::setup::Goal;
    use crate::units::{Elapsed, UtcMs};

    /// So many messages, the losses among them spread evenly.
    fn of(delivered: u64, sent: u64) -> Standing {
        let mut stop = Stops::new(&Goal::default()).begin();
        let lost = sent - delivered;
        for index in 0..sent {
            let arrived = (index + 1) * lost / sent == index * lost / sent;
            stop.push(&Sample {
                utc: UtcMs(0),
                at: Elapsed(index * 100_000),
                boot: 0,
                run: 1,
                n: index,
                echo: arrived.then(Heard::default),
                channel: None,
                place: None,
                activity: Activity::Point(0),
                excluded: None,
            });
        }
        stop.standing().unwrap()
    }

    #[test]
    fn what_more_messages_would_do_has_a_direction() {
        let clean = by_count(&of(100, 100), Missing::Figures);
        assert!(
            clean.contains(" % proven; about ") && clean.ends_with("0 in one run to show 95 %"),
            "{clean}"
        );
        let lossy = of(545, 600);
        let said = by_count(&lossy, Missing::Figures);
        let more = lossy.more().unwrap();
        let whole = format!("about {} in one run to rule out 95 %", two_figures(600 + more.messages));
        assert!(!more.would_meet && said.ends_with(&whole), "{said}");
        assert!(verdict(&lossy).starts_with(&format!("not sure yet: about {} more to rule out", more.messages)));
        let live = by_count(&lossy, Missing::Live(Some(10.0)));
        assert!(live.contains(&format!("about {} more (", more.messages)), "{live}");
        assert!(by_count(&of(285, 300), Missing::Figures).ends_with("too close to 95 % to tell soon"));
    }

    #[test]
    fn a_verdict_says_when_it_was_found_and_what_else_is_proven() {
        let clean = of(4000, 4000);
        let said = by_count(&clean, Missing::Briefly);
        assert!(
            said.starts_with(&format!(
                "surely meets 95 % as held here (found after {} messages); it proves 9",
                clean.found_after.unwrap()
            )),
            "{said}"
        );
        let bad = by_count(&of(50, 100), Missing::Briefly);
        assert!(
            bad.starts_with("surely does not meet 95 % as held here (found after ")
                && bad.contains("; not even ")
                && !bad.contains("after 100 "),
            "{bad}"
        );
    }

    #[test]
    fn five_messages_prove_nothing() {
        let five = of(5, 5);
        assert_eq!(proves(&five), None);
        assert!(by_count(&five, Missing::Figures).starts_with("nothing proven yet; about "));
    }
}
