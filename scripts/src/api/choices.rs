//! Choices: what a script leaves open for `ribwright vary` to try out, and random gestures.

use super::{Called, raise, session, site};
use crate::convert;
use crate::limits;
use crate::session::{Session, Site, count_one, lock};
use rhai::plugin::*;
use rhai::{Array, Engine, Map, NativeCallContext};
use ribwright_kernel::choice::{Choice, Chosen, GREATEST_SEED, Pick};
use ribwright_kernel::random::{self, Random};
use ribwright_kernel::settings::{LARGEST_NUMBER, Setting, SettingKind};
use ribwright_kernel::{Error, Result};
use std::sync::{Arc, Mutex};

/// A stream of random numbers in a script; all copies of a handle are the same stream.
#[derive(Debug, Clone)]
pub(crate) struct ChanceHandle {
    name: Arc<str>,
    random: Arc<Mutex<Random>>,
}

const USUAL: &str = "usual";

/// Settings of `choose`.
pub(super) const CHOOSE_ROWS: &[Setting] = &[
    Setting {
        name: USUAL,
        summary: "what it is unless a value is picked; left out, the middle of the range or the first of the list",
        unit: "",
        kind: SettingKind::Text,
    },
    Setting {
        name: "step",
        summary: "distance of the values of a range, from its least; left out, any number",
        unit: "",
        kind: SettingKind::Optional { min: 0.0, max: LARGEST_NUMBER },
    },
    Setting {
        name: "unit",
        summary: "unit of its numbers, written beside them",
        unit: "",
        kind: SettingKind::Text,
    },
];

/// Settings of `seed`.
pub(super) const SEED_ROWS: &[Setting] = &[Setting {
    name: USUAL,
    summary: "what it is unless a value is picked",
    unit: "",
    kind: SettingKind::Number { default: Some(1.0), min: 0.0, max: GREATEST_SEED },
}];

pub(super) fn register(engine: &mut Engine) {
    engine.register_global_module(exported_module!(calls).into());
}

/// A value a choice can have.
fn pick(given: &Dynamic) -> Result<Pick> {
    if let Some(x) = convert::number_of(given) {
        return Ok(Pick::Number(x));
    }
    if let Ok(flag) = given.as_bool() {
        return Ok(Pick::Flag(flag));
    }
    match given.clone().into_immutable_string() {
        Ok(text) => Ok(Pick::Text(text.to_string())),
        Err(_) => Err(Error::input(format!(
            "expected a number, a text, or true or false, found {}",
            convert::kind_name(given)
        ))
        .remedy("choose a name, and look the rest up in a map: let all = #{ deep: …, shallow: … }; all[choose(…)]")),
    }
}

/// A value as the interpreter has it; whole numbers without a decimal point, so that they can be counted with.
fn dynamic(value: &Pick) -> Dynamic {
    match value {
        #[allow(clippy::cast_possible_truncation, reason = "whole and within 1e9")]
        Pick::Number(x) if x.fract() == 0.0 => Dynamic::from_int(*x as i64),
        Pick::Number(x) => Dynamic::from_float(*x),
        Pick::Text(text) => text.as_str().into(),
        Pick::Flag(flag) => Dynamic::from_bool(*flag),
    }
}

/// Settings of a choice: usual, step, unit.
fn settings(what: &str, map: &Map) -> Result<(Option<Pick>, Option<f64>, String)> {
    let mut map = map.clone();
    let usual = map.remove(USUAL).map(|given| pick(&given).map_err(|e| e.at(USUAL).at(what))).transpose()?;
    let values = convert::settings(what, CHOOSE_ROWS, &map)?;
    let unit = values.text("unit").unwrap_or_default().to_owned();
    if unit.chars().count() > MOST_UNIT || unit.chars().any(char::is_control) {
        return Err(Error::input(format!("{unit:?} is no unit (allowed: up to {MOST_UNIT} characters)"))
            .at(what)
            .remedy("write it short, for instance \"degrees\""));
    }
    Ok((usual, values.optional("step"), unit))
}

/// Longest unit, characters.
const MOST_UNIT: usize = 20;

fn from_range(name: &str, least: &Dynamic, greatest: &Dynamic, map: &Map) -> Result<Choice> {
    let what = format!("choose {name:?}");
    let range = [("least", least), ("greatest", greatest)]
        .map(|(end, given)| convert::number(&format!("{what}: {end}"), given));
    let [least, greatest] = range;
    let (usual, step, unit) = settings(&what, map)?;
    let usual = match usual {
        None => None,
        Some(Pick::Number(x)) => Some(x),
        Some(other) => {
            return Err(Error::input(format!("\"{other}\" is no number"))
                .at(USUAL)
                .at(what)
                .remedy("give a number within the range, without quotation marks"));
        }
    };
    Choice::range(name, [least?, greatest?], step, usual, &unit)
}

fn from_list(name: &str, list: &Array, map: &Map) -> Result<Choice> {
    let what = format!("choose {name:?}");
    if list.len() > limits::MAX_CHOICE_LIST {
        return Err(Error::input(format!(
            "{} entries are more than the {} allowed",
            list.len(),
            limits::MAX_CHOICE_LIST
        ))
        .at(what)
        .remedy("leave out those that are not worth a try"));
    }
    let of = list.iter().map(|given| pick(given).map_err(|e| e.at(&*what))).collect::<Result<Vec<_>>>()?;
    let (usual, step, unit) = settings(&what, map)?;
    if step.is_some() {
        return Err(Error::input("a list has no step").at(what).remedy("take step out, or give a range"));
    }
    Choice::list(name, of, usual, &unit)
}

/// Declares a choice and says its value: the one that was given from outside, else the usual one.
fn value(session: &Session, choice: Choice, site: Site) -> Result<Pick> {
    let before = session.lock().choices.iter().find(|(c, _)| c.choice.name == choice.name).cloned();
    if let Some((before, at)) = before {
        if before.choice == choice {
            return Ok(before.value);
        }
        let frame = session.frame(&at);
        return Err(Error::input(format!(
            "it stands already in line {} of {}, as {}",
            frame.line,
            frame.file,
            described(&before.choice)
        ))
        .at(choice.at())
        .remedy("keep the value in a variable and use it in both places, or give one of them another name"));
    }
    let mut state = session.lock();
    count_one(state.choices.len(), limits::MAX_CHOICES, "choices")?;
    let given = state.given.values.get(&choice.name).cloned();
    let picked = given.is_some() && state.given.file.is_some();
    let value = match given {
        None => choice.usual.clone(),
        Some(value) => choice.check(&value).map_err(|e| match &state.given.file {
            None => e.at(choice.at()),
            Some(file) => Error::input(format!(
                "{} picks {value}, which is not allowed here any more (allowed: {})",
                file.name,
                choice.allowed()
            ))
            .at(choice.at())
            .remedy(format!(
                "free it with `ribwright vary {} --unpick`, pick another variant, or widen the choice here",
                state.main
            )),
        })?,
    };
    state.choices.push((Chosen { choice, value: value.clone(), picked }, site));
    Ok(value)
}

/// A choice in words, with its usual value.
fn described(choice: &Choice) -> String {
    format!("{}, usually {}", choice.allowed(), choice.usual)
}

fn chosen(ctx: &NativeCallContext, choice: Result<Choice>) -> Called<Dynamic> {
    let session = session(ctx)?;
    choice.and_then(|c| value(&session, c, site(ctx))).map(|v| dynamic(&v)).map_err(|e| raise(ctx, e))
}

fn stream(session: &Session, name: &str, map: &Map, site: Site) -> Result<ChanceHandle> {
    let values = convert::settings(&format!("seed {name:?}"), SEED_ROWS, map)?;
    let seed = match value(session, Choice::seed(name, values.number(USUAL))?, site)? {
        Pick::Number(x) => x,
        other => return Err(Error::bug(format!("the seed {name:?} is {other}"))),
    };
    // Two seeds of the same number are two streams.
    let start = random::hash(name.bytes());
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number up to 1e9")]
    let random = Random::new(start ^ (seed as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15));
    Ok(ChanceHandle { name: name.into(), random: Arc::new(Mutex::new(random)) })
}

/// Two numbers, the lesser first.
fn ends(what: &str, low: &Dynamic, high: &Dynamic) -> Result<[f64; 2]> {
    let (low, high) = (convert::number(what, low)?, convert::number(what, high)?);
    if low > high {
        return Err(Error::input(format!("there is nothing between {low} and {high}"))
            .at(what)
            .remedy("give the lesser number first"));
    }
    Ok([low, high])
}

#[export_module]
#[allow(unreachable_pub, reason = "the plugin macro takes up public functions only")]
mod calls {
    /// A number from a range that the work leaves open.
    ///
    /// In `make` and everywhere else it is the value that was picked with `vary --pick`; else `usual`, or the middle.
    ///
    /// ```rhai
    /// let lean = choose("lean", 5, 20);
    /// ```
    #[rhai_fn(return_raw)]
    pub fn choose(ctx: NativeCallContext, name: &str, least: Dynamic, greatest: Dynamic) -> Called<Dynamic> {
        chosen(&ctx, from_range(name, &least, &greatest, &Map::new()))
    }

    /// The same with steps, a unit, and what it usually is.
    ///
    /// ```rhai
    /// let lean = choose("lean", 5, 20, #{ step: 1, unit: "degrees", usual: 12 });
    /// ```
    #[rhai_fn(name = "choose", return_raw)]
    pub fn choose_set(
        ctx: NativeCallContext,
        name: &str,
        least: Dynamic,
        greatest: Dynamic,
        settings: Map,
    ) -> Called<Dynamic> {
        chosen(&ctx, from_range(name, &least, &greatest, &settings))
    }

    /// A number or word that the work leaves open, under a name: from a list, or from a range. `ribwright vary` tries many
    /// values; until one is picked it is the usual one.
    ///
    /// ```rhai
    /// let depths = #{ deep: 60, shallow: 25 };
    /// let depth = depths[choose("profile", ["deep", "shallow"])];
    /// ```
    #[rhai_fn(name = "choose", return_raw)]
    pub fn choose_one(ctx: NativeCallContext, name: &str, list: Array) -> Called<Dynamic> {
        chosen(&ctx, from_list(name, &list, &Map::new()))
    }

    /// The same with what it usually is.
    ///
    /// ```rhai
    /// let sides = choose("sides", [4, 5, 7], #{ usual: 5 });
    /// ```
    #[rhai_fn(name = "choose", return_raw)]
    pub fn choose_one_set(ctx: NativeCallContext, name: &str, list: Array, settings: Map) -> Called<Dynamic> {
        chosen(&ctx, from_list(name, &list, &settings))
    }

    /// Random gestures that come out the same every time, until `ribwright vary` tries another seed.
    ///
    /// The seed, usually 1, is a choice like others. The same name and seed give the same numbers on every machine.
    ///
    /// ```rhai
    /// let gesture = seed("gesture");
    /// let turn = gesture.between(-20, 20);
    /// ```
    #[rhai_fn(return_raw)]
    pub fn seed(ctx: NativeCallContext, name: &str) -> Called<ChanceHandle> {
        stream(&session(&ctx)?, name, &Map::new(), site(&ctx)).map_err(|e| raise(&ctx, e))
    }

    /// The same with the seed it usually has.
    ///
    /// ```rhai
    /// let gesture = seed("gesture", #{ usual: 7 });
    /// ```
    #[rhai_fn(name = "seed", return_raw)]
    pub fn seed_set(ctx: NativeCallContext, name: &str, settings: Map) -> Called<ChanceHandle> {
        stream(&session(&ctx)?, name, &settings, site(&ctx)).map_err(|e| raise(&ctx, e))
    }

    /// The next random number from `low` up to `high`.
    ///
    /// ```rhai
    /// let gesture = seed("gesture");
    /// let shift = [gesture.between(-60, 60), gesture.between(-60, 60)];
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn between(
        ctx: NativeCallContext,
        chance: &mut ChanceHandle,
        low: Dynamic,
        high: Dynamic,
    ) -> Called<f64> {
        let [low, high] = ends("between", &low, &high).map_err(|e| raise(&ctx, e))?;
        Ok(lock(&chance.random).between(low, high))
    }

    /// The next random whole number from `low` to `high`, both among them.
    ///
    /// ```rhai
    /// let sides = seed("gesture").whole(4, 7);
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn whole(
        ctx: NativeCallContext,
        chance: &mut ChanceHandle,
        low: Dynamic,
        high: Dynamic,
    ) -> Called<i64> {
        let [low, high] = ends("whole", &low, &high).map_err(|e| raise(&ctx, e))?;
        let (low, high) = (low.ceil(), high.floor());
        if low > high {
            let error = Error::input("there is no whole number between the two");
            return Err(raise(&ctx, error.at("whole").remedy("give two whole numbers")));
        }
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "whole numbers up to 1e9 either way"
        )]
        let (first, count) = (low as i64, (high - low) as usize + 1);
        let step = lock(&chance.random).below(count);
        Ok(first + i64::try_from(step).unwrap_or(0))
    }

    /// A random entry of a list.
    ///
    /// ```rhai
    /// let toward = seed("gesture").one_of([0, 90, 180, 270]);
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn one_of(ctx: NativeCallContext, chance: &mut ChanceHandle, list: Array) -> Called<Dynamic> {
        if list.is_empty() {
            let error = Error::input("the list is empty").at("one_of").remedy("list one entry or more");
            return Err(raise(&ctx, error));
        }
        let index = lock(&chance.random).below(list.len());
        Ok(list[index].clone())
    }

    #[rhai_fn(name = "to_string", name = "to_debug", pure)]
    pub fn chance_to_string(chance: &mut ChanceHandle) -> String {
        format!("random numbers \"{}\"", chance.name)
    }
}
