//! Imports: modules from the script's own folder, recipes from folders named by the user, the shipped recipes; nothing else.
//!
//! They are looked for in that order, and what is there twice is said in a finding. A name may lead into folders below
//! (`"feet/wide"`), never up or out: `..`, absolute paths and links that lead out are refused. Modules may import
//! others; a circle is an error.
//!
//! A recipe from a folder named by the user is somebody else's: it sees its own folder and the shipped recipes only, and
//! the words that read files, or call by a name put together at run time, are no words to it.

use crate::api::Fault;
use crate::calls::calls;
use crate::engine::{recipe_reader, why_disabled};
use crate::head::Head;
use crate::limits;
use crate::recipes::recipes;
use crate::session::{Session, lock};
use crate::shelf::{inside, twice};
use crate::words::known_calls;
use rhai::{AST, Dynamic, Engine, EvalAltResult, Module, ModuleResolver, Position, Scope, Shared};
use ribwright_kernel::{Error, Result};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Component, Path, PathBuf};
use std::sync::{Arc, Mutex};

/// See the head of this file.
pub(crate) struct Resolver {
    session: Session,
    folder: Option<PathBuf>,
    state: Mutex<State>,
}

#[derive(Default)]
struct State {
    /// Modules that are done, by source name.
    done: BTreeMap<String, Shared<Module>>,
    /// Modules being read, outermost first.
    open: Vec<String>,
}

/// A module's text, and the name errors call it by.
struct Found {
    source_name: String,
    text: String,
    /// The folder named by the user that it comes from.
    from_folder: Option<PathBuf>,
}

impl Resolver {
    pub(crate) fn new(session: Session, folder: Option<&Path>) -> Self {
        Self { session, folder: folder.map(Path::to_owned), state: Mutex::default() }
    }

    /// The module of that name; `source` is the one that imports it.
    fn find(&self, name: &str, source: Option<&str>) -> Result<Found> {
        check_path(name)?;
        let (importer, folders) = {
            let state = self.session.lock();
            let importer = source.and_then(|source| state.from_folders.get(source).cloned());
            (importer.clone(), importer.map_or_else(|| state.recipe_folders.clone(), |own| vec![own]))
        };
        let mut found = if importer.is_some() { None } else { self.find_file(name)? };
        let mut places: Vec<String> = found.iter().map(|_| "the script's folder".to_owned()).collect();
        for folder in &folders {
            if let Some(other) = self.find_in(folder, name)? {
                places.push(folder.display().to_string());
                found = found.or(Some(other));
            }
        }
        let shipped = recipes().iter().find(|recipe| recipe.name == name);
        if let Some(recipe) = shipped {
            places.push("the shipped recipes".to_owned());
            found = found.or_else(|| {
                let source_name = format!("recipe {}", recipe.name);
                Some(Found { source_name, text: recipe.source.to_owned(), from_folder: None })
            });
        }
        if let [taken, left, ..] = &places[..] {
            self.session.find_once(twice(name, taken, left));
        }
        found.ok_or_else(|| not_found(name))
    }

    /// The recipe of that name in a folder named by the user; none if there is none.
    fn find_in(&self, folder: &Path, name: &str) -> Result<Option<Found>> {
        if !folder.is_dir() {
            return Err(Error::input(format!("there is no folder {}", folder.display()))
                .remedy("name a folder that holds recipes with --recipes"));
        }
        let shown = folder.join(format!("{name}.rhai"));
        self.session.note_file(&shown);
        if !shown.exists() {
            return Ok(None);
        }
        let text = read_text(&inside(folder, &shown)?, &shown)?;
        let from_folder = Some(folder.to_owned());
        Ok(Some(Found { source_name: shown.display().to_string(), text, from_folder }))
    }

    /// The file of that name in the script's folder; none if there is no such file.
    fn find_file(&self, name: &str) -> Result<Option<Found>> {
        let Some(folder) = &self.folder else { return Ok(None) };
        let shown = folder.join(format!("{name}.rhai"));
        self.session.ask(&format!("{name}.rhai"));
        let (Ok(home), Ok(file)) = (folder.canonicalize(), shown.canonicalize()) else { return Ok(None) };
        if !file.starts_with(&home) {
            return Err(Error::input(format!("import \"{name}\" leads out of the script's folder"))
                .remedy("copy the file into the script's folder"));
        }
        // The script itself counts as being open, under the name it was given.
        let script = Path::new(&self.session.lock().main).canonicalize();
        if script.is_ok_and(|script| script == file) {
            return Err(cycle(&[], name));
        }
        let text = read_text(&file, &shown)?;
        Ok(Some(Found { source_name: shown.display().to_string(), text, from_folder: None }))
    }

    fn load(
        &self,
        engine: &Engine,
        name: &str,
        source: Option<&str>,
    ) -> std::result::Result<Shared<Module>, Refusal> {
        let found = self.find(name, source).map_err(Refusal::Here)?;
        {
            let mut state = lock(&self.state);
            if let Some(module) = state.done.get(&found.source_name) {
                return Ok(module.clone());
            }
            if state.open.contains(&found.source_name) {
                return Err(Refusal::Here(cycle(&state.open, name)));
            }
            if state.done.len() + state.open.len() >= limits::MAX_MODULES {
                return Err(Refusal::Here(too_many_modules()));
            }
            state.open.push(found.source_name.clone());
        }
        let made = self.evaluate(engine, &found);
        let mut state = lock(&self.state);
        state.open.pop();
        let module = Shared::new(made.map_err(|e| Refusal::Inside(found.source_name.clone(), e))?);
        state.done.insert(found.source_name, module.clone());
        Ok(module)
    }

    fn evaluate(&self, engine: &Engine, found: &Found) -> std::result::Result<Module, Box<EvalAltResult>> {
        self.session.lock().sources.insert(found.source_name.clone(), found.text.as_str().into());
        if let Some(folder) = &found.from_folder {
            self.session.lock().from_folders.insert(found.source_name.clone(), folder.clone());
        }
        // A wrong head is an error of a recipe; in a module beside the script it may be any comment.
        match Head::read(&found.text) {
            Ok(Some(head)) => {
                self.session.lock().heads.insert(found.source_name.clone(), Arc::new(head));
            }
            Err(fault) if found.from_folder.is_some() => {
                let line = u16::try_from(fault.line).unwrap_or(u16::MAX);
                return Err(Box::new(EvalAltResult::ErrorRuntime(
                    Dynamic::from(Fault(fault.error)),
                    Position::new(line, 1),
                )));
            }
            _ => {}
        }
        let reader = found.from_folder.is_some().then(recipe_reader);
        let mut ast = reader
            .as_ref()
            .unwrap_or(engine)
            .compile(&found.text)
            .map_err(|e| EvalAltResult::ErrorParsing(e.err_type().clone(), e.position()))?;
        if found.from_folder.is_some() {
            check_calls(engine, &ast, &found.text)?;
        }
        ast.set_source(&found.source_name);
        self.session.lock().own_functions.extend(ast.iter_functions().map(|f| f.name.to_owned()));
        Module::eval_ast_as_new(Scope::new(), &ast, engine)
    }
}

/// Checks that a recipe from a folder calls nothing of the script's.
fn check_calls(engine: &Engine, ast: &AST, text: &str) -> std::result::Result<(), Box<EvalAltResult>> {
    let own: BTreeSet<&str> = ast.iter_functions().map(|f| f.name).collect();
    let known = known_calls(engine);
    let is_foreign =
        |name: &str| why_disabled(name).is_some() || (!own.contains(name) && !known.contains(name));
    let Some(foreign) = calls(text).into_iter().find(|named| is_foreign(&named.name)) else {
        return Ok(());
    };
    let at = |x: usize| u16::try_from(x).unwrap_or(u16::MAX);
    let error = match why_disabled(&foreign.name) {
        Some(why) => Error::input(format!("{} cannot be used: {why}", foreign.name))
            .remedy("read the file in the script, and hand the recipe what it needs"),
        None => Error::input(format!("unknown call {}", foreign.name)).remedy(
            "a recipe from a folder calls words and its own functions only; `ribwright words` lists the words",
        ),
    };
    let position = Position::new(at(foreign.line), at(foreign.column));
    Err(Box::new(EvalAltResult::ErrorRuntime(Dynamic::from(Fault(error)), position)))
}

/// Why an import fails: the import itself, or something in the module.
enum Refusal {
    Here(Error),
    Inside(String, Box<EvalAltResult>),
}

impl ModuleResolver for Resolver {
    fn resolve(
        &self,
        engine: &Engine,
        source: Option<&str>,
        path: &str,
        pos: Position,
    ) -> std::result::Result<Shared<Module>, Box<EvalAltResult>> {
        self.load(engine, path, source).map_err(|refusal| {
            Box::new(match refusal {
                Refusal::Here(error) => EvalAltResult::ErrorRuntime(Dynamic::from(Fault(error)), pos),
                Refusal::Inside(name, error) => EvalAltResult::ErrorInModule(name, error, pos),
            })
        })
    }
}

/// Reads a script or module: a regular file of text, no longer than allowed. `shown` is the name for errors.
pub(crate) fn read_text(file: &Path, shown: &Path) -> Result<String> {
    let cannot = |why: String| Error::input(format!("cannot read {}: {why}", shown.display()));
    let about = std::fs::metadata(file).map_err(|e| match e.kind() {
        std::io::ErrorKind::NotFound => {
            cannot("there is no such file".to_owned()).remedy(match scripts_in(file.parent()) {
                names if names.is_empty() => "check the name and the folder".to_owned(),
                names => format!("check the name; in that folder there is {names}"),
            })
        }
        _ => cannot(e.to_string()).remedy("check the name and the rights on the file"),
    })?;
    if about.is_dir() {
        return Err(cannot("it is a folder".to_owned()).remedy(match scripts_in(Some(file)) {
            names if names.is_empty() => {
                "it holds no script, which would end in .rhai; `ribwright new NAME` makes one".to_owned()
            }
            names => format!("name the script inside it: {names}"),
        }));
    }
    if !about.is_file() {
        return Err(cannot("it is not a regular file".to_owned()).remedy("give a script saved as a file"));
    }
    let limit = limits::MAX_SCRIPT_BYTES;
    if about.len() > limit as u64 {
        return Err(cannot(format!("it has {} bytes, more than the {limit} allowed", about.len()))
            .remedy("split it into modules, or check that it is a script at all"));
    }
    let bytes =
        std::fs::read(file).map_err(|e| cannot(e.to_string()).remedy("check the rights on the file"))?;
    check_text(bytes).map_err(|why| cannot(why).remedy("save it as UTF-8 text in your editor"))
}

/// Most scripts of a folder that an error names.
const MOST_NAMED: usize = 5;

/// The scripts in a folder, by name.
fn scripts_in(folder: Option<&Path>) -> String {
    let folder = folder.filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut names: Vec<String> = entries
        .map(|entry| entry.path())
        .filter(|path| path.extension().is_some_and(|e| e == "rhai"))
        .filter_map(|path| Some(path.file_name()?.to_str()?.to_owned()))
        .collect();
    names.sort();
    if names.len() > MOST_NAMED {
        let more = names.len() - MOST_NAMED;
        names.truncate(MOST_NAMED);
        names.push(format!("and {more} more"));
    }
    names.join(", ")
}

/// The bytes of a file beside the script, no longer than allowed; `name` may lead into folders below.
///
/// # Errors
/// A name that leads out of the folder, no such file, not a regular file, too long.
pub(crate) fn read_beside(session: &Session, name: &str, limit: usize) -> Result<Vec<u8>> {
    let folder = session.lock().folder.clone();
    let cannot = |why: String| Error::input(format!("cannot read \"{name}\": {why}"));
    let plain = !name.is_empty()
        && !name.contains(['\\', '\0', ':'])
        && Path::new(name).components().all(|part| matches!(part, Component::Normal(_)));
    let Some(folder) = folder.filter(|_| plain) else {
        return Err(cannot("it is not a file within the script's folder".to_owned())
            .remedy("put the file beside the script and give its name only"));
    };
    session.ask(name);
    let (Ok(home), Ok(file)) = (folder.canonicalize(), folder.join(name).canonicalize()) else {
        return Err(cannot("there is no such file beside the script".to_owned())
            .remedy("check the name and its ending"));
    };
    if !file.starts_with(&home) {
        return Err(cannot("it leads out of the script's folder".to_owned())
            .remedy("copy the file into the script's folder"));
    }
    let about =
        std::fs::metadata(&file).map_err(|e| cannot(e.to_string()).remedy("check the rights on the file"))?;
    if !about.is_file() {
        return Err(cannot("it is not a regular file".to_owned()).remedy("name a file"));
    }
    if about.len() > limit as u64 {
        return Err(cannot(format!("it has {} bytes, more than the {limit} allowed", about.len()))
            .remedy("split it: one file per part of the yard"));
    }
    std::fs::read(&file).map_err(|e| cannot(e.to_string()).remedy("check the rights on the file"))
}

/// The text of a file without a byte-order mark; the error says where it stops being text.
fn check_text(bytes: Vec<u8>) -> std::result::Result<String, String> {
    let text = String::from_utf8(bytes).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        let before = &e.as_bytes()[..at];
        let line = 1 + before.iter().filter(|b| **b == b'\n').count();
        format!("line {line} (byte {}) is not UTF-8 text", at + 1)
    })?;
    Ok(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text))
}

fn check_path(name: &str) -> Result<()> {
    let plain = !name.is_empty()
        && !name.contains(['\\', '\0', ':'])
        && Path::new(name).components().all(|part| matches!(part, Component::Normal(_)));
    if plain {
        return Ok(());
    }
    Err(Error::input(format!("import \"{name}\" is not a name within the script's folder"))
        .remedy("imports are files beside the script or shipped recipes: import \"feet\" as feet;"))
}

fn cycle(open: &[String], name: &str) -> Error {
    let chain: Vec<&str> = open.iter().map(String::as_str).chain([name]).collect();
    Error::input(format!("import \"{name}\" goes round in a circle: {}", chain.join(" → ")))
        .remedy("move what both need into a module that imports neither")
}

/// The error for more modules than allowed.
pub(crate) fn too_many_modules() -> Error {
    Error::input(format!("the script imports more than {} modules", limits::MAX_MODULES))
        .remedy("put functions that belong together into one module")
}

fn not_found(name: &str) -> Error {
    if let Some(stem) = name.strip_suffix(".rhai") {
        return Error::input(format!("there is no module \"{name}\"")).remedy(format!(
            "leave out the ending: import \"{stem}\" as {};",
            stem.rsplit('/').next().unwrap_or(stem)
        ));
    }
    let known = recipes().iter().map(|recipe| recipe.name);
    let unknown = ribwright_kernel::settings::unknown_name("recipe", name, known);
    let near = unknown.remedy_text().filter(|text| text.starts_with("did you mean"));
    let names: Vec<&str> = recipes().iter().map(|recipe| recipe.name).collect();
    let error = Error::input(format!(
        "there is no module \"{name}\": no file {name}.rhai beside the script, and no shipped recipe of that name (recipes: {})",
        names.join(", ")
    ));
    match near {
        Some(near) => error.remedy(near),
        None => error.remedy("check the name, or put the file beside the script"),
    }
}
