//! Yard files, good and bad.

use super::*;

const HEAD: &str = "sheet,what,station,fold,across,depth,value,text";

const GOOD: &str = "sheet,what,station,fold,across,depth,value,text
S01,length,,,,,2400,
S01,width,0,,,,1003.5,
S01,fold,0,1,35,0,,
S01,,0,2,65,40,,
S01,again,0,2,65.5,,,
S01,fold,600,1,35,,,
S02,note,,,,,,\"bent, at one corner\"
S01,hole,100,,200,,,
# a remark
,,,,,,,
S01,hole,100,,240,,,
S01,hole,120,,240,,,
S01,hole,150,,200,,,
S01,rust,500,,10,,2,edge
S01,rust,500,,60,,2,
S01,rust,700,,10,,2,
S01,thickness,0,,,,1.92,
S01,grade,,,,,,S355J2W
S01,trace,1200,,,,,s01.svg
";

fn rows(more: &str) -> Result<Yard> {
    read_yard("yard.csv", format!("{HEAD}\n{more}\n").as_bytes())
}

#[track_caller]
fn refused(bytes: &[u8], words: &[&str]) {
    let error = read_yard("yard.csv", bytes).expect_err("refused");
    let text = error.to_string();
    for word in words {
        assert!(text.contains(word), "{text:?} does not say {word:?}");
    }
    assert!(text.starts_with("yard.csv: line "), "{text:?} names no line");
    assert!(text.contains("column"), "{text:?} names no column");
    assert!(error.remedy_text().is_some(), "{text:?} has no remedy");
}

#[track_caller]
fn row_refused(row: &str, words: &[&str]) {
    refused(format!("{HEAD}\n{row}\n").as_bytes(), words);
}

#[test]
fn rows_of_every_kind_are_read_with_their_lines() {
    let yard = read_yard("yard.csv", GOOD.as_bytes()).unwrap();
    assert_eq!(yard.sheets.len(), 2);
    let sheet = &yard.sheets[0];
    assert_eq!((sheet.name.as_str(), sheet.line, sheet.readings.len()), ("S01", 2, 4));
    assert_eq!(
        sheet.readings[1],
        Reading { line: 5, station: 0.0, fold: 2, across: Some(65.0), depth: Some(40.0) }
    );
    assert_eq!(sheet.readings[3].depth, None, "a blank is no reading");
    assert_eq!(sheet.lengths[0].value, 2400.0);
    assert_eq!((sheet.widths[0].station, sheet.widths[0].value), (Some(0.0), 1003.5));
    assert_eq!(sheet.grade, "S355J2W");
    assert_eq!(sheet.traces[0].file, "s01.svg");
    assert_eq!(yard.sheets[1].note, "bent, at one corner");
    assert_eq!(sheet.damage.len(), 2);
    assert_eq!(sheet.damage[0].outline, [[150.0, 200.0], [120.0, 240.0], [100.0, 240.0], [100.0, 200.0]]);
    assert_eq!(sheet.damage[1].what, "rust: edge");
    assert!(sheet.damage.iter().all(|d| signed_area(&d.outline) > 0.0), "counter-clockwise");
    assert_eq!(yard.place(5, "across"), "line 5, column 5 (across)");
}

#[test]
fn an_outline_may_be_closed_by_its_first_corner() {
    let corners = [[0, 0], [40, 0], [40, 0], [40, 40], [0, 40], [0, 0]];
    let text: String = corners.iter().map(|[s, a]| format!("S01,hole,{s},,{a},,,\n")).collect();
    let yard = rows(&text).unwrap();
    assert_eq!(yard.sheets[0].damage[0].outline, [[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0]]);
}

#[test]
fn columns_may_stand_in_any_order_and_have_units() {
    let yard = read_yard("y", b"depth mm,across (mm),Fold,sheet,station\n0,35,1,A,0\n").unwrap();
    assert_eq!(
        yard.sheets[0].readings[0],
        Reading { line: 2, station: 0.0, fold: 1, across: Some(35.0), depth: Some(0.0) }
    );
}

#[test]
fn a_byte_order_mark_is_skipped_and_said() {
    let yard = read_yard("y", "\u{feff}sheet,station,fold,across,depth\nA,0,1,2,3\n".as_bytes()).unwrap();
    assert_eq!(yard.findings[0].place, "line 1, column 1");
}

#[test]
fn bad_files_are_refused_with_line_and_column() {
    refused(b"", &["empty", "line 1, column 1"]);
    refused(b" \r\n\n", &["empty"]);
    refused("\u{feff}".as_bytes(), &["empty"]);
    refused(b"sheet,station,fold,across,depth\n", &["no readings"]);
    refused(b"sheet;what;station;fold;across;depth\nS01;fold;0;1;35;0\n", &["semicolons"]);
    refused(b"sheet\twhat\tstation\tfold\tacross\tdepth\n", &["tabs"]);
    refused(b"sheet,station,fold,across\nA,0,1,2\n", &["\"depth\" is missing"]);
    refused(
        b"sheet,station,fold,acros,depth\nA,0,1,2,3\n",
        &["line 1, column 4", "did you mean \"across\"?"],
    );
    refused(b"sheet,station,fold,across,across,depth\n", &["twice", "column 5"]);
    refused(
        b"sheet,station,fold,across,depth\nA,0,1,2,3\nA,0,2,\xff,3\n",
        &["not UTF-8", "line 3, column 4"],
    );
    refused(b"PK\x03\x04\xfe\xff", &["not UTF-8"]);
}

#[test]
fn bad_rows_are_refused_with_line_and_column() {
    row_refused("S01,fold,,1,35,0,,", &["line 2, column 3 (station)", "needs its station"]);
    row_refused("S01,fold,0,,35,0,,", &["column 4 (fold)"]);
    row_refused("S01,fold,0,1.5,35,0,,", &["1.5 is not a number of a fold"]);
    row_refused("S01,fold,0,0,35,0,,", &["0 is not a number of a fold"]);
    row_refused("S01,fold,0,1,\"35,5\",0,,", &["column 5 (across)", "decimal sign: 35.5"]);
    row_refused("S01,note,,,,,,bent, badly", &["9 fields", "column 9", "decimal sign"]);
    row_refused("S01,fold,0,1,35,5,0", &["column 7 (value)", "decimal sign"]);
    row_refused("S01,fold,0,1,35mm,0,,", &["without the unit: 35"]);
    row_refused("S01,fold,0,1,\"1 3/8\"\"\",0,,", &["inch"]);
    row_refused("S01,fold,0,1,abc,0,,", &["not a number"]);
    row_refused("S01,fold,0,1,NaN,0,,", &["not a usable reading"]);
    row_refused("S01,fold,0,1,1e300,0,,", &["not a usable reading"]);
    row_refused("S01,fold,0,1,-5,0,,", &["not a usable reading"]);
    row_refused("S01,foald,0,1,35,0,,", &["unknown word \"foald\"", "did you mean \"fold\"?"]);
    row_refused(",fold,0,1,35,0,,", &["which sheet"]);
    row_refused("S01,length,,,,,,", &["needs its value"]);
    row_refused("S01,length,,,2400,,,", &["nothing under across"]);
    row_refused("S01,fold,0,1,35,0,,\nS01,fold,0,1,36,0,,", &["line 3", "second time", "again"]);
    row_refused("S01,fold,0,1,35,0,,\nS01,fold,0.0000001,1,36,0,,", &["second time"]);
    row_refused("S01,hole,0,,10,,,\nS01,hole,5,,10,,,", &["2 corners"]);
    row_refused(
        "S01,hole,0,,0,,,\nS01,hole,40,,40,,,\nS01,note,,,,,,x\nS01,hole,40,,0,,,\nS01,hole,0,,60,,,",
        &["line 5, column 3 (station)", "crosses or touches itself", "line 2 to 3", "line 5 to 6"],
    );
    row_refused(
        "S01,hole,0,,0,,,\nS01,hole,40,,0,,,\nS01,hole,40,,90,,,\nS01,hole,40,,40,,,\nS01,hole,0,,40,,,",
        &["line 4, column 3", "touches itself"],
    );
    row_refused("S01,note,,,,,,", &["needs its text"]);
    row_refused("S01,note,,,,,,\"never closed\nS01,fold,0,1,35,0,,", &["quotation mark", "line 2, column 8"]);
    row_refused("S01,grade,,,,,,a\nS01,grade,,,,,,b", &["already"]);
}

#[test]
fn a_million_rows_are_refused_where_they_pass_the_limit() {
    let mut text = String::from("sheet,station,fold,across,depth\n");
    for row in 0..1_000_000_u32 {
        let (sheet, of) = (row / 100, row % 100);
        text.push_str(&format!(
            "S{sheet},{},{},{}.5,{}\n",
            of / 25 * 600,
            of % 25 + 1,
            of % 25 * 48,
            of % 2 * 40
        ));
    }
    // A hundred rows each: the sheets pass their limit first.
    refused(text.as_bytes(), &["line 40002, column 1 (sheet)", "400 sheets allowed"]);
    let few = |of: u32| {
        let mut text = String::from("sheet,station,fold,across,depth\n");
        for row in 0..1_000_000_u32 {
            text.push_str(&format!("S{},{},{},2,3\n", row / of % 300, row % of, row / of / 300 + 1));
        }
        text
    };
    let text = few(50);
    refused(text.as_bytes(), &["line 50002, column 1", "50000 rows allowed"]);
    let last = text.match_indices('\n').nth(50_000).map_or(0, |(at, _)| at);
    let most = read_yard("y", &text.as_bytes()[..last]).unwrap();
    assert_eq!(most.sheets.iter().map(|s| s.readings.len()).sum::<usize>(), 50_000);
    // One line without an end is refused by its bytes.
    let mut long = b"sheet,station,fold,across,depth\nS1,0,1,".to_vec();
    long.resize(MOST_BYTES + 1, b'1');
    refused(&long, &["line 2, column 4", "bytes allowed"]);
    assert!(size_of::<Reading>() <= 64, "a reading is kept in {} bytes", size_of::<Reading>());
}

#[test]
fn more_than_the_limits_are_refused() {
    let corners: String = (0..=MOST_CORNERS).map(|k| format!("S01,hole,{k},,{},,,\n", k * k / 100)).collect();
    row_refused(&corners, &["line 1002, column 3 (station)", "1000 corners"]);
    let mut text = String::from("sheet,station,fold,across,depth\n");
    for row in 0..=MOST_READINGS {
        text.push_str(&format!("S1,{row},1,2,3\n"));
    }
    refused_without_remedy(text.as_bytes(), &format!("line {}", MOST_READINGS + 2));
}

#[track_caller]
fn refused_without_remedy(bytes: &[u8], word: &str) {
    let text = read_yard("yard.csv", bytes).expect_err("refused").to_string();
    assert!(text.contains(word), "{text}");
}

#[test]
fn short_rows_are_blank_behind() {
    let yard = rows("S01,fold,0,1,35").unwrap();
    assert_eq!(yard.sheets[0].readings[0].depth, None);
}
