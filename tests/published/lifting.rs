//! Lifting: angle factors, load limits, hitches beside the centre of mass.

use crate::row::{Page, Seen};
use ribwright_kernel::lift::slings::{Kind, factor_from_vertical, factor_to_horizontal};
use ribwright_kernel::lift::two_hitches;

pub(crate) fn pages() -> Vec<Page> {
    let topic = "Lifting";
    let mut angles = Page::new(
        topic,
        "Published rigging tables (as ASME B30.9): load factor by the angle to the horizontal; they cut digits off",
        Seen::Confirmed,
    );
    for (degrees, printed) in [
        (90.0, "1.000"),
        (85.0, "1.004"),
        (80.0, "1.015"),
        (75.0, "1.035"),
        (70.0, "1.064"),
        (65.0, "1.104"),
        (60.0, "1.155"),
        (55.0, "1.221"),
        (50.0, "1.305"),
        (45.0, "1.414"),
        (40.0, "1.555"),
        (35.0, "1.742"),
        (30.0, "2.000"),
    ] {
        let ours = factor_to_horizontal(degrees).expect("an angle of the table");
        angles.off(format!("{degrees} degrees"), printed, ours, 0.0015, "digits cut off");
    }
    let mut upright = Page::new(
        topic,
        "A safety office's table by the angle from the vertical: pull of a leg under 1000",
        Seen::Confirmed,
    );
    for (degrees, printed) in [(30.0, "1154"), (60.0, "2000")] {
        let ours = 1000.0 * factor_from_vertical(degrees).expect("an angle of the table");
        upright.off(format!("{degrees} degrees"), printed, ours, 1.0, "digits cut off");
    }
    let limits = |page: &mut Page, kind: Kind, size: f64, printed: [&str; 6]| {
        let row = kind.rows().iter().find(|r| r.size.total_cmp(&size).is_eq()).expect("a size of the table");
        let names =
            ["one leg", "two legs to 45°", "two legs to 60°", "three or four to 45°", "three or four to 60°"];
        for (name, (printed, ours)) in names.into_iter().zip(printed.into_iter().zip(row.limits)) {
            page.row(format!("{size} mm: {name}"), printed, ours);
        }
    };
    let mut chain = Page::new(topic, "EN 818-4, grade 8 chain: working load limits, t", Seen::Confirmed);
    limits(&mut chain, Kind::Chain, 8.0, ["2.00", "2.80", "2.00", "4.25", "3.00", "3.15"]);
    limits(&mut chain, Kind::Chain, 10.0, ["3.15", "4.25", "3.15", "6.70", "4.75", "5.00"]);
    limits(&mut chain, Kind::Chain, 13.0, ["5.30", "7.50", "5.30", "11.20", "8.00", "8.50"]);
    let mut rope = Page::new(topic, "EN 13414-1, table 4: working load limits, t", Seen::Confirmed);
    limits(&mut rope, Kind::Rope, 10.0, ["1.15", "1.60", "1.15", "2.40", "1.70", "1.85"]);
    let mut hitches = Page::new(
        topic,
        "Published rigging tables, two hitches beside the centre of mass: the formula with W 1000, 4 and 6 beside, 5 high",
        Seen::Confirmed,
    );
    let [near, far] = two_hitches(1000.0, [4.0, 6.0], 5.0).expect("a lift");
    hitches.row("near hitch", "768.3749", near);
    hitches.row("far hitch", "624.8200", far);
    vec![angles, upright, chain, rope, hitches]
}
