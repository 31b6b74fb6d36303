//! Sculpture calls: adding and stacking elements, rules, joints, phase searches.

use super::angles;
use super::elements::ElementHandle;
use super::{Called, raise, session, site};
use crate::convert;
use crate::limits;
use crate::session::{Site, count_one, lock};
use rhai::plugin::*;
use rhai::{Engine, Map, NativeCallContext};
use ribwright_kernel::element::planes::check_label;
use ribwright_kernel::registry::{self, NamedRow};
use ribwright_kernel::rules;
use ribwright_kernel::sculpture::{
    AIMS, DENSITY, Joint, LeanBy, LeanTo, Meet, PhaseSearch, Rules, SLIVER_AREA, Sculpture, Stacking,
};
use ribwright_kernel::settings::{LARGEST_NUMBER, Setting, SettingKind, Value, Values, unknown_name};
use ribwright_kernel::splice;
use ribwright_kernel::stage;
use ribwright_kernel::{Error, Registry, Result};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

/// A sculpture in a script; all copies of a handle are the same sculpture.
#[derive(Debug, Clone)]
pub(crate) struct SculptureHandle {
    /// Where it was made.
    pub(crate) site: Site,
    pub(crate) state: Arc<Mutex<SculptureState>>,
}

/// A sculpture being built.
#[derive(Debug)]
pub(crate) struct SculptureState {
    pub(crate) sculpture: Sculpture,
    /// Where each of its elements was made.
    pub(crate) sites: Vec<Site>,
    /// Face ids named before their element need be there, with the call that named them.
    pub(crate) named_faces: Vec<(String, Site)>,
}

const DEGREES: SettingKind = SettingKind::Number { default: Some(0.0), min: -3600.0, max: 3600.0 };

/// Settings of `stack`.
pub(super) const STACK_ROWS: &[Setting] = &[
    Setting { name: "on", summary: "the face it stands on: \"A/top\"", unit: "", kind: SettingKind::Text },
    Setting {
        name: "sink",
        summary: "how deep its foot sinks below that face, square to it",
        unit: "mm",
        kind: SettingKind::Number { default: Some(0.0), min: -LARGEST_NUMBER, max: LARGEST_NUMBER },
    },
    Setting {
        name: "shift",
        summary: "shift of its foot within the face, along x and y",
        unit: "mm",
        kind: SettingKind::Numbers { count: 2 },
    },
    Setting {
        name: "turn",
        summary: "turn about the face's normal, counter-clockwise seen from above",
        unit: "degrees",
        kind: DEGREES,
    },
    Setting { name: "tip", summary: "further tilt", unit: "degrees", kind: DEGREES },
    Setting {
        name: "toward",
        summary: "direction of the tilt, counter-clockwise from +x",
        unit: "degrees",
        kind: DEGREES,
    },
    Setting {
        name: "open",
        summary: "true leaves out sheet hidden inside; false keeps the lower face whole, so that the chambers stay apart",
        unit: "",
        kind: SettingKind::Flag { default: true },
    },
    Setting {
        name: "lean_to",
        summary: "places it further out, with all that stands on it, until the tightest level below it has only this \
                  margin left: #{ toward: degrees, margin: mm, by: \"shift\" or \"tip\" }",
        unit: "",
        kind: SettingKind::Settings,
    },
];

/// Settings of `lean_to`.
const LEAN_ROWS: &[Setting] = &[
    Setting {
        name: "toward",
        summary: "direction it is placed out in, counter-clockwise from +x",
        unit: "degrees",
        kind: SettingKind::Number { default: None, min: -3600.0, max: 3600.0 },
    },
    Setting {
        name: "margin",
        summary: "how far the line of the load stays inside the support at the tightest level below the element",
        unit: "mm",
        kind: SettingKind::Number { default: None, min: 0.0, max: 100_000.0 },
    },
    Setting {
        name: "by",
        summary: "shift slides it within the face it stands on, tip tilts it about its foot",
        unit: "",
        kind: SettingKind::Choice { default: Some("shift"), of: &["shift", "tip"] },
    },
];

/// Settings of `rules`. What is left out stays as it was.
pub(super) const RULES_ROWS: &[Setting] = &[
    Setting {
        name: "max_sides",
        summary: "most sides an element may have; left out, any number",
        unit: "",
        kind: SettingKind::Optional { min: 4.0, max: 1000.0 },
    },
    Setting {
        name: "max_elements",
        summary: "most elements the work may have; left out, any number",
        unit: "",
        kind: SettingKind::Optional { min: 1.0, max: 1000.0 },
    },
    Setting {
        name: "least_margin",
        summary: "least margin of balance at any level, on the ground and in every joint; left out, any",
        unit: "mm",
        kind: SettingKind::Optional { min: 0.0, max: 100_000.0 },
    },
    Setting {
        name: "most_sheets",
        summary: "most sheets that may be cut, where parts are laid; left out, any number",
        unit: "",
        kind: SettingKind::Optional { min: 1.0, max: 100_000.0 },
    },
    Setting {
        name: "most_area",
        summary: "most sheet in all parts together; left out, any",
        unit: "m²",
        kind: SettingKind::Optional { min: 0.0, max: 1.0e6 },
    },
    Setting {
        name: "apart",
        summary: "whether elements may stand on the ground by themselves, touching nothing of the rest",
        unit: "",
        kind: SettingKind::Flag { default: false },
    },
    Setting {
        name: "sliver_area",
        summary: "pieces smaller than this are reported",
        unit: "mm²",
        kind: SettingKind::Number { default: Some(SLIVER_AREA), min: 0.0, max: 1.0e6 },
    },
    Setting {
        name: "density",
        summary: "density of the sheet",
        unit: "kg/m³",
        kind: SettingKind::Number { default: Some(DENSITY), min: 100.0, max: 25_000.0 },
    },
];

/// Settings of `joints` and `joint`, beside those of the joint kind itself.
pub(super) const JOINT_ROWS: &[Setting] = &[
    Setting {
        name: "kind",
        summary: "the joint kind: auto, true, mitre, …; left out, as it was (auto at first)",
        unit: "",
        kind: SettingKind::Text,
    },
    Setting {
        name: "meet",
        summary: "which skins touch; left out, as it was (inside at first)",
        unit: "",
        kind: SettingKind::Choice { default: None, of: &["inside", "middle", "outside"] },
    },
    Setting {
        name: "bevel",
        summary: "whether edges are cut at an angle where the skins that meet ask for it; else square",
        unit: "",
        kind: SettingKind::Flag { default: false },
    },
    Setting {
        name: "wobble_limit",
        summary: "greatest wobble auto accepts for a true seam; left out, 1.5 × the larger depth",
        unit: "mm",
        kind: SettingKind::Optional { min: 0.0, max: 10_000.0 },
    },
];

/// Settings of `phase`.
pub(super) const PHASE_ROWS: &[Setting] = &[
    Setting {
        name: "aim",
        summary: "what the search is for",
        unit: "",
        kind: SettingKind::Choice { default: Some(AIMS[0]), of: &AIMS },
    },
    Setting {
        name: "other",
        summary: "the other face of the seam the aim is about; no_slivers may leave it out",
        unit: "",
        kind: SettingKind::Text,
    },
];

pub(super) fn register(engine: &mut Engine) {
    engine.register_global_module(exported_module!(calls).into());
}

impl SculptureHandle {
    fn name(&self) -> String {
        lock(&self.state).sculpture.name.clone()
    }

    pub(super) fn change<T>(&self, act: impl FnOnce(&mut SculptureState) -> Result<T>) -> Result<T> {
        act(&mut lock(&self.state))
    }
}

fn stacking(what: &str, map: &Map) -> Result<Stacking> {
    let values = convert::settings(what, STACK_ROWS, map)?;
    let Some(on) = values.text("on") else {
        return Err(Error::input("\"on\" is missing")
            .at(what)
            .remedy("say which face it stands on: on: \"A/top\""));
    };
    let shift = values.numbers("shift").unwrap_or_else(|| vec![0.0, 0.0]);
    Ok(Stacking {
        on: on.to_owned(),
        sink: values.number("sink"),
        shift: [shift[0], shift[1]],
        turn: values.number("turn"),
        tip: values.number("tip"),
        toward: values.number("toward"),
        open: values.flag("open"),
        lean_to: lean_to(what, map)?,
    })
}

fn lean_to(what: &str, map: &Map) -> Result<Option<LeanTo>> {
    let given = convert::map(map);
    let Some(Value::Map(asked)) = given.get("lean_to") else { return Ok(None) };
    let values = convert::check(&format!("{what}: lean_to"), LEAN_ROWS, asked)?;
    Ok(Some(LeanTo {
        toward: values.number("toward"),
        margin: values.number("margin"),
        by: if values.text("by") == Some("tip") { LeanBy::Tip } else { LeanBy::Shift },
    }))
}

/// The whole number of a rule, kept as a decimal by the interpreter.
fn whole(values: &Values, name: &str) -> Result<Option<u32>> {
    match values.optional(name) {
        None => Ok(None),
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "range checked by the row"
        )]
        Some(x) if x.fract() == 0.0 => Ok(Some(x as u32)),
        Some(x) => Err(Error::input(format!("{x} is not a whole number"))
            .at(format!("rules: {name}"))
            .remedy(format!("write {}", x.round()))),
    }
}

/// Sets one of the rules that variants fall out by; `value` as `.rules` takes it.
///
/// # Errors
/// No such rule, or a value that its row does not allow.
pub fn set_rule(rules: &mut Rules, name: &str, value: f64) -> Result<()> {
    if !rules::NAMES.contains(&name) {
        return Err(unknown_name("rule", name, rules::NAMES.into_iter()));
    }
    let given = BTreeMap::from([(name.to_owned(), Value::Number(value))]);
    set_values(rules, &convert::check("rules", RULES_ROWS, &given)?)
}

fn set_rules(state: &mut SculptureState, map: &Map) -> Result<()> {
    set_values(&mut state.sculpture.rules, &convert::settings("rules", RULES_ROWS, map)?)
}

fn set_values(rules: &mut Rules, values: &Values) -> Result<()> {
    let (max_sides, max_elements) = (whole(values, "max_sides")?, whole(values, "max_elements")?);
    let most_sheets = whole(values, "most_sheets")?;
    rules.most_sheets = most_sheets.or(rules.most_sheets);
    rules.least_margin = values.optional("least_margin").or(rules.least_margin);
    rules.most_area = values.optional("most_area").or(rules.most_area);
    rules.max_sides = max_sides.or(rules.max_sides);
    rules.max_elements = max_elements.or(rules.max_elements);
    if values.is_given("apart") {
        rules.apart = values.flag("apart");
    }
    if values.is_given("sliver_area") {
        rules.sliver_area = values.number("sliver_area");
    }
    if values.is_given("density") {
        rules.density = values.number("density");
    }
    Ok(())
}

/// The joint that `map` asks for, on top of the one there was.
fn joint_of(what: &str, registry: &Registry, before: &Joint, map: &Map) -> Result<Joint> {
    let given = convert::map(map);
    let kind = match given.get("kind") {
        None => before.kind.clone(),
        Some(_) => convert::text(&format!("{what}: kind"), &map["kind"])?,
    };
    let row = registry::find("joint kind", &registry.joints, &kind).map_err(|e| e.at(what))?;
    let rows: Vec<Setting> = JOINT_ROWS.iter().chain(row.settings()).copied().collect();
    let values = convert::check(what, &rows, &given)?;
    let meet = match values.text("meet") {
        Some("inside") => Meet::Inside,
        Some("middle") => Meet::Middle,
        Some(_) => Meet::Outside,
        None => before.meet,
    };
    let own = |name: &String| row.settings().iter().any(|s| s.name == name);
    // Settings of another kind mean nothing to this one.
    let mut settings = if kind == before.kind { before.settings.clone() } else { BTreeMap::new() };
    settings.extend(given.into_iter().filter(|(name, _)| own(name)));
    Ok(Joint {
        meet,
        bevel: if values.is_given("bevel") { values.flag("bevel") } else { before.bevel },
        wobble_limit: values.optional("wobble_limit").or(before.wobble_limit),
        settings,
        kind,
    })
}

/// Checks that a face id is written `element/face`.
fn check_face_id(what: &str, id: &str) -> Result<()> {
    let parts: Vec<&str> = id.split('/').collect();
    if matches!(parts[..], [element, face] if !element.is_empty() && !face.is_empty()) {
        return Ok(());
    }
    Err(Error::input(format!("\"{id}\" does not name a face"))
        .at(what)
        .remedy("write the element, a slash and the face: \"A/east\""))
}

fn pair_joint(state: &mut SculptureState, registry: &Registry, ids: [&str; 2], map: &Map) -> Result<()> {
    for id in ids {
        check_face_id("joint", id)?;
    }
    if ids[0] == ids[1] {
        return Err(Error::input(format!("a joint is between two faces, but both are \"{}\"", ids[0]))
            .remedy("name the two faces that meet"));
    }
    let [a, b] = [ids[0].min(ids[1]), ids[0].max(ids[1])];
    let sculpture = &mut state.sculpture;
    let joint = joint_of(&format!("joint {a}~{b}"), registry, sculpture.joint_between(a, b), map)?;
    sculpture.join_pair(a, b, joint);
    Ok(())
}

fn phase_search(face: &str, map: &Map) -> Result<PhaseSearch> {
    check_face_id("phase", face)?;
    let what = format!("phase {face}");
    let values = convert::settings(&what, PHASE_ROWS, map)?;
    let aim = values.text("aim").unwrap_or("no_slivers").to_owned();
    let other = values.text("other").map(str::to_owned);
    match &other {
        Some(other) => {
            check_face_id(&what, other)?;
            if other == face {
                return Err(Error::input("the other face is the face itself")
                    .at(what)
                    .remedy("name the face on the other side of the seam"));
            }
        }
        None if aim != "no_slivers" => {
            return Err(Error::input(format!("aim \"{aim}\" is about one seam, but \"other\" is missing"))
                .at(what)
                .remedy("name the face on the other side of the seam: other: \"A/top\""));
        }
        None => {}
    }
    Ok(PhaseSearch { aim, face: face.to_owned(), other })
}

/// A map checked against rows, ready to be kept.
fn checked(what: &str, rows: &[Setting], map: &Map) -> Result<BTreeMap<String, Value>> {
    let given = convert::map(map);
    convert::check(what, rows, &given)?;
    Ok(given)
}

#[export_module]
#[allow(unreachable_pub, reason = "the plugin macro takes up public functions only")]
mod calls {
    /// A new sculpture. The last line of a script names it, or it is the only one.
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// ```
    #[rhai_fn(return_raw)]
    pub fn sculpture(ctx: NativeCallContext, name: &str) -> Called<SculptureHandle> {
        check_label("sculpture name", name).map_err(|e| raise(&ctx, e))?;
        let session = session(&ctx)?;
        let mut state = session.lock();
        count_one(state.sculptures.len(), limits::MAX_SCULPTURES, "sculptures")
            .map_err(|e| raise(&ctx, e))?;
        let handle = SculptureHandle {
            site: site(&ctx),
            state: Arc::new(Mutex::new(SculptureState {
                sculpture: Sculpture::new(name),
                sites: Vec::new(),
                named_faces: Vec::new(),
            })),
        };
        state.sculptures.push(handle.clone());
        Ok(handle)
    }

    /// Adds an element where it is.
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// a.move([0, 0, 250]);
    /// s.add(a);
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn add(
        ctx: NativeCallContext,
        sculpture: &mut SculptureHandle,
        element: ElementHandle,
    ) -> Called<SculptureHandle> {
        element.place_in(&sculpture.state, |s, e| s.sculpture.add(e)).map_err(|e| raise(&ctx, e))?;
        Ok(sculpture.clone())
    }

    /// Adds an element standing on the ground: it is moved up or down until its lowest corner is at z = 0.
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// s.stand(a);
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn stand(
        ctx: NativeCallContext,
        sculpture: &mut SculptureHandle,
        element: ElementHandle,
    ) -> Called<SculptureHandle> {
        element.place_in(&sculpture.state, |s, e| s.sculpture.stand(e)).map_err(|e| raise(&ctx, e))?;
        Ok(sculpture.clone())
    }

    /// Adds an element standing on a face of one that was added before, as that face lies at this moment.
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// let b = slab("B", #{ size: [500, 500, 700] });
    /// s.stand(a);
    /// s.stack(b, #{ on: "A/top", sink: 120, shift: [60, -40], turn: 20, tip: 6, toward: 135 });
    /// ```
    ///
    /// With `lean_to` it is placed further out, and all that stands on it with it, as far as a margin allows:
    /// `lean_to: #{ toward: 135, margin: 40 }` leaves 40 mm at the tightest level below it.
    #[rhai_fn(return_raw, pure)]
    pub fn stack(
        ctx: NativeCallContext,
        sculpture: &mut SculptureHandle,
        element: ElementHandle,
        settings: Map,
    ) -> Called<SculptureHandle> {
        let what = format!("stack {}", element.name);
        let how = stacking(&what, &settings).map_err(|e| raise(&ctx, e))?;
        element.place_in(&sculpture.state, |s, e| s.sculpture.stack(e, &how)).map_err(|e| raise(&ctx, e))?;
        let beside = [("toward", how.toward), ("turn", how.turn)];
        let notes =
            [angles::radians(&element.name, ("tip", how.tip), &beside), angles::over(&element.name, how.tip)];
        let session = session(&ctx)?;
        notes.into_iter().flatten().for_each(|note| session.find_once(note));
        Ok(sculpture.clone())
    }

    /// The maker's own limits and the workshop's settings; a work beyond them gets findings, a variant falls out.
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// s.rules(#{ max_sides: 6, max_elements: 8, least_margin: 60, most_area: 20 });
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn rules(
        ctx: NativeCallContext,
        sculpture: &mut SculptureHandle,
        settings: Map,
    ) -> Called<SculptureHandle> {
        sculpture.change(|state| set_rules(state, &settings)).map_err(|e| raise(&ctx, e))?;
        Ok(sculpture.clone())
    }

    /// How faces are joined wherever no pair is named.
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// s.joints(#{ kind: "auto", meet: "inside", wobble_limit: 60 });
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn joints(
        ctx: NativeCallContext,
        sculpture: &mut SculptureHandle,
        settings: Map,
    ) -> Called<SculptureHandle> {
        let registry = session(&ctx)?.registry();
        let changed = sculpture.change(|state| {
            state.sculpture.joint = joint_of("joints", &registry, &state.sculpture.joint, &settings)?;
            Ok(())
        });
        changed.map_err(|e| raise(&ctx, e))?;
        Ok(sculpture.clone())
    }

    /// Settings of one kind of template, for all parts.
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// s.template("blank", #{ k_factor: 0.43 });
    /// s.template("wrap", #{ skin: "inside" });
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn template(
        ctx: NativeCallContext,
        sculpture: &mut SculptureHandle,
        kind: &str,
        settings: Map,
    ) -> Called<SculptureHandle> {
        let registry = session(&ctx)?.registry();
        let changed = sculpture.change(|state| {
            let row = registry::find("template kind", &registry.templates, kind)?;
            let given = checked(&format!("template {kind}"), row.settings, &settings)?;
            state.sculpture.templates.entry(kind.to_owned()).or_default().extend(given);
            Ok(())
        });
        changed.map_err(|e| raise(&ctx, e))?;
        Ok(sculpture.clone())
    }

    /// Settings of one stage of the work: cutting, welding, drawings, …
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// s.stand(a);
    /// s.stage("cutting", #{ process: "plasma", compensate: true });
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn stage(
        ctx: NativeCallContext,
        sculpture: &mut SculptureHandle,
        name: &str,
        settings: Map,
    ) -> Called<SculptureHandle> {
        let registry = session(&ctx)?.registry();
        let changed = sculpture.change(|state| {
            let row = registry::find("stage", &registry.stages, name)?;
            let given = checked(&format!("stage {name}"), row.settings, &settings)?;
            stage::check(row, &given)?;
            state.sculpture.stages.entry(name.to_owned()).or_default().extend(given);
            Ok(())
        });
        changed.map_err(|e| raise(&ctx, e))?;
        Ok(sculpture.clone())
    }

    /// The largest sheet there is: faces larger than it are split along the middles of crests or valleys and,
    /// where they must be, square across the ribs.
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// let a = slab("A", #{ size: [2400, 1600, 3000] });
    /// a.clad(trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70 }));
    /// s.stand(a);
    /// s.splices(#{ length: 2500, width: 1000, stagger: 300, clear: 100 });
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn splices(
        ctx: NativeCallContext,
        sculpture: &mut SculptureHandle,
        settings: Map,
    ) -> Called<SculptureHandle> {
        let changed = sculpture.change(|state| {
            state.sculpture.splices.extend(checked("splices", splice::ROWS, &settings)?);
            Ok(())
        });
        changed.map_err(|e| raise(&ctx, e))?;
        Ok(sculpture.clone())
    }

    /// Match marks and writing on the parts.
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// s.stand(a);
    /// s.marks(#{ tick: 20, text: 8 });
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn marks(
        ctx: NativeCallContext,
        sculpture: &mut SculptureHandle,
        settings: Map,
    ) -> Called<SculptureHandle> {
        let changed = sculpture.change(|state| {
            state.sculpture.marks.extend(checked("marks", ribwright_kernel::marks::ROWS, &settings)?);
            Ok(())
        });
        changed.map_err(|e| raise(&ctx, e))?;
        Ok(sculpture.clone())
    }

    /// How two named faces are joined. Call it after `joints`, whose settings it starts from.
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// s.joint("A/east", "A/top", #{ kind: "mitre" });
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// s.stand(a);
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn joint(
        ctx: NativeCallContext,
        sculpture: &mut SculptureHandle,
        face: &str,
        other: &str,
        settings: Map,
    ) -> Called<SculptureHandle> {
        let registry = session(&ctx)?.registry();
        let changed = sculpture.change(|state| {
            pair_joint(state, &registry, [face, other], &settings)?;
            state.named_faces.extend([face, other].map(|id| (id.to_owned(), site(&ctx))));
            Ok(())
        });
        changed.map_err(|e| raise(&ctx, e))?;
        Ok(sculpture.clone())
    }

    /// Lets the phase of one face be searched: it may shift by up to a pitch to reach the aim.
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// s.stand(a);
    /// s.phase("A/top", #{ aim: "crests_meet", other: "A/east" });
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn phase(
        ctx: NativeCallContext,
        sculpture: &mut SculptureHandle,
        face: &str,
        settings: Map,
    ) -> Called<SculptureHandle> {
        let changed = sculpture.change(|state| {
            count_one(state.sculpture.searches.len(), limits::MAX_SEARCHES, "searches for a phase")?;
            let search = phase_search(face, &settings)?;
            let named = search.other.iter().chain([&search.face]);
            state.named_faces.extend(named.map(|id| (id.clone(), site(&ctx))));
            state.sculpture.searches.push(search);
            Ok(())
        });
        changed.map_err(|e| raise(&ctx, e))?;
        Ok(sculpture.clone())
    }

    #[rhai_fn(name = "to_string", name = "to_debug", pure)]
    pub fn sculpture_to_string(sculpture: &mut SculptureHandle) -> String {
        format!("sculpture \"{}\"", sculpture.name())
    }
}
