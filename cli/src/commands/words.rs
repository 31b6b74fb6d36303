//! `ribwright words [NAME]`: the vocabulary of scripts.

use crate::args::Words;
use crate::console::{Console, DONE, FAILED};
use ribwright_kernel::Registry;

pub(crate) fn run(args: &Words, registry: &Registry, console: &mut Console<'_>) -> u8 {
    if args.definitions {
        console.say(ribwright_scripts::definitions(registry).trim_end());
        return DONE;
    }
    let words = ribwright_scripts::words(registry);
    let Some(name) = &args.name else {
        let width = words.iter().map(|w| w.name.chars().count()).max().unwrap_or(0);
        for word in &words {
            console.say(&format!("{:width$}  {}", word.name, word.summary));
        }
        return DONE;
    };
    let found: Vec<_> = words.iter().filter(|w| &w.name == name).collect();
    if found.is_empty() {
        let e = ribwright_kernel::settings::unknown_name("word", name, words.iter().map(|w| w.name.as_str()));
        console.error(&format!("error: {e}"));
        return FAILED;
    }
    for word in found {
        console.say(&word.text);
    }
    DONE
}
