//! The vocabulary: every call with signature, summary, example and settings.
//!
//! Made from the `///` comments of the calls and from the registry rows, so it cannot lag behind them.

use crate::api::{CALL_SETTINGS, SHEET_ROWS};
use crate::convert::type_words;
use crate::engine::{DISABLED, for_words};
use rhai::Engine;
use ribwright_kernel::registry::NamedRow;
use ribwright_kernel::settings::{Setting, unknown_name};
use ribwright_kernel::{Error, Registry};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One word of the script vocabulary; calls of the same name are one word.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Word {
    /// The word.
    pub name: String,
    /// What it belongs to: `profile`, `element`, `face`, `sculpture`, `yard` or `number`.
    pub group: String,
    /// The ways to call it: `element.turn(axis, degrees)`.
    pub signatures: Vec<String>,
    /// One line on what it does.
    pub summary: String,
    /// Examples, each a script that runs.
    pub examples: Vec<String>,
    /// What its map may hold.
    pub settings: Vec<WordSetting>,
    /// For editors: its declarations with their comments.
    #[serde(skip)]
    pub(crate) declarations: Vec<Declaration>,
}

/// One setting of a call's map.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WordSetting {
    /// As written in the script.
    pub name: String,
    /// One line on what it means.
    pub summary: String,
    /// `mm`, `degrees`, … or empty.
    pub unit: String,
    /// The default in words, `must be given`, or `none`.
    pub default: String,
    /// What is allowed, in words.
    pub allowed: String,
}

/// One call as the definitions file declares it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Declaration {
    pub(crate) comment: String,
    pub(crate) line: String,
}

/// Every word, sorted by name.
pub fn words(registry: &Registry) -> Vec<Word> {
    let mut table: BTreeMap<String, Word> = BTreeMap::new();
    let mut calls = calls_of(&for_words(registry), false);
    calls.retain(|call| !call.doc_comments.is_empty());
    calls.sort_by_key(|call| (call.name.clone(), call.params.len()));
    for call in calls {
        let comment = call.doc_comments.join("\n");
        let (summary, examples) = read_comment(&comment);
        let settings = settings_of(registry, &call.name);
        let signature = call.signature_words();
        let declaration = Declaration { comment, line: call.declaration() };
        match table.get_mut(&call.name) {
            Some(word) => {
                word.signatures.push(signature);
                word.examples.extend(examples);
                word.declarations.push(declaration);
            }
            None => {
                let word = Word {
                    name: call.name.clone(),
                    group: group_of(registry, &call),
                    signatures: vec![signature],
                    summary,
                    examples,
                    settings,
                    declarations: vec![declaration],
                };
                table.insert(call.name.clone(), word);
            }
        }
    }
    table.into_values().collect()
}

/// One word: a call, else a stage, joint kind or template kind, else a setting with all calls that take it.
///
/// # Errors
/// No such word; the nearest is named.
pub fn word(registry: &Registry, name: &str) -> ribwright_kernel::Result<Word> {
    let all = words(registry);
    let unknown = unknown_name("word", name, all.iter().map(|w| w.name.as_str()));
    let call = all.iter().find(|w| w.name == name).cloned();
    call.or_else(|| row_word(registry, name)).or_else(|| setting_word(&all, name)).ok_or(unknown)
}

/// A row that scripts name in quotes, as a word of its own.
fn row_word(registry: &Registry, name: &str) -> Option<Word> {
    fn of<R: NamedRow>(rows: &[R], name: &str, group: &str, signature: &str) -> Option<Word> {
        let row = rows.iter().find(|row| row.name() == name)?;
        Some(Word {
            name: name.to_owned(),
            group: group.to_owned(),
            signatures: vec![signature.replace('_', name)],
            summary: row.summary().to_owned(),
            examples: Vec::new(),
            settings: row.settings().iter().map(|row| word_setting(name, row)).collect(),
            declarations: Vec::new(),
        })
    }
    of(&registry.stages, name, "stage", "sculpture.stage(\"_\", #{ … })")
        .or_else(|| of(&registry.joints, name, "joint", "sculpture.joints(#{ kind: \"_\", … })"))
        .or_else(|| of(&registry.templates, name, "template", "sculpture.template(\"_\", #{ … })"))
}

/// A setting as a word: every call that takes one of that name, with what it means there.
fn setting_word(all: &[Word], name: &str) -> Option<Word> {
    let own = |setting: &WordSetting| setting.name.rsplit(": ").next() == Some(name);
    let takers: Vec<&Word> = all.iter().filter(|word| word.settings.iter().any(own)).collect();
    let settings: Vec<WordSetting> = takers
        .iter()
        .flat_map(|word| {
            word.settings.iter().filter(|s| own(s)).map(|setting| {
                let name = format!("{} {}", word.name, setting.name);
                WordSetting { name, ..setting.clone() }
            })
        })
        .collect();
    (!settings.is_empty()).then(|| Word {
        name: name.to_owned(),
        group: "setting".to_owned(),
        signatures: takers.iter().flat_map(|word| word.signatures.clone()).collect(),
        summary: format!("`{name}` is a setting, written into the map #{{ … }} of a call"),
        examples: Vec::new(),
        settings,
        declarations: Vec::new(),
    })
}

fn settings_of(registry: &Registry, name: &str) -> Vec<WordSetting> {
    let of_calls = CALL_SETTINGS.iter().find(|(call, _)| *call == name).map(|(_, rows)| *rows);
    let of_profile = registry.profiles.iter().find(|row| row.name() == name).map(|row| row.settings);
    let of_element = registry.elements.iter().find(|row| row.name() == name).map(|row| row.settings);
    let rows: &[Setting] = of_calls.or(of_profile).or(of_element).unwrap_or(&[]);
    let mut settings: Vec<WordSetting> = rows.iter().map(|row| word_setting(name, row)).collect();
    match name {
        "joint" | "joints" => settings.extend(under_names(&registry.joints)),
        "template" => settings.extend(under_names(&registry.templates)),
        "stage" => settings.extend(under_names(&registry.stages)),
        _ => {}
    }
    if name == "lay" {
        settings.push(WordSetting {
            name: "yard".to_owned(),
            summary: "surveyed sheets to cut from, as read by survey(…)".to_owned(),
            unit: String::new(),
            default: "none".to_owned(),
            allowed: "a yard".to_owned(),
        });
        settings.push(WordSetting {
            name: "crests_across".to_owned(),
            summary: "pairs of faces across whose seam crests are to run on, as well as the sheets allow"
                .to_owned(),
            unit: String::new(),
            default: "none".to_owned(),
            allowed: "[[\"A/east\", \"B/east\"]]".to_owned(),
        });
        // Its lists of maps, each key under the name of its list.
        for (list, rows) in [("sheets", SHEET_ROWS), ("pins", ribwright_kernel::lay::PIN_ROWS)] {
            settings.extend(rows.iter().map(|row| {
                let setting = word_setting(name, row);
                WordSetting { name: format!("{list}: {}", setting.name), ..setting }
            }));
        }
    }
    settings
}

/// The settings of all rows, each under the name of its row.
fn under_names<R: NamedRow>(rows: &[R]) -> Vec<WordSetting> {
    let of = |row: &R, setting: &Setting| {
        let word = word_setting(row.name(), setting);
        WordSetting { name: format!("{}: {}", row.name(), word.name), ..word }
    };
    rows.iter().flat_map(|row| row.settings().iter().map(move |setting| of(row, setting))).collect()
}

fn word_setting(call: &str, row: &Setting) -> WordSetting {
    let profile = matches!(call, "ribs" | "survey" | "lay") && row.name == "profile";
    WordSetting {
        name: row.name.to_owned(),
        summary: row.summary.to_owned(),
        unit: row.unit.to_owned(),
        default: row.default_text(),
        allowed: match (call, row.name) {
            _ if profile => "a profile".to_owned(),
            ("choose", "usual") => "one of the values it can have".to_owned(),
            _ => row.allowed(),
        },
    }
}

fn group_of(registry: &Registry, call: &Call) -> String {
    let maker = |name: &str| {
        registry.elements.iter().any(|row| row.name == name) || matches!(name, "planes" | "hull")
    };
    let group = match call.params.first().map(Param::kind) {
        Some(kind @ ("element" | "face" | "sculpture" | "yard" | "sheet" | "maquette" | "chance")) => kind,
        _ if registry.profiles.iter().any(|row| row.name == call.name) => "profile",
        _ if maker(&call.name) => "element",
        _ if call.name == "sculpture" => "sculpture",
        _ if call.name == "survey" => "yard",
        _ if call.name == "checked" => "recipe",
        _ if call.name == "maquette" => "maquette",
        _ if matches!(&*call.name, "choose" | "seed") => "choice",
        _ => "number",
    };
    group.to_owned()
}

/// Summary and examples of a `///` comment.
fn read_comment(comment: &str) -> (String, Vec<String>) {
    let (mut summary, mut examples, mut open) = (Vec::new(), Vec::new(), None::<Vec<&str>>);
    let mut in_summary = true;
    for line in comment.lines() {
        let line = line.trim_start().trim_start_matches("///");
        let line = line.strip_prefix(' ').unwrap_or(line);
        match &mut open {
            Some(lines) if line.starts_with("```") => {
                examples.push(lines.join("\n"));
                open = None;
            }
            Some(lines) => lines.push(line),
            None if line.starts_with("```") => open = Some(Vec::new()),
            None if line.trim().is_empty() => in_summary = false,
            None if in_summary => summary.push(line.trim()),
            None => {}
        }
    }
    (summary.join(" "), examples)
}

/// A call as the interpreter describes it.
#[derive(Debug, Clone, Deserialize)]
#[serde(rename_all = "camelCase")]
struct Call {
    name: String,
    #[serde(default)]
    params: Vec<Param>,
    #[serde(default)]
    return_type: String,
    #[serde(default)]
    doc_comments: Vec<String>,
}

#[derive(Debug, Clone, Deserialize)]
struct Param {
    name: Option<String>,
    #[serde(rename = "type")]
    type_name: Option<String>,
}

impl Param {
    /// One of our own kinds of thing, else the interpreter's type.
    fn kind(&self) -> &str {
        let full = self.type_name.as_deref().unwrap_or("");
        plain_type(full)
    }
}

/// The last part of a type's name without reference marks, our handles by their script names.
fn plain_type(full: &str) -> &str {
    let inner = full.strip_prefix("Called<").and_then(|rest| rest.strip_suffix('>')).unwrap_or(full);
    let last = inner.trim_start_matches("&mut ").trim_start_matches('&').rsplit("::").next().unwrap_or(inner);
    match last {
        "ElementHandle" => "element",
        "FaceHandle" => "face",
        "SculptureHandle" => "sculpture",
        "ProfileHandle" => "profile",
        "YardHandle" => "yard",
        "SheetHandle" => "sheet",
        "MaquetteHandle" => "maquette",
        "ChanceHandle" => "chance",
        other => other,
    }
}

impl Call {
    fn is_method(&self) -> bool {
        matches!(
            self.params.first().map(Param::kind),
            Some("element" | "face" | "sculpture" | "profile" | "yard" | "sheet" | "maquette" | "chance")
        )
    }

    /// `element.turn(axis, degrees)` or `slab(name, settings)`.
    fn signature_words(&self) -> String {
        let names: Vec<&str> = self
            .params
            .iter()
            .map(|param| match param.name.as_deref() {
                Some("_") | None => param.kind(),
                Some(name) => name,
            })
            .map(|name| if name == "settings" { "#{ … }" } else { name })
            .collect();
        match (self.is_method(), names.split_first()) {
            (true, Some((first, rest))) => format!("{first}.{}({})", self.name, rest.join(", ")),
            _ => format!("{}({})", self.name, names.join(", ")),
        }
    }

    /// `fn turn(element: element, axis: Array, degrees: ?) -> element;`
    fn declaration(&self) -> String {
        let params: Vec<String> = self
            .params
            .iter()
            .map(|param| format!("{}: {}", param.name.as_deref().unwrap_or("_"), editor_type(param.kind())))
            .collect();
        // What is taken as any value is a number in a script's hands; what is given back may be anything.
        let back = match plain_type(&self.return_type) {
            "Dynamic" => "?",
            kind => editor_type(kind),
        };
        format!("fn {}({}) -> {back};", self.name, params.join(", "))
    }
}

fn editor_type(kind: &str) -> &str {
    match kind {
        "Dynamic" | "Number" | "f64" | "FLOAT" => "float",
        "i64" | "INT" => "int",
        "str" | "String" | "ImmutableString" => "String",
        "" => "()",
        other => other,
    }
}

fn calls_of(engine: &Engine, with_interpreter: bool) -> Vec<Call> {
    #[derive(Deserialize)]
    struct Everything {
        #[serde(default)]
        functions: Vec<Call>,
    }
    let text = engine.gen_fn_metadata_to_json(with_interpreter).unwrap_or_default();
    let mut calls = serde_json::from_str::<Everything>(&text).map(|all| all.functions).unwrap_or_default();
    // The interpreter lists them in an order that changes from run to run.
    calls.sort_by_key(Call::declaration);
    calls
}

/// Names of all that can be called: our words and the interpreter's functions.
pub(crate) fn known_calls(engine: &Engine) -> std::collections::BTreeSet<String> {
    calls_of(engine, true).into_iter().map(|call| call.name).collect()
}

/// What a script could have meant: our words, its own functions, and those of the interpreter.
pub(crate) struct Vocabulary {
    words: Vec<Word>,
    interpreter: Vec<Call>,
    own: Vec<String>,
}

impl Vocabulary {
    pub(crate) fn new(engine: &Engine, registry: &Registry, own: &[String]) -> Self {
        Self { words: words(registry), interpreter: calls_of(engine, true), own: own.to_vec() }
    }

    /// The error for a call such as `trapzoid (map)` that nothing answers to.
    pub(crate) fn unknown_call(&self, call: &str) -> Error {
        let (name, kinds) = call.split_once(" (").unwrap_or((call, ")"));
        let name = name.rsplit("::").next().unwrap_or(name);
        let kinds: Vec<String> = split_kinds(kinds.strip_suffix(')').unwrap_or(kinds));
        if let Some((_, why)) = DISABLED.iter().find(|(word, _)| *word == name) {
            return Error::input(format!("{name} cannot be used: {why}")).remedy("take it out");
        }
        if !name.starts_with(|c: char| c.is_alphabetic() || c == '_') {
            return Error::input(format!("`{name}` does not work with {}", kinds.join(" and ")))
                .remedy("check the values on both sides");
        }
        if name == "clad" && kinds.first().is_some_and(|kind| kind == "a face") {
            return Error::input("clad covers a whole element, not a face")
                .remedy("clad one face with .ribs(#{ profile: … })");
        }
        let found = if kinds.is_empty() { "nothing".to_owned() } else { kinds.join(", ") };
        let signatures = self.signatures(name);
        if !signatures.is_empty() {
            return Error::input(format!("{name} cannot be called with {found}"))
                .remedy(format!("call it as {}", signatures.join(" or ")));
        }
        let error = Error::input(format!("unknown call {name}"));
        if let Some((_, ours)) = ELSEWHERE.iter().find(|(other, _)| other.eq_ignore_ascii_case(name)) {
            return error.remedy(format!("here it is {ours}"));
        }
        match self.nearest(name) {
            Some(near) => error.remedy(format!("did you mean {near}?")),
            None => error.remedy("`ribwright words` lists the calls there are"),
        }
    }

    /// The error for a property that a value does not have.
    pub(crate) fn unknown_property(&self, name: &str, kind: &str) -> Error {
        let kind = type_words(kind);
        if let [first, ..] = &self.signatures(name)[..] {
            return Error::input(format!("{name} is a call, not a property of {kind}"))
                .remedy(format!("write it with brackets: {first}"));
        }
        let error = Error::input(format!("{kind} has no property {name}"));
        match self.nearest(name) {
            Some(near) => error.remedy(format!("did you mean {near}(…)?")),
            None => error.remedy("`ribwright words` lists the calls there are"),
        }
    }

    /// The error for a variable that is not there.
    pub(crate) fn unknown_variable(&self, name: &str) -> Error {
        let error = Error::input(format!("unknown variable {name}"));
        if !self.signatures(name).is_empty() || self.own.iter().any(|own| own == name) {
            return error.remedy(format!("{name} is a call: write {name}(…)"));
        }
        error
            .remedy(format!("make it first: let {name} = …; and inside a function hand it in as an argument"))
    }

    fn signatures(&self, name: &str) -> Vec<String> {
        if let Some(word) = self.words.iter().find(|word| word.name == name) {
            return word.signatures.clone();
        }
        let mut found: Vec<String> =
            self.interpreter.iter().filter(|call| call.name == name).map(Call::signature_words).collect();
        found.sort();
        found.dedup();
        found.truncate(SHOWN_SIGNATURES);
        found
    }

    fn nearest(&self, name: &str) -> Option<&str> {
        let ours =
            self.words.iter().map(|word| word.name.as_str()).chain(self.own.iter().map(String::as_str));
        let all = ours.chain(self.interpreter.iter().map(|call| call.name.as_str()));
        all.map(|known| (strsim::damerau_levenshtein(known, name), known))
            .filter(|(distance, known)| *distance <= 1.max(known.chars().count() / 3))
            .min_by_key(|(distance, _)| *distance)
            .map(|(_, known)| known)
    }
}

/// What drawing programs and other languages call things, and what to write here.
const ELSEWHERE: [(&str, &str); 10] = [
    ("box", "slab(name, #{ size: [x, y, z] })"),
    ("cube", "slab(name, #{ size: [x, y, z] })"),
    ("block", "slab(name, #{ size: [x, y, z] })"),
    ("cylinder", "prism(name, #{ sides: …, width: …, height: … }), with many sides"),
    ("cone", "frustum(name, #{ sides: …, base: …, top: …, height: … }), with many sides"),
    ("pyramid", "frustum(name, #{ sides: 4, base: …, top: …, height: … })"),
    ("rotate", "element.turn(axis, degrees), as a.turn([0, 0, 1], 20)"),
    ("translate", "element.move([x, y, z])"),
    ("save", "nothing: `ribwright make` writes all files"),
    ("export", "nothing: `ribwright make` writes all files"),
];

/// Most signatures of the interpreter shown for one name.
const SHOWN_SIGNATURES: usize = 3;

fn split_kinds(kinds: &str) -> Vec<String> {
    kinds.split(", ").filter(|kind| !kind.is_empty()).map(type_words).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::script::Script;

    #[test]
    fn every_example_of_the_vocabulary_runs() {
        let registry = Registry::standard();
        // Examples of surveys read the made-up yard, those of maquettes the made-up maquette.
        let fixtures = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures");
        for word in words(&registry) {
            for example in &word.examples {
                let folder = if example.contains("maquette(") { "maquette" } else { "yard" };
                let script = Script::new(&word.name, example, Some(&fixtures.join(folder)));
                if let Err(e) = script.try_out(&registry) {
                    panic!("the example of {} fails:\n{}", word.name, e.render(false));
                }
            }
        }
    }

    #[test]
    fn a_row_from_outside_becomes_a_word_without_further_work() {
        let mut registry = Registry::standard();
        let mut row = registry.elements[0];
        row.name = "plank";
        registry.elements.push(row);
        let word = word(&registry, "plank").expect("the row is a word");
        assert_eq!(word.signatures, ["plank(name, #{ … })"]);
        assert_eq!(word.group, "element");
        let script = Script::new("t", "plank(\"P\", #{ size: [900, 600, 400] });", None);
        assert_eq!(script.try_out(&registry), Ok(()), "and can be called");
    }
}
