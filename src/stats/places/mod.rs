//! Where a node can go: from walked exchanges to the chance that a place serves the goal.
//!
//! Exchanges become records (a ground cell seen from one facing), records become Gaussian sites (losses kept, by
//! expectation propagation), sites and a trend prior become a field (exponential covariance, trend integrated out), and
//! the field becomes a chance, a level with its interval, and a class for any place. Nothing here draws random numbers or
//! iterates to a tolerance: the same exchanges give the same map.
//!
//! Frame: metres east (`x`) and north (`y`) of any local origin; levels in dBm; differences in dB; courses and bearings in
//! degrees clockwise from north; times in seconds. In reading order:

mod tails;

mod goal;

mod exchange;

mod outage;

mod record;
mod visits;

mod intake;

mod summary;

mod need;

mod trend;

mod cholesky;

mod nearest;

mod vecchia;

mod compass;

mod site;

mod kriging;

mod sensitivity;

mod hold_out;

mod model;

mod caveat;

mod trouble;

mod answer;

mod spots;

mod doubt;

mod next_walk;

mod relay;

mod courses;

mod locate;

#[cfg(test)]
mod reference;

#[cfg(test)]
mod edges;

pub use answer::{Class, Estimate, GOOD, Map, POOR, Place};
pub use caveat::Caveat;
pub use courses::Courses;
pub use exchange::{Exchange, facing};
pub use goal::{Change, Goal, GoalError, Lift, Receiver, STRONG, Threshold};
pub use hold_out::HoldOut;
pub use intake::Intake;
pub use locate::{Located, locate};
pub use model::{Empty, Model};
pub use need::{Need, RUNGS, Sensitivity};
pub use next_walk::{Frame, Leg, NextWalk, next_walk};
pub use outage::SIDE as OUTAGE_SIDE;
pub use outage::{Outage, may_be_outage, outages};
pub use record::{Binned, MAX_RECORDS, Record, bin};
pub use relay::{Promise, Role, second_places, shortlist};
pub use site::Site;
pub use spots::{Spot, spots, spots_near};
pub use tails::{STUDENT4_90, normal_below, normal_quantile, student4_below};
pub use trend::{PRIOR_MEAN, PRIOR_SD, Trend};
