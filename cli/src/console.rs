//! What is shown: plain text, findings with their level words, and the exit codes.

use ribwright_kernel::{Finding, Level};
use std::io::Write;

/// Exit code: done; there may be warnings.
pub const DONE: u8 = 0;
/// Exit code: error findings, a script error, or files that could not be read or written.
pub const FAILED: u8 = 1;
/// Exit code: wrong usage.
pub const USAGE: u8 = 2;

/// The two streams and whether a person watches.
pub(crate) struct Console<'a> {
    stdout: &'a mut dyn Write,
    stderr: &'a mut dyn Write,
    terminal: bool,
}

impl<'a> Console<'a> {
    pub(crate) fn new(stdout: &'a mut dyn Write, stderr: &'a mut dyn Write, terminal: bool) -> Self {
        Self { stdout, stderr, terminal }
    }

    /// Whether the error stream is a terminal: colour, times and progress are wanted.
    pub(crate) fn terminal(&self) -> bool {
        self.terminal
    }

    /// A line on standard output. A closed pipe is the reader's choice, not a failure.
    pub(crate) fn say(&mut self, line: &str) {
        let _ = writeln!(self.stdout, "{line}");
    }

    /// A line on standard error.
    pub(crate) fn error(&mut self, line: &str) {
        let _ = writeln!(self.stderr, "{line}");
    }

    /// A line on standard error for a person who watches; says nothing into files and pipes.
    pub(crate) fn aside(&mut self, line: &str) {
        if self.terminal {
            self.error(line);
        }
    }

    /// A value as JSON on standard output.
    pub(crate) fn json(&mut self, value: &serde_json::Value) {
        self.say(&format!("{value:#}"));
    }
}

/// A finding as text: a line with level, place and message, and one with the remedy.
pub(crate) fn finding_text(finding: &Finding) -> String {
    let level = level_word(finding.level);
    let mut text = format!("{level}[{}]: {}: {}", finding.code, finding.place, finding.message);
    if !finding.remedy.is_empty() {
        text.push_str("\n    ");
        text.push_str(&finding.remedy);
    }
    text
}

/// How many of each level, in words: `2 errors, 1 warning`; `no findings`.
pub(crate) fn count_text(findings: &[Finding]) -> String {
    let counts: Vec<String> = [Level::Error, Level::Warning, Level::Note]
        .into_iter()
        .filter_map(|level| {
            let count = findings.iter().filter(|f| f.level == level).count();
            (count > 0).then(|| plural(count, level_word(level)))
        })
        .collect();
    if counts.is_empty() { "no findings".to_owned() } else { counts.join(", ") }
}

/// `1 file`, `2 files`.
pub(crate) fn plural(count: usize, word: &str) -> String {
    format!("{count} {word}{}", if count == 1 { "" } else { "s" })
}

fn level_word(level: Level) -> &'static str {
    match level {
        Level::Error => "error",
        Level::Warning => "warning",
        Level::Note => "note",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_name_only_the_levels_that_occur() {
        let finding = |level| Finding::new(level, "sliver", "A/east", "small", "search a phase");
        assert_eq!(count_text(&[]), "no findings");
        assert_eq!(
            count_text(&[finding(Level::Warning), finding(Level::Error), finding(Level::Warning)]),
            "1 error, 2 warnings"
        );
    }

    #[test]
    fn finding_shows_level_code_place_and_remedy() {
        let finding = Finding::new(Level::Note, "sliver", "A/east", "a piece of 12 mm²", "search a phase");
        assert_eq!(finding_text(&finding), "note[sliver]: A/east: a piece of 12 mm²\n    search a phase");
    }
}
