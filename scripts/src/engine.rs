//! The interpreter, with everything that a script must not do left out.

use crate::api;
use crate::limits;
use crate::resolver::Resolver;
use crate::session::Session;
use rhai::packages::{
    ArithmeticPackage, BasicArrayPackage, BasicFnPackage, BasicIteratorPackage, BasicMapPackage,
    BasicMathPackage, BasicStringPackage, LanguageCorePackage, LogicPackage, MoreStringPackage, Package,
};
use rhai::{Array, Dynamic, Engine, EvalAltResult, FnPtr, ImmutableString, Map, OptimizationLevel, Position};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Why the interpreter was stopped, as handed through its termination value.
pub(crate) const STOPPED_BY_CLOCK: &str = "clock";
/// See [`STOPPED_BY_CLOCK`].
pub(crate) const STOPPED_BY_OPERATIONS: &str = "operations";

/// Words of the interpreter that scripts cannot use, with the reason.
pub(crate) const DISABLED: &[(&str, &str)] =
    &[("eval", "a script is read once, as it stands"), ("sleep", "a script does not wait")];

/// Words that a recipe from a folder named by the user cannot use beside these, with the reason. The calls that read files
/// refuse it when it runs, too; here they are refused when it is read, so that no closure can carry them out of it.
pub(crate) const DISABLED_IN_RECIPES: &[(&str, &str)] = &[
    ("survey", "a recipe from a folder reads no file"),
    ("maquette", "a recipe from a folder reads no file"),
    ("stock", "a recipe from a folder reads no file"),
    ("Fn", "a recipe from a folder calls by name what it calls; write a closure: |x| …"),
];

/// An engine that reads recipes from folders: it compiles them and runs nothing.
pub(crate) fn recipe_reader() -> Engine {
    let mut engine = bare();
    set_limits(&mut engine);
    for (word, _) in DISABLED_IN_RECIPES {
        engine.disable_symbol(*word);
    }
    engine
}

/// Why a word cannot be used, if it cannot.
pub(crate) fn why_disabled(word: &str) -> Option<&'static str> {
    DISABLED.iter().chain(DISABLED_IN_RECIPES).find(|(disabled, _)| *disabled == word).map(|(_, why)| *why)
}

/// An engine for one run. `folder` is where modules may be imported from.
pub(crate) fn engine(session: &Session, folder: Option<&Path>, time: Duration) -> Engine {
    let mut engine = bare();
    api::register(&mut engine, &session.registry());
    set_limits(&mut engine);
    engine.set_default_tag(Dynamic::from(session.clone()));
    // What a script prints and looks through counts as steps too, so that steps end a run, and not only the clock.
    let operations = Arc::new(AtomicU64::new(0));
    watch_growth(&mut engine, operations.clone());
    engine.set_module_resolver(Resolver::new(session.clone(), folder));

    let (printer, steps) = (session.clone(), operations.clone());
    engine.on_print(move |line| {
        steps.fetch_add(steps_of_text(line), Ordering::Relaxed);
        printer.print(line);
    });
    let (printer, steps) = (session.clone(), operations.clone());
    engine.on_debug(move |line, _, _| {
        steps.fetch_add(4 * steps_of_text(line), Ordering::Relaxed);
        printer.print(line);
    });

    // Counted here as well, because the interpreter starts anew for each module.
    let start = Instant::now();
    engine.on_progress(move |_| {
        if operations.fetch_add(1, Ordering::Relaxed) >= limits::MAX_OPERATIONS {
            Some(STOPPED_BY_OPERATIONS.into())
        } else if start.elapsed() > time {
            Some(STOPPED_BY_CLOCK.into())
        } else {
            None
        }
    });
    engine
}

/// Checks the size of a list or map whenever its variable is used. The interpreter checks what calls give
/// back, but not a list that grows by `a[0] = a`, which doubles with every step.
#[allow(deprecated, reason = "the interpreter marks this call as subject to change, not as outdated")]
fn watch_growth(engine: &mut Engine, operations: Arc<AtomicU64>) {
    engine.on_var(move |name, _, context| {
        for value in [context.scope().get(name), context.this_ptr()].into_iter().flatten() {
            let mut room = Room::new();
            let too_large = |what: &str| EvalAltResult::ErrorDataTooLarge(what.to_owned(), Position::NONE);
            room.take(value).map_err(too_large)?;
            operations.fetch_add(room.taken() / ENTRIES_PER_STEP, Ordering::Relaxed);
        }
        Ok(None)
    });
}

/// How many entries of a value are looked through in the time of a step.
const ENTRIES_PER_STEP: u64 = 16;

/// Steps that a printed text counts as.
fn steps_of_text(text: &str) -> u64 {
    const BYTES_PER_STEP: usize = 16;
    (text.len() / BYTES_PER_STEP) as u64
}

/// What is left of the limits while a value is counted.
pub(crate) struct Room {
    entries: usize,
    text: usize,
}

impl Room {
    pub(crate) fn new() -> Self {
        Self { entries: limits::MAX_ARRAY_SIZE, text: limits::MAX_STRING_SIZE }
    }

    /// Entries counted so far.
    fn taken(&self) -> u64 {
        (limits::MAX_ARRAY_SIZE - self.entries) as u64
    }

    fn take_text(&mut self, text: &str) -> Result<(), &'static str> {
        self.text = self.text.checked_sub(text.len()).ok_or("string")?;
        Ok(())
    }

    /// Counts a value with all that is in it; the error names what there is too much of.
    pub(crate) fn take(&mut self, value: &Dynamic) -> Result<(), &'static str> {
        const LIST: &str = "list";
        if let Some(items) = value.read_lock::<Array>() {
            self.entries = self.entries.checked_sub(items.len()).ok_or(LIST)?;
            items.iter().try_for_each(|item| self.take(item))
        } else if let Some(entries) = value.read_lock::<Map>() {
            if entries.len() > limits::MAX_MAP_SIZE {
                return Err("map");
            }
            self.entries = self.entries.checked_sub(entries.len()).ok_or(LIST)?;
            entries.iter().try_for_each(|(key, item)| {
                self.take_text(key)?;
                self.take(item)
            })
        } else if let Some(text) = value.read_lock::<ImmutableString>() {
            self.take_text(&text)
        } else if let Some(function) = value.read_lock::<FnPtr>() {
            // What is bound to a function grows with every `curry`.
            self.entries = self.entries.checked_sub(function.curry().len()).ok_or(LIST)?;
            function.curry().iter().try_for_each(|item| self.take(item))
        } else {
            Ok(())
        }
    }
}

/// An engine that knows the words but has no run; for the vocabulary.
pub(crate) fn for_words(registry: &ribwright_kernel::Registry) -> Engine {
    let mut engine = bare();
    api::register(&mut engine, registry);
    engine
}

fn bare() -> Engine {
    let mut engine = Engine::new_raw();
    LanguageCorePackage::new().register_into_engine(&mut engine);
    ArithmeticPackage::new().register_into_engine(&mut engine);
    LogicPackage::new().register_into_engine(&mut engine);
    BasicStringPackage::new().register_into_engine(&mut engine);
    MoreStringPackage::new().register_into_engine(&mut engine);
    BasicIteratorPackage::new().register_into_engine(&mut engine);
    BasicFnPackage::new().register_into_engine(&mut engine);
    BasicMathPackage::new().register_into_engine(&mut engine);
    BasicArrayPackage::new().register_into_engine(&mut engine);
    BasicMapPackage::new().register_into_engine(&mut engine);
    for (word, _) in DISABLED {
        engine.disable_symbol(*word);
    }
    engine.set_fast_operators(false);
    engine.set_strict_variables(false);
    engine.set_optimization_level(OptimizationLevel::None);
    engine
}

fn set_limits(engine: &mut Engine) {
    engine
        .set_max_operations(limits::MAX_OPERATIONS)
        .set_max_call_levels(limits::MAX_CALL_LEVELS)
        .set_max_expr_depths(limits::MAX_EXPRESSION_DEPTH, limits::MAX_FUNCTION_EXPRESSION_DEPTH)
        .set_max_string_size(limits::MAX_STRING_SIZE)
        .set_max_array_size(limits::MAX_ARRAY_SIZE)
        .set_max_map_size(limits::MAX_MAP_SIZE)
        .set_max_variables(limits::MAX_VARIABLES)
        .set_max_functions(limits::MAX_FUNCTIONS)
        .set_max_modules(limits::MAX_MODULES);
}
