//! Values given to a script's choices from outside: those tried out, and those that were picked.
//!
//! Picked values stand in a small file beside the script, `NAME.picked.json` beside `NAME.rhai`. The script does not read
//! it; whoever reads the script does, and gives it the values.

use crate::error::{Frame, ScriptError};
use crate::limits;
use crate::resolver::read_text;
use ribwright_kernel::choice::{Pick, Picks};
use ribwright_kernel::settings::LARGEST_NUMBER;
use serde::de::{Deserializer, Error as _, MapAccess, Visitor};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Schema of the file.
const SCHEMA: &str = "ribwright-picked-1";

/// Values for the choices of one run.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Given {
    /// By the names of the choices.
    pub values: Picks,
    /// Where they are from; none if they are tried out.
    pub file: Option<PickedFile>,
}

/// A file of picked values.
#[derive(Debug, Clone, PartialEq)]
pub struct PickedFile {
    /// As errors call it.
    pub name: String,
    /// The number of the variant that was picked.
    pub variant: Option<u64>,
    text: Arc<str>,
}

/// The file beside a script that holds its picked values, there or not.
pub fn picked_path(script: &Path) -> PathBuf {
    script.with_extension("picked.json")
}

/// The bytes of a file of picked values.
pub fn picked_bytes(script: &str, variant: Option<u64>, values: &Picks) -> Vec<u8> {
    #[derive(Serialize)]
    struct Written<'a> {
        schema: &'static str,
        script: &'a str,
        #[serde(skip_serializing_if = "Option::is_none")]
        variant: Option<u64>,
        values: &'a Picks,
    }
    let mut bytes =
        serde_json::to_vec_pretty(&Written { schema: SCHEMA, script, variant, values }).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}

/// Reads the picked values of a script; none given if there is no such file.
///
/// # Errors
/// It cannot be read, is not such a file, or holds what cannot be a value; with the line.
pub fn read_picked(script: &Path) -> Result<Given, ScriptError> {
    let path = picked_path(script);
    // A link that leads nowhere is an error, not an absent file.
    if std::fs::symlink_metadata(&path).is_err() {
        return Ok(Given::default());
    }
    let name = path.display().to_string();
    let text = read_text(&path, &path).map_err(|e| {
        ScriptError::new(e.message(), Frame::file(&name)).with_remedy(e.remedy_text().map(str::to_owned))
    })?;
    let remedy = format!("mend it, or free all with `ribwright vary {} --unpick`", script.display());
    let fail = |message: String, line: usize, column: usize| {
        let frame = Frame::at(&name, &text, line, column);
        ScriptError::new(message, frame).with_remedy(Some(remedy.clone()))
    };
    let read: Read = serde_json::from_str(&text).map_err(|e| {
        let said = e.to_string();
        // Line and column are shown on their own.
        let said = said.split(" at line ").next().unwrap_or_default();
        fail(format!("not a file of picked values: {said}"), e.line(), e.column())
    })?;
    if read.schema != SCHEMA {
        let known = format!("not a file of picked values: schema {:?} (known: {SCHEMA:?})", read.schema);
        return Err(fail(known, 1, 1));
    }
    if read.values.0.len() > limits::MAX_CHOICES {
        let many =
            format!("{} values are more than the {} allowed", read.values.0.len(), limits::MAX_CHOICES);
        return Err(fail(many, 1, 1));
    }
    let file = PickedFile { name, variant: read.variant, text: text.as_str().into() };
    Ok(Given { values: read.values.0, file: Some(file) })
}

impl Given {
    /// Values as if they stood in this file already.
    pub fn as_picked(path: &Path, text: &str, variant: Option<u64>, values: Picks) -> Self {
        let name = path.display().to_string();
        Self { values, file: Some(PickedFile { name, variant, text: text.into() }) }
    }
}

impl PickedFile {
    /// The place of a choice's name in the file.
    pub(crate) fn frame(&self, choice: &str) -> Frame {
        let key = serde_json::to_string(choice).unwrap_or_default();
        let behind = self.text.find("\"values\"").unwrap_or(0);
        let at = self.text[behind..].find(&key).map_or(0, |at| behind + at);
        let before = &self.text[..at];
        let line = 1 + before.matches('\n').count();
        let column = 1 + before.rsplit('\n').next().unwrap_or_default().chars().count();
        Frame::at(&self.name, &self.text, line, column)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Read {
    schema: String,
    #[serde(default, rename = "script")]
    _script: Option<String>,
    #[serde(default)]
    variant: Option<u64>,
    values: ReadValues,
}

/// Values, each name once.
struct ReadValues(Picks);

/// One value.
struct ReadPick(Pick);

impl<'de> Deserialize<'de> for ReadValues {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Names;
        impl<'de> Visitor<'de> for Names {
            type Value = ReadValues;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map of choices")
            }
            fn visit_map<M: MapAccess<'de>>(self, mut map: M) -> Result<ReadValues, M::Error> {
                let mut values = Picks::new();
                while let Some((name, value)) = map.next_entry::<String, ReadPick>()? {
                    if values.insert(name.clone(), value.0).is_some() {
                        return Err(M::Error::custom(format!("{name:?} is given twice")));
                    }
                }
                Ok(ReadValues(values))
            }
        }
        deserializer.deserialize_map(Names)
    }
}

impl<'de> Deserialize<'de> for ReadPick {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Value;
        impl Visitor<'_> for Value {
            type Value = ReadPick;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number, a text, or true or false")
            }
            fn visit_bool<E: serde::de::Error>(self, flag: bool) -> Result<ReadPick, E> {
                Ok(ReadPick(Pick::Flag(flag)))
            }
            fn visit_f64<E: serde::de::Error>(self, x: f64) -> Result<ReadPick, E> {
                if x.abs() <= LARGEST_NUMBER {
                    Ok(ReadPick(Pick::Number(x)))
                } else {
                    Err(E::custom(format!("{x:e} is not a usable number")))
                }
            }
            #[allow(clippy::cast_precision_loss, reason = "too large ones are refused")]
            fn visit_i64<E: serde::de::Error>(self, x: i64) -> Result<ReadPick, E> {
                self.visit_f64(x as f64)
            }
            #[allow(clippy::cast_precision_loss, reason = "too large ones are refused")]
            fn visit_u64<E: serde::de::Error>(self, x: u64) -> Result<ReadPick, E> {
                self.visit_f64(x as f64)
            }
            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<ReadPick, E> {
                Ok(ReadPick(Pick::Text(text.to_owned())))
            }
        }
        deserializer.deserialize_any(Value)
    }
}
