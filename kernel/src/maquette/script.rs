//! A script with the elements of a maquette, that runs as it is.

use super::elements::MadeElement;
use std::fmt::Write;

/// The script of a work of these elements, mm at real scale. `from` is the name of the file of readings.
pub fn script(name: &str, from: &str, scale: f64, elements: &[MadeElement]) -> String {
    let mut text = String::new();
    let line = |text: &mut String, words: String| {
        // Writing to a text cannot fail.
        let _ = writeln!(text, "{words}");
    };
    line(
        &mut text,
        format!("// Elements measured on a maquette ({}), {scale} times as large. mm, z up.", plain(from)),
    );
    line(
        &mut text,
        "// Change the sheet to yours; then see `ribwright words` for what else can be said.".to_owned(),
    );
    line(
        &mut text,
        "let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, thickness: 2, bend_radius: 6 });"
            .to_owned(),
    );
    line(&mut text, format!("let s = sculpture({});", quoted(name)));
    for (k, element) in elements.iter().enumerate() {
        let handle = format!("e{}", k + 1);
        line(&mut text, String::new());
        line(&mut text, format!("let {handle} = planes({}, [", quoted(&element.solid.name)));
        for face in &element.solid.faces {
            line(
                &mut text,
                format!(
                    "    #{{ name: {}, point: {}, normal: {} }},",
                    quoted(&face.label),
                    list(face.point.coords.as_slice(), 6),
                    list(face.normal.as_slice(), 12)
                ),
            );
        }
        line(&mut text, "]);".to_owned());
        line(&mut text, format!("{handle}.clad(rib);"));
        for (face, ribs) in element.solid.faces.iter().zip(&element.ribs) {
            if let Some([through, along]) = ribs {
                line(
                    &mut text,
                    format!(
                        "{handle}.face({}).ribs(#{{ along: {}, through: {} }});",
                        quoted(&face.label),
                        list(along.as_slice(), 9),
                        list(through.as_slice(), 4)
                    ),
                );
            }
        }
        line(&mut text, format!("s.add({handle});"));
    }
    text.push_str("s\n");
    text
}

/// One line without control characters.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", plain(text).replace('\\', "\\\\").replace('"', "\\\""))
}

fn list(of: &[f64], decimals: usize) -> String {
    let number = |x: &f64| {
        let text = format!("{x:.decimals$}");
        let text = text.trim_end_matches('0').trim_end_matches('.');
        if text == "-0" { "0".to_owned() } else { text.to_owned() }
    };
    format!("[{}]", of.iter().map(number).collect::<Vec<_>>().join(", "))
}
