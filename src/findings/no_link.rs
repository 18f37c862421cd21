//! Exchanges placed farther from the station than any link goes: the station noted wrongly, or a receiver that jumped.

use super::words::{count, so_many};
use crate::units::Metres;

/// No link of boards that are carried goes this far, metres: some kilometres over water are much (common practice).
const NO_LINK_M: f64 = 50_000.0;

/// Keeps what a link can have come from, and says how much was not.
///
/// `away` is how far each lies from the station, metres. Where all of it is too far the receiver is right and the station noted
/// wrongly; where only some is, the receiver jumped.
///
/// # Errors
/// How far the nearest is, where all of it is too far; nothing is then left out.
pub fn in_reach<T>(all: &mut Vec<T>, away: impl Fn(&T) -> f64) -> Result<usize, Metres> {
    let near_enough = |one: &T| away(one) <= NO_LINK_M;
    // Nearly always the first is.
    if !all.iter().any(near_enough)
        && let Some(nearest) = all.iter().map(&away).min_by(f64::total_cmp)
    {
        return Err(Metres(nearest));
    }
    let before = all.len();
    all.retain(near_enough);
    Ok(before - all.len())
}

/// That the station is noted too far from all that was walked, and what to do.
pub fn station_far(away: Metres) -> String {
    format!(
        "the station's position is {} km from where was walked: correct it in survey.toml and rebuild",
        count((away.0 / 1000.0).round() as u64)
    )
}

/// That the receiver put some exchanges where no link goes; nothing of none.
pub fn left_out(too_far: usize) -> Option<String> {
    (too_far > 0).then(|| {
        format!(
            "{} placed more than {:.0} km from the station left out: the receiver jumped",
            so_many(too_far as u64, "exchange", "exchanges"),
            NO_LINK_M / 1000.0
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_all_is_too_far_the_station_is_and_where_some_is_the_receiver_jumped() {
        let kept = |mut all: Vec<f64>| in_reach(&mut all, |away| *away).map(|out| (out, all));
        assert_eq!(kept(vec![575_190.0, 575_184.0]), Err(Metres(575_184.0)));
        assert_eq!(kept(vec![900.0, 575_184.0, 40.0]), Ok((1, vec![900.0, 40.0])));
        assert_eq!(kept(Vec::new()), Ok((0, Vec::new())));
        assert!(
            station_far(Metres(1_575_184.0)).starts_with("the station's position is 1,575 km from where was walked")
        );
        assert_eq!(left_out(0), None);
        assert_eq!(
            left_out(3).unwrap(),
            "3 exchanges placed more than 50 km from the station left out: the receiver jumped"
        );
    }
}
