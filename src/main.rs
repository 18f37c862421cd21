//! Parses the command line, runs the command, returns its exit code.

fn main() {}
