//! The interpreter, with everything that a script must not do left out.

use crate::api;
use crate::limits;
use crate::resolver::Resolver;
use crate::session::Session;
use rhai::packages::{
    ArithmeticPackage, BasicArrayPackage, BasicFnPackage, BasicIteratorPackage, BasicMapPackage,
    BasicMathPackage, BasicStringPackage, LanguageCorePackage, LogicPackage, MoreStringPackage, Package,
};
use rhai::{Dynamic, Engine, OptimizationLevel};
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
