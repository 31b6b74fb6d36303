//! Reading and running a script.

use crate::api::SculptureHandle;
use crate::engine;
use crate::error::{Frame, ScriptError};
use crate::limits;
use crate::picked::{Given, read_picked};
use crate::resolver::read_text;
use crate::rewrite;
use crate::session::{Session, Site, lock};
use rhai::{Dynamic, EvalAltResult, Position};
use ribwright_kernel::choice::{Chosen, Picks, in_words};
use ribwright_kernel::sculpture::Sculpture;
use ribwright_kernel::settings::unknown_name;
use ribwright_kernel::{Error, Finding, Level, Registry};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A script, read and ready to run.
#[derive(Debug, Clone, PartialEq)]
pub struct Script {
    /// The file as it was given, or any name for a text; errors call it so.
    pub name: String,
    /// Its text.
    pub text: String,
    /// Where modules may be imported from; none allows the shipped recipes only.
    pub folder: Option<PathBuf>,
    /// Values of its choices; those not given are the usual ones.
    pub given: Given,
    /// Folders of recipes, searched after the script's own folder and before the shipped recipes. Modules from there
    /// compute and read no file.
    pub recipes: Vec<PathBuf>,
}

/// What a run gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// The sculpture: the script's value, or its only one.
    pub sculpture: Sculpture,
    /// What the script printed, line by line.
    pub printed: Vec<String>,
    /// What there is to say about the script itself, for instance an element that was made and not used.
    pub findings: Vec<Finding>,
}

/// Runs the script in a file.
///
/// # Errors
/// The file cannot be read, is not UTF-8, or the script fails; see [`ScriptError`].
pub fn run_file(path: &Path, registry: &Registry) -> Result<Sculpture, ScriptError> {
    Ok(Script::read(path)?.run(registry)?.sculpture)
}

/// Runs a script given as text. `name` is what errors call it; modules may be imported from `folder`.
///
/// # Errors
/// The script fails; see [`ScriptError`].
pub fn run_text(
    name: &str,
    text: &str,
    folder: Option<&Path>,
    registry: &Registry,
) -> Result<Sculpture, ScriptError> {
    Ok(Script::new(name, text, folder).run(registry)?.sculpture)
}

impl Script {
    /// A script given as text.
    pub fn new(name: &str, text: &str, folder: Option<&Path>) -> Self {
        let folder = folder.map(Path::to_owned);
        Self {
            name: name.to_owned(),
            text: text.to_owned(),
            folder,
            recipes: Vec::new(),
            given: Given::default(),
        }
    }

    /// The same, with folders of recipes to import from.
    #[must_use]
    pub fn with_recipes(self, folders: &[PathBuf]) -> Self {
        Self { recipes: folders.to_vec(), ..self }
    }

    /// Reads a script, with the values of its choices that were picked; its folder is where its modules are.
    ///
    /// # Errors
    /// No such file, a folder, not a regular file, too long, or not UTF-8; as [`read_picked`].
    pub fn read(path: &Path) -> Result<Self, ScriptError> {
        let given = read_picked(path);
        let script = Self::read_alone(path)?;
        Ok(Self { given: given?, ..script })
    }

    /// The same without the values that were picked.
    ///
    /// # Errors
    /// No such file, a folder, not a regular file, too long, or not UTF-8.
    pub fn read_alone(path: &Path) -> Result<Self, ScriptError> {
        let name = path.display().to_string();
        let text = read_text(path, path).map_err(|e| {
            ScriptError::new(e.message(), Frame::file(&name)).with_remedy(e.remedy_text().map(str::to_owned))
        })?;
        let parent = path.parent().filter(|parent| !parent.as_os_str().is_empty());
        let folder = Some(parent.unwrap_or(Path::new(".")).to_owned());
        Ok(Self { name, text, folder, recipes: Vec::new(), given: Given::default() })
    }

    /// The same script with values of its choices to try out; what names no choice of it is left aside.
    #[must_use]
    pub fn with_values(mut self, values: Picks) -> Self {
        self.given = Given { values, file: None };
        self
    }

    /// Runs it.
    ///
    /// # Errors
    /// Anything wrong in the script, at its place; see [`ScriptError`].
    pub fn run(&self, registry: &Registry) -> Result<Outcome, ScriptError> {
        self.run_within(registry, limits::MAX_TIME)
    }

    /// Runs it, and says too which files beside it the script asked for, there or not: when one of them changes, it may
    /// come out otherwise. The list holds also for a run that failed.
    pub fn run_and_note(&self, registry: &Registry) -> (Result<Outcome, ScriptError>, Vec<PathBuf>) {
        let mut asked = Vec::new();
        let outcome = self.on_own_stack(registry, |session| {
            let outcome = self.evaluate(session, limits::MAX_TIME).and_then(|value| finish(session, &value));
            asked.extend(session.lock().asked.iter().cloned());
            outcome
        });
        (outcome, asked)
    }

    /// Runs it, and says too which choices it asked for, in that order. The list holds also for a run that failed.
    pub fn run_and_choose(&self, registry: &Registry) -> (Result<Outcome, ScriptError>, Vec<Chosen>) {
        let mut choices = Vec::new();
        let outcome = self.on_own_stack(registry, |session| {
            let outcome = self.evaluate(session, limits::MAX_TIME).and_then(|value| finish(session, &value));
            choices.extend(session.lock().choices.iter().map(|(chosen, _)| chosen.clone()));
            outcome
        });
        (outcome, choices)
    }

    /// Runs it with another limit by the clock.
    pub(crate) fn run_within(&self, registry: &Registry, time: Duration) -> Result<Outcome, ScriptError> {
        self.on_own_stack(registry, |session| {
            let value = self.evaluate(session, time)?;
            finish(session, &value)
        })
    }

    /// Runs it without asking for a sculpture at the end; for the examples of the vocabulary.
    #[cfg(test)]
    pub(crate) fn try_out(&self, registry: &Registry) -> Result<(), ScriptError> {
        self.on_own_stack(registry, |session| self.evaluate(session, limits::MAX_TIME).map(|_| ()))
    }

    /// The interpreter recurses as deep as a script nests, so it gets a stack of known size.
    fn on_own_stack<T: Send>(
        &self,
        registry: &Registry,
        act: impl FnOnce(&Session) -> Result<T, ScriptError> + Send,
    ) -> Result<T, ScriptError> {
        let session = Session::new(registry, self);
        session.lock().recipe_folders.clone_from(&self.recipes);
        let broken = |why: &str| {
            ScriptError::new(format!("the script could not be run: {why}"), Frame::file(&self.name))
                .with_remedy(Some(
                    "this is a fault of ribwright; please report it with the script".to_owned(),
                ))
        };
        if self.text.len() > limits::MAX_SCRIPT_BYTES {
            return Err(ScriptError::new(
                format!(
                    "the script has {} bytes, more than the {} allowed",
                    self.text.len(),
                    limits::MAX_SCRIPT_BYTES
                ),
                Frame::file(&self.name),
            )
            .with_remedy(Some("split it into modules, or check that it is a script at all".to_owned())));
        }
        std::thread::scope(|scope| {
            let runner = std::thread::Builder::new()
                .name("script".to_owned())
                .stack_size(limits::STACK_BYTES)
                .spawn_scoped(scope, || act(&session));
            match runner {
                Ok(handle) => handle.join().unwrap_or_else(|_| Err(broken("the interpreter broke down"))),
                Err(e) => Err(broken(&e.to_string())),
            }
        })
    }

    fn evaluate(&self, session: &Session, time: Duration) -> Result<Dynamic, ScriptError> {
        let engine = engine::engine(session, self.folder.as_deref(), time);
        let fail = |error: EvalAltResult| rewrite::rewrite(session, &engine, error);
        let mut ast = engine
            .compile(&self.text)
            .map_err(|e| fail(EvalAltResult::ErrorParsing(e.err_type().clone(), e.position())))?;
        ast.set_source(&self.name);
        session.lock().own_functions.extend(ast.iter_functions().map(|f| f.name.to_owned()));
        engine.eval_ast::<Dynamic>(&ast).map_err(|e| fail(*e))
    }
}

/// Chooses the sculpture, checks that it is whole, and gathers what is left to say.
fn finish(session: &Session, value: &Dynamic) -> Result<Outcome, ScriptError> {
    let fail = |error: Error, site: &Site| rewrite::at_site(session, &error, site);
    let chosen = choose(session, value).map_err(|(error, site)| fail(error, &site))?;
    let state = lock(&chosen.state);
    if state.sculpture.elements.is_empty() {
        let error = Error::input(format!("sculpture \"{}\" has no elements", state.sculpture.name))
            .remedy("add at least one, for instance s.stand(a)");
        return Err(fail(error, &chosen.site));
    }
    for (element, site) in state.sculpture.elements.iter().zip(&state.sites) {
        let faces = element.solid.faces.iter().zip(&element.cladding);
        let bare: Vec<String> = faces
            .filter(|(face, cladding)| cladding.profile.is_none() && !face.polygon.is_empty())
            .map(|(face, _)| format!("{}/{}", element.solid.name, face.label))
            .collect();
        if !bare.is_empty() {
            let error = Error::input(format!("not clad: {}", bare.join(", "))).remedy(
                "clad the whole element with .clad(profile), or one face with .face(…).ribs(#{ profile: … })",
            );
            return Err(fail(error, site));
        }
    }
    for (id, site) in &state.named_faces {
        state.sculpture.find_face(id).map_err(|e| fail(e, site))?;
    }
    // Copied out, because showing a place locks the session again.
    let elements = session.lock().elements.clone();
    let said = session.lock().findings.clone();
    let findings = elements
        .iter()
        .filter(|element| !element.is_placed())
        .map(|element| {
            let frame = session.frame(&element.site);
            Finding::new(
                Level::Warning,
                "element-not-added",
                &*element.name,
                format!(
                    "element \"{}\" (line {} of {}) is in no sculpture",
                    element.name, frame.line, frame.file
                ),
                "add it with .stand, .stack or .add, or take it out of the script",
            )
        })
        .chain(said)
        .collect();
    let mut sculpture = state.sculpture.clone();
    let mut findings: Vec<Finding> = findings;
    findings.extend(take_choices(session, &mut sculpture)?);
    let printed = session.lock().printed.clone();
    Ok(Outcome { sculpture, printed, findings })
}

/// Hands the choices over to the sculpture, and says so where values were picked. A picked value for which there is no
/// choice is an error: its maker believes that it holds.
fn take_choices(session: &Session, sculpture: &mut Sculpture) -> Result<Option<Finding>, ScriptError> {
    let (given, main) = {
        let state = session.lock();
        sculpture.choices = state.choices.iter().map(|(chosen, _)| chosen.clone()).collect();
        (state.given.clone(), state.main.clone())
    };
    let Some(file) = given.file else { return Ok(None) };
    let known = || sculpture.choices.iter().map(|c| c.choice.name.as_str());
    if let Some(name) = given.values.keys().find(|name| known().all(|k| k != *name)) {
        let unknown = unknown_name("choice", name, known());
        let near =
            unknown.remedy_text().filter(|text| text.starts_with("did you mean")).map(|t| format!("{t} "));
        let all: Vec<&str> = known().collect();
        let chooses = if all.is_empty() { "nothing".to_owned() } else { all.join(", ") };
        let message = format!("it picks {name:?}, but {main} does not choose that (it chooses: {chooses})");
        let remedy = format!(
            "{}take it out here, or free it with `ribwright vary {main} --unpick`",
            near.unwrap_or_default()
        );
        return Err(ScriptError::new(message, file.frame(name)).with_remedy(Some(remedy)));
    }
    if given.values.is_empty() {
        return Ok(None);
    }
    let picked: Vec<Chosen> = sculpture.choices.iter().filter(|c| c.picked).cloned().collect();
    let variant = file.variant.map(|n| format!(", variant {n}")).unwrap_or_default();
    Ok(Some(Finding::new(
        Level::Note,
        "picked",
        sculpture.name.as_str(),
        format!("made as picked in {}{variant}: {}", file.name, in_words(&picked)),
        format!("`ribwright vary {main} --unpick` goes back to what is usual"),
    )))
}

fn choose(session: &Session, value: &Dynamic) -> Result<SculptureHandle, (Error, Site)> {
    if let Some(handle) = value.clone().try_cast::<SculptureHandle>() {
        return Ok(handle);
    }
    let made = session.lock().sculptures.clone();
    let names = || {
        let names: Vec<String> =
            made.iter().map(|s| format!("\"{}\"", lock(&s.state).sculpture.name)).collect();
        names.join(", ")
    };
    match &made[..] {
        [only] => Ok(only.clone()),
        [] => Err((
            Error::input("the script makes no sculpture")
                .remedy("begin with let s = sculpture(\"a name\"); and add elements to it"),
            Site { source: None, position: Position::NONE },
        )),
        [.., last] => Err((
            Error::input(format!("the script makes {} sculptures: {}", made.len(), names()))
                .remedy("end the script with the variable of the one to build, for instance s"),
            last.site.clone(),
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_script_that_runs_too_long_by_the_clock_is_stopped() {
        let script = Script::new("t", "loop { }", None);
        let error = script.run_within(&Registry::standard(), Duration::ZERO).expect_err("no time is given");
        assert!(error.message().contains("ran longer than"), "{error}");
        assert!(error.remedy().is_some(), "{error}");
    }

    #[test]
    fn integers_and_decimals_are_interchangeable() {
        let text = r#"
            fn same(a, b) { if a != b { throw "" + a + " is not " + b; } }
            same(1 / 2, 0.5);
            same(6 / 2, 3);
            same([10, 20, 30][4 / 2], 30);
            same(2 ** -1, 0.5);
            same(2 ** 10, 1024);
            let x = 7; x /= 2; same(x, 3.5);
            same(1 + 0.5, 1.5);
            same(3 == 3.0, true);
            same(sqrt(16), 4.0);
            same(hypot(3, 4.0), 5.0);
            same(round(sin(30) * 1000), 500.0);
            same(round(atan2(1, 0)), 90.0);
            same(round(cos(60.0) * 1000), 500.0);
        "#;
        let result = Script::new("t", text, None).try_out(&Registry::standard());
        assert_eq!(result.map_err(|e| e.to_string()), Ok(()));
        let both = |size: &str| {
            let text = format!(
                "let s = sculpture(\"S\"); let a = slab(\"A\", #{{ size: {size} }}); a.clad(flat(#{{}})); s.stand(a);"
            );
            Script::new("t", &text, None).run(&Registry::standard()).map(|o| o.sculpture)
        };
        assert_eq!(both("[900, 600, 400]"), both("[900.0, 6e2, 800 / 2]"));
    }

    #[test]
    fn changes_after_an_element_was_added_are_effective_as_before() {
        let run = |text: &str| {
            let start = "let rib = flat(#{}); let s = sculpture(\"S\"); let a = slab(\"A\", #{ size: [900, 600, 400] });";
            let script = Script::new("t", &format!("{start} {text} s"), None);
            script.run(&Registry::standard()).unwrap_or_else(|e| panic!("{}", e.render(false))).sculpture
        };
        let before =
            run("a.clad(rib); a.face(\"top\").ribs(#{ phase: 30 }); a.move([100, 0, 0]); s.stand(a);");
        let after =
            run("s.stand(a); a.clad(rib); a.face(\"top\").ribs(#{ phase: 30 }); a.move([100, 0, 0]);");
        assert_eq!(before, after);
        let raised = run("s.stand(a); a.clad(rib); a.move([0, 0, 250]);");
        let lowest = raised.elements[0].solid.lowest_z();
        assert!((lowest - 250.0).abs() < 1e-6, "it is moved from where it stands, to {lowest}");
        let chained = run("s.stand(a.clad(rib).move([100, 0, 0])); a.face(\"top\").ribs(#{ phase: 30 });");
        assert_eq!(before, chained);
    }

    #[test]
    fn two_runs_give_the_same_sculpture() {
        let text = include_str!("../examples/five.rhai");
        let run = || Script::new("five.rhai", text, None).run(&Registry::standard());
        assert_eq!(run(), run());
    }

    #[test]
    fn every_setting_of_a_face_reaches_the_cladding() {
        use ribwright_kernel::sculpture::Datum;
        let text = r#"
            let s = sculpture("S");
            let a = slab("A", #{ size: [900, 600, 400] });
            a.clad(flat(#{}));
            a.face("top").ribs(#{ along: [1, 2, 0], through: [5, 6, 7.5], phase: -30, datum: "crest" });
            a.face("east").ribs(#{ datum: "valley" });
            a.face("west").ribs(#{ datum: "valley" }).ribs(#{ datum: "mid", profile: sine(#{ pitch: 76, depth: 18 }) });
            s.add(a);
            s.rules(#{ sliver_area: 250 });
            s.rules(#{ density: 8000.5, max_sides: 7.0 });
            s.joints(#{ kind: "mitre", wobble_limit: 33 });
            s.joints(#{ meet: "outside" });
            s.phase("A/top", #{ aim: "crests_meet", other: "A/east" });
        "#;
        let sculpture = Script::new("t", text, None)
            .run(&Registry::standard())
            .unwrap_or_else(|e| panic!("{}", e.render(false)))
            .sculpture;
        let face = |id: &str| {
            let (element, face) = sculpture.find_face(id).expect("it is there");
            &sculpture.elements[element].cladding[face]
        };
        let top = face("A/top");
        assert_eq!(top.along.map(|v| [v.x, v.y, v.z]), Some([1.0, 2.0, 0.0]));
        assert_eq!(top.through.map(|v| [v.x, v.y, v.z]), Some([5.0, 6.0, 7.5]));
        assert_eq!((top.phase, top.datum), (-30.0, Datum::Crest));
        assert_eq!(face("A/east").datum, Datum::Valley);
        assert_eq!(face("A/west").datum, Datum::Middle);
        assert_eq!(face("A/west").profile.as_ref().map(|p| p.pitch()), Some(76.0));
        let rules = &sculpture.rules;
        assert_eq!((rules.sliver_area, rules.density, rules.max_sides), (250.0, 8000.5, Some(7)));
        let joint = &sculpture.joint;
        assert_eq!((joint.kind.as_str(), joint.wobble_limit), ("mitre", Some(33.0)));
        assert_eq!(joint.meet, ribwright_kernel::sculpture::Meet::Outside);
        let search = &sculpture.searches[0];
        assert_eq!((search.aim.as_str(), search.face.as_str()), ("crests_meet", "A/top"));
        assert_eq!(search.other.as_deref(), Some("A/east"));
    }
}
