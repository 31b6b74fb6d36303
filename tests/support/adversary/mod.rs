//! What an adversary feeds: one body for each kind of input, from bytes, held to more than not breaking down. The fuzz
//! targets in `fuzz/` call them, and so do the tests, over everything that was ever found (`fixtures/found`).

mod drawings;
mod source;
mod script;
mod settings;
mod solids;
mod stages;
mod tables;

pub use solids::work;
pub use source::Source;

use ribwright_kernel::{Error, ErrorKind};

/// Most bytes an error may have: what a person reads.
const LONGEST_ERROR: usize = 4000;

/// What became of an input.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// Taken, and what came of it holds.
    Taken,
    /// Refused with a plain error.
    Refused,
    /// Not an input of this kind at all.
    Skipped,
}

/// One kind of input.
#[derive(Debug, Clone, Copy)]
pub struct Target {
    /// Its name, and that of its folder in `fixtures/found` and `fuzz/seeds`.
    pub name: &'static str,
    /// Feeds bytes; an error says which promise was broken.
    pub feed: fn(&[u8]) -> Result<End, String>,
}

/// All of them.
pub const TARGETS: [Target; 8] = [
    Target { name: "script", feed: script::feed },
    Target { name: "settings", feed: settings::feed },
    Target { name: "stages", feed: stages::feed },
    Target { name: "dxf", feed: drawings::feed_dxf },
    Target { name: "svg", feed: drawings::feed_svg },
    Target { name: "survey", feed: tables::feed_survey },
    Target { name: "readings", feed: tables::feed_readings },
    Target { name: "solids", feed: solids::feed },
];

/// The target of a name.
///
/// # Panics
/// If there is none.
pub fn target(name: &str) -> Target {
    match TARGETS.iter().find(|target| target.name == name) {
        Some(target) => *target,
        None => panic!("there is no target {name}"),
    }
}

/// An error of the kernel must be about the input, say something, and not go on without end; its text.
fn plain(error: &Error) -> Result<String, String> {
    let text = error.to_string();
    if error.kind() != ErrorKind::Input {
        return Err(format!("a fault of ours: {text}"));
    }
    if error.message().trim().is_empty() {
        return Err("an error that says nothing".to_owned());
    }
    if text.len() > LONGEST_ERROR {
        return Err(format!(
            "an error of {} bytes: {}",
            text.len(),
            &text.chars().take(300).collect::<String>()
        ));
    }
    Ok(text)
}

fn finite(what: &str, numbers: impl IntoIterator<Item = f64>) -> Result<(), String> {
    match numbers.into_iter().find(|x| !x.is_finite()) {
        Some(x) => Err(format!("{what}: {x}")),
        None => Ok(()),
    }
}
