//! Profile calls, one per registry row: `trapezoid(#{ … })`.

use super::row_comment::row_comment;
use super::{Called, raise, session};
use crate::convert;
use crate::limits;
use crate::session::count_one;
use rhai::{Array, Dynamic, Engine, FuncRegistration, Map, NativeCallContext};
use ribwright_kernel::profile::{Profile, ProfileKind};
use ribwright_kernel::settings::{SettingKind, Values};
use ribwright_kernel::{Error, Registry, Result};
use std::sync::Arc;

/// A profile in a script; it cannot be changed once made.
#[derive(Debug, Clone)]
pub(crate) struct ProfileHandle(pub(crate) Arc<Profile>);

/// The setting that makes a row callable as `name(points, map)`.
pub(crate) const POINTS: &str = "points";

pub(super) fn register(engine: &mut Engine, registry: &Registry) {
    engine.register_fn("to_string", |_: &mut ProfileHandle| "profile".to_owned());
    engine.register_fn("to_debug", |_: &mut ProfileHandle| "profile".to_owned());
    for row in &registry.profiles {
        let kind = *row;
        let comment = comment(&kind);
        if takes_points(&kind) {
            FuncRegistration::new(kind.name)
                .with_params_info(["points: Array", "settings: Map", "profile"])
                .with_comments([&comment])
                .register_into_engine(
                    engine,
                    move |ctx: NativeCallContext, points: Array, mut map: Map| -> Called<ProfileHandle> {
                        let twice = map.insert(POINTS.into(), Dynamic::from_array(points)).is_some();
                        let made = if twice {
                            Err(Error::input("points are given twice")
                                .at(kind.name)
                                .remedy("give them as the first argument only"))
                        } else {
                            build(&kind, &map)
                        };
                        finish(&ctx, made)
                    },
                );
        } else {
            FuncRegistration::new(kind.name)
                .with_params_info(["settings: Map", "profile"])
                .with_comments([&comment])
                .register_into_engine(
                    engine,
                    move |ctx: NativeCallContext, map: Map| -> Called<ProfileHandle> {
                        let made = build(&kind, &map);
                        finish(&ctx, made)
                    },
                );
        }
    }
}

/// Whether the row is called with a list of points before its map.
pub(crate) fn takes_points(kind: &ProfileKind) -> bool {
    kind.settings.iter().any(|row| row.name == POINTS && row.kind == SettingKind::Points)
}

fn build(kind: &ProfileKind, map: &Map) -> Result<Profile> {
    let values: Values = convert::settings(kind.name, kind.settings, map)?;
    (kind.build)(&values).map_err(|e| match e.place() {
        Some(place) if place.starts_with(kind.name) => e,
        _ => e.at(kind.name),
    })
}

fn finish(ctx: &NativeCallContext, made: Result<Profile>) -> Called<ProfileHandle> {
    let profile = made.map_err(|e| raise(ctx, e))?;
    let session = session(ctx)?;
    let mut state = session.lock();
    count_one(state.profiles, limits::MAX_PROFILES, "profiles").map_err(|e| raise(ctx, e))?;
    state.profiles += 1;
    Ok(ProfileHandle(Arc::new(profile)))
}

/// The `///` text of a row: its summary, and an example where one can be made.
fn comment(kind: &ProfileKind) -> String {
    let first = if takes_points(kind) { EXAMPLE_POINTS } else { "" };
    row_comment(kind.summary, kind.settings, |map| format!("let sheet = {}({first}{map});", kind.name))
}

/// One pitch of a made-up outline, for the example.
const EXAMPLE_POINTS: &str = "[[0, 20], [30, 20], [60, -20], [140, -20], [170, 20], [200, 20]], ";
