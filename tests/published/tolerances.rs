//! Tolerances: ISO 13920 for welded work, ISO 9013 for thermal cuts.

use crate::row::{Page, Seen};
use ribwright_kernel::tolerance::{iso_9013, iso_13920};

/// A length inside each column of the tables, mm.
const LENGTHS: [f64; 11] =
    [20.0, 100.0, 300.0, 700.0, 1500.0, 3000.0, 6000.0, 10_000.0, 14_000.0, 18_000.0, 25_000.0];

pub(crate) fn pages() -> Vec<Page> {
    let topic = "Tolerances";
    let mut linear = Page::new(topic, "ISO 13920, table 1: linear, ± mm", Seen::Confirmed);
    for (class, printed) in [
        ("A", ["1", "1", "1", "2", "3", "4", "5", "6", "7", "8", "9"]),
        ("B", ["1", "2", "2", "3", "4", "6", "8", "10", "12", "14", "16"]),
        ("C", ["1", "3", "4", "6", "8", "11", "14", "18", "21", "24", "27"]),
        ("D", ["1", "4", "7", "9", "12", "16", "21", "27", "32", "36", "40"]),
    ] {
        for (length, printed) in LENGTHS.into_iter().zip(printed) {
            let ours = iso_13920::linear(class, length).expect("a length of the table");
            linear.row(format!("class {class}, {length} mm"), printed, ours);
        }
    }
    let mut angular = Page::new(topic, "ISO 13920, table 2: angles, ± minutes", Seen::Confirmed);
    for (class, printed) in [
        ("A", ["20", "15", "10"]),
        ("B", ["45", "30", "20"]),
        ("C", ["60", "45", "30"]),
        ("D", ["90", "75", "60"]),
    ] {
        for (leg, printed) in [300.0, 700.0, 1500.0].into_iter().zip(printed) {
            let ours = iso_13920::angular(class, leg).expect("a length of the table").minutes;
            angular.row(format!("class {class}, shorter leg {leg} mm"), printed, ours);
        }
    }
    let mut straight = Page::new(topic, "ISO 13920, table 3: straightness, mm", Seen::Confirmed);
    let mut memory =
        Page::new(topic, "ISO 13920, table 3: straightness of the coarse classes, mm", Seen::Memory);
    for (class, printed) in [
        ("E", ["0.5", "1", "1.5", "2", "3", "4", "5", "6", "7", "8"]),
        ("F", ["1", "1.5", "3", "4.5", "6", "8", "10", "12", "14", "16"]),
        ("G", ["1.5", "3", "5.5", "9", "11", "16", "20", "22", "25", "25"]),
        ("H", ["2.5", "5", "9", "14", "18", "26", "32", "36", "40", "40"]),
    ] {
        let page = if class < "G" { &mut straight } else { &mut memory };
        for (length, printed) in LENGTHS.into_iter().skip(1).zip(printed) {
            let ours = iso_13920::straightness(class, length).expect("a length of the table");
            page.row(format!("class {class}, {length} mm"), printed, ours);
        }
    }
    let mut cuts = Page::new(
        topic,
        "ISO 9013, a public guide: squareness u, mm, and mean height Rz5, µm",
        Seen::Confirmed,
    );
    for (thickness, u, rz5) in [
        (2.0, ["0.056", "0.164", "0.42", "0.84", "1.27"], ["11.2", "41.6", "72.4", "113.6"]),
        (10.0, ["0.08", "0.22", "0.5", "1.0", "1.55"], ["16", "48", "82", "128"]),
    ] {
        for (k, printed) in (1..).zip(u) {
            let ours = iso_9013::perpendicularity(k, thickness).expect("a range");
            cuts.row(format!("u, range {k}, {thickness} mm"), printed, ours);
        }
        for (k, printed) in (1..).zip(rz5) {
            let ours = iso_9013::mean_height(k, thickness).expect("a range");
            cuts.row(format!("Rz5, range {k}, {thickness} mm"), printed, ours);
        }
    }
    let mut deviations =
        Page::new(topic, "ISO 9013: limit deviations, ± mm, by a public table", Seen::Confirmed);
    let nominal = [2.0, 5.0, 20.0, 100.0, 200.0, 500.0, 1500.0, 3000.0, 5000.0, 7000.0];
    for (class, thickness, printed) in [
        (1, 2.0, ["0.10", "0.15", "0.20", "0.25", "0.25", "0.35", "0.40", "0.65", "1.00", "1.75"]),
        (2, 2.0, ["0.6", "0.6", "0.7", "0.7", "0.8", "0.9", "1", "1.1", "1.4", "1.4"]),
        (2, 5.0, ["0.7", "0.8", "0.9", "0.9", "1.1", "1.2", "1.3", "1.3", "1.6", "1.6"]),
    ] {
        for (length, printed) in nominal.into_iter().zip(printed) {
            let ours = iso_9013::limit_deviation(class, length, thickness).expect("a size of the table");
            deviations.row(format!("class {class}, {thickness} mm sheet, {length} mm"), printed, ours);
        }
    }
    vec![linear, angular, straight, memory, cuts, deviations]
}
