//! A survey for other programs.
//!
//! [`features`] says what there is to hand on; [`geojson`], [`gpx`], [`kml`] and [`csv`] write it.

pub mod features;

pub mod csv;
pub mod geojson;
pub mod gpx;
pub mod kml;
