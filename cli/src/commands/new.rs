//! `ribwright new NAME`: a folder with a commented first script and a file of rates to fill in.

use super::{Stop, show_stop};
use crate::args::New;
use crate::console::{Console, DONE};
use std::fs;
use std::path::{Path, PathBuf};

/// The first script; `{title}` is the name of the work.
const FIRST_SCRIPT: &str = include_str!("first_script.rhai");
/// The file of rates beside it, to be filled in; its currency too.
const RATES: &str = "rates.csv";
const CURRENCY: &str = "CUR";

pub(crate) fn run(args: &New, console: &mut Console<'_>) -> u8 {
    match make_folder(&args.name) {
        Ok(script) => {
            console.say(&format!("wrote {}", script.display()));
            console.say(&format!("wrote {}", args.name.join(RATES).display()));
            console.say(&format!("next: ribwright make {}", quoted(&script)));
            DONE
        }
        Err(stop) => show_stop(&stop, false, console),
    }
}

fn make_folder(folder: &Path) -> Result<PathBuf, Stop> {
    let name = folder.file_name().and_then(|n| n.to_str()).filter(|n| is_usable(n)).ok_or_else(|| {
        format!(
            "{}: not usable as the name of a folder and a script; use letters, digits, blanks, - and _",
            folder.display()
        )
    })?;
    fs::create_dir(folder).map_err(|e| match e.kind() {
        std::io::ErrorKind::AlreadyExists => {
            format!("{}: is there already, nothing was changed; choose another name", folder.display())
        }
        _ => format!("{}: cannot be made: {e}; check the path and who may write there", folder.display()),
    })?;
    let script = folder.join(format!("{name}.rhai"));
    let rates = folder.join(RATES);
    for (path, text) in [
        (&script, FIRST_SCRIPT.replace("{title}", &title(name))),
        (&rates, ribwright_kernel::costs::rates_file(CURRENCY)),
    ] {
        fs::write(path, text).map_err(|e| {
            // Only what was made above, and only if nothing else is in it.
            let _ = fs::remove_file(&script);
            let _ = fs::remove_file(&rates);
            let _ = fs::remove_dir(folder);
            format!("{}: cannot be written: {e}", path.display())
        })?;
    }
    Ok(script)
}

fn is_usable(name: &str) -> bool {
    name.chars().any(char::is_alphanumeric)
        && name.chars().all(|c| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_'))
}

/// `slack-tide` becomes `Slack Tide`.
fn title(name: &str) -> String {
    name.split(['-', '_', ' '])
        .filter(|word| !word.is_empty())
        .map(|word| {
            let mut letters = word.chars();
            letters.next().map(|c| c.to_uppercase().chain(letters).collect::<String>()).unwrap_or_default()
        })
        .collect::<Vec<_>>()
        .join(" ")
}

fn quoted(path: &Path) -> String {
    let text = path.display().to_string();
    if text.contains(' ') { format!("\"{text}\"") } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn title_is_made_from_the_folder_name() {
        assert_eq!(title("slack-tide"), "Slack Tide");
        assert_eq!(title("north_wall 2"), "North Wall 2");
    }

    #[test]
    fn names_that_cannot_be_files_are_refused() {
        for name in ["", "..", "a\"b", "a:b", "--"] {
            assert!(!is_usable(name), "{name:?} was accepted");
        }
    }
}
