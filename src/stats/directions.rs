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

/// Returns deliveries each way between the first and the last of `echoes` of one boot: each its unwrapped ping number and the
/// station's count, in order.
///
/// The first and last echo themselves are left out: they arrived by being chosen. Where the count does not fit the numbers
/// (it fell, or rose by more than was sent) the station restarted or counts otherwise: counting begins anew there. `None`
/// when nothing lies between.
pub fn directions(echoes: &[(i64, u64)]) -> Option<Directions> {
    let mut total = Directions {
        sent: 0,
        heard: 0,
        answered: 0,
    };
    let mut start = 0;
    for i in 1..=echoes.len() {
        let fits = i < echoes.len() && {
            let (before, now) = (echoes[i - 1], echoes[i]);
            let sent = now.0.checked_sub(before.0).filter(|s| *s >= 1);
            let heard = now.1.checked_sub(before.1).filter(|h| *h >= 1);
            sent.zip(heard).is_some_and(|(s, h)| h <= s as u64)
        };
        if fits {
            continue;
        }
        let (first, last) = (echoes[start], echoes[i - 1]);
        let apart = last.0.saturating_sub(first.0) as u64;
        if apart > 1 {
            total.sent = total.sent.saturating_add(apart - 1);
            total.heard = total.heard.saturating_add(last.1 - first.1 - 1);
            total.answered += (i - 1 - start) as u64 - 1;
        }
        start = i;
    }
    (total.sent > 0).then_some(total)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_station_that_restarts_counts_anew() {
        let echoes = [(1, 100), (2, 101), (4, 103), (5, 1), (6, 2), (8, 4), (8, 4), (7, 9)];
        let d = directions(&echoes).unwrap();
        assert_eq!(
            d,
            Directions {
                sent: 2 + 2,
                heard: 2 + 2,
                answered: 1 + 1
            }
        );
        assert_eq!(directions(&[]), None);
        assert_eq!(directions(&[(1, 1), (2, 2)]), None);
        assert_eq!(directions(&[(i64::MIN, 1), (i64::MAX, 2)]), None);
        assert!(directions(&[(i64::MIN, 1), (-1, 2), (i64::MAX - 1, 3)]).is_some());
    }
}
