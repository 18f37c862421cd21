//! A progress bar for commands that work for longer than a second, on a terminal only.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// A bar that shows itself once a second has passed.
#[derive(Debug)]
pub struct Bar {
    bar: ProgressBar,
    shown: bool,
}

impl Bar {
    /// A bar over so many steps.
    pub fn new(what: &'static str, steps: usize) -> Self {
        let bar = ProgressBar::with_draw_target(Some(steps as u64), ProgressDrawTarget::hidden());
        if let Ok(style) = ProgressStyle::with_template("{msg} {wide_bar} {pos}/{len}") {
            bar.set_style(style);
        }
        bar.set_message(what);
        Self { bar, shown: false }
    }

    /// So many steps are done.
    pub fn at(&mut self, done: usize) {
        if !self.shown && self.bar.elapsed().as_secs_f64() > 1.0 {
            // Draws nothing where standard error is no terminal.
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
            self.shown = true;
        }
        self.bar.set_position(done as u64);
    }

    /// Takes the bar away.
    pub fn end(&self) {
        self.bar.finish_and_clear();
    }
}
