//! Fitted sheets as files: JSON for machines, CSV for spreadsheets.

use super::Fold;
use super::fit::{BAND, FittedSheet, Kind};
use crate::error::{Error, Result};
use serde_json::{Value, json};

/// Decimals of lengths in files: a hundredth of a millimetre is far below any tape.
const DECIMALS: i32 = 3;

fn round(x: f64) -> f64 {
    let scale = 10.0_f64.powi(DECIMALS);
    // Without a minus before zero.
    (x * scale).round() / scale + 0.0
}

fn rounded(values: &[f64]) -> Vec<f64> {
    values.iter().map(|x| round(*x)).collect()
}

/// Everything about fitted sheets as JSON (schema `ribwright-survey-1`).
pub fn survey_json(sheets: &[FittedSheet]) -> Value {
    json!({ "schema": "ribwright-survey-1", "sheets": sheets.iter().map(sheet_json).collect::<Vec<_>>() })
}

fn sheet_json(fitted: &FittedSheet) -> Value {
    let sheet = &fitted.sheet;
    let fold = |fold: &Fold| {
        let of = |c: usize| rounded(&fold.deviation.iter().map(|d| d[c]).collect::<Vec<_>>());
        json!({
            "number": fold.number, "corner": fold.corner,
            "across_mm": rounded(&fold.across), "height_mm": rounded(&fold.height),
            "across_deviation_mm": of(0), "height_deviation_mm": of(1),
        })
    };
    let worst =
        |w: &super::Worst| json!({ "value_mm": round(w.value), "station_mm": w.station, "fold": w.fold });
    let ends: Vec<Value> = fitted
        .departure
        .ends
        .iter()
        .map(|end| {
            json!({
                "station_mm": end.station, "width_mm": end.width, "span_mm": round(end.span),
                "nominal_span_mm": round(end.nominal_span), "pitch_mm": round(end.pitch), "depth_mm": round(end.depth),
            })
        })
        .collect();
    let checks: Vec<Value> = fitted
        .checks
        .iter()
        .map(|c| {
            json!({
                "line": c.line, "station_mm": c.station, "fold": c.fold, "what": c.kind.name(), "reading_mm": c.reading,
                "residual_mm": round(c.residual), "redundancy": round(c.redundancy), "w": round(c.w),
                "least_found_mm": c.least_found.map(round), "misreading": c.flagged, "or_else_lines": c.or_else,
            })
        })
        .collect();
    json!({
        "name": sheet.name, "length_mm": round(sheet.length), "width_mm": round(sheet.width),
        "thickness_mm": round(sheet.thickness), "grade": sheet.grade, "note": sheet.note,
        "nominal": {
            "kind": sheet.nominal.kind(), "pitch_mm": sheet.nominal.pitch(), "depth_mm": sheet.nominal.depth(),
        },
        "straight": fitted.straight, "band": BAND, "stations_mm": sheet.stations,
        "folds": sheet.folds.iter().map(fold).collect::<Vec<_>>(),
        "damage": sheet.damage.iter().map(|d| json!({ "what": d.what, "outline_mm": d.outline })).collect::<Vec<_>>(),
        "departure": {
            "ends": ends, "pitch": worst(&fitted.departure.pitch), "depth": worst(&fitted.departure.depth),
            "place": worst(&fitted.departure.place),
        },
        "s0": { "across": fitted.s0[0].map(round), "depth": fitted.s0[1].map(round) },
        "readings": checks,
        "findings": fitted.findings,
    })
}

/// Fitted folds as CSV: one row per sheet, fold and station, with 95 % bands, and the reading beside it.
///
/// # Errors
/// Bugs of ours only: writing to memory does not fail.
pub fn survey_csv(sheets: &[FittedSheet]) -> Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let broken = |e: csv::Error| Error::bug(format!("the table of folds cannot be written: {e}"));
    writer
        .write_record([
            "sheet",
            "fold",
            "station mm",
            "across mm",
            "± mm",
            "height mm",
            "± mm",
            "read across mm",
            "read depth mm",
            "misreading",
        ])
        .map_err(broken)?;
    for fitted in sheets {
        let sheet = &fitted.sheet;
        for fold in &sheet.folds {
            for (s, station) in sheet.stations.iter().enumerate() {
                let [a, h] = fold.deviation[s].map(|d| format!("{:.2}", BAND * d));
                let here = |kind: Kind| {
                    fitted
                        .checks
                        .iter()
                        .filter(move |c| c.kind == kind && c.fold == fold.number && c.station == *station)
                };
                let read =
                    |kind: Kind| here(kind).map(|c| format!("{}", c.reading)).collect::<Vec<_>>().join(" ");
                let wrong: Vec<&str> = [Kind::Across, Kind::Depth]
                    .into_iter()
                    .filter(|kind| here(*kind).any(|c| c.flagged))
                    .map(Kind::name)
                    .collect();
                writer
                    .write_record([
                        sheet.name.clone(),
                        fold.number.to_string(),
                        format!("{station}"),
                        format!("{:.2}", fold.across[s]),
                        a,
                        format!("{:.2}", fold.height[s] + 0.0),
                        h,
                        read(Kind::Across),
                        read(Kind::Depth),
                        wrong.join(" "),
                    ])
                    .map_err(broken)?;
            }
        }
    }
    writer.into_inner().map_err(|e| Error::bug(e.to_string()))
}
