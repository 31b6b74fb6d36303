//! Stock: the sheets there are to cut from, by catalogue size or as surveyed.

use crate::drawing::signed_area;
use crate::error::{Error, Result};
use crate::polygon::meets_itself;
use crate::profile::Profile;
use crate::profile::symmetry::SAME_PROFILE;
use crate::settings::LARGEST_NUMBER;
use crate::survey::{Damage, SurveyedSheet};
use std::sync::Arc;

/// Sheets of one catalogue size.
#[derive(Debug, Clone, PartialEq)]
pub struct NominalSheet {
    /// What it is called; where there are several, each gets a number behind it.
    pub name: String,
    /// Along the ribs, mm.
    pub length: f64,
    /// Across the ribs, edge to edge, mm.
    pub width: f64,
    /// Its cross-section; a flat profile for flat sheet.
    pub profile: Arc<Profile>,
    /// Distance of the first crest's centre line from the right-hand edge, mm; none puts as many crests on the
    /// sheet as there is room for, alike at both edges.
    pub first_crest: Option<f64>,
    /// Grade, or empty.
    pub grade: String,
    /// What cannot be used of it: of each, where there are several.
    pub damage: Vec<Damage>,
    /// How many there are.
    pub count: u32,
}

/// Something to cut from.
#[derive(Debug, Clone, PartialEq)]
pub enum Stock {
    /// True to the catalogue.
    Nominal(NominalSheet),
    /// As measured.
    Surveyed(Arc<SurveyedSheet>),
}

/// Whether a part of one profile can be cut from a sheet of the other.
pub fn same_profile(a: &Profile, b: &Profile) -> bool {
    let near = |x: f64, y: f64| (x - y).abs() <= SAME_PROFILE;
    if a.is_flat() || b.is_flat() {
        return a.is_flat() && b.is_flat() && near(a.thickness(), b.thickness());
    }
    near(a.pitch(), b.pitch())
        && near(a.thickness(), b.thickness())
        && a.breaks().chain(b.breaks()).all(|t| near(a.height(t), b.height(t)))
}

/// Columns of a stock file, as the schedule of what is left of a stock has them.
pub const STOCK_COLUMNS: [&str; 8] =
    ["name", "length mm", "width mm", "profile", "first crest mm", "grade", "damage mm", "remarks"];

/// Damage in words, as in stock files: `hole: 100 200, 150 200, 120 260; rust: …`, each corner as along and across,
/// mm, to a tenth.
pub fn damage_words(damage: &[(String, Vec<[f64; 2]>)]) -> String {
    let one = |(what, outline): &(String, Vec<[f64; 2]>)| {
        let tenth = |x: f64| (x * 10.0).round() / 10.0 + 0.0;
        let corners: Vec<String> =
            outline.iter().map(|p| format!("{} {}", tenth(p[0]), tenth(p[1]))).collect();
        format!("{}: {}", what.replace([':', ';'], ","), corners.join(", "))
    };
    damage.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// Damage from the words of [`damage_words`].
///
/// # Errors
/// What is not written so, or an outline that crosses itself or encloses nothing.
pub fn damage_of(text: &str) -> Result<Vec<Damage>> {
    let all = text.split(';').map(str::trim).filter(|one| !one.is_empty());
    all.map(|one| {
        let wrong = |why: String| {
            Error::input(format!("{:?} is no damage: {why}", one.chars().take(60).collect::<String>()))
                .remedy("write it as hole: 100 200, 150 200, 120 260 (along and across of each corner, mm)")
        };
        let (what, corners) = one.rsplit_once(':').ok_or_else(|| wrong("a colon is missing".to_owned()))?;
        let mut outline: Vec<[f64; 2]> = Vec::new();
        for corner in corners.split(',') {
            let numbers: Vec<f64> = corner.split_whitespace().filter_map(|n| n.parse().ok()).collect();
            match numbers[..] {
                [along, across]
                    if corner.split_whitespace().count() == numbers.len()
                        && along.abs() <= LARGEST_NUMBER
                        && across.abs() <= LARGEST_NUMBER =>
                {
                    if outline.last() != Some(&[along, across]) {
                        outline.push([along, across]);
                    }
                }
                _ => return Err(wrong(format!("{:?} is not two numbers", corner.trim()))),
            }
        }
        if outline.len() > 1 && outline.first() == outline.last() {
            outline.pop();
        }
        let area = signed_area(&outline);
        if outline.len() < 3 || area == 0.0 {
            return Err(wrong("it encloses nothing".to_owned()));
        }
        if meets_itself(&outline).is_some() {
            return Err(wrong("its outline crosses or touches itself".to_owned()));
        }
        if area < 0.0 {
            outline.reverse();
        }
        Ok(Damage { what: what.trim().to_owned(), outline })
    })
    .collect()
}

/// Reads a stock file: CSV with the columns of [`STOCK_COLUMNS`], one sheet in each row; `remarks` is not kept.
/// `profiles` are those the rows may name, in the words the schedule uses (kind, pitch × depth, thickness).
///
/// # Errors
/// A missing column, a length or width that is no number above 0, damage that is not written as [`damage_words`]
/// does, or a profile that is not among those given;
/// each with file, line and column.
pub fn read_stock(file: &str, text: &str, profiles: &[(String, Arc<Profile>)]) -> Result<Vec<NominalSheet>> {
    let mut reader =
        csv::ReaderBuilder::new().flexible(true).trim(csv::Trim::All).from_reader(text.as_bytes());
    let broken = |e: csv::Error| Error::input(format!("is not CSV: {e}")).at(file);
    let header = reader.headers().map_err(broken)?.clone();
    let column = |name: &str| header.iter().position(|h| h == name);
    for name in STOCK_COLUMNS.iter().take(4) {
        if column(name).is_none() {
            return Err(Error::input(format!("the column \"{name}\" is missing"))
                .at(format!("{file}: line 1"))
                .remedy(format!("the first line must name the columns: {}", STOCK_COLUMNS.join(", "))));
        }
    }
    let mut sheets = Vec::new();
    for record in reader.records() {
        let record = record.map_err(broken)?;
        let line = record.position().map_or(0, csv::Position::line);
        let cell = |name: &str| column(name).and_then(|i| record.get(i)).unwrap_or_default();
        let at = |name: &str| format!("{file}: line {line}, column \"{name}\"");
        let side = |name: &str| match cell(name).parse::<f64>() {
            Ok(x) if x.is_finite() && x > 0.0 && x <= LARGEST_NUMBER => Ok(x),
            _ => Err(Error::input(format!("\"{}\" is not a length", cell(name)))
                .at(at(name))
                .remedy("write mm above 0 with a decimal point")),
        };
        let Some((_, profile)) = profiles.iter().find(|(words, _)| words == cell("profile")) else {
            let known: Vec<&str> = profiles.iter().map(|(words, _)| words.as_str()).collect();
            return Err(Error::input(format!("\"{}\" is none of the profiles given", cell("profile")))
                .at(at("profile"))
                .remedy(format!("give its profile too, or write one of: {}", known.join("; "))));
        };
        let first_crest = match cell("first crest mm") {
            "" => None,
            given => Some(given.parse::<f64>().ok().filter(|x| x.is_finite()).ok_or_else(|| {
                Error::input(format!("\"{given}\" is not a number"))
                    .at(at("first crest mm"))
                    .remedy("write mm with a decimal point, or leave it empty")
            })?),
        };
        sheets.push(NominalSheet {
            name: cell("name").to_owned(),
            length: side("length mm")?,
            width: side("width mm")?,
            profile: profile.clone(),
            first_crest,
            grade: cell("grade").to_owned(),
            damage: damage_of(cell("damage mm")).map_err(|e| e.at(at("damage mm")))?,
            count: 1,
        });
    }
    Ok(sheets)
}

/// A profile in words, as in schedules and stock files: kind, pitch × depth, thickness.
pub fn profile_words(profile: &Profile) -> String {
    if profile.is_flat() {
        format!("flat, {} mm", profile.thickness())
    } else {
        let [pitch, depth] = [profile.pitch(), profile.depth()].map(|x| (x * 100.0).round() / 100.0);
        format!("{} {pitch} × {depth}, {} mm", profile.kind(), profile.thickness())
    }
}

/// One sheet of the stock, with the lines its crests run on.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Its name, with a number where there are several of a kind.
    pub name: String,
    /// Along the ribs, mm.
    pub length: f64,
    /// Across the ribs, mm.
    pub width: f64,
    /// The profile it was made to.
    pub profile: Arc<Profile>,
    /// Thickness, mm: as measured, or by catalogue.
    pub thickness: f64,
    /// Grade, or empty.
    pub grade: String,
    /// Whether it was measured.
    pub surveyed: bool,
    /// Where its crests' centre lines run, from the right-hand edge, mm, ascending; none on flat sheet.
    pub crests: Vec<f64>,
    /// Outlines of what cannot be used, as (along, across), mm, with what it is.
    pub damage: Vec<(String, Vec<[f64; 2]>)>,
}

impl Stock {
    /// What it is called.
    pub fn name(&self) -> &str {
        match self {
            Stock::Nominal(sheet) => &sheet.name,
            Stock::Surveyed(sheet) => &sheet.name,
        }
    }

    /// Its sheets, one by one.
    pub fn sheets(&self) -> Vec<Sheet> {
        match self {
            Stock::Nominal(stock) => (1..=stock.count)
                .map(|number| Sheet {
                    name: if stock.count == 1 {
                        stock.name.clone()
                    } else {
                        format!("{}-{number}", stock.name)
                    },
                    length: stock.length,
                    width: stock.width,
                    profile: stock.profile.clone(),
                    thickness: stock.profile.thickness(),
                    grade: stock.grade.clone(),
                    surveyed: false,
                    crests: nominal_crests(stock),
                    damage: outlines(&stock.damage),
                })
                .collect(),
            Stock::Surveyed(sheet) => vec![Sheet {
                name: sheet.name.clone(),
                length: sheet.length,
                width: sheet.width,
                profile: sheet.nominal.clone(),
                thickness: sheet.thickness,
                grade: sheet.grade.clone(),
                surveyed: true,
                crests: surveyed_crests(sheet),
                damage: outlines(&sheet.damage),
            }],
        }
    }
}

fn outlines(damage: &[Damage]) -> Vec<(String, Vec<[f64; 2]>)> {
    damage.iter().map(|d| (d.what.clone(), d.outline.clone())).collect()
}

impl Sheet {
    /// Where the crest with this number runs, counted from 1 at the right-hand edge, mm. Beyond the outermost
    /// crests the lines run on at the nominal pitch. A sheet without a crest has none.
    pub fn crest(&self, number: i64) -> Option<f64> {
        let last = i64::try_from(self.crests.len()).ok()?;
        #[allow(clippy::cast_precision_loss, reason = "a sheet has few ribs")]
        let on = |from: f64, steps: i64| from + steps as f64 * self.profile.pitch();
        let within = usize::try_from(number - 1).ok().and_then(|i| self.crests.get(i));
        match within {
            Some(&at) => Some(at),
            None if number < 1 => self.crests.first().map(|&first| on(first, number - 1)),
            None => self.crests.last().map(|&at| on(at, number - last)),
        }
    }
}

fn nominal_crests(stock: &NominalSheet) -> Vec<f64> {
    if stock.profile.is_flat() {
        return Vec::new();
    }
    let pitch = stock.profile.pitch();
    // With one crest at least, so that the ribs of a narrow offcut still have their place.
    let whole = (stock.width / pitch).floor().max(1.0);
    let first = stock.first_crest.unwrap_or((stock.width - (whole - 1.0) * pitch) / 2.0);
    let mut crests = vec![first];
    while let Some(&last) = crests.last()
        && last + pitch <= stock.width
    {
        crests.push(last + pitch);
    }
    crests
}

/// Crest lines of a surveyed sheet: for each crest of the profile the nearest measured folds on its two sides
/// give its place by their nominal one; beyond the outermost fold the nominal distance from it counts. Each
/// fold stands where it runs on average.
fn surveyed_crests(sheet: &SurveyedSheet) -> Vec<f64> {
    let corners = sheet.nominal.corners();
    let pitch = sheet.nominal.pitch();
    let Ok(count) = i64::try_from(corners.len()) else { return Vec::new() };
    if count == 0 {
        return Vec::new();
    }
    // Nominal t and measured place of each fold, in order across.
    let folds: Vec<[f64; 2]> = sheet
        .folds
        .iter()
        .filter(|f| !f.across.is_empty())
        .map(|f| {
            #[allow(
                clippy::cast_precision_loss,
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a sheet has few folds"
            )]
            let (turns, index) = (f.corner.div_euclid(count) as f64, f.corner.rem_euclid(count) as usize);
            #[allow(clippy::cast_precision_loss, reason = "few stations")]
            let mean = f.across.iter().sum::<f64>() / f.across.len() as f64;
            [corners[index][0] + turns * pitch, mean]
        })
        .collect();
    let (Some(first), Some(last)) = (folds.first(), folds.last()) else { return Vec::new() };
    #[allow(clippy::cast_possible_truncation, reason = "a sheet has few ribs")]
    let (low, high) = ((first[0] / pitch).floor() as i64 - 1, (last[0] / pitch).ceil() as i64 + 1);
    let place = |t: f64| match folds.partition_point(|f| f[0] <= t) {
        0 => first[1] + (t - first[0]),
        n if n == folds.len() => last[1] + (t - last[0]),
        n => {
            let ([ta, a], [tb, b]) = (folds[n - 1], folds[n]);
            a + (b - a) * (t - ta) / (tb - ta)
        }
    };
    #[allow(clippy::cast_precision_loss, reason = "a sheet has few ribs")]
    let all: Vec<f64> = (low..=high).map(|k| place(k as f64 * pitch)).collect();
    let on: Vec<f64> = all.iter().copied().filter(|c| (0.0..=sheet.width).contains(c)).collect();
    if on.is_empty() { all.into_iter().take(1).collect() } else { on }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::registry::{Registry, find};
    use crate::settings::{Value, Values};
    use crate::survey::Fold;

    /// A trapezoid of these measures.
    pub(crate) fn trapezoid(pitch: f64, depth: f64, crest: f64, valley: f64) -> Arc<Profile> {
        let registry = Registry::standard();
        let row = find("profile", &registry.profiles, "trapezoid").expect("known");
        let given =
            [("pitch", pitch), ("depth", depth), ("crest", crest), ("valley", valley), ("thickness", 2.0)];
        let given = given.iter().map(|&(name, x)| (name.to_owned(), Value::Number(x))).collect();
        let values = Values::check("trapezoid", row.settings, &given).expect("allowed");
        Arc::new((row.build)(&values).expect("possible"))
    }

    /// A sheet by catalogue.
    pub(crate) fn nominal(name: &str, size: [f64; 2], profile: &Arc<Profile>, count: u32) -> Stock {
        Stock::Nominal(NominalSheet {
            name: name.to_owned(),
            length: size[0],
            width: size[1],
            profile: profile.clone(),
            first_crest: None,
            grade: String::new(),
            damage: Vec::new(),
            count,
        })
    }

    #[test]
    fn crests_of_a_catalogue_sheet_lie_alike_at_both_edges() {
        let sheets = nominal("S", [3000.0, 1050.0], &trapezoid(200.0, 40.0, 70.0, 70.0), 2).sheets();
        assert_eq!(sheets[1].name, "S-2");
        assert_eq!(sheets[0].crests, [125.0, 325.0, 525.0, 725.0, 925.0]);
        assert_eq!(sheets[0].crest(0), Some(-75.0), "lines run on to the right");
        assert_eq!(sheets[0].crest(7), Some(1325.0), "and to the left");
    }

    #[test]
    fn crests_of_a_surveyed_sheet_lie_between_their_measured_corners() {
        let nominal = trapezoid(200.0, 40.0, 70.0, 70.0);
        // Corners of one pitch: end of the crest 35, valley 65 and 135, next crest 165.
        let fold = |number, corner: i64, across: [f64; 2]| Fold {
            number,
            corner,
            across: across.to_vec(),
            height: vec![0.0; 2],
            deviation: vec![[0.0; 2]; 2],
        };
        let sheet = SurveyedSheet {
            name: "Y1".into(),
            length: 2000.0,
            width: 500.0,
            thickness: 2.1,
            grade: String::new(),
            note: String::new(),
            nominal,
            stations: vec![0.0, 2000.0],
            folds: vec![
                fold(1, 3, [62.0, 64.0]),
                fold(2, 4, [131.0, 137.0]),
                fold(3, 5, [166.0, 166.0]),
                fold(4, 6, [234.0, 234.0]),
                fold(5, 7, [266.0, 266.0]),
                fold(6, 8, [338.0, 338.0]),
            ],
            damage: Vec::new(),
        };
        let sheets = Stock::Surveyed(Arc::new(sheet)).sheets();
        // (63 + 134)/2 and (266 + 338)/2; no fold is beyond, so the next one is not on the sheet's record: it
        // lies at the nominal distance 365 − 235 … from the last corner, 338 + 165.
        assert_eq!(sheets[0].crests, [98.5, 302.0]);
    }

    #[test]
    fn profiles_are_the_same_whatever_made_them_and_differ_by_what_a_tape_finds() {
        let a = trapezoid(200.0, 40.0, 70.0, 70.0);
        assert!(same_profile(&a, &trapezoid(200.0, 40.0, 70.0, 70.0)));
        for other in [(201.0, 40.0, 70.0, 70.0), (200.0, 39.0, 70.0, 70.0), (200.0, 40.0, 66.0, 74.0)] {
            assert!(!same_profile(&a, &trapezoid(other.0, other.1, other.2, other.3)), "{other:?}");
        }
    }

    #[test]
    fn a_stock_file_is_read_and_its_mistakes_are_placed() {
        let rib = trapezoid(200.0, 40.0, 70.0, 70.0);
        let profiles = [(profile_words(&rib), rib)];
        let head = "name,length mm,width mm,profile,first crest mm,grade,remarks\n";
        let read = |rows: &str| read_stock("old.csv", &format!("{head}{rows}"), &profiles);
        let sheets =
            read("S-1 rest,1200.5,1000,\"trapezoid 200 × 40, 2 mm\",85.5,,offcut of S-1\n").expect("read");
        assert_eq!(
            (sheets[0].name.as_str(), sheets[0].length, sheets[0].first_crest),
            ("S-1 rest", 1200.5, Some(85.5))
        );
        for (rows, says) in [
            ("a,1200,none,\"trapezoid 200 × 40, 2 mm\",,,\n", "old.csv: line 2, column \"width mm\""),
            ("a,1200,900,\"sine 200 × 40, 2 mm\",,,\n", "write one of: trapezoid 200 × 40, 2 mm"),
            ("a,-5,900,\"trapezoid 200 × 40, 2 mm\",,,\n", "column \"length mm\""),
        ] {
            let error = read(rows).expect_err("refused").to_string();
            assert!(error.contains(says), "{error}");
        }
        let error = read_stock("old.csv", "name,length mm\n", &profiles).expect_err("refused").to_string();
        assert!(error.contains("\"width mm\" is missing"), "{error}");
    }

    #[test]
    fn damage_goes_into_words_and_back() {
        let damage = damage_of("rust: edge: 0 0, 0 55.25, 640 0; hole: 10 10, 30 10, 30 30, 10 30, 10 10")
            .expect("read");
        assert_eq!(damage[0].what, "rust: edge");
        assert_eq!(damage[0].outline, [[640.0, 0.0], [0.0, 55.25], [0.0, 0.0]], "counter-clockwise");
        assert_eq!(damage[1].outline.len(), 4, "closed once");
        let words = damage_words(&outlines(&damage));
        assert_eq!(words, "rust, edge: 640 0, 0 55.3, 0 0; hole: 10 10, 30 10, 30 30, 10 30");
        assert_eq!(damage_words(&outlines(&damage_of(&words).expect("read"))), words);
        assert_eq!(damage_of(" ; ").expect("none"), []);
        for (text, says) in [
            ("bent", "colon"),
            ("hole: 1 2, 3", "two numbers"),
            ("hole: 1 2, 3 x", "two numbers"),
            ("hole: 1 2, 3 NaN, 5 6", "two numbers"),
            ("hole: 1 2, 3 4", "encloses nothing"),
            ("hole: 0 0, 4 4, 4 0, 0 5", "crosses"),
        ] {
            let error = damage_of(text).expect_err(says).to_string();
            assert!(error.contains(says), "{error}");
        }
        let rib = trapezoid(200.0, 40.0, 70.0, 70.0);
        let words = profile_words(&rib);
        let text = format!("name,length mm,width mm,profile,damage mm\na,900,900,\"{words}\",bent\n");
        let error = read_stock("old.csv", &text, &[(words, rib)]).expect_err("refused").to_string();
        assert!(error.contains("old.csv: line 2, column \"damage mm\""), "{error}");
    }
}
