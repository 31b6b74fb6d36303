//! The comment of a call that comes from a registry row: what it is, and an example that runs.

use ribwright_kernel::settings::{Setting, SettingKind};

/// The `///` text of a registry row: summary, and a runnable example if every setting that must be given
/// has a usable value in the middle of its range.
pub(crate) fn row_comment(summary: &str, rows: &[Setting], call: impl Fn(&str) -> String) -> String {
    let entries: Vec<String> = rows
        .iter()
        .filter_map(|row| match row.kind {
            SettingKind::Number { default: None, min, max } => Some((row, example_value(row.name, min, max))),
            SettingKind::Count { default: None, min, max } => {
                Some((row, example_value(row.name, f64::from(min), f64::from(max)).round()))
            }
            _ => None,
        })
        .map(|(row, value)| format!("{}: {value}", row.name))
        .collect();
    let size =
        rows.iter().find(|row| row.name == "size" && matches!(row.kind, SettingKind::Numbers { count: 3 }));
    let map = match (size, entries.is_empty()) {
        (Some(_), true) => "#{ size: [900, 600, 400] }".to_owned(),
        (_, true) => "#{}".to_owned(),
        _ => format!("#{{ {} }}", entries.join(", ")),
    };
    format!("/// {summary}\n///\n/// ```rhai\n/// {}\n/// ```", call(&map))
}

/// A value for an example: the size a workshop would expect of a setting with such a name, kept in range.
fn example_value(name: &str, min: f64, max: f64) -> f64 {
    const USUAL: &[(&str, f64)] = &[
        ("pitch", 200.0),
        ("depth", 40.0),
        ("crest", 70.0),
        ("valley", 70.0),
        ("thickness", 2.0),
        ("radius", 30.0),
        ("bend_radius", 6.0),
        ("sides", 5.0),
        ("base", 900.0),
        ("top", 700.0),
        ("width", 800.0),
        ("height", 1100.0),
    ];
    let usual = USUAL.iter().find(|(known, _)| *known == name).map_or(min.midpoint(max), |(_, value)| *value);
    usual.clamp(min, max)
}
