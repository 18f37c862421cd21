//! How it was measured and computed, with sources; and what it does not tell.

use crate::writeup::document::{Block, Section};

/// How figures came about, each with its source where it has one.
const HOW: [&str; 14] = [
    "Exchange: the board pings the fixed station and the station answers. One that is not answered is lost; a number missing between two of a board's lines is lost too. \
     Delivery is the share answered, there and back.",
    "Level: received signal strength in dBm as the radio reports it. Radios differ by some decibels in what they call a dBm; only levels read by one receiver are compared.",
    "Positions are those of the GPS receiver, interpolated between fixes at most 3 s apart and placed on one clock with the exchanges; distance and bearing follow the geodesic on WGS 84 (Karney \
     2013, J. Geodesy 87:43). Bearings are true.",
    "Delivery of a run: Wilson's score interval (1927, J. Am. Stat. Assoc. 22:209) on effective counts. Losses come in bursts; counts are divided by the inflation that the survey's own bursts show, \
     and Student's quantile takes the place of the normal one.",
    "Verdict: an e-value that may be looked at after every message (Wasserman, Ramdas and Balakrishnan 2020, PNAS 117:16880; Ville 1939): at most one place in twenty is called wrongly at 95 % confidence.",
    "Local mean level: readings and losses weighed together through the board's own S-curve and Rician fading (Rice 1945, Bell Syst. Tech. J. 24:46), so that weak messages that never arrived count too; the mean of \
     the readings alone would be too high where much is lost.",
    "Margin: how far the local mean level stands above the level at which this board still delivers 90 %, as a walk to the edge of range showed it; both uncertainties are in its interval.",
    "Law of level by distance: level falls by 10 n dB for ten times the distance, with log-normal shadowing correlated along the walk, integrated over; losses are part of the likelihood (censoring), and the board's S-curve \
     is learned with it. Intervals are widened by factors found on simulated walks that break the model as real ones do.",
    "Range: the distance at which so much is delivered on average over places; its interval in the form of Fieller (1954, J. R. Stat. Soc. B 16:175), so its far end may be open.",
    "Boards compared: a linear model of stop and board on the levels the one station read, losses included; intervals that hold together after Dunnett (1955, J. Am. Stat. Assoc. 50:1096).",
    "Sweep: a Fourier series of at most three harmonics through the levels at the turns, regularised, with what repositioning changes estimated beside it (Patterson and Thompson 1971, Biometrika 58:545); figures are read off draws. Directions after Mardia and \
     Jupp, Directional Statistics (2000).",
    "Places: levels of ground squares, losses included, interpolated by a Gaussian field with exponential covariance about a distance trend (kriging; Cressie, Statistics for Spatial Data, 1993); the level needed is that of the readings' own Rician fading with what is lost at any level, each with its doubt; the chance is that of delivering the \
     goal with the margin to spare.",
    "Colours are those of Okabe and Ito (2008), which colour-blind eyes tell apart; each also has a shape or dash.",
    "For reading, maps gather exchanges into squares of ground and scatter plots into dots; all figures are computed from every exchange that counts.",
];

/// What no survey tells.
const UNTOLD: [&str; 8] = [
    "Other days: leaves, rain, wet ground, a parked lorry or a new neighbour's network change a link by several decibels. The margin is there to carry that; whether it is enough nobody has measured here.",
    "Other heights and places: a node mounted higher, lower, on metal or behind a wall hears something else. Between places walked, the map is an estimate and says how sure it is.",
    "Other hands: the walker's body took up to several decibels when it stood in the way. A mounted node has no walker.",
    "Other specimens: one board of a kind was measured, not the kind.",
    "Directions above and below: a sweep turns the board flat, in one plane; tilt is not in it.",
    "One way: delivery is of the round trip. Which direction lost a message is told only where the station counts what it hears.",
    "Energy, throughput and delay under load.",
    "What is allowed: check your local rules before transmitting; nothing here says what power, aerial or channel may be used where you are.",
];

/// How it was measured and computed.
pub fn section() -> Section {
    list("method", "How it was measured and computed", &HOW)
}

/// What it does not tell.
pub fn untold() -> Section {
    list("untold", "What it does not tell", &UNTOLD)
}

fn list(id: &str, title: &str, items: &[&str]) -> Section {
    Section {
        id: id.to_owned(),
        title: title.to_owned(),
        sub: false,
        blocks: vec![Block::List(items.iter().map(|item| (*item).to_owned()).collect())],
    }
}
