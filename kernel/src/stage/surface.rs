//! The surface stage: areas of both skins; where the script asks for it also preparation, coats, and what passes the
//! blaster's door.
//!
//! Time = area / rate; abrasive = area × consumption; paint as `surface::film` has it. All figures are preliminary: the
//! blaster's own take the place of the defaults.

use super::sketch::{choice, count, list, number, optional, refused, table, words};
use super::{Stage, any, values};
use crate::costs::Quantity;
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::lift::{OrientedBox, Passage, outline};
use crate::output::Output;
use crate::registry::Registry;
use crate::settings::{Setting, Values};
use crate::surface::door::Way;
use crate::surface::film::{Coat, dead_volume};
use crate::surface::grade::{
    ABRASIVES, PREPARATION_WORDS, PROFILES, Preparation, RUST, RUST_WORDS, comparator_applies, grade_of,
    heights, preparation, segments,
};
use crate::surface::{Areas, Door, Fit, areas, fit};
use crate::table::{Cell, Table};
use crate::units::MM2_PER_M2;
use crate::work::Work;

const SIDES: [&str; 3] = ["outside", "inside", "both"];

const fn side(
    name: &'static str,
    summary: &'static str,
    default: &'static str,
    of: &'static [&'static str],
) -> Setting {
    choice(name, summary, default, of)
}

/// The registry row.
pub const ROW: Stage = Stage {
    name: "surface",
    summary: "areas outside and inside with ribs counted; where asked for: blasting, coats, the blaster's door",
    settings: &[
        side("sides", "what is prepared", "outside", &SIDES),
        choice("grade", "grade of preparation (ISO 8501-1)", "Sa 2½", &PREPARATION_WORDS),
        choice("rust", "rust grade of the sheet before (ISO 8501-1)", "C", &RUST_WORDS),
        choice(
            "abrasive",
            "what is thrown: each has a comparator of its own (ISO 8503-1)",
            "grit",
            &ABRASIVES,
        ),
        choice("profile", "grade of the profile that is asked for (ISO 8503-1)", "medium", &PROFILES),
        optional("height", "height of the profile as measured, to be graded", "µm", [1.0, 1000.0]),
        optional(
            "rate",
            "area in an hour; by the grade unless given (common practice, no source)",
            "m²/h",
            [0.01, 1000.0],
        ),
        optional(
            "consumption",
            "abrasive thrown; by the grade unless given (common practice, no source)",
            "kg/m²",
            [0.0, 500.0],
        ),
        side(
            "coated",
            "what is painted; wax inside by turning is the stage coat's",
            "none",
            &["none", "outside", "inside", "both"],
        ),
        number("film", "dry film of all layers (common practice, no source)", "µm", 240.0, [1.0, 5000.0]),
        number("solids", "solids of the paint by volume: see its data sheet", "%", 60.0, [1.0, 100.0]),
        count("layers", "layers of paint", 2, [1, 20]),
        number("loss", "paint lost on the way (common practice, no source)", "%", 30.0, [0.0, 95.0]),
        optional(
            "dead",
            "dry paint that the valleys of the profile take; two thirds of its height where blasted, else none (from memory)",
            "cm³/m²",
            [0.0, 1000.0],
        ),
        list("door", "clear width and height of the blaster's door", "mm", 2),
        optional("room", "clear length of the blaster's room", "mm", [1.0, 1.0e6]),
        optional("most_mass", "most that trolley or crane carry there", "kg", [0.1, 1.0e6]),
    ],
    check: any,
    run,
};

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    let found = areas(work);
    output.tables.push(areas_table(work, &found, output));
    if !work.sculpture.stages.contains_key(ROW.name) {
        return Ok(());
    }
    let set = values(work, &ROW)?;
    let shop = Shop::new(&set);
    prepare(work, &set, &shop, &found, output);
    paint(work, &set, &shop, &found, output);
    door(work, &set, output)
}

/// Preparation as asked for.
struct Shop {
    grade: &'static Preparation,
    abrasive: String,
    profile: String,
    /// Mean height of the profile, µm; 0 where nothing is blasted.
    height: f64,
    rate: f64,
    consumption: f64,
}

impl Shop {
    fn new(set: &Values) -> Self {
        let text = |name: &str| set.text(name).unwrap_or_default().to_owned();
        let grade = preparation(set.text("grade").unwrap_or_default());
        let (abrasive, profile) = (text("abrasive"), text("profile"));
        let [low, high] = heights(&abrasive, &profile);
        let height =
            if grade.blasted { set.optional("height").unwrap_or(f64::midpoint(low, high)) } else { 0.0 };
        Self {
            grade,
            height,
            rate: set.optional("rate").unwrap_or(grade.rate),
            consumption: set.optional("consumption").unwrap_or(grade.abrasive),
            abrasive,
            profile,
        }
    }
}

fn square_metres(mm2: f64) -> f64 {
    mm2 / MM2_PER_M2
}

fn area(mm2: f64) -> Cell {
    Cell::Number(square_metres(mm2) + 0.0, 3)
}

/// What of both sides is meant by a word of [`SIDES`], mm².
fn of_sides(word: &str, [outside, inside]: [f64; 2]) -> f64 {
    match word {
        "outside" => outside,
        "inside" => inside,
        "both" => outside + inside,
        _ => 0.0,
    }
}

fn areas_table(work: &Work, found: &Areas, output: &Output) -> Table {
    let mut rows = Vec::new();
    for (e, element) in work.sculpture.elements.iter().enumerate() {
        let name = element.solid.name.as_str();
        let own: Vec<_> = found.faces.iter().filter(|a| work.faces[a.face].element == e).collect();
        for one in &own {
            rows.push(vec![
                words(name),
                words(work.faces[one.face].id.as_str()),
                area(one.flat),
                area(one.outside),
                area(one.inside),
                area(one.hidden),
                Cell::Number(developed(work, one.face), 4),
            ]);
        }
        let strips: f64 = own.iter().map(|a| a.strips).sum();
        if strips > 0.0 {
            rows.push(vec![
                words(name),
                words("closure strips, each side"),
                Cell::Empty,
                area(strips),
                area(strips),
                Cell::Empty,
                Cell::Empty,
            ]);
        }
        let [outside, inside] = found.sum(work, Some(e));
        let flat = own.iter().map(|a| a.flat).sum();
        let hidden = own.iter().map(|a| a.hidden).sum();
        rows.push(vec![
            words(name),
            words("together"),
            area(flat),
            area(outside),
            area(inside),
            area(hidden),
            Cell::Empty,
        ]);
    }
    let [outside, inside] = found.sum(work, None);
    let flat = found.faces.iter().map(|a| a.flat).sum();
    let hidden = found.faces.iter().map(|a| a.hidden).sum();
    rows.push(vec![
        words("Together"),
        Cell::Empty,
        area(flat),
        area(outside),
        area(inside),
        area(hidden),
        Cell::Empty,
    ]);
    for (what, mm2) in beside(output) {
        let mut row = vec![words("beside"), words(what), Cell::Empty, area(mm2)];
        row.extend(vec![Cell::Empty; 3]);
        rows.push(row);
    }
    let columns = [
        "element",
        "face",
        "flat m²",
        "outside m²",
        "inside m²",
        "inside: hidden outside skin m²",
        "outside skin / flat",
    ];
    table(ROW.name, "Surface: both skins, ribs counted, edges of sheet not", &columns, rows)
}

/// Length of the outside skin over that of the flat face, across the ribs.
fn developed(work: &Work, face: usize) -> f64 {
    let p = &work.faces[face].profile;
    p.developed_length(p.thickness() / 2.0) / p.pitch()
}

/// Base, plates and spine: names and surface, mm².
fn beside(output: &Output) -> Vec<(String, f64)> {
    let flats = output.flats.iter().map(|f| (format!("{}, both sides", f.id), 2.0 * f.area));
    let spine = output
        .spine
        .iter()
        .map(|s| ("spine, outside".to_owned(), std::f64::consts::PI * s.tube.outside() * s.length()));
    flats.chain(spine).collect()
}

fn prepare(work: &Work, set: &Values, shop: &Shop, found: &Areas, output: &mut Output) {
    let sides = set.text("sides").unwrap_or_default();
    let mut rows = Vec::new();
    let names = work.sculpture.elements.iter().map(|e| e.solid.name.as_str());
    let all = names.enumerate().map(|(e, n)| (Some(e), n)).chain([(None, "Together")]);
    for (element, name) in all {
        let m2 = square_metres(of_sides(sides, found.sum(work, element)));
        rows.push(vec![
            words(name),
            words(sides),
            words(shop.grade.name),
            Cell::Number(m2, 2),
            Cell::Number(m2 / shop.rate, 2),
            Cell::Number(m2 * shop.consumption, 0),
        ]);
    }
    let columns = ["element", "side", "grade", "area m²", "time h", "abrasive kg"];
    output.tables.push(table("surface_blast", "Preparation of the surface (preliminary)", &columns, rows));
    output.tables.push(basis(set, shop));
    let m2 = square_metres(of_sides(sides, found.sum(work, None)));
    let from = |what: &str| format!("{sides} to {}, {what}", shop.grade.name);
    for (name, x, how) in [
        ("blast h", m2 / shop.rate, format!("{} m²/h", shop.rate)),
        ("abrasive kg", m2 * shop.consumption, format!("{} kg/m²", shop.consumption)),
    ] {
        output.quantities.push(Quantity { name, range: [x; 3], from: from(&how) });
    }
    remarks(work, set, shop, sides, output);
}

fn basis(set: &Values, shop: &Shop) -> Table {
    let rust = set.text("rust").unwrap_or_default();
    let looks = RUST.iter().find(|r| r.0 == rust).map_or("", |r| r.1);
    let own =
        |name: &str| if set.is_given(name) { "set in the script" } else { "common practice, no source" };
    let mut rows = vec![
        [
            "grade of preparation".to_owned(),
            format!("{}: {}", shop.grade.name, shop.grade.looks),
            "ISO 8501-1, words from memory".to_owned(),
        ],
        [
            "rust grade before".to_owned(),
            format!("{rust}: {looks}"),
            "ISO 8501-1, words from memory".to_owned(),
        ],
        ["rate".to_owned(), format!("{} m²/h", shop.rate), own("rate").to_owned()],
        ["abrasive".to_owned(), format!("{} kg/m²", shop.consumption), own("consumption").to_owned()],
    ];
    if shop.grade.blasted {
        let [low, high] = heights(&shop.abrasive, &shop.profile);
        let all = segments(&shop.abrasive).map(|s| s.to_string()).join(", ");
        rows.push([
            "profile".to_owned(),
            format!(
                "{} by {}: {low} µm up to, without, {high} µm; segments {all} µm",
                shop.profile, shop.abrasive
            ),
            "ISO 8503-1, comparator; upper ends from memory".to_owned(),
        ]);
        if let Some(height) = set.optional("height") {
            rows.push([
                "profile as measured".to_owned(),
                format!("{height} µm: {}", grade_of(&shop.abrasive, height)),
                "ISO 8503-1".to_owned(),
            ]);
        }
    }
    let rows = rows.into_iter().map(|r| r.map(words).to_vec()).collect();
    table("surface_basis", "Where the figures on the surface are from", &["figure", "value", "source"], rows)
}

fn remarks(work: &Work, set: &Values, shop: &Shop, sides: &str, output: &mut Output) {
    let name = work.sculpture.name.as_str();
    let mut say = |level, code: &str, message: String, remedy: &str| {
        output.findings.push(Finding::new(level, code, name, message, remedy));
    };
    if !comparator_applies(shop.grade) && (set.is_given("profile") || set.is_given("height")) {
        say(
            Level::Warning,
            "blast-profile",
            format!(
                "a profile is asked for with {}, but the comparators of ISO 8503-1 are for Sa 2½ and Sa 3 only",
                shop.grade.name
            ),
            "ask for Sa 2½ or Sa 3, or leave the profile out",
        );
    }
    if let Some(height) = set.optional("height")
        && shop.grade.blasted
        && grade_of(&shop.abrasive, height) != shop.profile
    {
        say(
            Level::Warning,
            "blast-height",
            format!(
                "a profile of {height} µm by {} is {}, not {} (ISO 8503-1)",
                shop.abrasive,
                grade_of(&shop.abrasive, height),
                shop.profile
            ),
            "blast again with another abrasive or pressure, or agree on the grade there is",
        );
    }
    if sides != "outside" {
        say(
            Level::Note,
            "blast-inside",
            "the inside is prepared too: that has to be done before its last sheet is welded on".to_owned(),
            "blast the parts, or leave the sheet out that the assembly closes last",
        );
    }
    say(
        Level::Note,
        "blast-care",
        "areas are exact for the drawn shape, times and abrasive are shop rules; blasting gives off dust of rust, old paint \
         and abrasive, is loud, and warps thin sheet where it dwells"
            .to_owned(),
        "have a test piece blasted; screens, hearing and breathing protection by the local rules; no silica sand; old paint \
         may hold lead",
    );
}

fn paint(work: &Work, set: &Values, shop: &Shop, found: &Areas, output: &mut Output) {
    let coated = set.text("coated").unwrap_or_default();
    if coated == "none" {
        return;
    }
    let blasted = |side: &str| {
        let sides = set.text("sides").unwrap_or_default();
        shop.grade.blasted && (sides == side || sides == "both")
    };
    let mut rows = Vec::new();
    let [mut litres, mut layers_m2] = [0.0; 2];
    for (k, side) in ["outside", "inside"].into_iter().enumerate() {
        if coated != side && coated != "both" {
            continue;
        }
        let own = if blasted(side) { dead_volume(shop.height) } else { 0.0 };
        let coat = Coat {
            dry_um: set.number("film"),
            solids: set.number("solids") / 100.0,
            loss: set.number("loss") / 100.0,
            layers: set.count("layers"),
            dead_cm3_per_m2: set.optional("dead").unwrap_or(own),
        };
        let m2 = square_metres(found.sum(work, None)[k]);
        let spread = |x: f64| (x * 100.0).round() / 100.0;
        let all: [(&str, f64, usize, &str, String); 7] = [
            ("area", m2, 2, "m²", "ribs counted".into()),
            (
                "spreading, theoretical",
                spread(coat.theoretical()),
                2,
                "m²/l",
                "10 × solids % / dry film".into(),
            ),
            (
                "spreading, practical",
                spread(coat.practical()),
                2,
                "m²/l",
                format!("{} % lost", set.number("loss")),
            ),
            (
                "dead volume",
                coat.dead_cm3_per_m2,
                1,
                "cm³/m²",
                "dry paint in the valleys of the profile".into(),
            ),
            ("of it paint", coat.dead_litres(m2), 2, "l", "by solids, with loss".into()),
            ("paint", coat.litres(m2), 2, "l", "area / practical spreading, and dead volume".into()),
            ("comb", coat.comb(), 0, "µm", format!("wet film of each of {} layers", coat.layers)),
        ];
        litres += coat.litres(m2);
        layers_m2 += m2 * f64::from(coat.layers);
        for (what, x, decimals, unit, how) in all {
            rows.push(vec![words(side), words(what), Cell::Number(x, decimals), words(unit), words(how)]);
        }
        if blasted(side) && coat.dry_um < shop.height {
            output.findings.push(Finding::new(
                Level::Warning,
                "film-peaks",
                work.sculpture.name.as_str(),
                format!(
                    "a dry film of {} µm is thinner than the {:.0} µm of the profile under it: peaks stand out and rust ({side})",
                    coat.dry_um, shop.height
                ),
                "ask for a thicker film or a finer profile",
            ));
        }
    }
    let columns = ["side", "what", "figure", "unit", "how"];
    output.tables.push(table("surface_paint", "Paint (follow its data sheet)", &columns, rows));
    let film = set.number("film");
    output.quantities.push(Quantity {
        name: "paint l",
        range: [litres; 3],
        from: format!("{coated}, {film} µm dry"),
    });
    output.quantities.push(Quantity {
        name: "layers m²",
        range: [layers_m2; 3],
        from: format!("{coated}, {} layers", set.count("layers")),
    });
}

/// A piece that may pass the door whole.
struct Piece {
    name: String,
    elements: Vec<usize>,
    mass: f64,
    fit: Fit,
}

fn door(work: &Work, set: &Values, output: &mut Output) -> Result<()> {
    let Some(opening) = set.numbers("door") else {
        if set.is_given("room") || set.is_given("most_mass") {
            return Err(Error::input("room and most_mass say nothing without a door")
                .at(ROW.name)
                .remedy("give the door too: door: [2400, 2600]"));
        }
        return Ok(());
    };
    let passage = Passage { opening: [opening[0], opening[1]], length: set.optional("room") };
    passage.check("door").map_err(|e| e.at("door").at(ROW.name))?;
    let door = Door { passage, most_mass: set.optional("most_mass") };
    super::mass::gather(work, output)?;
    let mut pieces = Vec::new();
    for e in 0..work.sculpture.elements.len() {
        match piece(work, output, &door, vec![e]) {
            Ok(one) => pieces.push(one),
            Err(error) => {
                let name = work.sculpture.elements[e].solid.name.as_str();
                output.findings.push(refused(Level::Warning, "blast-door", name, &error));
            }
        }
    }
    let joined = assemblies(work, output, &door);
    let mut rows: Vec<Vec<Cell>> = pieces.iter().map(|p| row(work, p)).collect();
    rows.extend(joined.iter().map(|p| row(work, p)));
    for one in &pieces {
        output.findings.extend(stuck(one, set));
    }
    let [w, h] = passage.opening;
    let title = format!(
        "What passes the blaster's door, {w:.0} wide × {h:.0} high{} (outermost crests; base, spine and eyes not counted)",
        passage.length.map_or(String::new(), |l| format!(", room {l:.0} long"))
    );
    let columns = ["piece", "mass kg", "door", "how", "into the room mm", "across mm", "height mm"];
    output.tables.push(table("surface_door", &title, &columns, rows));
    Ok(())
}

fn piece(work: &Work, output: &Output, door: &Door, elements: Vec<usize>) -> Result<Piece> {
    let mass = output.mass.body(|c| c.element.is_some_and(|e| elements.contains(&e))).mass;
    let names: Vec<&str> = elements.iter().map(|&e| work.sculpture.elements[e].solid.name.as_str()).collect();
    let fit = fit(&outline(work, &elements), mass, door)?;
    Ok(Piece { name: names.join(" + "), elements, mass, fit })
}

/// Elements that pass welded together: from each element on, those that stand on what passes so far are added while all
/// of it still passes. Sets within others are left out.
fn assemblies(work: &Work, output: &Output, door: &Door) -> Vec<Piece> {
    let mut found: Vec<Piece> = Vec::new();
    for start in 0..work.sculpture.elements.len() {
        let Ok(mut best) = piece(work, output, door, vec![start]) else { continue };
        for rest in &work.sculpture.rests {
            if !best.fit.passes()
                || !best.elements.contains(&rest.on)
                || best.elements.contains(&rest.element)
            {
                continue;
            }
            let with = best.elements.iter().copied().chain([rest.element]).collect();
            if let Ok(larger) = piece(work, output, door, with)
                && larger.fit.passes()
            {
                best = larger;
            }
        }
        let within = |p: &Piece| best.elements.iter().all(|e| p.elements.contains(e));
        if best.elements.len() > 1 && !found.iter().any(within) {
            found.push(best);
        }
    }
    found
}

fn row(work: &Work, piece: &Piece) -> Vec<Cell> {
    let (word, how, size) = match &piece.fit {
        Fit::Standing(way) => ("fits", "standing".to_owned(), way.size),
        Fit::Turned(way) => ("fits turned", how(work, piece, way), way.size),
        Fit::TooHeavy(way, by) => {
            ("too heavy", format!("by {by:.0} kg; else {}", how(work, piece, way)), way.size)
        }
        Fit::No(b) => ("does not fit", "size of its smallest box".to_owned(), b.size),
    };
    let mut row = vec![words(piece.name.as_str()), Cell::Number(piece.mass, 0), words(word), words(how)];
    row.extend(size.map(|x| Cell::Number(x, 0)));
    row
}

/// A face that looks down within this (cosine) is what a piece lies on.
const LIES_ON: f64 = 0.99;

fn how(work: &Work, piece: &Piece, way: &Way) -> String {
    let below = piece
        .elements
        .iter()
        .flat_map(|&e| {
            let solid = &work.sculpture.elements[e].solid;
            solid.faces.iter().map(move |f| (format!("{}/{}", solid.name, f.label), -f.normal.dot(&way.up)))
        })
        .filter(|(_, down)| *down > LIES_ON)
        .max_by(|a, b| a.1.total_cmp(&b.1));
    let on = below.map_or(String::new(), |(id, _)| format!(", {id} below"));
    format!("turned {:.0}° from standing{on}", way.turned)
}

fn stuck(piece: &Piece, set: &Values) -> Option<Finding> {
    let size = |b: &OrientedBox| format!("{:.0} × {:.0} × {:.0} mm", b.size[0], b.size[1], b.size[2]);
    match &piece.fit {
        Fit::No(b) => Some(Finding::new(
            Level::Warning,
            "blast-door",
            piece.name.as_str(),
            format!(
                "it does not pass the blaster's door in any position tried; its smallest box is {}",
                size(b)
            ),
            "blast its parts before they are welded, have it blasted on the place, or make it of two elements",
        )),
        Fit::TooHeavy(_, by) => Some(Finding::new(
            Level::Warning,
            "blast-mass",
            piece.name.as_str(),
            format!(
                "it weighs {:.0} kg, {by:.0} kg more than the {} kg that are carried at the blaster's",
                piece.mass,
                set.optional("most_mass").unwrap_or_default()
            ),
            "blast its parts before they are welded, or find a place with a larger crane",
        )),
        _ => None,
    }
}
