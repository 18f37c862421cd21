//! Every number shown anywhere, computed once.
//!
//! In reading order: [`plan`] (before going out), [`now`] (this moment), [`delivery`] (what the counts of a stop prove),
//! [`points`] (a row for each run and step), [`course`] (one of them row by row), [`station`] (its position, averaged), [`turning`] (how far a sweep has come), [`heading`] (the same by compass), [`trouble`] (what is
//! wrong with the gear), [`losses`] (why the last messages were lost), [`answer`] (can a node go here?); then what takes a
//! fit: [`side`] (whose levels), [`movement`] (how far a board moved), [`offsets`] (where it was about the station), [`silences`] (when the station did not answer),
//! [`usual_board`] (what stands for a need nobody knows),
//! [`curves`] (what boards need), [`need`] (the same learned at points), [`no_margin`] (why neither is known), [`no_link`] (exchanges placed where no link goes), [`reach`] (how far they go), [`walk_losses`] (why messages of walks were lost), [`stint`] (what is reckoned as here), [`stop`] (level, margin,
//! losses), [`grid`] (which board was measured where, and what is missing), [`boards`] (compared), [`sweeps`] (turned; [`whereabouts`]
//! says where),
//! [`places`] (where a node can go), [`assumptions`] (what node that is), [`by_distance`] (rings about the station), and all
//! of it together, [`estimates`], made in two halves ([`groundwork`]); several surveys of the same ground, [`together`]; last how it is said: [`words`],
//! [`count_words`] (what a count proves), [`loss_words`], [`reach_words`] and [`amounts`], [`outdoors`] (what to take care of there),
//! [`sweep_words`], [`table`], [`json`].

pub mod plan;

pub mod amounts;
pub mod answer;
pub mod course;
pub mod delivery;
pub mod heading;
pub mod losses;
pub mod now;
pub mod outdoors;
pub mod points;
pub mod station;
pub mod trouble;
pub mod turning;

pub mod curves;
pub mod movement;
pub mod offsets;
pub mod side;
pub mod silences;
pub mod usual_board;

pub mod assumptions;
pub mod boards;
pub mod by_distance;
pub mod common_meter;
pub mod grid;
pub mod need;
pub mod no_link;
pub mod no_margin;
pub mod places;
pub mod reach;
pub mod stint;
pub mod stop;
pub mod sweeps;
pub mod walk_losses;
pub mod whereabouts;

pub mod estimates;
pub mod groundwork;
pub mod together;

pub mod boards_json;
pub mod compared_words;
pub mod count_words;
pub mod json;
pub mod loss_json;
pub mod loss_words;
pub mod reach_words;
pub mod sweep_words;
pub mod table;
pub mod words;
