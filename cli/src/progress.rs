//! A progress bar for work of over a second, on a terminal only.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread::JoinHandle;
use std::time::Duration;

/// Shorter work shows nothing, so that a quick run does not flicker.
const QUIET: Duration = Duration::from_secs(1);
const TICK: Duration = Duration::from_millis(100);

/// Counts the steps of one command.
pub(crate) struct Progress {
    bar: ProgressBar,
    watcher: Option<(mpsc::Sender<()>, JoinHandle<()>)>,
}

impl Progress {
    /// Starts counting to `steps`; nothing is ever drawn unless `terminal`.
    pub(crate) fn start(terminal: bool, steps: u64) -> Self {
        let bar = ProgressBar::with_draw_target(Some(steps), ProgressDrawTarget::hidden());
        if !terminal {
            return Self { bar, watcher: None };
        }
        if let Ok(style) = ProgressStyle::with_template("{bar:24} {pos}/{len} {msg}") {
            bar.set_style(style);
        }
        let (done, waiting) = mpsc::channel();
        let shown = bar.clone();
        let watcher = std::thread::spawn(move || {
            if waiting.recv_timeout(QUIET) == Err(RecvTimeoutError::Timeout) {
                shown.set_draw_target(ProgressDrawTarget::stderr());
                shown.enable_steady_tick(TICK);
            }
        });
        Self { bar, watcher: Some((done, watcher)) }
    }

    /// Begins a step.
    pub(crate) fn step(&self, what: &str) {
        self.bar.set_message(what.to_owned());
        self.bar.inc(1);
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some((done, watcher)) = self.watcher.take() {
            drop(done);
            let _ = watcher.join();
        }
        self.bar.finish_and_clear();
    }
}
