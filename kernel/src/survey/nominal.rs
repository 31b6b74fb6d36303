//! The profile sheets were made to, in the words of a yard file: `trapezoid pitch=200 depth=40 crest=70 valley=70`.

use super::yard::Yard;
use crate::error::{Error, Result};
use crate::profile::Profile;
use crate::registry::Registry;
use crate::settings::{SettingKind, Value, Values, unknown_name};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The nominal profile of each sheet of a yard: its own, else `given`, else that of the whole file.
///
/// # Errors
/// A sheet without any; words that name no profile. The place is the yard file's line and column.
pub fn nominals(yard: &Yard, registry: &Registry, given: Option<&Arc<Profile>>) -> Result<Vec<Arc<Profile>>> {
    let mut known: BTreeMap<&str, Arc<Profile>> = BTreeMap::new();
    let mut made = |line: u64, words: &'_ str| -> Result<Arc<Profile>> {
        let text = yard.profile.iter().chain(yard.sheets.iter().filter_map(|s| s.profile.as_ref()));
        let key = text.map(|(_, w)| w.as_str()).find(|w| *w == words).unwrap_or_default();
        if let Some(profile) = known.get(key) {
            return Ok(profile.clone());
        }
        let profile =
            profile_of(registry, words).map_err(|e| e.at(yard.place(line, "text")).at(&yard.file))?;
        let profile = Arc::new(profile);
        known.insert(key, profile.clone());
        Ok(profile)
    };
    yard.sheets
        .iter()
        .map(|sheet| match (&sheet.profile, given, &yard.profile) {
            (Some((line, words)), ..) => made(*line, words),
            (None, Some(profile), _) => Ok(profile.clone()),
            (None, None, Some((line, words))) => made(*line, words),
            (None, None, None) => Err(Error::input(format!(
                "the profile that {} was made to is not known",
                sheet.name
            ))
            .at(yard.place(sheet.line, "sheet"))
            .at(&yard.file)
            .remedy(
                "add a row \"profile\" with a blank sheet and the text trapezoid pitch=200 depth=40 crest=70 valley=70",
            )),
        })
        .collect()
}

/// A profile from its words: a kind, and its settings as `name=number`.
///
/// # Errors
/// No such kind, no such setting, not a number, or a profile that cannot be.
pub fn profile_of(registry: &Registry, words: &str) -> Result<Profile> {
    let mut parts =
        words.split(|c: char| c.is_whitespace() || c == ',' || c == ';').filter(|p| !p.is_empty());
    let name = parts.next().unwrap_or_default();
    let listed =
        || registry.profiles.iter().filter(|row| row.settings.iter().all(|s| s.kind != SettingKind::Points));
    let kind = listed()
        .find(|row| row.name == name)
        .ok_or_else(|| unknown_name("profile", name, listed().map(|row| row.name)))?;
    let mut given = BTreeMap::new();
    for part in parts {
        let number = part.split_once('=').and_then(|(name, x)| Some((name, x.parse::<f64>().ok()?)));
        let Some((name, x)) = number else {
            return Err(Error::input(format!("{part:?} is not a setting of a profile"))
                .at(name)
                .remedy("write each as name=number, for instance pitch=200"));
        };
        given.insert(name.to_owned(), Value::Number(x));
    }
    let values = Values::check(kind.name, kind.settings, &given)?;
    (kind.build)(&values)
}
