//! Lines of an SVG file, through `usvg`.
//!
//! What is written in a few lines of XML may ask for any amount of work: entities that hold entities, uses of uses,
//! pictures within pictures. Entities are refused, uses are counted before they are followed, pictures are never
//! opened (nor any other file), and markers, which add lines nobody drew, are left out.

use super::{Contents, MOST_POINTS, NamedLine, flatten, not_utf8, short};
use crate::error::{Error, Result};
use kurbo::{Affine, BezPath, Point};
use std::collections::{BTreeMap, HashMap};
use std::panic::{AssertUnwindSafe, catch_unwind};
use usvg::roxmltree::{Document, Node, NodeId, ParsingOptions};
use usvg::tiny_skia_path::PathSegment;

/// Deepest nesting of elements, uses followed: their reader works by recursion.
const DEEPEST: usize = 200;
/// Most elements, uses followed.
const MOST_ELEMENTS: u64 = 200_000;
/// Most bytes of the attributes of all elements, uses followed.
const MOST_BYTES: u64 = 64 << 20;
/// Most nodes of the XML tree (elements, texts between them, comments).
const MOST_NODES: u32 = 1_000_000;
/// Most attributes of one element: its reader compares each with each.
const MOST_ATTRIBUTES: usize = 1000;
/// Most pairs of a rule of a style sheet and an element: its reader tries each.
const MOST_STYLED: u64 = 20_000_000;
/// Largest number a shape may be drawn by, in its own units.
const MOST_NUMBER: f64 = 1.0e12;
/// Attributes that say where a shape runs.
const DRAWN_BY: [&str; 15] =
    ["d", "points", "x", "y", "width", "height", "r", "rx", "ry", "cx", "cy", "x1", "y1", "x2", "y2"];
/// Pixels of an SVG per inch (CSS Values and Units, absolute lengths).
const SVG_DPI: f64 = 96.0;

pub(super) fn read(bytes: &[u8]) -> Result<Contents> {
    let text = std::str::from_utf8(bytes).map_err(|e| not_utf8(bytes, e.valid_up_to()))?;
    let text = text.trim_start_matches('\u{feff}');
    scan(text)?;
    let drawn = without_markers(text)?;
    let document = parse(&drawn)?;
    let root = document.root_element();
    if root.tag_name().name() != "svg" {
        return Err(Error::input(format!("the file holds <{}>, not <svg>", short(root.tag_name().name()))));
    }
    weigh(&document)?;
    let width = root.attribute("width").unwrap_or("100%").trim();
    let unit = width.trim_start_matches(|c: char| c.is_ascii_digit() || ".+-".contains(c)).to_owned();
    let (units, sized) = match unit.as_str() {
        "" | "px" | "%" => ("px (1/96 inch)".to_owned(), false),
        unit => (short(unit), true),
    };
    // Guarded like the reader of DXF: a broken file must not end the program.
    let options = usvg::Options {
        dpi: SVG_DPI as f32,
        image_href_resolver: usvg::ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..usvg::Options::default()
    };
    let loaded = catch_unwind(AssertUnwindSafe(|| usvg::Tree::from_xmltree(&document, &options)));
    let tree = loaded
        .map_err(|_| Error::input("the SVG file is broken: a value is far out of range"))?
        .map_err(|e| Error::input(format!("the SVG file is broken: {e}")))?;
    let mut reader = Reader {
        labels: labels(&document),
        left: MOST_POINTS,
        contents: Contents {
            format: "SVG",
            units,
            sized,
            lines: Vec::new(),
            marks: Vec::new(),
            not_measured: BTreeMap::new(),
        },
    };
    let images = document.descendants().filter(|n| n.is_element() && n.tag_name().name() == "image").count();
    if images > 0 {
        reader.contents.not_measured.insert("image".to_owned(), images);
    }
    reader.group(tree.root(), "", &mut Vec::new())?;
    Ok(reader.contents)
}

fn parse(text: &str) -> Result<Document<'_>> {
    let options = ParsingOptions { allow_dtd: true, nodes_limit: MOST_NODES, ..ParsingOptions::default() };
    Document::parse_with_options(text, options)
        .map_err(|e| Error::input(format!("the SVG file is broken: {e}")))
}

/// What can be seen before anything is parsed: entities, nesting and attributes, roughly.
fn scan(text: &str) -> Result<()> {
    if let Some(at) = text.find("<!ENTITY") {
        let line = text[..at].lines().count().max(1);
        return Err(Error::input(format!("line {line} defines an entity, which is not read"))
            .remedy("save the file as plain SVG"));
    }
    let (mut depth, mut deepest) = (0_usize, 0);
    for piece in text.split('<').skip(1) {
        let tag = piece.split('>').next().unwrap_or_default();
        if tag.starts_with('/') {
            depth = depth.saturating_sub(1);
        } else if !tag.starts_with(['?', '!']) && !tag.ends_with('/') {
            depth += 1;
            deepest = deepest.max(depth);
        }
        let attributes = piece.matches("=\"").count() + piece.matches("='").count();
        if attributes > MOST_ATTRIBUTES {
            return Err(Error::input(format!(
                "the element <{}> has some {attributes} attributes (allowed: {MOST_ATTRIBUTES})",
                short(tag.split_whitespace().next().unwrap_or_default())
            )));
        }
    }
    if deepest > DEEPEST {
        return Err(too_deep(deepest));
    }
    Ok(())
}

fn too_deep(depth: usize) -> Error {
    Error::input(format!("elements are nested {depth} deep (allowed: {DEEPEST})"))
}

/// The text with its markers blanked; line numbers stay true.
fn without_markers(text: &str) -> Result<String> {
    let document = parse(text)?;
    let mut bytes = text.as_bytes().to_vec();
    for node in document.descendants().filter(|n| n.is_element() && n.tag_name().name() == "marker") {
        for byte in &mut bytes[node.range()] {
            if !matches!(byte, b'\n' | b'\r') {
                *byte = b' ';
            }
        }
    }
    String::from_utf8(bytes).map_err(|_| Error::bug("a marker ends within a letter"))
}

/// The ids an element refers to, in a way that copies what bears them.
fn references<'a>(node: Node<'a, '_>) -> impl Iterator<Item = &'a str> {
    let follows = node.tag_name().name() != "a";
    node.attributes().flat_map(move |attribute| {
        let value: &'a str = attribute.value();
        let href = (follows && attribute.name() == "href").then(|| value.trim().strip_prefix('#')).flatten();
        let urls = value.split("url(").skip(1).filter_map(|rest| {
            let id = rest.split(')').next()?.trim().trim_matches(['"', '\'']).trim();
            id.strip_prefix('#')
        });
        href.into_iter().chain(urls)
    })
}

/// What an element comes to once everything it refers to is copied into it.
#[derive(Clone, Copy, Default)]
struct Weight {
    elements: u64,
    bytes: u64,
    depth: usize,
}

/// Whether a node is being counted or has been.
enum Counted {
    Open,
    Done(Weight),
}

/// Counts elements with all uses followed, each once and without recursion, and refuses what is too much.
fn weigh(document: &Document<'_>) -> Result<()> {
    let mut ids: HashMap<&str, NodeId> = HashMap::new();
    let (mut rules, mut elements) = (0_u64, 0_u64);
    for node in document.descendants().filter(Node::is_element) {
        elements += 1;
        if let Some(id) = node.attribute("id") {
            ids.insert(id, node.id());
        }
        if node.tag_name().name() == "style" {
            let sheet: String = node.children().filter_map(|c| c.text()).collect();
            if sheet.contains("url(#") {
                let line = document.text_pos_at(node.range().start).row;
                return Err(Error::input(format!(
                    "the style sheet in line {line} refers to other parts of the file"
                ))
                .remedy("save the file with plain strokes and fills"));
            }
            rules += sheet.matches(['{', ',']).count() as u64;
        }
    }
    let root = document.root_element().id();
    let mut counted: HashMap<NodeId, Counted> = HashMap::new();
    let mut waiting = vec![root];
    while let Some(&id) = waiting.last() {
        let Some(node) = document.get_node(id) else { break };
        if matches!(counted.get(&id), Some(Counted::Done(_))) {
            waiting.pop();
            continue;
        }
        let parts: Vec<NodeId> = node
            .children()
            .filter(Node::is_element)
            .map(|c| c.id())
            .chain(references(node).filter_map(|name| ids.get(name).copied()))
            .collect();
        if counted.insert(id, Counted::Open).is_none() {
            for part in parts {
                match counted.get(&part) {
                    Some(Counted::Done(_)) => {}
                    Some(Counted::Open) => {
                        let name =
                            document.get_node(part).and_then(|n| n.attribute("id")).unwrap_or_default();
                        return Err(Error::input(format!("the element {:?} uses itself", short(name)))
                            .remedy("take out the copies of copies (clones) in the drawing program"));
                    }
                    None => waiting.push(part),
                }
            }
            continue;
        }
        bounded(document, node)?;
        let own: usize = node.attributes().map(|a| a.name().len() + a.value().len()).sum();
        let mut weight = Weight { elements: 1, bytes: own as u64, depth: 0 };
        for part in parts {
            if let Some(Counted::Done(w)) = counted.get(&part) {
                weight.elements = weight.elements.saturating_add(w.elements);
                weight.bytes = weight.bytes.saturating_add(w.bytes);
                weight.depth = weight.depth.max(w.depth);
            }
        }
        weight.depth += 1;
        if weight.depth > DEEPEST {
            return Err(too_deep(weight.depth));
        }
        if weight.elements > MOST_ELEMENTS || weight.bytes > MOST_BYTES {
            return Err(Error::input(format!(
                "with its uses followed the file holds more than {MOST_ELEMENTS} elements or {MOST_BYTES} bytes"
            ))
            .remedy("turn copies (clones) into plain lines, and take out what is not needed"));
        }
        counted.insert(id, Counted::Done(weight));
        waiting.pop();
    }
    if rules.saturating_mul(elements) > MOST_STYLED {
        return Err(Error::input(format!("the file styles {elements} elements by {rules} rules"))
            .remedy("save it with plain strokes and fills"));
    }
    Ok(())
}

/// Refuses a shape with numbers out of bounds: an arc is broken into the more pieces the larger it is, before its points can
/// be looked at.
fn bounded(document: &Document<'_>, node: Node<'_, '_>) -> Result<()> {
    for attribute in node.attributes().filter(|a| DRAWN_BY.contains(&a.name())) {
        let largest = largest(attribute.value());
        if largest > MOST_NUMBER {
            return Err(Error::input(format!(
                "the element <{}> in line {} has the number {largest:e} in its {:?} (allowed: finite, within ±{MOST_NUMBER:e})",
                short(node.tag_name().name()),
                document.text_pos_at(node.range().start).row,
                attribute.name()
            ))
            .remedy("draw it anew, or take it out"));
        }
    }
    Ok(())
}

/// The largest magnitude among the numbers of a text; infinite where one is beyond all bounds.
fn largest(text: &str) -> f64 {
    let bytes = text.as_bytes();
    let (mut at, mut largest) = (0, 0.0_f64);
    while at < bytes.len() {
        let digits = |from: usize| bytes[from..].iter().take_while(|b| b.is_ascii_digit()).count();
        let start = at;
        at += digits(at);
        if bytes.get(at) == Some(&b'.') {
            at += 1 + digits(at + 1);
        }
        if at == start {
            at += 1;
            continue;
        }
        if let Some(b'e' | b'E') = bytes.get(at) {
            let sign = usize::from(matches!(bytes.get(at + 1), Some(b'+' | b'-')));
            let power = digits(at + 1 + sign);
            at += if power > 0 { 1 + sign + power } else { 0 };
        }
        largest = largest.max(text[start..at].parse().unwrap_or(0.0));
    }
    largest
}

/// Labels by id: drawing programs keep the name a person gave in an attribute of their own.
fn labels(document: &Document<'_>) -> HashMap<String, String> {
    let label = |node: &Node<'_, '_>| {
        let found = node.attributes().find(|a| {
            let own = a.name() == "label" && a.namespace().is_some();
            (own || a.name() == "data-name") && !a.value().trim().is_empty()
        });
        found.map(|a| a.value().trim().to_owned())
    };
    document
        .descendants()
        .filter(Node::is_element)
        .filter_map(|node| Some((node.attribute("id")?.to_owned(), label(&node)?)))
        .collect()
}

struct Reader {
    labels: HashMap<String, String>,
    left: usize,
    contents: Contents,
}

impl Reader {
    fn name(&self, id: &str) -> String {
        self.labels.get(id).cloned().unwrap_or_else(|| id.to_owned())
    }

    fn group(&mut self, group: &usvg::Group, layer: &str, names: &mut Vec<String>) -> Result<()> {
        for node in group.children() {
            let id = node.id();
            let named = !id.is_empty();
            if named {
                names.push(self.name(id));
            }
            match node {
                usvg::Node::Group(inner) => {
                    self.group(inner, if named { inner.id() } else { layer }, names)?;
                }
                usvg::Node::Path(path) => self.path(path, layer, names)?,
                usvg::Node::Text(_) => {
                    *self.contents.not_measured.entry("text".to_owned()).or_default() += 1;
                }
                usvg::Node::Image(_) => {}
            }
            if named {
                names.pop();
            }
        }
        Ok(())
    }

    fn path(&mut self, path: &usvg::Path, layer: &str, names: &[String]) -> Result<()> {
        let mut lines = BezPath::new();
        let at = |p: usvg::tiny_skia_path::Point| Point::new(f64::from(p.x), f64::from(p.y));
        for segment in path.data().segments() {
            match segment {
                PathSegment::MoveTo(p) => lines.move_to(at(p)),
                PathSegment::LineTo(p) => lines.line_to(at(p)),
                PathSegment::QuadTo(c, p) => lines.quad_to(at(c), at(p)),
                PathSegment::CubicTo(c, d, p) => lines.curve_to(at(c), at(d), at(p)),
                PathSegment::Close => lines.close_path(),
            }
        }
        let t = path.abs_transform();
        let to_px = [t.sx, t.ky, t.kx, t.sy, t.tx, t.ty].map(f64::from);
        lines.apply_affine(Affine::scale(25.4 / SVG_DPI) * Affine::new(to_px));
        for line in flatten(&lines, layer, &mut self.left)? {
            self.contents.lines.push(NamedLine { layer: layer.to_owned(), names: names.to_vec(), line });
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::largest;
    use crate::lines::{MOST_POINTS, outlines, upright};

    fn svg(inner: &str) -> String {
        format!("<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100mm\" height=\"100mm\">{inner}</svg>")
    }

    /// None of these takes more than the work of a small file; each says what is wrong.
    #[test]
    fn bombs_are_refused_before_they_go_off() {
        // Ten uses of ten uses … ten times over: 10^10 lines.
        let mut uses = String::from("<g id=\"l0\"><path d=\"M0 0h9\"/></g>");
        for k in 1..=10 {
            uses += &format!("<g id=\"l{k}\">{}</g>", format!("<use href=\"#l{}\"/>", k - 1).repeat(10));
        }
        let chain: String =
            (0..5000).map(|k| format!("<g id=\"c{k}\"><use href=\"#c{}\"/></g>", k + 1)).collect();
        let patterns: String = (0..30)
            .map(|k| {
                let rect = format!("<rect width=\"1\" height=\"1\" fill=\"url(#p{})\"/>", k + 1);
                format!("<pattern id=\"p{k}\" width=\"9\" height=\"9\">{}</pattern>", rect.repeat(10))
            })
            .collect();
        let heavy = format!("<path id=\"h\" d=\"M0 0{}\"/>", "h9".repeat(100_000));
        let entity = "<!DOCTYPE svg [<!ENTITY a \"aaaa\"><!ENTITY b \"&a;&a;&a;&a;\">]>";
        let attributes: String = (0..100_000).map(|k| format!(" a{k}=\"\"")).collect();
        let rules = "rect{fill:none}".repeat(20_000);
        // Chords of such curves are too many only together.
        let curve = "<path d=\"M0 0C0 3e9 3e9 0 3e9 3e9\" transform=\"scale(.9)\"/>";
        for (text, part) in [
            (svg(&uses), "more than 200000 elements"),
            (svg(&chain), "nested 201 deep"),
            (
                svg(&format!("{patterns}<rect width=\"9\" height=\"9\" fill=\"url(#p0)\"/>")),
                "more than 200000",
            ),
            (svg(&format!("{heavy}{}", "<use href=\"#h\"/>".repeat(10_000))), "67108864 bytes"),
            (svg("<g id=\"a\"><use href=\"#b\"/></g><g id=\"b\"><use href=\"#a\"/></g>"), "uses itself"),
            (format!("{entity}{}", svg("")), "line 1 defines an entity"),
            (svg(&format!("<g{attributes}/>")), "attributes"),
            (svg(&format!("<style>{rules}</style>{}", "<g/>".repeat(10_000))), "styles 10002 elements"),
            (svg("<style>rect{fill:url(#p)}</style>"), "the style sheet in line 1 refers"),
            (svg(&curve.repeat(40)), "points"),
            (svg("<path d=\"M0 0C0 3e30 3e30 0 9 9\"/>"), "allowed: finite"),
            (
                svg("\n<path d=\"M0 0a5 6 0 0 1 3e49-1 1 1 0 0 1 9 9\"/>"),
                "<path> in line 2 has the number 3e49",
            ),
            (svg(&format!("<circle r=\"{}\"/>", "9".repeat(400))), "allowed: finite"),
            (svg(&" ".repeat(33 << 20)), "bytes allowed"),
        ] {
            let error = outlines("a.svg", text.as_bytes()).map(|l| l.len()).expect_err(part).to_string();
            assert!(error.contains(part), "{error:?} does not say {part:?}");
        }
        const { assert!(MOST_POINTS < 10_000_000) };
    }

    #[test]
    fn numbers_are_found_however_they_are_run_together() {
        for (text, wanted) in [
            ("M1 1h20v-8q3 3", 20.0),
            ("a1.5.5-3e2.25,7", 300.0),
            ("1e", 1.0),
            ("e9 E5 .", 9.0),
            ("-.5e+1", 5.0),
            ("100%", 100.0),
            ("1e400", f64::INFINITY),
            ("ä", 0.0),
            ("", 0.0),
        ] {
            assert_eq!(largest(text), wanted, "{text:?}");
        }
    }

    #[test]
    fn names_come_from_labels_and_ids_and_what_nobody_drew_is_left_out() {
        let text = svg("<!-- --><defs><marker id=\"m\"><path d=\"M0 0h1v1z\"/></marker></defs>\
             <g xmlns:k=\"urn:x\" id=\"layer1\" k:label=\"A/east\"><g data-name=\"in\" id=\"g1\">\
             <path id=\"p\" d=\"M0 0h9v9z\" marker-end=\"url(#m)\" stroke=\"red\"/></g></g>\
             <image href=\"/etc/hostname\" width=\"9\" height=\"9\"/>");
        let text = format!("<!DOCTYPE svg>\n{text}");
        let contents = upright("a.svg", text.as_bytes()).expect("readable");
        assert_eq!(contents.lines.len(), 1, "{contents:?}");
        assert_eq!(contents.lines[0].names, ["A/east", "in", "p"]);
        assert_eq!(contents.lines[0].layer, "g1");
        assert_eq!(contents.not_measured.get("image"), Some(&1));
    }
}
