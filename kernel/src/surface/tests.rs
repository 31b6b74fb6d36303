//! Tests of grades, films and the door; built with `#[cfg(test)]` only.

use super::door::{Door, Fit, fit};
use super::film::{Coat, dead_volume, dry};
use super::grade::{
    ABRASIVES, PREPARATION_WORDS, PREPARATIONS, PROFILES, comparator_applies, grade_of, heights, preparation,
    segments,
};
use crate::coat::film::{spreading_rate, wet};
use crate::lift::Passage;
use nalgebra::{Point3, Rotation3, Vector3};

/// Rounding of a few products.
const ROUNDING: f64 = 1.0e-12;

#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} is not {expected} within {within}");
}

fn plain(dry_um: f64, per_cent: f64) -> Coat {
    Coat { dry_um, solids: per_cent / 100.0, loss: 0.0, layers: 1, dead_cm3_per_m2: 0.0 }
}

/// Published coating data: theoretical m² per litre = 10 × solids % / dry film in µm.
#[test]
fn spreading_rates_are_those_of_published_data_sheets() {
    // A supplier's guide: 28 % solids at 18 µm, 15.55 m²/l.
    near(plain(18.0, 28.0).theoretical(), 15.55, 0.0056);
    near(plain(18.0, 28.0).theoretical(), 280.0 / 18.0, ROUNDING * 20.0);
    // A maker's sheet: 17 m²/l at 32.47 % leave 19 µm.
    near(10.0 * 32.47 / 17.0, 19.0, 0.5);
    near(plain(10.0 * 32.47 / 17.0, 32.47).theoretical(), 17.0, ROUNDING * 20.0);
    // 50 µm at 40 %: 8 m²/l, closed form.
    near(plain(50.0, 40.0).theoretical(), 8.0, ROUNDING * 10.0);
}

/// Published coating guides: WFT = DFT / solids.
#[test]
fn wet_films_are_those_of_published_guides() {
    near(plain(150.0, 75.0).comb(), 200.0, ROUNDING * 200.0);
    // 125 µm wet at 40 % leave 50 µm.
    near(dry(125.0, 0.4), 50.0, ROUNDING * 50.0);
    near(wet(50.0, 0.4), 125.0, ROUNDING * 125.0);
    // 70 %: wet = 1.43 × dry.
    near(wet(1.0, 0.7), 1.43, 0.005);
    // A salt-spray study of cavity waxes: a 200 µm bar of 30 % leaves 60 µm.
    near(dry(200.0, 0.3), 60.0, ROUNDING * 60.0);
    // One litre on a square metre lies 1000 µm thick.
    near(spreading_rate(1000.0, 1.0), 1.0, ROUNDING);
    // Two layers are each half as thick.
    near(Coat { layers: 2, ..plain(150.0, 75.0) }.comb(), 100.0, ROUNDING * 100.0);
}

/// A published conversion: ft² per US gallon = 1604.17 / wet film in mil; 10 mil give 160.417.
#[test]
fn spreading_in_feet_and_gallons_is_the_published_one() {
    let (litres_per_gallon, feet_per_metre, um_per_mil) = (3.785_411_784, 1.0 / 0.3048, 25.4);
    let per_gallon = |mil: f64| {
        spreading_rate(mil * um_per_mil, 1.0) * litres_per_gallon * feet_per_metre * feet_per_metre
    };
    near(per_gallon(10.0), 160.417, 0.001);
    near(per_gallon(1.0), 1604.17, 0.005);
}

#[test]
fn litres_count_loss_and_what_the_profile_takes() {
    // 20 m² at 8 m²/l: 2.5 l; a fifth lost: 3.125 l.
    let coat = Coat { loss: 0.2, ..plain(50.0, 40.0) };
    near(coat.litres(20.0), 3.125, ROUNDING * 10.0);
    near(coat.practical(), 6.4, ROUNDING * 10.0);
    // 40 cm³/m² of dry paint over 20 m² are 0.8 l dry, 2 l wet at 40 %, 2.5 l with loss.
    let rough = Coat { dead_cm3_per_m2: 40.0, ..coat };
    near(rough.dead_litres(20.0), 2.5, ROUNDING * 10.0);
    near(rough.litres(20.0), 5.625, ROUNDING * 10.0);
    // Coating handbooks, from memory: 30 µm take 20 and 105 µm 70 cm³/m².
    near(dead_volume(30.0), 20.0, ROUNDING * 100.0);
    near(dead_volume(105.0), 70.0, ROUNDING * 100.0);
}

/// ISO 8503-1, as published with comparators: grit 25, 60, 100, 150 µm, shot 25, 40, 70, 100 µm; fine is segment 1 up to,
/// without, segment 2; the others likewise (upper ends from memory).
#[test]
fn profiles_are_graded_by_the_segments_of_the_comparators() {
    assert_eq!(segments("grit"), [25.0, 60.0, 100.0, 150.0]);
    assert_eq!(segments("shot"), [25.0, 40.0, 70.0, 100.0]);
    for (height, expected) in [
        (24.9, "finer than fine"),
        (25.0, "fine"),
        (59.9, "fine"),
        (60.0, "medium"),
        (99.9, "medium"),
        (100.0, "coarse"),
        (149.9, "coarse"),
        (150.1, "coarser than coarse"),
    ] {
        assert_eq!(grade_of("grit", height), expected, "{height}");
    }
    for (height, expected) in
        [(39.9, "fine"), (40.0, "medium"), (70.0, "coarse"), (101.0, "coarser than coarse")]
    {
        assert_eq!(grade_of("shot", height), expected, "{height}");
    }
    for abrasive in ABRASIVES {
        for profile in PROFILES {
            let [low, high] = heights(abrasive, profile);
            assert_eq!(grade_of(abrasive, low), profile);
            assert_eq!(grade_of(abrasive, f64::midpoint(low, high)), profile);
        }
    }
}

#[test]
fn comparators_are_for_the_two_highest_grades_and_every_word_has_its_row() {
    let applies: Vec<&str> = PREPARATIONS.iter().filter(|p| comparator_applies(p)).map(|p| p.name).collect();
    assert_eq!(applies, ["Sa 2½", "Sa 3"]);
    for word in PREPARATION_WORDS {
        let found = preparation(word).name;
        assert!(found == word || (word == "Sa 2.5" && found == "Sa 2½"), "{word}: {found}");
    }
    // A higher grade takes longer, and tools throw nothing.
    let blasted: Vec<f64> = PREPARATIONS.iter().filter(|p| p.blasted).map(|p| p.rate).collect();
    assert!(blasted.windows(2).all(|w| w[1] < w[0]), "{blasted:?}");
    assert!(PREPARATIONS.iter().all(|p| p.blasted == (p.abrasive > 0.0)));
}

fn block([x, y, z]: [f64; 3], turn: Rotation3<f64>) -> Vec<Point3<f64>> {
    let mut corners = Vec::new();
    for a in [0.0, x] {
        for b in [0.0, y] {
            for c in [0.0, z] {
                corners.push(turn * Point3::new(a, b, c));
            }
        }
    }
    corners
}

fn door(width: f64, height: f64, length: Option<f64>) -> Door {
    Door { passage: Passage { opening: [width, height], length }, most_mass: None }
}

#[test]
fn a_block_passes_standing_turned_or_not_at_all() {
    let still = Rotation3::identity();
    let corners = block([1000.0, 600.0, 2000.0], still);
    let Fit::Standing(way) = fit(&corners, 1.0, &door(650.0, 2100.0, None)).unwrap() else {
        panic!("it stands in the door")
    };
    // It goes in with its long side first.
    for (found, expected) in way.size.iter().zip([1000.0, 600.0, 2000.0]) {
        near(*found, expected, 1.0e-6);
    }
    let Fit::Turned(way) = fit(&corners, 1.0, &door(1100.0, 700.0, None)).unwrap() else {
        panic!("it lies in the door")
    };
    near(way.turned, 90.0, 1.0e-6);
    // As wide as the door is high or narrower, and too long for the room.
    assert!(matches!(fit(&corners, 1.0, &door(590.0, 3000.0, None)).unwrap(), Fit::No(_)));
    assert!(matches!(fit(&corners, 1.0, &door(1100.0, 700.0, Some(1900.0))).unwrap(), Fit::No(_)));
    assert!(fit(&corners, 1.0, &door(1100.0, 700.0, Some(2001.0))).unwrap().passes());
}

#[test]
fn a_block_that_stands_askew_passes_with_its_narrow_side_first() {
    // Turned in plan by 30 degrees: the box of the room's axes is wider than the door, the block is not.
    let askew = Rotation3::from_axis_angle(&Vector3::z_axis(), 30.0_f64.to_radians());
    let corners = block([1000.0, 600.0, 2000.0], askew);
    assert!(matches!(fit(&corners, 1.0, &door(601.0, 2001.0, None)).unwrap(), Fit::Standing(_)));
    // Leaning by 20 degrees it has to be turned back by as much.
    let leaning = Rotation3::from_axis_angle(&Vector3::x_axis(), 20.0_f64.to_radians());
    let corners = block([1000.0, 600.0, 2000.0], leaning);
    let Fit::Turned(way) = fit(&corners, 1.0, &door(601.0, 2001.0, None)).unwrap() else {
        panic!("it passes turned")
    };
    near(way.turned, 20.0, 1.0e-6);
}

#[test]
fn what_passes_may_still_be_too_heavy() {
    let corners = block([1000.0, 600.0, 2000.0], Rotation3::identity());
    let light = Door { most_mass: Some(300.0), ..door(700.0, 2100.0, None) };
    assert!(fit(&corners, 300.0, &light).unwrap().passes());
    let Fit::TooHeavy(_, by) = fit(&corners, 350.0, &light).unwrap() else { panic!("50 kg too heavy") };
    near(by, 50.0, ROUNDING);
}
