//! What is typed into the set-up, understood or refused in words that say what to write.

use crate::ground::Position;
use crate::units::{Degrees, Metres};

/// A place as latitude and longitude in decimal degrees, parted by a comma or a space.
///
/// # Errors
/// In words: what is wrong, and what to write.
pub fn position(text: &str) -> Result<Option<Position>, String> {
    const HELP: &str = "write latitude, longitude in decimal degrees, south and west negative: 52.10000, -2.90000";
    let text = text.trim().replace('−', "-");
    if text.is_empty() {
        return Ok(None);
    }
    let parts: Vec<&str> = text.split([',', ' ', ';']).filter(|part| !part.is_empty()).collect();
    let [lat, lon] = parts[..] else {
        return Err(match parts.len() {
            1 => format!("that is one number; {HELP}"),
            4 => format!("these are four numbers: decimals take a dot, not a comma; {HELP}"),
            _ => HELP.to_owned(),
        });
    };
    let degrees = |part: &str| {
        number(part)
            .map(Degrees)
            .ok_or_else(|| format!("`{part}` is no number; {HELP}"))
    };
    Position::new(degrees(lat)?, degrees(lon)?)
        .map(Some)
        .map_err(|wrong| wrong.to_string())
}

/// A height or a sigma in metres; nothing is unknown.
///
/// # Errors
/// In words.
pub fn metres(text: &str, least: f64, most: f64) -> Result<Option<Metres>, String> {
    let text = text.trim().trim_end_matches('m').trim();
    if text.is_empty() {
        return Ok(None);
    }
    match number(text) {
        Some(found) if (least..=most).contains(&found) => Ok(Some(Metres(found))),
        Some(found) => Err(format!("{found} m is not between {least} and {most} m")),
        None => Err(format!(
            "`{text}` is no number of metres; write for example 1.5, or nothing where it is unknown"
        )),
    }
}

/// A share in per cent, both ends exclusive, as a number from 0 to 1.
///
/// # Errors
/// In words.
pub fn share(text: &str, least: f64) -> Result<f64, String> {
    let text = text.trim().trim_end_matches('%').trim();
    match number(text) {
        Some(found) if found > least && found < 100.0 => Ok(found / 100.0),
        Some(found) if found >= 100.0 => Err(format!(
            "{found} % can never be proved: write less than 100, such as 95"
        )),
        Some(found) => Err(format!("{found} % is too little: write more than {least}, such as 95")),
        None => Err(format!("`{text}` is no number of per cent; write for example 95")),
    }
}

/// A margin in dB.
///
/// # Errors
/// In words.
pub fn decibels(text: &str, least: f64, most: f64) -> Result<f64, String> {
    let text = text.trim().trim_end_matches("dBm").trim_end_matches("dB").trim();
    match number(text) {
        Some(found) if (least..=most).contains(&found) => Ok(found),
        Some(found) => Err(format!("{found} is not between {least} and {most}")),
        None => Err(format!("`{text}` is no number; write for example 10")),
    }
}

/// A count.
///
/// # Errors
/// In words.
pub fn count(text: &str, least: u32, most: u32) -> Result<u32, String> {
    match text.trim().parse::<u32>() {
        Ok(found) if (least..=most).contains(&found) => Ok(found),
        Ok(found) => Err(format!("{found} is not between {least} and {most}")),
        Err(_) => Err(format!(
            "`{}` is no whole number; write for example {}",
            text.trim(),
            100.clamp(least, most)
        )),
    }
}

/// A finite number with a dot for decimals.
pub fn number(text: &str) -> Option<f64> {
    let found: f64 = text.replace('−', "-").parse().ok()?;
    found.is_finite().then_some(found)
}

/// A place as it is typed: eight decimals are a millimetre.
pub fn position_text(position: Position) -> String {
    format!("{:.8}, {:.8}", position.lat().0, position.lon().0)
}

/// A share as per cent, as short as it can be.
pub fn share_text(share: f64) -> String {
    let text = format!("{:.4}", share * 100.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn positions_are_read_or_refused_in_words() {
        let at = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
        for text in ["52.1,-2.9", " 52.1, -2.9 ", "52.1 -2.9", "52.1;−2.9"] {
            assert_eq!(position(text), Ok(Some(at)), "{text}");
        }
        assert_eq!(position("  "), Ok(None));
        for (text, words) in [
            ("52.1", "one number"),
            ("52,1 -2,9", "dot"),
            ("north", "one number"),
            ("52.1, west", "`west` is no number"),
            ("95, 0", "latitude 95"),
            ("10, 181", "longitude 181"),
            ("nan, 0", "`nan`"),
        ] {
            let refused = position(text).unwrap_err();
            assert!(refused.contains(words), "{text}: {refused}");
        }
        assert_eq!(position(&position_text(at)), Ok(Some(at)));
    }

    #[test]
    fn shares_are_per_cent_and_never_all_or_nothing() {
        assert_eq!(share("95 %", 0.0), Ok(0.95));
        assert!(share("100", 0.0).is_err());
        assert!(share("0", 0.0).is_err());
        assert!(share("50", 50.0).is_err());
        assert!(share("", 0.0).is_err());
        assert_eq!(share_text(0.95), "95");
        assert_eq!(share_text(0.999), "99.9");
    }

    #[test]
    fn metres_may_be_unknown() {
        assert_eq!(metres("", 0.0, 10.0), Ok(None));
        assert_eq!(metres("1.5 m", 0.0, 10.0), Ok(Some(Metres(1.5))));
        assert!(metres("11", 0.0, 10.0).is_err());
        assert!(metres("inf", 0.0, 10.0).is_err());
    }

    #[test]
    fn counts_and_decibels_have_their_ranges() {
        assert_eq!(count("100", 1, 1000), Ok(100));
        assert!(count("0", 1, 1000).is_err());
        assert!(count("1.5", 1, 1000).is_err());
        assert_eq!(decibels("10 dB", -50.0, 100.0), Ok(10.0));
        assert_eq!(decibels("-3", -50.0, 100.0), Ok(-3.0));
        assert!(decibels("", -50.0, 100.0).is_err());
    }
}
