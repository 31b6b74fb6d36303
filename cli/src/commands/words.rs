//! `ribwright words [NAME]`: the vocabulary of scripts.

use crate::args::Words;
use crate::console::{Console, DONE, FAILED};
use ribwright_kernel::Registry;
use ribwright_scripts::{Word, WordSetting};

pub(crate) fn run(args: &Words, registry: &Registry, console: &mut Console<'_>) -> u8 {
    if args.definitions {
        console.say(ribwright_scripts::definitions(registry).trim_end());
        return DONE;
    }
    let Some(name) = &args.name else {
        let words = ribwright_scripts::words(registry);
        if args.json {
            console.json(&serde_json::to_value(&words).unwrap_or_default());
        } else {
            list(&words, console);
        }
        return DONE;
    };
    match ribwright_scripts::word(registry, name) {
        Ok(word) if args.json => console.json(&serde_json::to_value(&word).unwrap_or_default()),
        Ok(word) => explain(&word, console),
        Err(e) => {
            console.error(&format!("error: {e}"));
            return FAILED;
        }
    }
    DONE
}

/// One line per word, by what they belong to, in the order in which a script meets them.
fn list(words: &[Word], console: &mut Console<'_>) {
    let mut groups: Vec<&str> = Vec::new();
    for word in words {
        if !groups.contains(&word.group.as_str()) {
            groups.push(&word.group);
        }
    }
    let met = |group: &str| ["profile", "element", "face", "sculpture"].iter().position(|g| *g == group);
    groups.sort_by_key(|group| (met(group).unwrap_or(usize::MAX), *group));
    let width = words.iter().map(|w| w.name.chars().count()).max().unwrap_or(0);
    for (k, group) in groups.iter().enumerate() {
        if k > 0 {
            console.say("");
        }
        console.say(&format!("{group}:"));
        for word in words.iter().filter(|w| w.group == *group) {
            console.say(&format!("  {:width$}  {}", word.name, word.summary));
        }
    }
    console.say(
        "\n`ribwright words NAME` explains one; NAME may also be a stage, as spine, or a setting, as lean or tip.",
    );
}

fn explain(word: &Word, console: &mut Console<'_>) {
    for signature in &word.signatures {
        console.say(signature);
    }
    console.say(&format!("    {}", word.summary));
    if !word.settings.is_empty() {
        console.say("\nsettings:");
        let width = word.settings.iter().map(|s| s.name.chars().count()).max().unwrap_or(0);
        for setting in &word.settings {
            console.say(&format!("  {:width$}  {}", setting.name, setting.summary));
            console.say(&format!("  {:width$}  {}", "", range(setting)));
        }
    }
    for example in &word.examples {
        console.say("\nexample:");
        for line in example.lines() {
            console.say(format!("    {line}").trim_end());
        }
    }
}

fn range(setting: &WordSetting) -> String {
    match setting.default.as_str() {
        "must be given" => format!("{}; must be given", setting.allowed),
        "none" => format!("{}; may be left out", setting.allowed),
        default => format!("{}; {default} if left out", setting.allowed),
    }
}
