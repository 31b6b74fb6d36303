//! Coating and rust.

use crate::row::{Page, Seen};
use ribwright_kernel::coat::film::{spreading_rate, wet};
use ribwright_kernel::water::corrosion::{first_year, loss};

pub(crate) fn pages() -> Vec<Page> {
    let topic = "Coating and rust";
    let mut films = Page::new(topic, "Paint makers' pages on spreading rates and films", Seen::Confirmed);
    films.off("28 % solids, 18 µm: m²/l", "15.55", spreading_rate(18.0, 0.28), 0.006, "digits cut off");
    films.row("75 % solids, 150 µm dry: wet, µm", "200", wet(150.0, 0.75));
    films.row("40 % solids, 50 µm dry: wet, µm", "125", wet(50.0, 0.40));
    films.row("70 % solids: wet over dry", "1.43", wet(1.0, 0.70));
    films.off(
        "32.47 % solids, 17 m²/l: dry, µm",
        "19",
        1000.0 * 0.3247 / 17.0,
        0.5,
        "the page rounds to whole µm",
    );
    films.row("a litre on a square metre, µm", "1000", 1000.0 / spreading_rate(1.0, 1.0) * 1000.0);
    let foot = 0.3048_f64;
    let gallon = 3.785_411_784;
    films.row(
        "ft² per US gallon, 10 mil wet",
        "160.417",
        spreading_rate(254.0, 1.0) * gallon / (foot * foot),
    );
    let mut wax = Page::new(topic, "Study of cavity waxes: 30 % solids, 200 µm wet", Seen::Confirmed);
    wax.row("dry, µm", "60", 200.0 * wet(1.0, 1.0) * 0.30);

    let mut year = Page::new(
        topic,
        "ISO 9223 and ISO 12944-2: greatest loss of carbon steel in the first year, µm",
        Seen::Confirmed,
    );
    for (category, printed) in [("C1", "1.3"), ("C2", "25"), ("C3", "50"), ("C4", "80"), ("C5", "200")] {
        year.row(category, printed, first_year(category).expect("a category"));
    }
    let mut years = Page::new(topic, "ISO 9224, exponent 0.523: loss, µm", Seen::Memory);
    for (rate, printed) in [
        (25.0, ["119.8", "193.4", "277.9"]),
        (50.0, ["239.6", "386.8", "555.9"]),
        (80.0, ["383.3", "618.9", "889.4"]),
    ] {
        for (span, printed) in [20.0, 50.0, 100.0].into_iter().zip(printed) {
            years.row(format!("{rate} µm in the first year, {span} years"), printed, loss(rate, span));
        }
    }
    vec![films, wax, year, years]
}
