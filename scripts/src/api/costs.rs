//! The rates call: what things cost, from a file beside the script.

use super::sculptures::SculptureHandle;
use super::{Called, raise, session};
use crate::limits;
use crate::resolver::read_beside;
use rhai::plugin::*;
use rhai::{Engine, NativeCallContext};
use ribwright_kernel::costs::read_rates;
use std::sync::Arc;

pub(super) fn register(engine: &mut Engine) {
    engine.register_global_module(exported_module!(calls).into());
}

#[export_module]
#[allow(unreachable_pub, reason = "the plugin macro takes up public functions only")]
mod calls {
    /// What things cost: reads a rates file beside the script (CSV with the headings
    /// `item,unit,low,usual,high,note`) and works out an estimate with ranges and a page for the client. Rates the file
    /// leaves out are made up and marked so; `schedules/costs_rates.csv` lists all items there are.
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// s.stand(a);
    /// s.rates("rates.csv");
    /// s.stage("costs", #{ client: "Harbour committee", date: "Spring", valid: 30 });
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn rates(
        ctx: NativeCallContext,
        sculpture: &mut SculptureHandle,
        file: &str,
    ) -> Called<SculptureHandle> {
        let session = session(&ctx)?;
        let read = read_beside(&session, file, limits::MAX_RATES_BYTES)
            .and_then(|bytes| read_rates(file, &bytes))
            .map_err(|e| raise(&ctx, e))?;
        sculpture
            .change(|state| {
                state.sculpture.rates = Some(Arc::new(read));
                Ok(())
            })
            .map_err(|e| raise(&ctx, e))?;
        Ok(sculpture.clone())
    }
}
