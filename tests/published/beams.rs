//! Beams that stand: deflections, natural frequencies.

use crate::row::{Page, Seen};
use nalgebra::{Matrix3, Point3, Vector3};
use ribwright_kernel::frame::{Bar, Body, Load, Model, Support, modes, solve};
use ribwright_kernel::tube::{Tube, material_named};
use std::f64::consts::TAU;

/// Length of the reference cantilever, mm.
const LENGTH: f64 = 4000.0;
/// N/mm per N·s²/mm kg: a newton is 1000 kg·mm/s².
const PER_SECOND: f64 = 1000.0;

fn upright(members: u32, slender: bool) -> (Model, usize) {
    let (tube, steel) = (Tube::new(114.3, 5.0).expect("a tube"), material_named("S355").expect("a grade"));
    let bar = if slender { Bar::slender(&tube, steel) } else { Bar::thorough(&tube, steel) };
    let points = [Point3::origin(), Point3::new(0.0, 0.0, LENGTH)];
    let (mut model, at) = Model::crooked(&points, bar, LENGTH / f64::from(members)).expect("a tube");
    model.supports.push(Support::fixed(0));
    (model, at[1])
}

/// (β L)² of the lowest modes in one plane, with a mass at the top of `share` of the tube's own.
fn roots(share: f64, count: usize) -> Vec<f64> {
    let (mut model, top) = upright(40, true);
    let tube = Tube::new(114.3, 5.0).expect("a tube");
    let per_mm = tube.mass_per_metre(7850.0) / 1000.0;
    if share > 0.0 {
        let mass = share * per_mm * LENGTH;
        model.bodies.push(Body {
            name: "top".into(),
            node: top,
            mass,
            centre: Point3::new(0.0, 0.0, LENGTH),
            inertia: Matrix3::zeros(),
        });
    }
    let stiffness = 210_000.0 * tube.second_moment() * PER_SECOND;
    let scale = (stiffness / (per_mm * LENGTH.powi(4))).sqrt();
    let mut found: Vec<f64> = Vec::new();
    for mode in modes(&model, 30).expect("a held tube") {
        // Modes along the tube and round it have no sway at the top.
        let sway = mode.shape[top].x.hypot(mode.shape[top].y);
        let along = mode.shape[top].z.abs() + mode.shape[top][5].abs() * LENGTH;
        let root = TAU * mode.frequency / scale;
        // Each comes twice, once in each plane.
        if sway > along && found.last().is_none_or(|last| root > last * 1.001) {
            found.push(root);
        }
    }
    found.truncate(count);
    found
}

pub(crate) fn pages() -> Vec<Page> {
    let topic = "Beams";
    let mut roark =
        Page::new(topic, "Roark's formulas: cantilever of tube 114.3 × 5, 4 m, E 210 GPa", Seen::Memory);
    let (model, top) = upright(8, true);
    let push = Load::Node { node: top, force: Vector3::new(1000.0, 0.0, 0.0), moment: Vector3::zeros() };
    let tip = solve(&model, &[push]).expect("held").nodes[top].x;
    roark.row("1 kN at the top: sway, mm", "39.5404", tip);
    roark.row("stiffness, N/mm", "25.2906", 1000.0 / tip);
    let lines: Vec<Load> = (0..model.members.len())
        .map(|member| Load::Line { member, force: [Vector3::new(0.0, 1.0, 0.0); 2] })
        .collect();
    let sway = solve(&model, &lines).expect("held").nodes[top].y;
    roark.off("1 kN/m: sway, mm", "59.3107", sway, 1.0e-4, "worked out from rounded figures");
    roark.off(
        "lowest frequency with its own mass, Hz",
        "6.99756",
        modes(&upright(40, true).0, 1).expect("held")[0].frequency,
        2.0e-4,
        "with the mass rounded to 13.478 kg/m",
    );

    let mut own =
        Page::new(topic, "Den Hartog: uniform cantilever, (βL)² of the lowest mode", Seen::Confirmed);
    own.row("lowest", "3.52", roots(0.0, 1)[0]);
    let mut tip_mass = Page::new(
        topic,
        "A published table of cantilevers with a mass at the tip (Mathematical Problems in Engineering 2017, 1568019): \
         (βL)² for a tip mass as heavy as the beam",
        Seen::Confirmed,
    );
    for (k, (printed, ours)) in ["1.557298", "16.25009", "50.89584"].iter().zip(roots(1.0, 3)).enumerate() {
        let of = format!("mode {}", k + 1);
        tip_mass.off(of, printed, ours, 2.0e-5 * ours, "from 40 members");
    }
    let mut pairs = Page::new(
        topic,
        "A published table of cantilever frequencies (Applied Sciences 9 (15), 2996, table 1), as ratios to the lowest",
        Seen::Confirmed,
    );
    let own_roots = roots(0.0, 4);
    for (k, printed) in ["6.266", "17.55", "34.38"].iter().enumerate() {
        let ours = own_roots[k + 1] / own_roots[0];
        pairs.off(
            format!("mode {}", k + 2),
            printed,
            ours,
            2.0e-3 * ours,
            "measured frequencies rounded to 0.01 Hz",
        );
    }
    let mut exact = Page::new(topic, "Roots of cos b cosh b = −1, textbooks: b²", Seen::Memory);
    for (k, (printed, ours)) in ["3.51602", "22.0345", "61.6972"].iter().zip(own_roots).enumerate() {
        exact.off(format!("mode {}", k + 1), printed, ours, 2.0e-5 * ours, "from 40 members");
    }
    vec![roark, own, tip_mass, pairs, exact]
}
