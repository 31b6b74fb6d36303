//! Weld metal and heat.

use crate::row::{Page, Seen};
use ribwright_kernel::weld::filler::{heat_input, process_named};
use ribwright_kernel::weld::groove::{
    cap, fillet_of_legs, fillet_of_throat, rectangle, right_triangle, single_v,
};

/// kg/m of weld metal with a section of 1 mm² and a density of 7850 kg/m³.
const STEEL: f64 = 7850.0e-6;
/// The density of the American handbooks, 0.283 lb/in³, the same way.
const HANDBOOK: f64 = 0.283 * 0.453_592_37 / (25.4 * 25.4 * 25.4) * 1000.0;
/// lb/ft of 1 kg/m.
const POUNDS_PER_FOOT: f64 = 0.3048 / 0.453_592_37;

pub(crate) fn pages() -> Vec<Page> {
    let topic = "Welds";
    let mut elements =
        Page::new(topic, "A filler-metal handbook's table of groove elements, kg/m", Seen::Confirmed);
    let twice = "the handbook rounds its sizes";
    elements.off("gap 3.175 mm in 3.18 mm", "0.079", HANDBOOK * rectangle(3.18, 3.175), 0.001, twice);
    elements.off("gap 3.175 mm in 12.70 mm", "0.315", HANDBOOK * rectangle(12.7, 3.175), 0.001, twice);
    for (degrees, printed) in
        [(5.0, "0.055"), (10.0, "0.112"), (15.0, "0.170"), (22.5, "0.262"), (30.0, "0.365"), (45.0, "0.632")]
    {
        let ours = HANDBOOK * right_triangle(12.7, degrees);
        elements.off(format!("triangle 12.70 mm at {degrees} degrees"), printed, ours, 0.001, twice);
    }
    elements.off(
        "triangle 9.53 mm at 45 degrees",
        "0.356",
        HANDBOOK * right_triangle(9.53, 45.0),
        0.001,
        twice,
    );
    elements.off(
        "triangle 6.35 mm at 45 degrees",
        "0.158",
        HANDBOOK * right_triangle(6.35, 45.0),
        0.001,
        twice,
    );
    for (height, printed) in [(1.59, "0.106"), (3.18, "0.210"), (4.76, "0.315")] {
        let ours = HANDBOOK * cap(12.7, height);
        elements.off(format!("cap 12.7 mm wide, {height} mm high"), printed, ours, 0.001, twice);
    }
    elements.row(
        "fillet ½ in, lb/ft",
        "0.424",
        HANDBOOK * POUNDS_PER_FOOT * fillet_of_legs([12.7, 12.7], 90.0),
    );

    let mut fillets = Page::new(topic, "Fillets by geometry at 7850 kg/m³, kg/m", Seen::Memory);
    for (leg, printed) in [
        (3.0, "0.03532"),
        (4.0, "0.0628"),
        (5.0, "0.09813"),
        (6.0, "0.1413"),
        (8.0, "0.2512"),
        (10.0, "0.3925"),
        (12.0, "0.5652"),
    ] {
        let ours = STEEL * fillet_of_legs([leg, leg], 90.0);
        fillets.off(format!("leg {leg} mm"), printed, ours, 0.000_006, "half a digit, printed either way");
        let throat = leg / std::f64::consts::SQRT_2;
        let ours = STEEL * fillet_of_throat(throat, 90.0);
        fillets.off(
            format!("its throat {throat:.3} mm"),
            printed,
            ours,
            0.000_006,
            "half a digit, printed either way",
        );
    }
    for (t, gap, face, printed) in [
        (6.0, 2.0, 1.0, "26.4338"),
        (8.0, 2.0, 1.0, "44.2902"),
        (10.0, 2.0, 2.0, "56.9504"),
        (12.0, 2.0, 2.0, "81.7350"),
    ] {
        fillets.row(
            format!("60° V, {t} mm, gap {gap}, face {face}: mm²"),
            printed,
            single_v(t, 60.0, gap, face),
        );
    }
    let mut share = Page::new(
        topic,
        "A filler-metal handbook: share of the filler that ends up in the weld, % (which belongs to which gas and length \
         from memory)",
        Seen::Confirmed,
    );
    for (name, printed) in [
        ("submerged", "99"),
        ("mag_oxygen", "98"),
        ("mag", "96"),
        ("mag_co2", "93"),
        ("metal_cored", "93"),
        ("flux_cored", "86"),
        ("self_shielded", "78"),
        ("stick_short", "59"),
        ("stick", "62"),
        ("stick_long", "66"),
    ] {
        share.row(name, printed, process_named(name).efficiency * 100.0);
    }
    let mut heat = Page::new(
        topic,
        "EN 1011-1 as welding institutes and steel makers quote it: factor k",
        Seen::Confirmed,
    );
    for (name, printed) in
        [("submerged", "1.0"), ("mag", "0.8"), ("stick", "0.8"), ("flux_cored", "0.8"), ("tig", "0.6")]
    {
        heat.row(name, printed, process_named(name).heat_factor);
    }
    let mut energy = Page::new(topic, "EN 1011-1: 200 A, 24 V, 5 mm/s, kJ/mm, by the formula", Seen::Memory);
    energy.row("arc energy", "0.96", heat_input(1.0, 200.0, 24.0, 5.0));
    energy.row("heat input, k 0.8", "0.768", heat_input(0.8, 200.0, 24.0, 5.0));
    vec![elements, fillets, share, heat, energy]
}
