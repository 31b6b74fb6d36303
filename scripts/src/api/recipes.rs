//! The call recipes check their settings with.

use super::{Called, CallerFault, raise, session};
use crate::head::Head;
use rhai::plugin::*;
use rhai::{Dynamic, Engine, EvalAltResult, Map, NativeCallContext};
use ribwright_kernel::{Error, Result};
use std::sync::Arc;

pub(super) fn register(engine: &mut Engine) {
    engine.register_global_module(exported_module!(calls).into());
}

/// The head of the module the call stands in, and what errors call it.
fn head(ctx: &NativeCallContext) -> Called<(Arc<Head>, String)> {
    let session = session(ctx)?;
    let mut state = session.lock();
    let source = ctx.call_source().unwrap_or(&state.main).to_owned();
    if let Some(head) = state.heads.get(&source) {
        return Ok((head.clone(), short_name(&source)));
    }
    let text = state.sources.get(&source).cloned();
    let found: Result<Option<Head>> = text.map_or(Ok(None), |text| {
        Head::read(&text).map_err(|f| f.error.at(format!("line {} of the head", f.line)))
    });
    let head = match found {
        Ok(Some(head)) => Arc::new(head),
        Ok(None) => {
            let error = Error::input("this file has no head that says which settings there are").remedy(
                "begin it with the lines of a recipe; `ribwright recipes --source boulder` shows one",
            );
            return Err(raise(ctx, error));
        }
        Err(error) => return Err(raise(ctx, error)),
    };
    state.heads.insert(source.clone(), head.clone());
    Ok((head, short_name(&source)))
}

/// `boulder` of `recipe boulder` or `lib/boulder.rhai`.
fn short_name(source: &str) -> String {
    let last = source.rsplit(['/', '\\', ' ']).next().unwrap_or(source);
    last.strip_suffix(".rhai").unwrap_or(last).to_owned()
}

#[export_module]
#[allow(unreachable_pub, reason = "the plugin macro takes up public functions only")]
mod calls {
    /// In a recipe: the settings it was handed, checked against its head, with the defaults of those left out. What is
    /// wrong with them is an error at the line that called the recipe.
    ///
    /// ```rhai
    /// //! A plinth.
    /// //!
    /// //! kind: shape
    /// //! call: make(name, settings)
    /// //! gives: an element
    /// //! author: A. Name
    /// //! licence: MIT
    /// //! settings:
    /// //! - width: 900 mm, 300 to 4000; along x and y
    /// fn make(name, settings) {
    ///     let size = checked(settings);
    ///     slab(name, #{ size: [size.width, size.width, 400] })
    /// }
    /// make("A", #{ width: 1200 });
    /// ```
    #[rhai_fn(return_raw)]
    pub fn checked(ctx: NativeCallContext, settings: Map) -> Called<Map> {
        let (head, name) = head(&ctx)?;
        head.settings(&name, &settings).map_err(|error| {
            Box::new(EvalAltResult::ErrorRuntime(Dynamic::from(CallerFault(error)), ctx.call_position()))
        })
    }
}
