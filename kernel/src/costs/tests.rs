//! Tests of rates and estimates; built with `#[cfg(test)]` only.

use super::rates::MADE_UP;
use super::sheet::{money, rounded, step};
use super::{Estimate, Factor, Group, ITEMS, Line, Range, Rate, Rates, Unit, rates_file, read_rates};

const HEAD: &str = "item,unit,low,usual,high,note\n";

fn refused(text: &str) -> String {
    match read_rates("rates.csv", text.as_bytes()) {
        Ok(_) => panic!("taken: {text}"),
        Err(error) => error.to_string(),
    }
}

#[track_caller]
fn says(text: &str, words: &[&str]) {
    let error = refused(text);
    for word in words {
        assert!(error.contains(word), "{error}\nlacks {word:?}");
    }
}

#[test]
fn a_file_is_read_with_its_currency_and_the_rest_is_made_up() {
    let text = format!(
        "\u{feff}# rates\n{HEAD}sheet,CRN/kg,1.5,2,3,\"merchant, quay\"\n\nwaste,%,,20,,\ngas,CRN/m3,1,2,3,\n"
    );
    let rates = read_rates("rates.csv", text.as_bytes()).expect("read");
    assert_eq!((rates.currency.as_str(), rates.file.as_str()), ("CRN", "rates.csv"));
    let sheet = rates.of("sheet");
    assert_eq!((sheet.range, sheet.note.as_str(), sheet.given), ([1.5, 2.0, 3.0], "merchant, quay", true));
    assert_eq!(rates.of("waste").range, [20.0; 3], "no range is no spread");
    assert_eq!(rates.unit(rates.of("gas").item), "CRN/m³");
    assert!(!rates.of("labour").given && rates.of("labour").note == MADE_UP);
    assert_eq!(rates.rates.len(), ITEMS.len());
}

#[test]
fn what_is_wrong_in_a_file_is_named_with_its_line() {
    says("", &["no headings", "item,unit,low,usual,high,note"]);
    says(
        "item;unit;low;usual;high;note\nsheet;EUR/kg;1;2;3;\n",
        &["rates.csv", "line 1", "semicolons", "commas"],
    );
    says("item\tunit\tlow\tusual\thigh\tnote\n", &["tabs"]);
    says("item,unit,low,usul,high,note\n", &["line 1, column 4", "usul", "usual"]);
    says("item,unit,low,high,note\n", &["\"usual\" is missing"]);
    let row = |row: &str| format!("{HEAD}{row}\n");
    says(&row("shet,EUR/kg,1,2,3,"), &["line 2, column 1 (item)", "shet", "did you mean \"sheet\"?"]);
    says(&row("sheet,EUR/kg,1,\"2,5\",3,"), &["line 2, column 4 (usual)", "2.5", "point"]);
    says(&row("sheet,EUR/kg,1,2,5,3,"), &["line 2, column 6 (note)", "number", "points"]);
    says(&row("sheet,EUR/kg,1,2,5,3,quay"), &["line 2", "more fields than headings"]);
    says(&row("sheet,EUR/kg,1,two,3,"), &["line 2, column 4 (usual)", "\"two\" is not a number"]);
    says(&row("sheet,EUR/kg,1,2 EUR,3,"), &["2 EUR", "plain number"]);
    says(&row("sheet,EUR/kg,-1,2,3,"), &["line 2, column 3 (low)", "-1"]);
    says(&row("sheet,EUR/kg,1,NaN,3,"), &["column 4", "NaN"]);
    says(&row("sheet,EUR/kg,1,1e300,3,"), &["column 4"]);
    says(&row("sheet,EUR/kg,3,2,4,"), &["column 3 (low)", "3", "above", "2"]);
    says(&row("sheet,EUR/kg,1,2,1.5,"), &["column 5 (high)", "1.5"]);
    says(&row("sheet,EUR/kg,1,,3,"), &["usual rate of sheet is missing"]);
    says(&row("sheet,EUR/m,1,2,3,"), &["column 2 (unit)", "CUR/kg", "EUR/m"]);
    says(&row("sheet,/kg,1,2,3,"), &["no currency"]);
    says(&row("waste,EUR,1,2,3,"), &["%", "EUR"]);
    says(&row("lifting,EUR/h,1,2,3,"), &["CUR", "EUR/h"]);
    says(&row("sheet,EUR/kg,1,2,3,\nplate,USD/kg,1,2,3,"), &["line 3", "USD", "EUR", "line 2"]);
    says(&row("sheet,EUR/kg,1,2,3,\nsheet,EUR/kg,1,2,3,"), &["line 3", "line 2 already"]);
    let bytes = [HEAD.as_bytes(), b"sheet,EUR/kg,1,2,3,\xff\n"].concat();
    let error = read_rates("rates.csv", &bytes).expect_err("refused").to_string();
    assert!(error.contains("UTF-8") && error.contains("line 2"), "{error}");
}

#[test]
fn the_file_to_fill_in_reads_back_and_stays_made_up_until_its_notes_change() {
    let rates = read_rates("rates.csv", rates_file("EUR").as_bytes()).expect("reads its own");
    assert_eq!(rates.currency, "EUR");
    for (rate, item) in rates.rates.iter().zip(ITEMS) {
        assert!(rate.given && rate.is_made_up() && rate.range == item.made_up, "{}", item.name);
    }
    let changed = rates_file("EUR").replace(MADE_UP, "own books");
    let rates = read_rates("rates.csv", changed.as_bytes()).expect("reads");
    assert!(rates.rates.iter().all(|r| !r.is_made_up()));
}

#[test]
fn made_up_ranges_do_not_fall_and_names_are_unique() {
    for (k, item) in ITEMS.iter().enumerate() {
        let [low, usual, high] = item.made_up;
        assert!(0.0 <= low && low <= usual && usual <= high, "{}", item.name);
        assert!(ITEMS[..k].iter().all(|other| other.name != item.name), "{}", item.name);
        assert!(item.unit != Unit::Plain(""), "{}", item.name);
    }
}

fn with(given: &[(&str, Range)]) -> Rates {
    let mut rates = Rates::default();
    for rate in &mut rates.rates {
        rate.range = given.iter().find(|g| g.0 == rate.item.name).map_or([0.0; 3], |g| g.1);
        rate.given = true;
    }
    rates
}

fn line(group: Group, quantity: Range, factors: &[Factor]) -> Line {
    Line { group, what: "x".to_owned(), quantity, unit: "h", factors: factors.to_vec(), from: String::new() }
}

const ROUNDING: f64 = 1.0e-9;

#[track_caller]
fn near(found: Range, expected: Range) {
    for (a, b) in found.iter().zip(expected) {
        assert!((a - b).abs() < ROUNDING * b.abs().max(1.0), "{found:?} is not {expected:?}");
    }
}

#[test]
fn sums_are_those_by_hand() {
    // 100 kg of sheet with a quarter of waste at 2; 10 h at 50.
    let rates = with(&[
        ("sheet", [1.0, 2.0, 4.0]),
        ("waste", [0.0, 25.0, 50.0]),
        ("labour", [40.0, 50.0, 80.0]),
        ("contingency", [0.0, 10.0, 20.0]),
        ("margin", [10.0; 3]),
        ("tax", [20.0; 3]),
    ]);
    let lines = vec![
        line(Group::Steel, [100.0; 3], &[Factor::More("waste"), Factor::Rate("sheet")]),
        line(Group::Welding, [8.0, 10.0, 12.0], &[Factor::Rate("labour")]),
    ];
    let estimate = Estimate { lines, rates };
    near(estimate.line(0), [100.0, 250.0, 600.0]);
    near(estimate.line(1), [320.0, 500.0, 960.0]);
    let t = estimate.totals();
    near(t.lines, [420.0, 750.0, 1560.0]);
    near(t.with_contingency, [420.0, 825.0, 1872.0]);
    near(t.price, [462.0, 907.5, 2059.2]);
    near(t.taxed, [554.4, 1089.0, 2471.04]);
    // Each alone, times 1.1 of contingency and 1.1 of margin: sheet 125 down, 250 up; waste 50 and 50; labour 100 and
    // 300; hours 100 and 100; contingency 75 × 1.1 each way.
    let scale = 1.1 * 1.1;
    let contingency = 75.0 * 1.1;
    let down = scale * scale * (125.0_f64.powi(2) + 50.0_f64.powi(2) + 100.0_f64.powi(2) * 2.0)
        + contingency * contingency;
    let up = scale * scale * (250.0_f64.powi(2) + 50.0_f64.powi(2) + 300.0_f64.powi(2) + 100.0_f64.powi(2))
        + contingency * contingency;
    near(t.likely, [907.5 - down.sqrt(), 907.5, 907.5 + up.sqrt()]);
    near(t.taxed_likely, [1089.0 - 1.2 * down.sqrt(), 1089.0, 1089.0 + 1.2 * up.sqrt()]);
    // Groups hold their share of contingency and margin, and add up to the price.
    near(estimate.group(Group::Steel).expect("there"), [110.0, 302.5, 792.0]);
    assert_eq!(estimate.group(Group::Finish), None);
}

#[test]
fn lines_by_one_rate_rise_together_and_by_two_rates_apart() {
    let hours = |name| line(Group::Welding, [10.0; 3], &[Factor::Rate(name)]);
    let ranges = [("labour", [40.0, 50.0, 60.0]), ("welding", [40.0, 50.0, 60.0])];
    let one = Estimate { lines: vec![hours("labour"), hours("labour")], rates: with(&ranges) };
    let two = Estimate { lines: vec![hours("labour"), hours("welding")], rates: with(&ranges) };
    near(one.totals().likely, [800.0, 1000.0, 1200.0]);
    let root = 2.0_f64.sqrt() * 100.0;
    near(two.totals().likely, [1000.0 - root, 1000.0, 1000.0 + root]);
    near(two.totals().price, [800.0, 1000.0, 1200.0]);
}

#[test]
fn the_likely_range_lies_within_the_widest_for_any_rates() {
    let mut random = crate::random::Random(7);
    for _ in 0..500 {
        let mut range = || {
            let [a, b, c] = [0; 3].map(|_| random.share());
            [0.2 * a, 0.2 * a + b, 0.2 * a + b + 3.0 * c]
        };
        let mut rates = Rates::default();
        rates.rates.iter_mut().for_each(|rate| rate.range = range());
        let factors = |name| {
            [Factor::More("waste"), Factor::Rate("time_factor"), Factor::Rate("gas"), Factor::Rate(name)]
        };
        let lines = ["sheet", "labour", "labour", "wax", "paint"]
            .map(|name| line(Group::Steel, range(), &factors(name)));
        let t = Estimate { lines: lines.to_vec(), rates }.totals();
        let ([low, usual, high], [least, same, most]) = (t.likely, t.price);
        assert!(least <= low && low <= usual && usual <= high && high <= most && usual == same, "{t:?}");
    }
}

#[test]
fn rounded_groups_add_up_to_the_price_on_the_page() {
    let rates = with(&[("labour", [33.3, 44.4, 55.5]), ("sheet", [1.11, 2.22, 3.33]), ("margin", [7.0; 3])]);
    let lines = vec![
        line(Group::Steel, [333.3; 3], &[Factor::Rate("sheet")]),
        line(Group::Welding, [77.7; 3], &[Factor::Rate("labour")]),
        line(Group::Finish, [11.1; 3], &[Factor::Rate("labour")]),
    ];
    let estimate = Estimate { lines, rates };
    let (groups, price, likely) = rounded(&estimate);
    let step = step(price[1]);
    assert_eq!(step, 10.0, "a price of some thousands");
    for k in 0..3 {
        let sum: f64 = groups.iter().map(|g| g.1[k]).sum();
        assert!((sum - price[k]).abs() < ROUNDING, "{groups:?} {price:?}");
        assert!(
            (price[k] - estimate.totals().price[k]).abs() <= 1.5 * step,
            "three roundings of half a step"
        );
    }
    assert!(likely[0] < price[1] && price[1] < likely[1]);
}

#[test]
fn money_is_written_with_its_thousands_apart() {
    for (x, text) in [
        (0.0, "0"),
        (7.5, "7.5"),
        (999.0, "999"),
        (1000.0, "1 000"),
        (12_300.0, "12 300"),
        (1_234_567.0, "1 234 567"),
    ] {
        assert_eq!(money(x), text);
    }
}

#[test]
fn only_rates_that_are_used_are_reported_as_made_up() {
    let lines = vec![line(Group::Welding, [1.0; 3], &[Factor::Rate("labour")])];
    let mut estimate = Estimate { lines, rates: Rates::default() };
    assert_eq!(estimate.made_up(), ["labour", "contingency", "margin"]);
    let own = |rate: &mut Rate| rate.given = true;
    estimate.rates.rates.iter_mut().for_each(own);
    estimate.rates.rates.iter_mut().for_each(|r| r.note.clear());
    assert!(estimate.made_up().is_empty());
}
