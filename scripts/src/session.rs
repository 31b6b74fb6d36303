//! What one run of a script keeps beside the interpreter: sources, what was made, what was printed.

use crate::api::{ElementHandle, SculptureHandle};
use crate::error::{Frame, in_signs};
use crate::head::Head;
use crate::limits;
use crate::picked::Given;
use crate::script::Script;
use rhai::Position;
use ribwright_kernel::choice::Chosen;
use ribwright_kernel::{Error, Finding, Registry, Result};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// The state of one run, shared by every call. Cloning shares it.
#[derive(Clone)]
pub(crate) struct Session(Arc<Mutex<State>>);

/// See [`Session`].
pub(crate) struct State {
    pub(crate) registry: Arc<Registry>,
    /// Text of the script and its modules, by the name the interpreter knows them by.
    pub(crate) sources: BTreeMap<String, Arc<str>>,
    /// The script's own name in `sources`.
    pub(crate) main: String,
    pub(crate) sculptures: Vec<SculptureHandle>,
    pub(crate) elements: Vec<ElementHandle>,
    pub(crate) profiles: usize,
    pub(crate) printed: Vec<String>,
    printed_bytes: usize,
    printing_ended: bool,
    /// What calls had to say that stops nothing.
    pub(crate) findings: Vec<Finding>,
    /// How many yard files were read.
    pub(crate) yards: usize,
    /// Where files beside the script are.
    pub(crate) folder: Option<PathBuf>,
    /// Folders of recipes named by the user, in the order they are searched.
    pub(crate) recipe_folders: Vec<PathBuf>,
    /// Which modules come from such a folder, by source name, with the folder: they compute and read nothing.
    pub(crate) from_folders: BTreeMap<String, PathBuf>,
    /// Heads of the recipes that were loaded, by source name.
    pub(crate) heads: BTreeMap<String, Arc<Head>>,
    /// Functions that the script and its modules define, for near misses.
    pub(crate) own_functions: Vec<String>,
    /// Files beside the script that it asked for, there or not.
    pub(crate) asked: BTreeSet<PathBuf>,
    /// Values of choices from outside.
    pub(crate) given: Given,
    /// Choices the script asked for, with where each was asked for first.
    pub(crate) choices: Vec<(Chosen, Site)>,
}

/// Where a call stands in the script.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Site {
    /// Name of the source; none is the script itself.
    pub(crate) source: Option<String>,
    pub(crate) position: Position,
}

impl Session {
    pub(crate) fn new(registry: &Registry, script: &Script) -> Self {
        Self(Arc::new(Mutex::new(State {
            registry: Arc::new(registry.clone()),
            sources: BTreeMap::from([(script.name.clone(), Arc::from(&*script.text))]),
            main: script.name.clone(),
            sculptures: Vec::new(),
            elements: Vec::new(),
            profiles: 0,
            printed: Vec::new(),
            printed_bytes: 0,
            printing_ended: false,
            findings: Vec::new(),
            yards: 0,
            folder: script.folder.clone(),
            recipe_folders: Vec::new(),
            from_folders: BTreeMap::new(),
            heads: BTreeMap::new(),
            own_functions: Vec::new(),
            asked: BTreeSet::new(),
            given: script.given.clone(),
            choices: Vec::new(),
        })))
    }

    pub(crate) fn lock(&self) -> MutexGuard<'_, State> {
        lock(&self.0)
    }

    pub(crate) fn registry(&self) -> Arc<Registry> {
        self.lock().registry.clone()
    }

    /// Keeps in mind that the script asks for a file in its folder, up to the limits.
    pub(crate) fn ask(&self, name: &str) {
        let mut state = self.lock();
        if let Some(path) = state.folder.as_ref().map(|folder| folder.join(name))
            && state.asked.len() < limits::MAX_ASKED_FILES
        {
            state.asked.insert(path);
        }
    }

    /// Keeps in mind that what is made depends on a file, up to the limits.
    pub(crate) fn note_file(&self, path: &Path) {
        let mut state = self.lock();
        if state.asked.len() < limits::MAX_ASKED_FILES {
            state.asked.insert(path.to_owned());
        }
    }

    /// Keeps a finding, if it was not said before.
    pub(crate) fn find_once(&self, finding: Finding) {
        let mut state = self.lock();
        if !state.findings.contains(&finding) {
            state.findings.push(finding);
        }
    }

    /// Keeps a printed line, up to the limits.
    pub(crate) fn print(&self, line: &str) {
        let mut state = self.lock();
        if state.printing_ended {
            return;
        }
        let line = &*in_signs(line);
        state.printed_bytes += line.len();
        let ended = if state.printed.len() >= limits::MAX_PRINTED_LINES {
            format!("{} lines", limits::MAX_PRINTED_LINES)
        } else if state.printed_bytes > limits::MAX_PRINTED_BYTES {
            format!("{} bytes", limits::MAX_PRINTED_BYTES)
        } else {
            state.printed.push(line.to_owned());
            return;
        };
        state.printing_ended = true;
        state.printed.push(format!("(more than {ended}; the rest is left out)"));
    }

    /// The place of a site, ready to be shown.
    pub(crate) fn frame(&self, site: &Site) -> Frame {
        let state = self.lock();
        let name =
            site.source.as_ref().filter(|name| state.sources.contains_key(*name)).unwrap_or(&state.main);
        let source = state.sources.get(name).cloned().unwrap_or_else(|| Arc::from(""));
        let (line, column) = match (site.position.line(), site.position.position()) {
            (Some(line), Some(column)) => (line, column),
            (Some(line), None) => (line, 1),
            _ => end_of(&source),
        };
        Frame::within(name, source, line, column)
    }
}

/// Counts one more thing against a limit.
///
/// # Errors
/// The limit is reached.
pub(crate) fn count_one(count: usize, limit: usize, what: &str) -> Result<()> {
    if count < limit {
        return Ok(());
    }
    Err(Error::input(format!("the script makes more than {limit} {what}"))
        .remedy("make each thing once, outside of loops that repeat without need"))
}

/// Locks, also after a panic elsewhere: the state is only read afterwards.
pub(crate) fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Line and column of the last character that is not white space.
fn end_of(source: &str) -> (usize, usize) {
    let text = source.trim_end();
    let line = text.split('\n').count().max(1);
    let column = text.rsplit('\n').next().map_or(0, |last| last.chars().count()).max(1);
    (line, column)
}

/// Byte range of the word (or the single character) at a line and column, both from 1.
pub(crate) fn word_at(source: &str, line: usize, column: usize) -> Range<usize> {
    let line_start: usize = source.split_inclusive('\n').take(line - 1).map(str::len).sum();
    let rest = &source[line_start.min(source.len())..];
    let text = rest.split('\n').next().unwrap_or("");
    let start = text.char_indices().nth(column.saturating_sub(1)).map_or(text.len(), |(at, _)| at);
    let word: usize =
        text[start..].chars().take_while(|c| c.is_alphanumeric() || *c == '_').map(char::len_utf8).sum();
    let length = match (word, text[start..].chars().next()) {
        (0, Some('"')) => 1 + text[start + 1..].find('"').map_or(0, |end| end + 1),
        (0, Some(c)) => c.len_utf8(),
        (word, _) => word,
    };
    line_start + start..line_start + start + length
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_word_at_a_place_is_found_beside_letters_of_more_than_one_byte() {
        let source = "let é = 1;\nlet ö = trapzoid(#{});\r\n\"añb\";";
        let word = |line, column| &source[word_at(source, line, column)];
        assert_eq!(word(2, 9), "trapzoid", "columns count characters, not bytes");
        assert_eq!(word(3, 1), "\"añb\"", "a text is marked whole");
        assert_eq!(word(2, 17), "(", "a sign is marked alone");
        assert_eq!(word_at(source, 9, 9), source.len()..source.len(), "a place past the end is the end");
        assert_eq!(end_of("a\n  bc \n\n"), (2, 4), "the end is the last character that is not a space");
    }
}
