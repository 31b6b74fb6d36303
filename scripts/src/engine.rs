//! The interpreter, with everything that a script must not do left out.

use crate::api;
use crate::limits;
use crate::resolver::Resolver;
use crate::session::Session;
use rhai::packages::{
    ArithmeticPackage, BasicArrayPackage, BasicFnPackage, BasicIteratorPackage, BasicMapPackage,
    BasicMathPackage, BasicStringPackage, LanguageCorePackage, LogicPackage, MoreStringPackage, Package,
};
use rhai::{Array, Dynamic, Engine, EvalAltResult, ImmutableString, Map, OptimizationLevel, Position};
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Why the interpreter was stopped, as handed through its termination value.
pub(crate) const STOPPED_BY_CLOCK: &str = "clock";
/// See [`STOPPED_BY_CLOCK`].
pub(crate) const STOPPED_BY_OPERATIONS: &str = "operations";

/// Words of the interpreter that scripts cannot use, with the reason.
pub(crate) const DISABLED: &[(&str, &str)] =
    &[("eval", "a script is read once, as it stands"), ("sleep", "a script does not wait")];

/// An engine for one run. `folder` is where modules may be imported from.
pub(crate) fn engine(session: &Session, folder: Option<&Path>, time: Duration) -> Engine {
    let mut engine = bare();
    api::register(&mut engine, &session.registry());
    set_limits(&mut engine);
    engine.set_default_tag(Dynamic::from(session.clone()));
    watch_growth(&mut engine);
    engine.set_module_resolver(Resolver::new(session.clone(), folder));

    let printer = session.clone();
    engine.on_print(move |line| printer.print(line));
    let printer = session.clone();
    engine.on_debug(move |line, _, _| printer.print(line));

    // Counted here as well, because the interpreter starts anew for each module.
    let (start, operations) = (Instant::now(), AtomicU64::new(0));
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
fn watch_growth(engine: &mut Engine) {
    engine.on_var(|name, _, context| {
        for value in [context.scope().get(name), context.this_ptr()].into_iter().flatten() {
            let mut room = Room { entries: limits::MAX_ARRAY_SIZE, text: limits::MAX_STRING_SIZE };
            let too_large = |what: &str| EvalAltResult::ErrorDataTooLarge(what.to_owned(), Position::NONE);
            room.take(value).map_err(too_large)?;
        }
        Ok(None)
    });
}

/// What is left of the limits while a value is counted.
struct Room {
    entries: usize,
    text: usize,
}

impl Room {
    /// Counts a value with all that is in it; the error names what there is too much of.
    fn take(&mut self, value: &Dynamic) -> Result<(), &'static str> {
        const LIST: &str = "list";
        if let Some(items) = value.read_lock::<Array>() {
            self.entries = self.entries.checked_sub(items.len()).ok_or(LIST)?;
            items.iter().try_for_each(|item| self.take(item))
        } else if let Some(entries) = value.read_lock::<Map>() {
            if entries.len() > limits::MAX_MAP_SIZE {
                return Err("map");
            }
            self.entries = self.entries.checked_sub(entries.len()).ok_or(LIST)?;
            entries.values().try_for_each(|item| self.take(item))
        } else if let Some(text) = value.read_lock::<ImmutableString>() {
            self.text = self.text.checked_sub(text.len()).ok_or("string")?;
            Ok(())
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
