//! How it was measured and computed, with sources; and what it does not tell.

use crate::findings::words;
use crate::stats::places::{GOOD, POOR};
use crate::stats::walk::inflation::Inflation;
use crate::writeup::document::{Block, Section};

/// How figures came about, each with its source where it has one.
const HOW: [&str; 12] = [
    "Exchange: the board pings the fixed station and the station answers. One that is not answered is lost; a number missing between two of a board's lines is lost too. \
     Delivery is the share answered, there and back.",
    "Level: received signal strength in dBm as the radio reports it. Radios differ by some decibels in what they call a dBm; only levels read by one receiver are compared.",
    "Positions are those of the GPS receiver, interpolated between fixes at most 3 s apart and placed on one clock with the exchanges; distance and bearing follow the geodesic on WGS 84 (Karney \
     2013, J. Geodesy 87:43). Bearings are true.",
    "Delivery of a run: Wilson's score interval (1927, J. Am. Stat. Assoc. 22:209) on effective counts. Losses come in bursts; counts are divided by the inflation that the survey's own bursts show, \
     and Student's quantile takes the place of the normal one. Bursts of up to 8 messages on average (about 0.8 s at 10 messages a second) are assumed beforehand; the survey's own runs \
     say more. Where losses come in longer bursts the interval is too narrow.",
    "Verdict: an e-value that may be looked at after every message (Wasserman, Ramdas and Balakrishnan 2020, PNAS 117:16880; Ville 1939): at most one place in twenty is called wrongly at 95 % confidence.",
    "Local mean level: readings and losses weighed together through the board's own S-curve and Rician fading (Rice 1945, Bell Syst. Tech. J. 24:46), so that weak messages that never arrived count too; the mean of \
     the readings alone would be too high where much is lost.",
    "Margin: how far the local mean level stands above the level at which this board still delivers 90 %, as a walk to the edge of range showed it; both uncertainties are in its interval.",
    "Range: the distance at which so much is delivered on average over places; its interval in the form of Fieller (1954, J. R. Stat. Soc. B 16:175), so its far end may be open.",
    "Boards compared: a linear model of stop and board on the levels the one station read, losses included; intervals that hold together after Dunnett (1955, J. Am. Stat. Assoc. 50:1096).",
    "Sweep: a Fourier series of at most three harmonics through the levels at the turns, regularised, with what repositioning changes estimated beside it (Patterson and Thompson 1971, Biometrika 58:545); figures are read off draws. Directions after Mardia and \
     Jupp, Directional Statistics (2000).",
    "Colours are those of Okabe and Ito (2008), which colour-blind eyes tell apart; each also has a shape or dash.",
    "For reading, maps gather exchanges into squares of ground and scatter plots into dots; all figures are computed from every exchange that counts.",
];

/// How many of them come before the law of level by distance: up to the margin.
const AFTER_MARGIN: usize = 7;

/// What no survey tells.
const UNTOLD: [&str; 8] = [
    "Other days: leaves, rain, wet ground, a parked lorry or a new neighbour's network change a link by several decibels. The margin is there to carry that; whether it is enough nobody has measured here.",
    "Other heights and places: a node mounted higher, lower, on metal or behind a wall hears something else. Between places walked, the map is an estimate and says how sure it is.",
    "Other hands: the walker's body takes its part when it stands in the way; how much, stands under delivery and level by distance where a walk told it. A mounted node has no walker.",
    "Other specimens: one board of a kind was measured, not the kind.",
    "Directions above and below: a sweep turns the board flat, in one plane; tilt is not in it.",
    "One way: delivery is of the round trip. Which direction lost a message is told only where the station counts what it hears.",
    "Energy, throughput and delay under load.",
    "What is allowed: check your local rules before transmitting; nothing here says what power, aerial or channel may be used where you are.",
];

/// How it was measured and computed.
pub fn section() -> Section {
    let mut how: Vec<String> = HOW.iter().map(|item| (*item).to_owned()).collect();
    how.insert(AFTER_MARGIN, law());
    how.insert(how.len() - 2, places());
    list("method", "How it was measured and computed", how)
}

/// What it does not tell.
pub fn untold() -> Section {
    let untold = UNTOLD.iter().map(|item| (*item).to_owned()).collect();
    list("untold", "What it does not tell", untold)
}

/// The law of level by distance, with the factors its intervals are widened by.
fn law() -> String {
    let by = Inflation::MEASURED;
    let factor = |factor: f64| words::minus(factor, 2);
    format!(
        "Law of level by distance: level falls by 10 n dB for ten times the distance, with log-normal shadowing correlated along the walk, integrated over; losses are part of the likelihood (censoring), and the board's \
         S-curve is learned with it. Its intervals are widened by factors found on simulated walks that break the model as real ones do: the exponent's {}, and {} more for each unit of the share of places walked \
         twice; shadowing's {} (of its logarithm); what a board needs {}; what the body takes {}; the mean level at a distance {}; ranges (of their logarithm) {} on the near side, {} on the far side, {} on both where \
         the law bends; beyond the walk the exponent may change by {} (one standard deviation); {} dB² of the scatter within a few metres may be none of fading.",
        factor(by.slope),
        factor(by.slope_revisited),
        factor(by.shadowing),
        factor(by.sensitivity),
        factor(by.body),
        factor(by.level),
        factor(by.range_near),
        factor(by.range),
        factor(by.range_bent),
        factor(by.unwalked_slope),
        factor(by.unseen_scatter)
    )
}

/// The map of places, with the limits of its classes.
fn places() -> String {
    format!(
        "Places: levels of ground squares, losses included, interpolated by a Gaussian field with exponential covariance about a distance trend (kriging; Cressie, Statistics for Spatial Data, 1993); the level needed is \
         that of the readings' own Rician fading with what is lost at any level, each with its doubt, and stands with the map; the chance is that of delivering the goal with the margin to spare. Good: {} or more; poor: {} \
         or less; marginal: between.",
        words::percent(GOOD),
        words::percent(POOR)
    )
}

fn list(id: &str, title: &str, items: Vec<String>) -> Section {
    Section {
        id: id.to_owned(),
        title: title.to_owned(),
        sub: false,
        blocks: vec![Block::List(items)],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_needed_to_compute_it_again_is_said() {
        let section = section();
        let [Block::List(items)] = section.blocks.as_slice() else {
            panic!("a list");
        };
        let place = |begin: &str| items.iter().position(|item| item.starts_with(begin)).unwrap();
        assert_eq!(place("Law of level"), place("Margin:") + 1);
        assert_eq!(place("Places:"), place("Sweep:") + 1);
        assert!(items[place("Delivery of a run:")].contains("0.8 s"));
        assert!(items[place("Places:")].contains("Good: 90 % or more; poor: 10 % or less"));
        let law = &items[place("Law of level")];
        for factor in [
            Inflation::MEASURED.slope,
            Inflation::MEASURED.range_near,
            Inflation::MEASURED.body,
        ] {
            assert!(law.contains(&format!("{factor:.2}")), "{factor}: {law}");
        }
    }
}
