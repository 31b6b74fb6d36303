//! Values of the interpreter to values of the kernel.

use rhai::{Array, Dynamic, Map};
use ribwright_kernel::settings::{LARGEST_NUMBER, Setting, Value, Values};
use ribwright_kernel::{Error, Result};
use std::collections::BTreeMap;

/// A script value as the kernel knows it; integers and decimals are both numbers.
pub(crate) fn value(given: &Dynamic) -> Value {
    if let Some(number) = number_of(given) {
        return Value::Number(number);
    }
    if let Ok(flag) = given.as_bool() {
        return Value::Flag(flag);
    }
    if let Ok(text) = given.clone().into_immutable_string() {
        return Value::Text(text.to_string());
    }
    if let Some(items) = given.read_lock::<Array>() {
        return Value::List(items.iter().map(value).collect());
    }
    if let Some(entries) = given.read_lock::<Map>() {
        return Value::Map(map(&entries));
    }
    Value::Other(kind_name(given))
}

/// A script map as the kernel knows it.
pub(crate) fn map(given: &Map) -> BTreeMap<String, Value> {
    given.iter().map(|(key, entry)| (key.to_string(), value(entry))).collect()
}

/// A script map checked against rows; `what` names the call.
pub(crate) fn settings(what: &str, rows: &[Setting], given: &Map) -> Result<Values> {
    check(what, rows, &map(given))
}

/// Checks against rows; an error without a remedy gets the one of the row it is about.
pub(crate) fn check(what: &str, rows: &[Setting], given: &BTreeMap<String, Value>) -> Result<Values> {
    Values::check(what, rows, given).map_err(|e| {
        let row = rows.iter().find(|row| e.place() == Some(format!("{what}: {}", row.name).as_str()));
        match (e.remedy_text(), row) {
            (None, Some(row)) => {
                let bare = match given.get(row.name) {
                    Some(Value::Text(text)) => format!(", without quotation marks{}", unit_words(text)),
                    Some(Value::List(items)) if items.iter().any(|item| matches!(item, Value::Text(_))) => {
                        ", without quotation marks".to_owned()
                    }
                    _ => String::new(),
                };
                e.remedy(format!("allowed is {}{bare}", row.allowed()))
            }
            _ => e,
        }
    })
}

/// Millimetres of the units people write behind a number.
const UNITS: [(&str, f64); 10] = [
    ("mm", 1.0),
    ("cm", 10.0),
    ("m", 1000.0),
    ("inches", 25.4),
    ("inch", 25.4),
    ("in", 25.4),
    ("\"", 25.4),
    ("feet", 304.8),
    ("ft", 304.8),
    ("'", 304.8),
];

/// What to write in place of a text such as `43in`; empty if it is none.
fn unit_words(text: &str) -> String {
    let found = UNITS.iter().find_map(|(unit, mm)| {
        let number: f64 = text.trim().strip_suffix(unit)?.trim().parse().ok()?;
        Some((unit, (number * mm * 10.0).round() / 10.0))
    });
    found.map_or_else(String::new, |(_, mm)| {
        format!(" and without a unit; lengths are mm: {} is {mm}", text.trim())
    })
}

/// The number in a value, if it is one.
pub(crate) fn number_of(given: &Dynamic) -> Option<f64> {
    #[allow(clippy::cast_precision_loss, reason = "the kernel accepts numbers up to 1e9 only")]
    given.as_float().ok().or_else(|| given.as_int().ok().map(|whole| whole as f64))
}

/// A usable number, or an error that names the argument.
pub(crate) fn number(what: &str, given: &Dynamic) -> Result<f64> {
    let remedy = format!("give a number without quotation marks, at most {LARGEST_NUMBER:e}");
    value(given).number().map_err(|e| e.at(what).remedy(remedy))
}

/// A list of exactly three usable numbers, or an error that names the argument.
pub(crate) fn three(what: &str, given: &Dynamic) -> Result<[f64; 3]> {
    let numbers = value(given)
        .numbers(3)
        .map_err(|e| e.at(what).remedy("write three numbers in square brackets: [x, y, z]"))?;
    Ok([numbers[0], numbers[1], numbers[2]])
}

/// A text, or an error that names the argument.
pub(crate) fn text(what: &str, given: &Dynamic) -> Result<String> {
    match value(given) {
        Value::Text(text) => Ok(text),
        other => Err(Error::input(format!("expected a text, found {}", other.kind_name()))
            .at(what)
            .remedy("write it in double quotes")),
    }
}

/// What a value is, for error texts.
pub(crate) fn kind_name(given: &Dynamic) -> String {
    if given.is_unit() {
        return "nothing".to_owned();
    }
    if number_of(given).is_some() {
        return "a number".to_owned();
    }
    type_words(given.type_name())
}

/// The name of one of the interpreter's types in our words.
pub(crate) fn type_words(type_name: &str) -> String {
    // A parameter that takes any text is described with all the ways to hold one.
    let type_name = type_name.split(" | ").next().unwrap_or(type_name);
    let last = type_name.rsplit("::").next().unwrap_or(type_name);
    let words = match last {
        "i64" | "f64" | "INT" | "FLOAT" | "integer" | "a floating-point number" | "an integer number" => {
            "a number"
        }
        "string" | "&str" | "ImmutableString" | "String" | "char" => "a text",
        "array" | "Array" => "a list",
        "map" | "Map" => "a map",
        "bool" | "a boolean expression" => "true or false",
        "()" => "nothing",
        "ElementHandle" | "element" => "an element",
        "FaceHandle" | "face" => "a face",
        "SculptureHandle" | "sculpture" => "a sculpture",
        "ProfileHandle" | "profile" => "a profile",
        "YardHandle" | "yard" => "a survey",
        "SheetHandle" | "sheet" => "a surveyed sheet",
        "MaquetteHandle" | "maquette" => "a maquette",
        "ChanceHandle" | "chance" => "random numbers",
        "Fn" | "FnPtr" => "a function",
        "an iterable value" => "a list or a range",
        "range" | "range=" => "a range",
        other => return format!("a value of kind {other}"),
    };
    words.to_owned()
}
