//! Corrugated sheet: handbook tables of section properties, developed widths, tolerances.

use crate::row::{Page, Seen};
use ribwright_kernel::profile::Profile;
use ribwright_kernel::profile::arc_tangent::tangents;
use ribwright_tests::case::profile;
use std::sync::Arc;

const INCH: f64 = 25.4;

fn arc_tangent(pitch: f64, depth: f64, radius: f64, thickness: f64) -> Arc<Profile> {
    let settings = [("pitch", pitch), ("depth", depth), ("radius", radius), ("thickness", thickness)];
    profile("arc_tangent", &settings).expect("a sheet of the tables")
}

fn trapezoid([pitch, depth, crest, valley, thickness]: [f64; 5]) -> Arc<Profile> {
    let settings =
        [("pitch", pitch), ("depth", depth), ("crest", crest), ("valley", valley), ("thickness", thickness)];
    profile("trapezoid", &[&settings[..], &[("bend_radius", 0.0)]].concat()).expect("a sheet of the tables")
}

/// A handbook table: base thickness in, area in²/ft, tangent in, its angle, inertia 10⁻³ in⁴/in, gyration in;
/// the inertias are printed less exactly than the rest.
fn table(page: &mut Page, name: &str, sizes: [f64; 3], inertia_off: f64, rows: &[[&str; 6]]) {
    let [pitch, depth, radius] = sizes.map(|x| x * INCH);
    for [thickness, area, tangent, degrees, inertia, gyration] in rows {
        let t = thickness.parse::<f64>().expect("a number") * INCH;
        let section = arc_tangent(pitch, depth, radius, t).section();
        let [angle, length] = tangents(pitch, depth, radius + t / 2.0).expect("a sheet of the tables");
        let of = format!("{name}, {thickness} in");
        page.row(format!("{of}: area, in²/ft"), area, section.area / pitch * 12.0 / INCH);
        page.row(format!("{of}: tangent, in"), tangent, length / INCH);
        page.row(format!("{of}: its angle, degrees"), degrees, angle.to_degrees());
        let printed: f64 = inertia.parse().expect("a number");
        page.off(
            format!("{of}: I, 10⁻³ in⁴/in"),
            inertia,
            section.inertia / pitch / INCH.powi(3) * 1000.0,
            inertia_off * printed,
            "the handbooks' own arithmetic",
        );
        page.row(format!("{of}: radius of gyration, in"), gyration, section.radius_of_gyration() / INCH);
    }
}

pub(crate) fn pages() -> Vec<Page> {
    let topic = "Corrugated sheet";
    let mut seen = Page::new(
        topic,
        "Highway Engineering Handbook, table 5.18 (1½ × ¼ in corrugations)",
        Seen::Confirmed,
    );
    for (thickness, printed) in
        [(0.0478, "0.0041"), (0.0598, "0.0053"), (0.0747, "0.0068"), (0.1046, "0.0103"), (0.1345, "0.0145")]
    {
        let section = arc_tangent(1.5 * INCH, 0.25 * INCH, 9.0 / 32.0 * INCH, thickness * INCH).section();
        let ours = section.inertia / (1.5 * INCH) / INCH.powi(3) * 12.0;
        seen.row(format!("1½ × ¼ in, {thickness} in: I, in⁴/ft"), printed, ours);
    }

    let mut handbook = Page::new(
        topic,
        "AISI and NCSPA handbooks, ASTM A796: arc-and-tangent corrugations, base metal, inside radius",
        Seen::Memory,
    );
    table(
        &mut handbook,
        "2⅔ × ½ in",
        [8.0 / 3.0, 0.5, 11.0 / 16.0],
        2.2e-3,
        &[
            ["0.0359", "0.465", "0.785", "26.56", "1.122", "0.1702"],
            ["0.0478", "0.619", "0.778", "26.65", "1.500", "0.1707"],
            ["0.0598", "0.775", "0.770", "26.74", "1.892", "0.1712"],
            ["0.0747", "0.968", "0.760", "26.86", "2.392", "0.1721"],
            ["0.1046", "1.356", "0.740", "27.11", "3.425", "0.1741"],
            ["0.1345", "1.744", "0.720", "27.37", "4.533", "0.1766"],
            ["0.1644", "2.133", "0.699", "27.65", "5.725", "0.1795"],
        ],
    );
    table(
        &mut handbook,
        "3 × 1 in",
        [3.0, 1.0, 9.0 / 16.0],
        4.0e-4,
        &[
            ["0.0598", "0.890", "0.938", "44.60", "8.658", "0.3417"],
            ["0.1046", "1.560", "0.889", "45.42", "15.459", "0.3448"],
            ["0.1644", "2.458", "0.819", "46.65", "25.091", "0.3499"],
        ],
    );
    table(
        &mut handbook,
        "6 × 2 in",
        [6.0, 2.0, 1.125],
        4.0e-4,
        &[
            ["0.1046", "1.556", "1.893", "44.47", "60.411", "0.682"],
            ["0.1838", "2.739", "1.807", "45.18", "108.000", "0.688"],
            ["0.2758", "4.119", "1.702", "46.09", "165.836", "0.695"],
        ],
    );

    let mut waves = Page::new(topic, "Length of a sine wave by elliptic integrals, textbooks", Seen::Memory);
    let sine = |pitch: f64, depth: f64| {
        profile("sine", &[("pitch", pitch), ("depth", depth), ("thickness", 1.0)]).expect("a wave")
    };
    // Amplitude 1 over one period of 2π, 100 times as large.
    let whole = sine(100.0 * std::f64::consts::TAU, 200.0);
    waves.off(
        "y = sin x over one period: length",
        "7.640396",
        whole.developed_length(0.0) / 100.0,
        3.0e-4,
        "the wave is made of chords",
    );
    waves.off(
        "76.2 × 18 mm wave: length over pitch",
        "1.1260",
        sine(76.2, 18.0).developed_length(0.0) / 76.2,
        3.0e-4,
        "the wave is made of chords",
    );

    let mut panels = Page::new(
        topic,
        "Side and end panels of freight containers, common factory sizes; figures by the formulas",
        Seen::Memory,
    );
    for (sizes, name, [developed, area, axis, inertia, mass]) in [
        (
            [278.0, 36.0, 72.0, 70.0, 1.6],
            "278 × 36, 1.6 mm",
            ["295.88307", "1702.9", "18.122", "360420", "13.368"],
        ),
        (
            [250.0, 45.6, 110.0, 104.0, 2.0],
            "250 × 45.6, 2 mm",
            ["312.04815", "2496.4", "23.238", "1025405", "19.597"],
        ),
    ] {
        let section = trapezoid(sizes).thin_section();
        panels.row(format!("{name}: developed per pitch, mm"), developed, section.developed);
        panels.row(format!("{name}: area, mm²/m"), area, section.area_per_metre());
        panels.row(
            format!("{name}: neutral axis over the valley, mm"),
            axis,
            section.neutral_axis + sizes[1] / 2.0,
        );
        panels.row(format!("{name}: I, mm⁴/m"), inertia, section.inertia_per_metre());
        panels.row(format!("{name}: mass, kg/m²"), mass, section.mass_per_area(7850.0));
    }
    vec![seen, handbook, waves, panels]
}
