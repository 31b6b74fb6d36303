//! What a line of a tracing is, by the names it carries. The rule for makers stands here and nowhere else.
//!
//! A tracing is an SVG or DXF file in true size, each face seen from outside. Names are layer names in DXF; in SVG
//! the label (or else the id) of the line or of a group round it, the innermost that means anything. Upper and lower
//! case of the first word do not matter. `:`, `_`, `-` or a space may stand after it, and what follows a full stop is
//! left out, so that `edge_ridge.1` and `edge_ridge.2` both are the edge `ridge`.
//!
//! ```text
//!        edge_ridge                 A/east, A_east, A-east   outline of face east of element A (`/` parts the two, else
//!      ┌────═════────o point_P3     face_A_east              the end of a known element's name, else the first mark;
//!      │             │                                       without `face`, a label of digits only is taken for a
//!      │  ╱   ╱   ╱  │                                       drawing program's own number)
//!      │ ╱   ╱   ╱   │              edge_NAME    a short stroke along an edge: the two edges of an element that
//!      │    ╱ rib    │                           bear one name are sewn together
//!      │             │              rib, RIBS    a straight line along the centre of a crest
//!      └─────────────┘              point_NAME   a dot or small circle at a corner: its name in the readings
//!          A_east
//! ```
//!
//! Edges, ribs and points may lie in the face's group or anywhere on the drawing; there, their place says which face
//! they belong to. An outline without a name takes the name of its file (`A_east.svg`) where it is the only one.

/// What a line is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Role {
    /// `guessed`: other marks would part the name too, and no known element decides.
    Face {
        element: String,
        label: String,
        guessed: bool,
    },
    Edge(String),
    Rib,
    Point(String),
}

/// Marks that part the words of a name.
const MARKS: [char; 4] = [':', '_', '-', ' '];

/// What a name means; none where it means nothing here. `known` are names of elements.
pub(super) fn role(name: &str, known: &[String]) -> Option<Role> {
    let name = unescaped(name);
    let name = name.split('.').next().unwrap_or_default().trim();
    let end = name.find(|c: char| !c.is_alphabetic()).unwrap_or(name.len());
    let (word, rest) = name.split_at(end);
    let marked = rest.strip_prefix(MARKS).map(str::trim).filter(|r| !r.is_empty());
    match (word.to_lowercase().as_str(), marked) {
        ("edge", Some(name)) => Some(Role::Edge(name.to_owned())),
        ("point", Some(name)) => Some(Role::Point(name.to_owned())),
        ("rib" | "ribs" | "crest" | "crests", _) if !rest.starts_with('/') => Some(Role::Rib),
        ("face", Some(name)) => face(name, known),
        _ if name.contains('/') => face(name, known),
        // Numbers such as `path-12` and `Layer_1-2` are a drawing program's own.
        _ => face(name, known).filter(|role| match role {
            Role::Face { label, .. } => label.contains(char::is_alphabetic),
            _ => true,
        }),
    }
}

/// Element and label of a face, parted by the first `/`, else behind the longest known element, else by the first
/// other mark.
pub(super) fn face(name: &str, known: &[String]) -> Option<Role> {
    let label =
        |element: &String| name.strip_prefix(element.as_str()).and_then(|rest| rest.strip_prefix(MARKS));
    let longest = known.iter().filter(|e| label(e).is_some()).max_by_key(|e| e.len());
    let behind = || longest.and_then(|e| Some((e.as_str(), label(e)?)));
    let parted = name.split_once('/').or_else(behind);
    let guessed = parted.is_none();
    let (element, label) = parted.or_else(|| name.split_once(MARKS))?;
    let (element, label) = (element.trim(), label.trim());
    (!element.is_empty() && !label.is_empty()).then(|| Role::Face {
        element: element.to_owned(),
        label: label.to_owned(),
        guessed: guessed && label.contains(MARKS),
    })
}

/// The element that a name states beyond doubt: what stands before a `/`.
pub(super) fn stated(name: &str) -> Option<String> {
    match role(name, &[]) {
        Some(Role::Face { element, .. }) if unescaped(name).contains('/') => Some(element),
        _ => None,
    }
}

/// Some programs write letters that ids may not hold as `_x2F_`.
fn unescaped(name: &str) -> String {
    let mut made = String::new();
    let mut rest = name;
    while let Some(at) = rest.find("_x") {
        let code = rest[at + 2..].split_once('_').and_then(|(hex, after)| {
            let c = char::from_u32(u32::from_str_radix(hex, 16).ok()?)?;
            (2..=4).contains(&hex.len()).then_some((c, after))
        });
        made.push_str(&rest[..at]);
        match code {
            Some((c, after)) => {
                made.push(c);
                rest = after;
            }
            None => {
                made.push_str("_x");
                rest = &rest[at + 2..];
            }
        }
    }
    made + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(name: &str, wanted: Option<&str>) {
        let found = role(name, &["A-1".to_owned(), "lower".to_owned()]).map(|role| match role {
            Role::Face { element, label, guessed } => {
                format!("face {element}|{label}{}", if guessed { "?" } else { "" })
            }
            Role::Edge(name) => format!("edge {name}"),
            Role::Rib => "rib".to_owned(),
            Role::Point(name) => format!("point {name}"),
        });
        assert_eq!(found.as_deref(), wanted, "{name}");
    }

    #[test]
    fn names_mean_what_the_rule_says() {
        for (name, wanted) in [
            ("A/east", Some("face A|east")),
            ("A_east", Some("face A|east")),
            ("A-east.2", Some("face A|east")),
            ("A_x2F_east_2", Some("face A|east_2")),
            ("A-1_east", Some("face A-1|east")),
            ("A-1-east", Some("face A-1|east")),
            ("A-2_east", Some("face A|2_east?")),
            ("A-12_east", Some("face A|12_east?")),
            ("face_A-1_1", Some("face A-1|1")),
            ("lower_part", Some("face lower|part")),
            ("FACE_A_east", Some("face A|east")),
            ("face:A/1", Some("face A|1")),
            ("lower_part/top", Some("face lower_part|top")),
            ("EDGE_RIDGE", Some("edge RIDGE")),
            ("edge:ridge.2", Some("edge ridge")),
            ("Edge ridge-2", Some("edge ridge-2")),
            ("rib", Some("rib")),
            ("RIBS", Some("rib")),
            ("rib7", Some("rib")),
            ("crest_1", Some("rib")),
            ("point_P3", Some("point P3")),
            ("path-12", None),
            ("Layer_1-2", None),
            ("g12", None),
            ("edge", None),
            ("0", None),
            ("", None),
            ("_x", None),
            ("a_xZZ_", None),
        ] {
            // `a_xZZ_` is an element `a` with a label, like any other.
            let wanted = if name == "a_xZZ_" { Some("face a|xZZ_?") } else { wanted };
            check(name, wanted);
        }
    }
}
