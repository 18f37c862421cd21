//! How a signal weakens on its way: one published formula a file.
