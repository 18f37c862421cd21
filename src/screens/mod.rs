//! What the surveyor sees: keys, theme, layouts, one panel a file.
//!
//! In reading order: [`field`] (keys in, pages out), [`ui`] (what the person opened and chose), [`asking`] (keys while the page asks something), [`keys`], [`sweep_plan`],
//! [`assume_plan`], [`scene`] (what a page shows) with [`walked`], [`outlook`] (the slower estimates) and [`fresh`] (which of them are of now), [`page`] (which
//! panels, and where), [`bell`], [`playback`], [`desk`] (one or several surveys), [`together`] (several as one page); the panels
//! [`title`], [`here`] with [`stop`], [`statements`] and [`trouble_lines`], [`ground`], [`distance`], [`guide`],
//! [`turns`] (sweeps) with [`pattern`] and [`polar`], [`boards`] with [`boards_words`],
//! [`places`], [`timeline`], [`bottom`], [`help`], [`over`]; and what they draw with: [`theme`], [`size`], [`paint`],
//! [`number`], [`digits`], [`dots`]. [`start`] is what comes before and after a survey. Knows no clock, thread, file or terminal.

pub mod asking;
pub mod assume_plan;
pub mod bell;
pub mod boards;
pub mod boards_words;
pub mod bottom;
pub mod desk;
pub mod digits;
pub mod distance;
pub mod dots;
pub mod field;
pub mod fresh;
pub mod ground;
pub mod guide;
pub mod help;
pub mod here;
pub mod keys;
pub mod number;
pub mod outlook;
pub mod over;
pub mod page;
pub mod paint;
pub mod pattern;
pub mod places;
pub mod playback;
pub mod polar;
pub mod scene;
pub mod size;
pub mod start;
pub mod statements;
pub mod stop;
pub mod sweep_plan;
pub mod theme;
pub mod timeline;
pub mod title;
pub mod together;
pub mod trouble_lines;
pub mod turns;
pub mod ui;
pub mod walked;
