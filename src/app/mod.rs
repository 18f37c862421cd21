//! The commands, and the shell around the pure middle: clock, channel, terminal, threads.
