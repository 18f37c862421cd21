//! The survey: what happened (events), what it means (the reducer), and a row for each exchange.
