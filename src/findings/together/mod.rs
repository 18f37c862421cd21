//! Several surveys of the same ground looked at together: what differs where.
//!
//! In reading order: [`learn`] (figures of each, told what the others taught), [`member`] (a survey taking part), [`squares`] (its exchanges by squares of one shared frame), [`pair`]
//! (two surveys place by place), [`compared`] (what both measured at one), [`stops`] (their points), [`strand`] (level by distance), [`mind`] (what a reader must keep
//! in mind), [`whole`] (all of it), and how it is said: [`say`], [`text`], [`json`].

pub mod compared;
pub mod json;
pub mod learn;
pub mod member;
pub mod mind;
pub mod pair;
pub mod say;
pub mod squares;
pub mod stops;
pub mod strand;
pub mod text;
pub mod whole;
