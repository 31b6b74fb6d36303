//! The definitions file for editors that understand Rhai.

use crate::words::words;
use ribwright_kernel::Registry;

/// The text of the definitions file, from the same vocabulary as the help; sorted, so that it does not
/// change from run to run.
pub fn definitions(registry: &Registry) -> String {
    let mut text = String::from(
        "// The words of ribwright for editors. Generated from the registry rows and the comments of the calls;\n// a test compares it with a fresh generation, and RIBWRIGHT_BLESS=1 rewrites it.\n\nmodule static;\n",
    );
    for word in words(registry) {
        for declaration in &word.declarations {
            text.push('\n');
            let mut lines = declaration.comment.lines();
            if let Some(first) = lines.next() {
                text.push_str(first);
                text.push('\n');
            }
            let settings = word.settings.iter().map(|s| {
                let unit = if s.unit.is_empty() { String::new() } else { format!(", {}", s.unit) };
                format!("/// - `{}`{unit}: {}; {} (default: {})", s.name, s.summary, s.allowed, s.default)
            });
            for line in lines.map(str::to_owned).chain(separator(&word.settings)).chain(settings) {
                text.push_str(line.trim_end());
                text.push('\n');
            }
            text.push_str(&declaration.line);
            text.push('\n');
        }
    }
    text
}

/// An empty comment line before the settings, if there are any.
fn separator<T>(settings: &[T]) -> Option<String> {
    (!settings.is_empty()).then(|| "///".to_owned())
}
