//! Maquette calls: elements solved from readings in a file beside the script, tidied and enlarged.

use super::elements::{ElementHandle, finish};
use super::{Called, raise, reader, session};
use crate::convert;
use crate::limits;
use crate::resolver::read_beside;
use crate::session::{Session, count_one, lock};
use rhai::plugin::*;
use rhai::{Array, Engine, Map, NativeCallContext};
use ribwright_kernel::maquette::{
    self, Enlarge, Enlarged, MadeElement, Options, ReadFile, Readings, Size, Solved, Tidy, point_index,
};
use ribwright_kernel::settings::{Setting, SettingKind, unknown_name};
use ribwright_kernel::tracing::{self, Tracing};
use ribwright_kernel::{Error, Finding, Level, Result};
use std::sync::{Arc, Mutex};

/// A maquette in a script. All copies of a handle are the same maquette.
#[derive(Debug, Clone)]
pub(crate) struct MaquetteHandle {
    file: Arc<str>,
    state: Arc<Mutex<State>>,
}

#[derive(Debug)]
struct State {
    readings: Readings,
    solved: Solved,
    flat: f64,
    how: Enlarge,
    /// What it comes to; made when it is first asked for, and again after each change.
    made: Option<Enlarged>,
}

/// Settings of `enlarge`.
pub(super) const ENLARGE_ROWS: &[Setting] = &[
    Setting {
        name: "scale",
        summary: "how many times larger than the maquette",
        unit: "",
        kind: SettingKind::Optional { min: 1.0e-4, max: 1.0e4 },
    },
    Setting {
        name: "between",
        summary: "two points of the maquette, written \"P1 P2\", whose real distance is `length`",
        unit: "",
        kind: SettingKind::Text,
    },
    Setting {
        name: "length",
        summary: "the real distance of the points of `between`",
        unit: "mm",
        kind: SettingKind::Optional { min: 1.0, max: 1.0e6 },
    },
    Setting {
        name: "model_pitch",
        summary: "pitch of the corrugation on the maquette",
        unit: "mm",
        kind: SettingKind::Optional { min: 0.1, max: 1.0e4 },
    },
    Setting {
        name: "pitch",
        summary: "pitch of the real sheet, with `model_pitch`",
        unit: "mm",
        kind: SettingKind::Optional { min: 0.1, max: 1.0e4 },
    },
    Setting {
        name: "inward",
        summary: "how far the design lies inside of what was measured, on the maquette: the card's thickness, or half",
        unit: "mm",
        kind: SettingKind::Number { default: Some(0.0), min: 0.0, max: 100.0 },
    },
    Setting {
        name: "lap",
        summary: "how far an element reaches into the one it stands on, so that its sheets lap there",
        unit: "mm",
        kind: SettingKind::Number { default: Some(maquette::LAP), min: 0.0, max: 1000.0 },
    },
];

/// Settings of `maquette`: the kernel's, and those of `enlarge`.
pub(super) const MAQUETTE_ROWS: &[Setting] = &rows();

/// The files of tracings; taken out of the map before it is checked, for a setting holds no list of texts.
const TRACINGS: Setting = Setting {
    name: "tracings",
    summary: "SVG and DXF files with traced faces, a list: [\"A_east.svg\", \"B.dxf\"]",
    unit: "",
    kind: SettingKind::Text,
};

const COUNT: usize = maquette::ROWS.len() + ENLARGE_ROWS.len() + tracing::ROWS.len() + 1;

const fn rows() -> [Setting; COUNT] {
    let mut all = [TRACINGS; COUNT];
    let parts = [ENLARGE_ROWS, maquette::ROWS, tracing::ROWS];
    let (mut k, mut part) = (0, 0);
    while part < parts.len() {
        let mut row = 0;
        while row < parts[part].len() {
            all[k] = parts[part][row];
            k += 1;
            row += 1;
        }
        part += 1;
    }
    all
}

/// The names in a list of files.
fn files(given: &Dynamic) -> Result<Vec<String>> {
    let wrong = || {
        Error::input("a list of names of files is needed")
            .at("maquette: tracings")
            .remedy("write [\"A_east.svg\", \"B.dxf\"]")
    };
    let list = given.read_lock::<Array>().ok_or_else(wrong)?;
    list.iter().map(|name| name.clone().into_string().map_err(|_| wrong())).collect()
}

pub(super) fn register(engine: &mut Engine) {
    engine.register_global_module(exported_module!(calls).into());
}

/// Solves readings, tracings or both. `file` is none where there are tracings only.
fn read(session: &Session, file: Option<&str>, tracings: &[String], map: &Map) -> Result<MaquetteHandle> {
    let values = convert::settings("maquette", MAQUETTE_ROWS, map)?;
    {
        let mut state = session.lock();
        count_one(state.yards, limits::MAX_YARDS, "surveys and maquettes")?;
        state.yards += 1;
    }
    let open = |file: &str| read_beside(session, file, limits::MAX_SURVEY_BYTES);
    let ReadFile { mut readings, flat, mut findings } = match file {
        Some(file) => maquette::read_maquette(file, &open(file)?)?,
        None => ReadFile { readings: Readings::default(), flat: None, findings: Vec::new() },
    };
    if !tracings.is_empty() {
        if tracings.len() > limits::MAX_TRACINGS {
            let count = tracings.len();
            return Err(Error::input(format!("{count} tracings (allowed: {})", limits::MAX_TRACINGS))
                .at("maquette: tracings")
                .remedy("draw several faces on one sheet"));
        }
        let drawn = tracings.iter().map(|file| open(file)).collect::<Result<Vec<_>>>()?;
        let all: Vec<Tracing<'_>> =
            tracings.iter().zip(&drawn).map(|(file, bytes)| Tracing { file, bytes, face: None }).collect();
        let options = tracing::Options::from(&values);
        findings.extend(tracing::trace(&all, &options, &mut readings)?.findings);
    }
    let file = file.or(tracings.first().map(String::as_str)).unwrap_or_default();
    let options = Options::new(&values, flat);
    let solved = maquette::solve(&readings, &options).map_err(|refusal| refusal.error.at(file))?;
    let hulls = maquette::name_faces(&mut readings, &solved, options.flat);
    let shape = maquette::shape(&readings, &solved, options.flat).map_err(|e| e.at(file))?;
    let mut said = findings;
    said.extend(maquette::findings(&readings, &solved));
    said.extend(hulls);
    said.extend(shape.findings);
    session.lock().findings.extend(said);
    let size = size(&values)?.unwrap_or(Size::Factor(1.0));
    let how = Enlarge { size, inward: values.number("inward"), lap: values.number("lap"), tidy: Vec::new() };
    let state = State { readings, solved, flat: options.flat, how, made: None };
    Ok(MaquetteHandle { file: file.into(), state: Arc::new(Mutex::new(state)) })
}

/// The size that settings ask for; none if they ask for none.
fn size(values: &ribwright_kernel::settings::Values) -> Result<Option<Size>> {
    let wrong = |message: &str| {
        Err(Error::input(message.to_owned()).remedy(
            "give scale: 10, or between: \"P1 P2\" with length: 1500, or model_pitch: 6 with pitch: 200",
        ))
    };
    let scale = values.optional("scale");
    let length = (values.text("between"), values.optional("length"));
    let pitch = (values.optional("model_pitch"), values.optional("pitch"));
    let found = match (scale, length, pitch) {
        (None, (None, None), (None, None)) => return Ok(None),
        (Some(k), (None, None), (None, None)) => Size::Factor(k),
        (None, (Some(two), Some(real)), (None, None)) => match two.split_whitespace().collect::<Vec<_>>()[..]
        {
            [a, b] => Size::Length([a.to_owned(), b.to_owned()], real),
            _ => return wrong("between: two names of points are needed"),
        },
        (None, (None, None), (Some(model), Some(real))) => Size::Pitch { model, real },
        _ => return wrong("the size is given by half, or in more than one way"),
    };
    Ok(Some(found))
}

impl MaquetteHandle {
    fn change(&self, session: &Session, act: impl FnOnce(&mut Enlarge)) -> Result<()> {
        let mut state = lock(&self.state);
        if state.made.is_some() {
            return Err(Error::input("the maquette was made into elements already")
                .remedy("tidy and enlarge it first, then take its elements"));
        }
        let mut how = state.how.clone();
        act(&mut how);
        // What cannot be done is said where it is asked for.
        let made = maquette::enlarge(&state.readings, &state.solved, state.flat, &how)
            .map_err(|e| e.at(&*self.file))?;
        if let Some(moved) = made.moved.last().filter(|_| how.tidy.len() > state.how.tidy.len()) {
            let most = moved.points.iter().map(|(_, by)| *by).fold(0.0, f64::max);
            let points: Vec<String> =
                moved.points.iter().map(|(name, by)| format!("{name} {:.2}", by * made.scale)).collect();
            let message = if points.is_empty() {
                "nothing had to move".to_owned()
            } else {
                format!(
                    "corners move by up to {most:.2} mm on the maquette; on the work, mm: {}",
                    points.join(", ")
                )
            };
            let remedy = "leave the call out to keep the maquette as it was measured";
            session.lock().findings.push(Finding::new(
                Level::Note,
                "tidied",
                moved.what.clone(),
                message,
                remedy,
            ));
        }
        state.how = how;
        Ok(())
    }

    fn made(&self, session: &Session, name: &str) -> Result<MadeElement> {
        let mut state = lock(&self.state);
        if state.made.is_none() {
            let made = maquette::enlarge(&state.readings, &state.solved, state.flat, &state.how)
                .map_err(|e| e.at(&*self.file))?;
            let kept = made
                .findings
                .iter()
                .filter(|f| matches!(f.code.as_str(), "face-dropped" | "contact" | "lap"));
            session.lock().findings.extend(kept.cloned());
            state.made = Some(made);
        }
        let elements = state.made.as_ref().map(|m| m.elements.as_slice()).unwrap_or_default();
        match elements.iter().find(|e| e.solid.name == name) {
            Some(found) => Ok(found.clone()),
            None => {
                let known = elements.iter().map(|e| e.solid.name.as_str());
                Err(unknown_name("element", name, known).at(&*self.file))
            }
        }
    }
}

#[export_module]
#[allow(unreachable_pub, reason = "the plugin macro takes up public functions only")]
#[allow(missing_docs, reason = "the comments below are the script's documentation")]
mod calls {
    /// Solves a measured maquette from a file of readings beside the script: CSV with one row per reading.
    ///
    /// Traced faces in SVG or DXF files are added by `tracings: ["A_east.svg", "B.dxf"]`, one closed line per face in
    /// true size as seen from outside, named `A_east`; or a list of such files stands in place of the file of readings.
    /// Strokes named `edge_NAME` on two faces say that these edges meet, lines named `rib` how the ribs run, dots named
    /// `point_P1` which point a corner is.
    ///
    /// Rows are `distance, P1, P2, 100.5`, `height, P1, 0`, `angle, P2, P1, P3, 90`, `face, A/east, P1, P2, P3, P4`
    /// and `outside, P1, P2, P3`. Misreadings and what else there is to say become findings; `ribwright measure`
    /// writes the full report.
    ///
    /// ```rhai
    /// let m = maquette("two.csv", #{ scale: 10 });
    /// let a = m.element("A");
    /// ```
    #[rhai_fn(name = "maquette", return_raw)]
    pub fn maquette_of(ctx: NativeCallContext, file: &str, settings: Map) -> Called<MaquetteHandle> {
        let session = reader(&ctx)?;
        let mut settings = settings;
        let given = settings.remove("tracings");
        let tracings = given.map_or(Ok(Vec::new()), |list| files(&list));
        let made = tracings.and_then(|tracings| read(&session, Some(file), &tracings, &settings));
        made.map_err(|e| raise(&ctx, e))
    }

    /// Solves a maquette from tracings of all its faces: see `maquette(file, #{ … })`.
    ///
    /// ```rhai
    /// let m = maquette(["wedge.svg"], #{ scale: 10 });
    /// let a = m.element("W");
    /// ```
    #[rhai_fn(name = "maquette", return_raw)]
    pub fn maquette_of_tracings(
        ctx: NativeCallContext,
        tracings: Array,
        settings: Map,
    ) -> Called<MaquetteHandle> {
        let session = reader(&ctx)?;
        let tracings = files(&tracings.into());
        let made = tracings.and_then(|tracings| read(&session, None, &tracings, &settings));
        made.map_err(|e| raise(&ctx, e))
    }

    /// Says how much larger the work is than the maquette, and how thick the card is.
    ///
    /// ```rhai
    /// let m = maquette("two.csv", #{});
    /// m.enlarge(#{ between: "P1 P2", length: 1500, inward: 0.5 });
    /// ```
    #[rhai_fn(name = "enlarge", return_raw)]
    pub fn enlarge(
        ctx: NativeCallContext,
        maquette: &mut MaquetteHandle,
        settings: Map,
    ) -> Called<MaquetteHandle> {
        let session = reader(&ctx)?;
        let changed = convert::settings("enlarge", ENLARGE_ROWS, &settings).and_then(|values| {
            let size = size(&values).map_err(|e| e.at("enlarge"))?;
            maquette.change(&session, |how| {
                how.size = size.unwrap_or_else(|| how.size.clone());
                if values.is_given("inward") {
                    how.inward = values.number("inward");
                }
                if values.is_given("lap") {
                    how.lap = values.number("lap");
                }
            })
        });
        changed.map_err(|e| raise(&ctx, e))?;
        Ok(maquette.clone())
    }

    /// Makes a face of a maquette vertical by the least moves of its corners; a note says how far they move.
    ///
    /// ```rhai
    /// let m = maquette("two.csv", #{ scale: 10 });
    /// m.plumb("A/south");
    /// ```
    #[rhai_fn(name = "plumb", return_raw)]
    pub fn plumb(
        ctx: NativeCallContext,
        maquette: &mut MaquetteHandle,
        face: &str,
    ) -> Called<MaquetteHandle> {
        tidied(&ctx, maquette, Tidy::Plumb(face.to_owned()))
    }

    /// Makes a face of a maquette level by the least moves of its corners; a note says how far they move.
    ///
    /// ```rhai
    /// let m = maquette("two.csv", #{ scale: 10 });
    /// m.level("A/bottom");
    /// ```
    #[rhai_fn(name = "level", return_raw)]
    pub fn level(
        ctx: NativeCallContext,
        maquette: &mut MaquetteHandle,
        face: &str,
    ) -> Called<MaquetteHandle> {
        tidied(&ctx, maquette, Tidy::Level(face.to_owned()))
    }

    /// Makes two faces of a maquette parallel by the least moves of their corners; a note says how far they move.
    ///
    /// ```rhai
    /// let m = maquette("two.csv", #{ scale: 10 });
    /// m.parallel("A/east", "A/west");
    /// ```
    #[rhai_fn(name = "parallel", return_raw)]
    pub fn parallel(
        ctx: NativeCallContext,
        maquette: &mut MaquetteHandle,
        face: &str,
        other: &str,
    ) -> Called<MaquetteHandle> {
        tidied(&ctx, maquette, Tidy::Parallel(face.to_owned(), other.to_owned()))
    }

    /// Leaves an element of a maquette so many faces at most: those are dropped whose loss changes it least.
    ///
    /// ```rhai
    /// let m = maquette("two.csv", #{ scale: 10 });
    /// m.most_sides("A", 6);
    /// ```
    #[rhai_fn(name = "most_sides", return_raw)]
    pub fn most_sides(
        ctx: NativeCallContext,
        maquette: &mut MaquetteHandle,
        element: &str,
        sides: Dynamic,
    ) -> Called<MaquetteHandle> {
        let number = convert::number("most_sides: sides", &sides).map_err(|e| raise(&ctx, e))?;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "in range")]
        let count = number.clamp(0.0, 1000.0) as usize;
        tidied(&ctx, maquette, Tidy::MostSides(element.to_owned(), count))
    }

    /// One element of a maquette in real size, to clad, add or stack like any other; where the maquette has it. Ribs
    /// drawn on tracings run on it as drawn.
    ///
    /// ```rhai
    /// let m = maquette("two.csv", #{ scale: 10 });
    /// let a = m.element("A");
    /// a.clad(trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70 }));
    /// let s = sculpture("Twice Told");
    /// s.add(a);
    /// ```
    #[rhai_fn(name = "element", return_raw)]
    pub fn element(
        ctx: NativeCallContext,
        maquette: &mut MaquetteHandle,
        name: &str,
    ) -> Called<ElementHandle> {
        let session = reader(&ctx)?;
        let made = maquette.made(&session, name).map_err(|e| raise(&ctx, e))?;
        let element = finish(&ctx, name, Ok(made.solid.clone()))?;
        let ribs = made.solid.faces.iter().zip(&made.ribs).filter_map(|(face, ribs)| Some((face, (*ribs)?)));
        for (face, [through, along]) in ribs {
            let laid = element.change(|e| {
                let cladding = e.face_mut(&face.label)?;
                (cladding.along, cladding.through) = (Some(along), Some(through.into()));
                Ok(())
            });
            laid.map_err(|e| raise(&ctx, e))?;
        }
        Ok(element)
    }

    /// The names of the elements of a maquette, in the order of the file.
    ///
    /// ```rhai
    /// let m = maquette("two.csv", #{ scale: 10 });
    /// for name in m.elements() { print(name); }
    /// ```
    #[rhai_fn(name = "elements")]
    pub fn elements(maquette: &mut MaquetteHandle) -> Array {
        let state = lock(&maquette.state);
        let mut names: Vec<&str> = Vec::new();
        for face in &state.readings.faces {
            if !names.contains(&face.element.as_str()) {
                names.push(&face.element);
            }
        }
        names.into_iter().map(|n| n.to_owned().into()).collect()
    }

    /// The solved distance between two points of a maquette, mm on the maquette.
    ///
    /// ```rhai
    /// let m = maquette("two.csv", #{});
    /// print(m.between("P1", "P7"));
    /// ```
    #[rhai_fn(name = "between", return_raw)]
    pub fn between(ctx: NativeCallContext, maquette: &mut MaquetteHandle, a: &str, b: &str) -> Called<f64> {
        let state = lock(&maquette.state);
        let of =
            |name: &str| point_index(&state.solved, name).map_err(|e| raise(&ctx, e.at(&*maquette.file)));
        Ok(state.solved.between(of(a)?, of(b)?))
    }

    #[rhai_fn(name = "to_string")]
    pub fn maquette_text(maquette: &mut MaquetteHandle) -> String {
        format!("maquette of {} points", lock(&maquette.state).solved.points.len())
    }
}

fn tidied(ctx: &NativeCallContext, maquette: &MaquetteHandle, tidy: Tidy) -> Called<MaquetteHandle> {
    let session = session(ctx)?;
    maquette.change(&session, |how| how.tidy.push(tidy)).map_err(|e| raise(ctx, e))?;
    Ok(maquette.clone())
}
