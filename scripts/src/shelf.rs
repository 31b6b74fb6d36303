//! Recipes there are: the shipped ones and those in folders, with their pages.

use crate::engine;
use crate::error::{Frame, ScriptError};
use crate::head::{Head, is_name};
use crate::limits;
use crate::recipes::recipes;
use crate::resolver::read_text;
use crate::script::Script;
use ribwright_kernel::settings::unknown_name;
use ribwright_kernel::{Error, Finding, Level, Result};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Where a recipe comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    /// It comes with ribwright.
    Shipped,
    /// A folder named by the user.
    Folder(PathBuf),
}

/// One recipe.
#[derive(Debug, Clone)]
pub struct Page {
    /// The name to import it by.
    pub name: String,
    /// Where it comes from.
    pub origin: Origin,
    /// Its file, as errors call it.
    pub file: String,
    /// Its whole text.
    pub text: Arc<str>,
    /// What its head says.
    pub head: Head,
}

/// All recipes there are, in the order imports look for them.
#[derive(Debug, Default)]
pub struct Shelf {
    /// The recipes, by name; of those with one name the one that an import takes.
    pub pages: Vec<Page>,
    /// Files in the folders that are no recipes, but modules for them.
    pub modules: Vec<String>,
    /// Recipes that cannot be read.
    pub faults: Vec<ScriptError>,
    /// Names that are there twice.
    pub findings: Vec<Finding>,
}

impl Origin {
    /// In words.
    pub fn words(&self) -> String {
        match self {
            Origin::Shipped => "shipped".to_owned(),
            Origin::Folder(folder) => folder.display().to_string(),
        }
    }
}

impl Shelf {
    /// The shipped recipes, and those in `folders`, which go before them in their order.
    ///
    /// # Errors
    /// A folder cannot be read or holds too many files. Recipes that cannot be read are in [`Shelf::faults`].
    pub fn of(folders: &[PathBuf]) -> Result<Self> {
        let mut shelf = Self::default();
        for folder in folders {
            shelf.add_folder(folder)?;
        }
        for recipe in recipes() {
            let file = format!("recipe {}", recipe.name);
            shelf.add(recipe.name, Origin::Shipped, file, recipe.source);
        }
        shelf.pages.sort_by(|a, b| a.name.cmp(&b.name));
        Ok(shelf)
    }

    /// The recipes in one folder alone.
    ///
    /// # Errors
    /// As [`Shelf::of`].
    pub fn of_folder(folder: &Path) -> Result<Self> {
        let mut shelf = Self::default();
        shelf.add_folder(folder)?;
        Ok(shelf)
    }

    /// One recipe.
    ///
    /// # Errors
    /// There is none of that name; the nearest is named.
    pub fn page(&self, name: &str) -> Result<&Page> {
        let unknown = || unknown_name("recipe", name, self.pages.iter().map(|page| page.name.as_str()));
        self.pages.iter().find(|page| page.name == name).ok_or_else(unknown)
    }

    fn add_folder(&mut self, folder: &Path) -> Result<()> {
        for name in names_in(folder)? {
            let shown = folder.join(format!("{name}.rhai"));
            let file = shown.display().to_string();
            let text = inside(folder, &shown).and_then(|found| read_text(&found, &shown));
            match text {
                Ok(text) => self.add(&name, Origin::Folder(folder.to_owned()), file, &text),
                Err(e) => self.faults.push(
                    ScriptError::new(e.message(), Frame::file(file))
                        .with_remedy(e.remedy_text().map(str::to_owned)),
                ),
            }
        }
        Ok(())
    }

    fn add(&mut self, name: &str, origin: Origin, file: String, text: &str) {
        let text: Arc<str> = text.into();
        match Head::read(&text) {
            Ok(Some(head)) => match self.pages.iter().find(|page| page.name == name) {
                Some(taken) => self.findings.push(twice(name, &taken.origin.words(), &origin.words())),
                None => self.pages.push(Page { name: name.to_owned(), origin, file, text, head }),
            },
            Ok(None) => self.modules.push(file),
            Err(fault) => {
                let frame = frame_of_line(&file, &text, fault.line);
                let remedy = fault.error.remedy_text().map(str::to_owned);
                self.faults.push(ScriptError::new(fault.error.message(), frame).with_remedy(remedy));
            }
        }
    }
}

/// The finding for a name that is found in two places.
pub(crate) fn twice(name: &str, taken: &str, left: &str) -> Finding {
    Finding::new(
        Level::Warning,
        "recipe-twice",
        name,
        format!("the name \"{name}\" is there twice: taken from {taken}, not from {left}"),
        "rename one of the files, or name the folders in the order in which they count",
    )
}

/// The place of a whole line.
fn frame_of_line(file: &str, text: &Arc<str>, line: usize) -> Frame {
    let start: usize = text.split_inclusive('\n').take(line.saturating_sub(1)).map(str::len).sum();
    let length = text[start..].lines().next().map_or(0, |l| l.trim_end().len());
    Frame { file: file.to_owned(), line, column: 1, span: start..start + length, source: text.clone() }
}

/// A file of a folder, if it does not lead out of it.
pub(crate) fn inside(folder: &Path, file: &Path) -> Result<PathBuf> {
    let missing = || {
        Error::input(format!("cannot read {}: there is no such file", file.display()))
            .remedy("check the name and the folder")
    };
    let home = folder.canonicalize().map_err(|_| missing())?;
    let found = file.canonicalize().map_err(|_| missing())?;
    if found.starts_with(&home) {
        return Ok(found);
    }
    Err(Error::input(format!("{} leads out of its folder", file.display()))
        .remedy("copy the file into the folder"))
}

/// The names that can be imported from a folder, sorted.
fn names_in(folder: &Path) -> Result<Vec<String>> {
    let cannot = |why: String| {
        Error::input(format!("cannot read the folder {}: {why}", folder.display()))
            .remedy("name a folder that holds recipes, files that end in .rhai")
    };
    let mut names = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(|e| cannot(e.to_string()))? {
        let entry = entry.map_err(|e| cannot(e.to_string()))?;
        let name = entry.file_name();
        let Some(stem) = name.to_str().and_then(|name| name.strip_suffix(".rhai")) else { continue };
        if !is_name(stem) {
            return Err(cannot(format!("{} is no name for a recipe", name.display()))
                .remedy("name the file with a to z, digits and _, for instance split_stone.rhai"));
        }
        names.push(stem.to_owned());
        if names.len() > limits::MAX_RECIPE_FILES {
            return Err(cannot(format!("it holds more than {} recipes", limits::MAX_RECIPE_FILES))
                .remedy("split it into several folders"));
        }
    }
    names.sort();
    Ok(names)
}

impl Page {
    /// A script that makes what the recipe shows, with these settings (`width: 900`), the others at their defaults.
    pub fn script(&self, settings: &[(String, String)]) -> Script {
        let given: Vec<String> = settings.iter().map(|(name, value)| format!("{name}: {value}")).collect();
        let text = format!("import \"{}\" as shown;\nshown::show(#{{ {} }})", self.name, given.join(", "));
        let script = Script::new(&format!("showing {}", self.name), &text, None);
        match &self.origin {
            Origin::Shipped => script,
            Origin::Folder(folder) => script.with_recipes(std::slice::from_ref(folder)),
        }
    }

    /// Its functions with their comments, in the order of the file; none if it cannot be compiled.
    pub fn functions(&self) -> Vec<(String, String)> {
        let Ok(ast) = engine::recipe_reader().compile(&*self.text) else { return Vec::new() };
        let mut functions: Vec<(usize, String, String)> = ast
            .iter_functions()
            .filter(|f| f.access == rhai::FnAccess::Public)
            .map(|f| {
                let signature = format!("{}({})", f.name, f.params.join(", "));
                let at = self.text.find(&format!("fn {}(", f.name)).unwrap_or(usize::MAX);
                let comment: Vec<&str> = f
                    .comments
                    .iter()
                    .flat_map(|comment| comment.lines())
                    .map(|line| line.trim_start().trim_start_matches("///").trim())
                    .collect();
                (at, signature, comment.join(" "))
            })
            .collect();
        functions.sort();
        functions.into_iter().map(|(_, signature, comment)| (signature, comment)).collect()
    }
}
