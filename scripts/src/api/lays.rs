//! The lay call: which sheets there are, and how parts are laid on them.

use super::profiles::ProfileHandle;
use super::sculptures::SculptureHandle;
use super::surveys::YardHandle;
use super::{Called, raise, reader};
use crate::resolver::read_beside;
use crate::session::Session;
use crate::{convert, limits};
use rhai::plugin::*;
use rhai::{Array, Engine, Map, NativeCallContext};
use ribwright_kernel::lay;
use ribwright_kernel::sculpture::Laying;
use ribwright_kernel::settings::{LARGEST_NUMBER, Setting, SettingKind, Value};
use ribwright_kernel::stock::{NominalSheet, Stock, damage_of, damage_words, profile_words, read_stock};
use ribwright_kernel::{Error, Result};
use std::collections::BTreeMap;

const SIDE: SettingKind = SettingKind::Number { default: None, min: 1.0, max: 1.0e6 };

/// Settings of each map in `sheets`.
pub(crate) const SHEET_ROWS: &[Setting] = &[
    Setting {
        name: "name",
        summary: "what it is called; where there are several, each gets a number behind it",
        unit: "",
        kind: SettingKind::Text,
    },
    Setting { name: "length", summary: "along the ribs", unit: "mm", kind: SIDE },
    Setting { name: "width", summary: "across the ribs, edge to edge", unit: "mm", kind: SIDE },
    Setting {
        name: "profile",
        summary: "its profile, as made by trapezoid(…) and the like; flat(…) for flat sheet",
        unit: "",
        kind: SettingKind::Text,
    },
    Setting {
        name: "count",
        summary: "how many there are",
        unit: "",
        kind: SettingKind::Count { default: Some(1), min: 1, max: 1000 },
    },
    Setting {
        name: "first_crest",
        summary: "the first crest's centre line from the right-hand edge; left out, crests lie alike at both edges",
        unit: "mm",
        kind: SettingKind::Optional { min: -LARGEST_NUMBER, max: LARGEST_NUMBER },
    },
    Setting { name: "grade", summary: "grade of the steel", unit: "", kind: SettingKind::Text },
    Setting {
        name: "damage",
        summary: "what cannot be used of each: \"hole: 100 200, 150 200, 120 260; rust: …\", along and across of each \
                  corner, mm",
        unit: "",
        kind: SettingKind::Text,
    },
];

pub(super) fn register(engine: &mut Engine) {
    engine.register_global_module(exported_module!(calls).into());
}

/// A list of maps under this key, taken out of the map.
fn maps(map: &mut Map, key: &str, example: &str) -> Result<Vec<Map>> {
    let Some(given) = map.remove(key) else { return Ok(Vec::new()) };
    let wrong = |found: &str| {
        Error::input(format!("expected a list of maps, found {found}"))
            .at(format!("lay: {key}"))
            .remedy(format!("write {key}: [{example}]"))
    };
    let Some(list) = given.read_lock::<Array>() else { return Err(wrong(&convert::kind_name(&given))) };
    list.iter()
        .map(|item| match item.read_lock::<Map>() {
            Some(map) => Ok(map.clone()),
            None => Err(wrong(&format!("{} in it", convert::kind_name(item)))),
        })
        .collect()
}

/// One entry of `sheets`.
fn sheet(number: usize, mut map: Map) -> Result<Stock> {
    let place = format!("lay: sheet {number}");
    let profile = map.remove("profile").ok_or_else(|| {
        Error::input("\"profile\" is missing")
            .at(&place)
            .remedy("say what it is formed to: profile: rib, or profile: flat(#{ thickness: 2 })")
    })?;
    let profile = profile.clone().try_cast::<ProfileHandle>().ok_or_else(|| {
        Error::input(format!("profile: expected a profile, found {}", convert::kind_name(&profile)))
            .at(&place)
            .remedy("make one first: let rib = trapezoid(#{ … }); then write profile: rib")
    })?;
    let values = convert::settings(&place, SHEET_ROWS, &map)?;
    let name = values.text("name").ok_or_else(|| {
        Error::input("\"name\" is missing").at(&place).remedy("give it the name that is painted on it")
    })?;
    Ok(Stock::Nominal(NominalSheet {
        name: name.to_owned(),
        length: values.number("length"),
        width: values.number("width"),
        profile: profile.0,
        first_crest: values.optional("first_crest"),
        grade: values.text("grade").unwrap_or_default().to_owned(),
        damage: damage_of(values.text("damage").unwrap_or_default())
            .map_err(|e| e.at(format!("{place}: damage")))?,
        count: values.count("count"),
    }))
}

/// Pairs of faces under `crests_across`, as names of their seams.
fn pairs(map: &mut Map) -> Result<Vec<String>> {
    let Some(given) = map.remove("crests_across") else { return Ok(Vec::new()) };
    let wrong = || {
        Error::input("expected a list of pairs of faces")
            .at("lay: crests_across")
            .remedy("write crests_across: [[\"A/east\", \"B/east\"]]")
    };
    let list = given.into_array().map_err(|_| wrong())?;
    list.into_iter()
        .map(|pair| {
            let pair = pair.into_array().map_err(|_| wrong())?;
            let names: Vec<String> =
                pair.into_iter().map(|n| n.into_string().map_err(|_| wrong())).collect::<Result<_>>()?;
            let [a, b] = names.as_slice() else { return Err(wrong()) };
            Ok(format!("{}~{}", a.min(b), a.max(b)))
        })
        .collect()
}

/// What is left of a stock, as maps for `sheets`.
fn left_over(session: &Session, file: &str, profiles: Array) -> Result<Array> {
    let known = profiles
        .into_iter()
        .map(|given| match given.clone().try_cast::<ProfileHandle>() {
            Some(profile) => Ok((profile_words(&profile.0), profile.0)),
            None => Err(Error::input(format!("expected profiles, found {}", convert::kind_name(&given)))
                .at("stock")
                .remedy("list the profiles the file names: stock(\"offcuts.csv\", [rib, plate])")),
        })
        .collect::<Result<Vec<_>>>()?;
    let bytes = read_beside(session, file, limits::MAX_SURVEY_BYTES)?;
    let text = String::from_utf8(bytes).map_err(|_| {
        Error::input("is not UTF-8 text").at(file).remedy("save it as CSV with UTF-8 encoding")
    })?;
    Ok(read_stock(file, &text, &known)?
        .into_iter()
        .map(|sheet| {
            let mut map = Map::new();
            map.insert("name".into(), sheet.name.into());
            map.insert("length".into(), sheet.length.into());
            map.insert("width".into(), sheet.width.into());
            map.insert("profile".into(), Dynamic::from(ProfileHandle(sheet.profile)));
            map.insert("grade".into(), sheet.grade.into());
            if !sheet.damage.is_empty() {
                let outlines = sheet.damage.into_iter().map(|d| (d.what, d.outline));
                map.insert("damage".into(), damage_words(&outlines.collect::<Vec<_>>()).into());
            }
            if let Some(crest) = sheet.first_crest {
                map.insert("first_crest".into(), crest.into());
            }
            map.into()
        })
        .collect())
}

fn laying(mut map: Map) -> Result<Laying> {
    let sheets =
        maps(&mut map, "sheets", "#{ name: \"S\", length: 3000, width: 1000, profile: rib, count: 10 }")?;
    let pins = maps(&mut map, "pins", "#{ part: \"A/east\", sheet: \"S-1\", along: 100, crest: 2 }")?;
    let yard = match map.remove("yard") {
        None => None,
        Some(given) => Some(given.clone().try_cast::<YardHandle>().ok_or_else(|| {
            Error::input(format!("yard: expected a yard, found {}", convert::kind_name(&given)))
                .at("lay")
                .remedy("read one first: let yard = survey(\"yard.csv\", #{ … }); then write yard: yard")
        })?),
    };
    let crests_across = pairs(&mut map)?;
    let settings = convert::map(&map);
    convert::check("lay", lay::ROWS, &settings)?;
    let mut stock = (1..).zip(sheets).map(|(i, s)| sheet(i, s)).collect::<Result<Vec<_>>>()?;
    if let Some(yard) = yard {
        stock.extend(yard.sheets.iter().map(|fitted| Stock::Surveyed(fitted.sheet.clone())));
    }
    if stock.is_empty() {
        return Err(Error::input("there are no sheets to lay parts on").at("lay").remedy(
            "list them: sheets: [#{ name: \"S\", length: 3000, width: 1000, profile: rib, count: 10 }]",
        ));
    }
    let pins: Vec<BTreeMap<String, Value>> = pins.iter().map(convert::map).collect();
    for (number, pin) in (1..).zip(&pins) {
        lay::Pin::new(pin).map_err(|e| e.at(format!("lay: pin {number}")))?;
    }
    Ok(Laying { settings, stock, pins, crests_across })
}

#[export_module]
#[allow(unreachable_pub, reason = "the plugin macro takes up public functions only")]
mod calls {
    /// What is left of the sheets of an earlier work, to be laid on again: reads its `offcuts.csv`, put beside the
    /// script, and gives maps for `sheets` of `lay`. The profiles are those the file names.
    ///
    /// ```rhai
    /// let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, bend_radius: 6 });
    /// let left = stock("offcuts.csv", [rib]);
    /// print(left.len());
    /// ```
    #[rhai_fn(return_raw)]
    pub fn stock(ctx: NativeCallContext, file: &str, profiles: Array) -> Called<Array> {
        let session = reader(&ctx)?;
        left_over(&session, file, profiles).map_err(|e| raise(&ctx, e))
    }

    /// Lays the parts on the sheets there are: a cutting list, a cut file and a picture for each sheet, and what is left.
    ///
    /// ```rhai
    /// let s = sculpture("Slack Tide");
    /// let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70 });
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// a.clad(rib);
    /// s.stand(a);
    /// s.joints(#{ kind: "true" });
    /// s.lay(#{
    ///     sheets: [#{ name: "S", length: 3000, width: 1000, profile: rib, count: 4 }],
    ///     margin: 15, spacing: 10,
    ///     pins: [#{ part: "A/east", sheet: "S-1", along: 100, crest: 2 }],
    /// });
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn lay(
        ctx: NativeCallContext,
        sculpture: &mut SculptureHandle,
        settings: Map,
    ) -> Called<SculptureHandle> {
        let laying = laying(settings).map_err(|e| raise(&ctx, e))?;
        sculpture
            .change(|state| {
                state.sculpture.laying = Some(laying);
                Ok(())
            })
            .map_err(|e| raise(&ctx, e))?;
        Ok(sculpture.clone())
    }
}
