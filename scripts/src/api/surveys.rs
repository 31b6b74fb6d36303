//! Survey calls: sheets as they were measured, from a yard file beside the script.

use super::profiles::ProfileHandle;
use super::{Called, raise, reader};
use crate::convert;
use crate::limits;
use crate::resolver::read_beside;
use crate::session::{Session, count_one};
use rhai::plugin::*;
use rhai::{Array, Engine, Map, NativeCallContext};
use ribwright_kernel::settings::{Setting, SettingKind, unknown_name};
use ribwright_kernel::survey::{
    self, FitOptions, FittedSheet, SurveyedSheet, add_traces, fit_yard, nominals, read_yard,
};
use ribwright_kernel::{Error, Result};
use std::sync::Arc;

/// A yard of surveyed sheets in a script.
#[derive(Debug, Clone)]
pub(crate) struct YardHandle {
    file: Arc<str>,
    pub(crate) sheets: Arc<Vec<FittedSheet>>,
}

/// A surveyed sheet in a script.
#[derive(Debug, Clone)]
pub(crate) struct SheetHandle(pub(crate) Arc<SurveyedSheet>);

/// Settings of `survey`: the kernel's, and the profile.
pub(super) const SURVEY_ROWS: &[Setting] = &rows();

const PROFILE: Setting = Setting {
    name: "profile",
    summary: "the profile the sheets were made to, as made by trapezoid(…) and the like; left out, the file's own",
    unit: "",
    kind: SettingKind::Text,
};

const fn rows() -> [Setting; survey::ROWS.len() + 1] {
    let mut all = [PROFILE; survey::ROWS.len() + 1];
    let mut k = 0;
    while k < survey::ROWS.len() {
        all[k + 1] = survey::ROWS[k];
        k += 1;
    }
    all
}

pub(super) fn register(engine: &mut Engine) {
    engine.register_global_module(exported_module!(calls).into());
}

fn read(session: &Session, file: &str, map: &Map) -> Result<YardHandle> {
    let mut map = map.clone();
    let profile = match map.remove("profile") {
        None => None,
        Some(given) => Some(given.clone().try_cast::<ProfileHandle>().ok_or_else(|| {
            Error::input(format!("profile: expected a profile, found {}", convert::kind_name(&given)))
                .at("survey")
                .remedy("make one first: let rib = trapezoid(#{ … }); then write profile: rib")
        })?),
    };
    let values = convert::settings("survey", SURVEY_ROWS, &map)?;
    let registry = {
        let state = session.lock();
        count_one(state.yards, limits::MAX_YARDS, "surveys")?;
        state.registry.clone()
    };
    session.lock().yards += 1;
    let open = |name: &str| read_beside(session, name, limits::MAX_SURVEY_BYTES);
    let mut yard = read_yard(file, &open(file)?)?;
    let nominals = nominals(&yard, &registry, profile.as_ref().map(|p| &p.0))?;
    // Tracings lie beside the file that names them.
    let beside = |name: &str| match file.rsplit_once('/') {
        Some((folder, _)) => open(&format!("{folder}/{name}")),
        None => open(name),
    };
    add_traces(&mut yard, &nominals, beside)?;
    let sheets = fit_yard(&yard, &nominals, &FitOptions::new(&values))?;
    let findings = yard.findings.into_iter().chain(sheets.iter().flat_map(|s| s.findings.iter().cloned()));
    session.lock().findings.extend(findings);
    Ok(YardHandle { file: file.into(), sheets: Arc::new(sheets) })
}

#[export_module]
#[allow(unreachable_pub, reason = "the plugin macro takes up public functions only")]
#[allow(missing_docs, reason = "the comments below are the script's documentation")]
mod calls {
    /// Reads the surveyed sheets of a yard from a file beside the script, and fits their folds.
    ///
    /// The file is CSV with one row per reading; `ribwright survey --form` makes a form to fill in. Misreadings
    /// and what else there is to say become findings.
    ///
    /// ```rhai
    /// let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, bend_radius: 6 });
    /// let yard = survey("yard.csv", #{ profile: rib });
    /// print(yard.names());
    /// ```
    #[rhai_fn(name = "survey", return_raw)]
    pub fn survey(ctx: NativeCallContext, file: &str, settings: Map) -> Called<YardHandle> {
        let session = reader(&ctx)?;
        read(&session, file, &settings).map_err(|e| raise(&ctx, e))
    }

    /// One sheet of a yard, by the name painted on it.
    ///
    /// ```rhai
    /// let yard = survey("yard.csv", #{ profile: trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70 }) });
    /// let sheet = yard.sheet("S03");
    /// ```
    #[rhai_fn(name = "sheet", return_raw)]
    pub fn sheet(ctx: NativeCallContext, yard: &mut YardHandle, name: &str) -> Called<SheetHandle> {
        let found = yard.sheets.iter().find(|fitted| fitted.sheet.name == name);
        found.map(|fitted| SheetHandle(fitted.sheet.clone())).ok_or_else(|| {
            let known = yard.sheets.iter().map(|fitted| fitted.sheet.name.as_str());
            raise(&ctx, unknown_name("sheet", name, known).at(&*yard.file))
        })
    }

    /// The names of all sheets of a yard, in the order of the file.
    ///
    /// ```rhai
    /// let yard = survey("yard.csv", #{ profile: trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70 }) });
    /// for name in yard.names() { print(name); }
    /// ```
    #[rhai_fn(name = "names")]
    pub fn names(yard: &mut YardHandle) -> Array {
        yard.sheets.iter().map(|fitted| fitted.sheet.name.clone().into()).collect()
    }

    #[rhai_fn(name = "to_string")]
    pub fn yard_text(yard: &mut YardHandle) -> String {
        format!("survey of {} sheets", yard.sheets.len())
    }

    #[rhai_fn(name = "to_string")]
    pub fn sheet_text(sheet: &mut SheetHandle) -> String {
        format!("sheet {}", sheet.0.name)
    }
}
