//! Tests of comparing two makes; built with `#[cfg(test)]` only.

use super::*;
use crate::finding::{Finding, Level};

fn part(id: &str, outline: &[[f64; 2]], bends: &[f64], at: [f64; 3]) -> PartRecord {
    PartRecord {
        id: id.to_owned(),
        face: id.split('.').next().unwrap_or(id).to_owned(),
        kind: "sheet".to_owned(),
        sheet: "trapezoid 200 × 40, 2 mm".to_owned(),
        surveyed_sheet: None,
        ribs: None,
        bends: bends.iter().map(|&x| Bend { across_mm: x, angle_deg: 45.0, radius_mm: 6.0 }).collect(),
        place: Some(PlaceRecord { at_mm: at, along: [0.0, 0.0, 1.0], outward: [1.0, 0.0, 0.0] }),
        outlines_mm: vec![outline.to_vec()],
    }
}

fn seam(a: &str, b: &str, length: f64) -> SeamRecord {
    SeamRecord {
        id: format!("{a}~{b}"),
        between: [a.to_owned(), b.to_owned()],
        joint: "true".to_owned(),
        length_mm: length,
        wobble_mm: 20.0,
    }
}

fn record(parts: Vec<PartRecord>, seams: Vec<SeamRecord>) -> Record {
    Record { schema: SCHEMA.to_owned(), work: "test".to_owned(), parts, seams, sheets: Vec::new() }
}

const PLATE: [[f64; 2]; 5] = [[0.0, 0.0], [500.0, 0.0], [500.0, 300.0], [250.0, 380.0], [0.0, 300.0]];
const BENDS: [f64; 3] = [100.0, 250.0, 400.0];

fn plate(id: &str) -> PartRecord {
    part(id, &PLATE, &BENDS, [0.0; 3])
}

/// Kinds and names of the parts that changed.
#[track_caller]
fn check(old: Vec<PartRecord>, new: Vec<PartRecord>, expected: &[(Kind, &str)]) -> Changes {
    let found = changes(&record(old, Vec::new()), &record(new, Vec::new()));
    let list: Vec<(Kind, &str)> = found.parts.iter().map(|p| (p.kind, p.id.as_str())).collect();
    assert_eq!(list, expected, "{found:#?}");
    found
}

#[test]
fn nothing_changes_where_nothing_did() {
    let found = check(vec![plate("A/east")], vec![plate("A/east")], &[]);
    assert!(found.is_empty() && found.as_they_were.parts == 1, "{found:?}");
}

#[test]
fn differences_finer_than_any_cutter_are_none() {
    let mut new = plate("A/east");
    new.outlines_mm[0][2][0] += 0.8 * ALIKE;
    check(vec![plate("A/east")], vec![new], &[]);
}

#[test]
fn a_corner_moved_is_a_change_by_as_much() {
    let mut new = plate("A/east");
    new.outlines_mm[0][3][1] += 7.5;
    let found = check(vec![plate("A/east")], vec![new], &[(Kind::Changed, "A/east")]);
    // The roof's tip 7.5 higher: no way of laying them brings all of it nearer than by shifting half of it, and edges
    // and bends then lie apart instead. The bottoms stay together here or the tips, whichever is less.
    let by = found.parts[0].changed_by_mm.unwrap_or_default();
    assert!((3.0..=7.5).contains(&by), "{by}");
}

#[test]
fn a_part_with_a_tongue_to_the_left_is_laid_by_its_other_edges() {
    // The drawing's corner has moved 30 mm; all that was added is a tongue 30 mm long.
    let tongue = [
        [0.0, 100.0],
        [30.0, 100.0],
        [30.0, 0.0],
        [530.0, 0.0],
        [530.0, 300.0],
        [280.0, 380.0],
        [30.0, 300.0],
        [30.0, 140.0],
        [0.0, 140.0],
    ];
    let new = part("A/east", &tongue, &BENDS.map(|x| x + 30.0), [0.0; 3]);
    let found = check(vec![plate("A/east")], vec![new], &[(Kind::Changed, "A/east")]);
    assert_eq!((found.parts[0].changed_by_mm, found.parts[0].laid_mm), (Some(30.0), [30.0, 0.0]));
}

#[test]
fn bends_that_move_within_the_same_outline_are_a_change() {
    let new = part("A/east", &PLATE, &BENDS.map(|x| x + 12.0), [0.0; 3]);
    let found = check(vec![plate("A/east")], vec![new], &[(Kind::Changed, "A/east")]);
    assert_eq!(found.parts[0].changed_by_mm, Some(12.0));
    let mut other = plate("A/east");
    other.bends[1].angle_deg = -45.0;
    let found = check(vec![plate("A/east")], vec![other], &[(Kind::Changed, "A/east")]);
    assert!(found.parts[0].why[0].contains("bends"), "{found:?}");
}

#[test]
fn crests_that_move_by_whole_ribs_are_no_change() {
    let with = |crest: f64| PartRecord {
        ribs: Some(Ribs { crest_mm: crest, pitch_mm: 76.0 }),
        ..part("A/east", &PLATE, &[], [0.0; 3])
    };
    check(vec![with(10.0)], vec![with(86.0)], &[]);
    let found = check(vec![with(10.0)], vec![with(89.0)], &[(Kind::Changed, "A/east")]);
    assert_eq!(found.parts[0].changed_by_mm, Some(3.0));
}

#[test]
fn what_lies_elsewhere_and_is_cut_alike_is_moved() {
    let mut new = part("A/east", &PLATE, &BENDS, [30.0, 40.0, 0.0]);
    let found = check(vec![plate("A/east")], vec![new.clone()], &[(Kind::Moved, "A/east")]);
    assert_eq!((found.parts[0].moved_mm, found.parts[0].turned_deg), (Some(50.0), Some(0.0)));
    if let Some(place) = &mut new.place {
        let (s, c) = 10.0_f64.to_radians().sin_cos();
        (place.along, place.outward) = ([-s, 0.0, c], [c, 0.0, s]);
    }
    let found = check(vec![plate("A/east")], vec![new], &[(Kind::Moved, "A/east")]);
    let turned = found.parts[0].turned_deg.unwrap_or_default();
    assert!((turned - 10.0).abs() < 1e-9, "{turned}");
}

#[test]
fn an_element_called_otherwise_renames_its_parts_and_seams() {
    let old = record(
        vec![plate("A/east"), part("A/top", &PLATE, &[], [9.0; 3])],
        vec![seam("A/east", "A/top", 400.0)],
    );
    let new = record(
        vec![plate("Z/east"), part("Z/top", &PLATE, &[], [9.0; 3])],
        vec![seam("Z/east", "Z/top", 400.0)],
    );
    let found = changes(&old, &new);
    let was: Vec<(Kind, Option<&str>, &str)> =
        found.parts.iter().map(|p| (p.kind, p.was.as_deref(), p.id.as_str())).collect();
    assert_eq!(was, [(Kind::Renamed, Some("A/east"), "Z/east"), (Kind::Renamed, Some("A/top"), "Z/top")]);
    assert_eq!(found.seams.len(), 1);
    assert_eq!((found.seams[0].kind, found.seams[0].was.as_deref()), (Kind::Renamed, Some("A/east~A/top")));
}

#[test]
fn pieces_that_swap_numbers_where_they_lie_are_renamed_and_twins_elsewhere_are_not() {
    let small = [[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [0.0, 100.0]];
    let (here, there) = ([0.0; 3], [700.0, 0.0, 0.0]);
    let old = || vec![part("A/east.2", &PLATE, &[], here), part("A/east.3", &small, &[], there)];
    let swapped = vec![part("A/east.2", &small, &[], there), part("A/east.3", &PLATE, &[], here)];
    check(old(), swapped, &[(Kind::Renamed, "A/east.2"), (Kind::Renamed, "A/east.3")]);
    let crossed = vec![part("A/east.2", &small, &[], here), part("A/east.3", &PLATE, &[], there)];
    check(old(), crossed, &[(Kind::Changed, "A/east.2"), (Kind::Changed, "A/east.3")]);
}

#[test]
fn new_and_gone_parts_are_named() {
    let small = [[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [0.0, 100.0]];
    let (old, new) = (vec![plate("A/east")], vec![part("B/east", &small, &[], [0.0; 3])]);
    check(old, new, &[(Kind::New, "B/east"), (Kind::Gone, "A/east")]);
}

#[test]
fn another_sheet_is_another_part() {
    let new = PartRecord { sheet: "trapezoid 200 × 40, 3 mm".to_owned(), ..plate("A/east") };
    let found = check(vec![plate("A/east")], vec![new], &[(Kind::Changed, "A/east")]);
    assert_eq!(found.parts[0].why, ["was of trapezoid 200 × 40, 2 mm, is of trapezoid 200 × 40, 3 mm"]);
}

#[test]
fn seams_change_by_length_wobble_and_joint() {
    let old = record(Vec::new(), vec![seam("A/east", "A/top", 400.0), seam("A/east", "A/west", 100.0)]);
    let new = record(Vec::new(), vec![seam("A/east", "A/top", 412.5), seam("A/north", "A/top", 80.0)]);
    let found = changes(&old, &new);
    let list: Vec<_> = found.seams.iter().map(|s| (s.kind, s.id.as_str(), s.length_mm)).collect();
    assert_eq!(
        list,
        [
            (Kind::Changed, "A/east~A/top", Some([400.0, 412.5])),
            (Kind::New, "A/north~A/top", None),
            (Kind::Gone, "A/east~A/west", None)
        ]
    );
}

#[test]
fn a_sheet_is_cut_anew_where_a_part_on_it_changed_or_lies_elsewhere() {
    let laid = |id: &str, x: f64| LaidRecord {
        id: id.to_owned(),
        bounds_mm: [[x, 0.0], [x + 500.0, 380.0]],
        lies: String::new(),
    };
    let sheet = |name: &str, parts: Vec<LaidRecord>| SheetRecord { name: name.to_owned(), parts };
    let mut old = record(vec![plate("A/east"), plate("A/top"), plate("B/top")], Vec::new());
    let mut new = old.clone();
    new.parts[0].outlines_mm[0][2][0] += 40.0;
    old.sheets = vec![
        sheet("S1", vec![laid("A/east", 0.0), laid("A/top", 600.0)]),
        sheet("S2", vec![laid("B/top", 0.0)]),
        sheet("S3", Vec::new()),
    ];
    new.sheets = vec![
        sheet("S1", vec![laid("A/east", 0.0), laid("A/top", 640.0)]),
        sheet("S2", vec![laid("B/top", 0.0)]),
        sheet("S4", Vec::new()),
    ];
    let found = changes(&old, &new);
    let list: Vec<_> = found.sheets.iter().map(|s| (s.kind, s.name.as_str(), s.parts.len())).collect();
    assert_eq!(list, [(Kind::Changed, "S1", 2), (Kind::New, "S4", 0), (Kind::Gone, "S3", 0)]);
    assert_eq!(found.as_they_were.sheets, 1);
}

#[test]
fn a_record_reads_back_as_it_was_written() {
    let mut kept = record(vec![plate("A/\"east\"")], vec![seam("A/east", "A/top", 400.1234)]);
    kept.sheets = vec![SheetRecord { name: "S1".to_owned(), parts: Vec::new() }];
    let bytes = kept.to_bytes().expect("writes");
    assert_eq!(Record::read(&bytes).expect("reads"), kept);
    for (bytes, words) in [
        (&b"{}"[..], "no record"),
        (&br#"{"schema":"ribwright-record-9"}"#[..], "ribwright-record-9"),
        (&br#"{"schema":"ribwright-record-1"}"#[..], "damaged"),
    ] {
        let text = Record::read(bytes).expect_err("refused").to_string();
        assert!(text.contains(words), "{text}");
    }
}

#[track_caller]
fn judged(list: &str, old: Option<&Record>, new: &Record, allowed: &[&str]) -> Vec<Finding> {
    let none = record(Vec::new(), Vec::new());
    let found = changes(old.unwrap_or(&none), new);
    let cut = read_cut(list.as_bytes()).expect("a list");
    let allowed: Vec<String> = allowed.iter().map(|&s| s.to_owned()).collect();
    scrapped(&cut, old, new, &found, &allowed)
}

#[track_caller]
fn says(found: &[Finding], expected: &[(Level, &str, &str)]) {
    let list: Vec<(Level, &str, &str)> =
        found.iter().map(|f| (f.level, f.code.as_str(), f.place.as_str())).collect();
    assert_eq!(list, expected, "{found:#?}");
}

#[test]
fn a_part_that_is_cut_may_move_but_not_change() {
    let list = "part,date\n\nA/east,2026-11-20\n# done by hand\nA/top;2026-11-21\n";
    let old = record(vec![plate("A/east"), plate("A/top"), plate("A/west")], Vec::new());
    let mut new = old.clone();
    new.parts[1].place = None;
    new.parts[2].outlines_mm[0][2][0] += 40.0;
    says(&judged(list, Some(&old), &new, &[]), &[]);
    new.parts[0].outlines_mm[0][2][0] += 40.0;
    let found = judged(list, Some(&old), &new, &[]);
    says(&found, &[(Level::Error, "already-cut", "A/east")]);
    assert!(
        found[0].message.contains("2026-11-20") && found[0].remedy.contains("--allow-recut A/east"),
        "{found:?}"
    );
    for allowed in ["A/east", "all"] {
        says(&judged(list, Some(&old), &new, &[allowed]), &[(Level::Warning, "cut-again", "A/east")]);
    }
    // Allowing a part that stays as it is does not pass in silence, nor does it allow another.
    let found = judged(list, Some(&old), &new, &["A/top"]);
    says(&found, &[(Level::Error, "already-cut", "A/east"), (Level::Note, "recut-not-needed", "A/top")]);
    assert!(found[1].remedy.contains("A/east"), "{found:?}");
    says(&judged(list, Some(&old), &old, &["all"]), &[(Level::Note, "recut-not-needed", "all")]);
    new.parts.remove(0);
    says(&judged(list, Some(&old), &new, &[]), &[(Level::Error, "already-cut", "A/east")]);
}

#[test]
fn parts_that_are_renamed_unknown_or_not_to_be_compared_are_warned_of() {
    let old = record(vec![plate("A/east")], Vec::new());
    let new = record(vec![plate("Z/east")], Vec::new());
    says(&judged("A/east", Some(&old), &new, &[]), &[(Level::Warning, "cut-part-renamed", "A/east")]);
    says(&judged("A/est", Some(&old), &old, &[]), &[(Level::Warning, "cut-part-unknown", "A/est")]);
    says(&judged("A/east", None, &old, &[]), &[(Level::Warning, "cut-not-compared", "A/east")]);
    says(&judged("A/east", Some(&old), &old, &["A/tip"]), &[(Level::Warning, "not-cut", "A/tip")]);
}

#[test]
fn a_list_that_cannot_be_read_is_said_with_its_line() {
    for (list, words) in [
        ("A/east,20.11.2026", "not a date"),
        ("A/east,2026-13-01", "not a date"),
        ("A/east,2026-02-30", "not a date"),
        ("A/east,2025-02-29", "not a date"),
        (",2026-11-20", "not a part"),
        ("A/east,2026-11-20,mine", "not a part"),
    ] {
        let text = read_cut(format!("part,date\n{list}\n").as_bytes()).expect_err("refused").to_string();
        assert!(text.contains(words) && text.contains("line 2"), "{text}");
    }
}

#[test]
fn the_picture_shows_the_old_outline_dashed_and_the_new_one_solid() {
    let (old, mut new) = (plate("A/east"), plate("A/east"));
    new.outlines_mm[0][2][0] += 40.0;
    let found = check(vec![old.clone()], vec![new.clone()], &[(Kind::Changed, "A/east")]);
    let drawing = picture(&old, &new, &found.parts[0]);
    use crate::drawing::Layer;
    let count = |layer: Layer| drawing.on(layer).count();
    assert_eq!((count(Layer::Cut), count(Layer::Outline)), (1, 1));
    assert!(Layer::Cut.style().dashes.is_empty() && !Layer::Outline.style().dashes.is_empty());
    drawing.validate().expect("can be drawn");
}

#[test]
fn words_stand_above_a_ring_that_reaches_beyond_a_slim_part() {
    let strip =
        |tip: f64| part("A/strip", &[[0.0, 0.0], [400.0, 0.0], [tip, 10.0], [0.0, 10.0]], &[], [0.0; 3]);
    let (old, new) = (strip(400.0), strip(300.0));
    let found = check(vec![old.clone()], vec![new.clone()], &[(Kind::Changed, "A/strip")]);
    let drawing = picture(&old, &new, &found.parts[0]);
    use crate::drawing::Layer;
    let ring =
        drawing.on(Layer::Mark).flat_map(|p| &p.points).map(|p| p[1]).fold(f64::NEG_INFINITY, f64::max);
    let words: Vec<_> = drawing.labels.iter().filter(|l| l.text.contains(' ')).collect();
    assert!(ring > 12.0 && words.len() == 2, "ring up to {ring}, {words:?}");
    assert!(words.iter().all(|l| l.at[1] > ring), "ring up to {ring}, {words:?}");
}
