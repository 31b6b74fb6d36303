//! Slips of the pen that the interpreter meets far from their cause: what the line itself shows.

use crate::error::Frame;
use rhai::{EvalAltResult, ParseErrorType};

/// Units people write behind a number.
const UNITS: [&str; 9] = ["mm", "cm", "m", "in", "inch", "ft", "deg", "degrees", "kg"];

/// A better remedy than that of the error itself, if the line shows what was meant.
pub(crate) fn slip(place: &Frame, error: &EvalAltResult) -> Option<String> {
    let line = place.source.lines().nth(place.line.checked_sub(1)?)?;
    match error {
        EvalAltResult::ErrorParsing(parse, _) => {
            if is_other_file(&place.file) {
                return Some("this is no script: scripts end in .rhai".to_owned());
            }
            let lacks = matches!(parse, ParseErrorType::MissingToken(..) | ParseErrorType::BadInput(..));
            unit_near(line, place.column).map(|unit| unit_remedy(&unit)).or_else(|| {
                (lacks && bare_map(line, place.column))
                    .then(|| "a map begins with #{: write #{ name: value }".to_owned())
            })
        }
        EvalAltResult::ErrorVariableNotFound(name, _) => {
            let imported = place.source.lines().any(|l| {
                let l = l.trim_start();
                l.starts_with("import ")
                    && l.trim_end().trim_end_matches(';').ends_with(&format!(" as {name}"))
            });
            let called = place.source.contains(&format!("{name}."));
            (imported && called)
                .then(|| format!("{name} is a module: write {name}::make(…), with two colons"))
        }
        EvalAltResult::ErrorFunctionNotFound(..) => {
            let before: String = line.chars().take(place.column.checked_sub(1)?).collect();
            let module = before.strip_suffix("::")?;
            let name: String =
                module.chars().rev().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
            let name: String = name.chars().rev().collect();
            (!name.is_empty()).then(|| format!("`ribwright recipes {name}` shows the calls it has"))
        }
        _ => None,
    }
}

/// A table or a drawing taken for a script.
fn is_other_file(file: &str) -> bool {
    let ending = std::path::Path::new(file).extension().and_then(|e| e.to_str()).unwrap_or_default();
    ["csv", "dxf", "svg", "json", "pdf", "html", "stl", "glb"]
        .iter()
        .any(|other| ending.eq_ignore_ascii_case(other))
}

fn unit_remedy(unit: &str) -> String {
    format!("write the number alone, without {unit}: lengths are mm (an inch is 25.4), angles degrees")
}

/// A unit written right behind a number that ends at this column or just before it.
fn unit_near(line: &str, column: usize) -> Option<String> {
    let letters: Vec<char> = line.chars().collect();
    let mut end = column.checked_sub(1)?.min(letters.len());
    // The place is the unit itself, or what stands behind it.
    while letters.get(end).is_some_and(|c| c.is_alphabetic()) {
        end += 1;
    }
    let back = letters[..end].iter().rev().take_while(|c| c.is_alphabetic()).count();
    let word: String = letters[end - back..end].iter().collect();
    let digit = letters[..end - back].last().is_some_and(char::is_ascii_digit);
    (digit && UNITS.contains(&word.as_str())).then_some(word)
}

/// A brace that opens a map but lacks its `#`, right before the word at this column or before the sign behind it.
fn bare_map(line: &str, column: usize) -> bool {
    let before: String = line.chars().take(column.saturating_sub(1)).collect();
    let inner = before.trim_end().trim_end_matches(|c: char| c.is_alphanumeric() || c == '_').trim_end();
    let rest: String = line.chars().skip(column.saturating_sub(1)).collect();
    let colon =
        rest.trim_start_matches(|c: char| c.is_alphanumeric() || c == '_').trim_start().starts_with(':');
    colon && inner.ends_with('{') && !inner.ends_with("#{")
}
