//! The calls a script can make, one file per area of the kernel.
//!
//! Calls that come from registry rows are registered in `profiles` and `elements`; the others are plain
//! functions whose `///` comments are the documentation in the vocabulary and in the editor definitions.

mod angles;
mod bounded;
mod choices;
mod costs;
mod elements;
mod faces;
mod lays;
mod maquettes;
mod numbers;
mod profiles;
mod recipes;
mod row_comment;
mod sculptures;
mod surveys;

pub(crate) use choices::ChanceHandle;
pub(crate) use elements::ElementHandle;
pub(crate) use faces::FaceHandle;
pub(crate) use lays::SHEET_ROWS;
pub(crate) use maquettes::MaquetteHandle;
pub(crate) use profiles::ProfileHandle;
pub(crate) use sculptures::SculptureHandle;
pub use sculptures::set_rule;
pub(crate) use surveys::{SheetHandle, YardHandle};

use crate::engine::DISABLED;
use crate::session::{Session, Site};
use rhai::{Dynamic, Engine, EvalAltResult, NativeCallContext, Position};
use ribwright_kernel::settings::Setting;
use ribwright_kernel::{Error, Registry};

/// Result of a call as the interpreter wants it.
pub(crate) type Called<T> = Result<T, Box<EvalAltResult>>;

/// An error of the kernel on its way through the interpreter.
#[derive(Debug, Clone)]
pub(crate) struct Fault(pub(crate) Error);

/// An error in what a recipe was handed: it stands where the recipe was called, not inside of it.
#[derive(Debug, Clone)]
pub(crate) struct CallerFault(pub(crate) Error);

/// Adds every call to the engine.
pub(crate) fn register(engine: &mut Engine, registry: &Registry) {
    engine
        .register_type_with_name::<ProfileHandle>("profile")
        .register_type_with_name::<ElementHandle>("element")
        .register_type_with_name::<FaceHandle>("face")
        .register_type_with_name::<SculptureHandle>("sculpture")
        .register_type_with_name::<YardHandle>("yard")
        .register_type_with_name::<SheetHandle>("sheet")
        .register_type_with_name::<MaquetteHandle>("maquette")
        .register_type_with_name::<ChanceHandle>("chance")
        .register_type_with_name::<Fault>("error");
    engine.register_fn("to_string", |fault: &mut Fault| fault.0.to_string());
    engine.register_type_with_name::<CallerFault>("error");
    engine.register_fn("to_string", |fault: &mut CallerFault| fault.0.to_string());
    // In the way of the interpreter's own, which a switched-off symbol does not reach.
    for (word, why) in DISABLED {
        let refuse = move |ctx: &NativeCallContext| -> Called<()> {
            let error = Error::input(format!("{word} cannot be used: {why}")).remedy("take it out");
            Err(raise(ctx, error))
        };
        engine.register_fn(*word, move |ctx: NativeCallContext, _: i64| refuse(&ctx));
        engine.register_fn(*word, move |ctx: NativeCallContext, _: f64| refuse(&ctx));
    }
    profiles::register(engine, registry);
    elements::register(engine, registry);
    faces::register(engine);
    sculptures::register(engine);
    surveys::register(engine);
    maquettes::register(engine);
    lays::register(engine);
    choices::register(engine);
    costs::register(engine);
    numbers::register(engine);
    recipes::register(engine);
    bounded::register(engine);
}

/// Settings of the calls that are not registry rows: call, name of its map, rows.
pub(crate) const CALL_SETTINGS: &[(&str, &[Setting])] = &[
    ("planes", elements::PLANE_ROWS),
    ("ribs", faces::RIBS_ROWS),
    ("leave_open", faces::LEAVE_OPEN_ROWS),
    ("lay_on", faces::LAY_ON_ROWS),
    ("marks", ribwright_kernel::marks::ROWS),
    ("stack", sculptures::STACK_ROWS),
    ("rules", sculptures::RULES_ROWS),
    ("joints", sculptures::JOINT_ROWS),
    ("joint", sculptures::JOINT_ROWS),
    ("phase", sculptures::PHASE_ROWS),
    ("splices", ribwright_kernel::splice::ROWS),
    ("survey", surveys::SURVEY_ROWS),
    ("maquette", maquettes::MAQUETTE_ROWS),
    ("enlarge", maquettes::ENLARGE_ROWS),
    ("lay", ribwright_kernel::lay::ROWS),
    ("choose", choices::CHOOSE_ROWS),
    ("seed", choices::SEED_ROWS),
];

/// The state of the run a call belongs to.
fn session(ctx: &NativeCallContext) -> Called<Session> {
    ctx.tag()
        .and_then(|tag| tag.clone().try_cast::<Session>())
        .ok_or_else(|| raise(ctx, Error::bug("a call was made outside a run")))
}

/// The state of the run, for a call that reads a file: a recipe from a folder has no business with files.
fn reader(ctx: &NativeCallContext) -> Called<Session> {
    let session = session(ctx)?;
    let from_folder =
        ctx.call_source().is_some_and(|source| session.lock().from_folders.contains_key(source));
    if from_folder {
        let error =
            Error::input(format!("{} reads a file, and a recipe from a folder reads none", ctx.fn_name()))
                .remedy("read the file in the script, and hand the recipe what it needs");
        return Err(raise(ctx, error));
    }
    Ok(session)
}

/// Where the call stands.
fn site(ctx: &NativeCallContext) -> Site {
    Site { source: ctx.call_source().map(str::to_owned), position: ctx.call_position() }
}

/// Hands an error of the kernel to the interpreter, at the position of the call.
fn raise(ctx: &NativeCallContext, error: Error) -> Box<EvalAltResult> {
    fault(error, ctx.call_position())
}

/// Hands an error of the kernel to the interpreter.
fn fault(error: Error, position: Position) -> Box<EvalAltResult> {
    Box::new(EvalAltResult::ErrorRuntime(Dynamic::from(Fault(error)), position))
}
