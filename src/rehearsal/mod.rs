//! Invented gear in an invented orchard: a fair world that speaks in wire lines.
