//! Position lines of receivers (NMEA 0183), joined into epochs.
