//! Bends: DIN 6935, Machinery's Handbook, and a fabricator's page.

use crate::row::{Page, Seen};
use ribwright_kernel::profile::bend::{
    HandbookMaterial, allowance, deduction, din_6935_correction, din_6935_k, handbook_allowance,
    outside_setback,
};
use std::f64::consts::{FRAC_PI_2, FRAC_PI_3, PI};

pub(crate) fn pages() -> Vec<Page> {
    let topic = "Bends";
    let ok = |x: ribwright_kernel::Result<f64>| x.expect("a bend of the tables");
    let mut page = Page::new(
        topic,
        "A sheet-metal fabricator's worked example of DIN 6935, radius 2, thickness 2, 90 degrees",
        Seen::Confirmed,
    );
    let k = ok(din_6935_k(2.0, 2.0)) / 2.0;
    page.off("bend allowance, mm", "4.16", ok(allowance(FRAC_PI_2, 2.0, 2.0, k)), 0.005, "as printed");
    page.row("outside setback, mm", "4.00", ok(outside_setback(FRAC_PI_2, 2.0, 2.0)));
    page.row("bend deduction, mm", "3.84", ok(deduction(FRAC_PI_2, 2.0, 2.0, k)));
    page.row("flat of legs 50 and 50, mm", "96.16", 100.0 - ok(deduction(FRAC_PI_2, 2.0, 2.0, k)));

    let mut din = Page::new(topic, "DIN 6935: k and the correction v at 90 degrees", Seen::Memory);
    for (r, s, factor, v) in [
        (2.0, 2.0, "0.6500", "-3.8374"),
        (3.0, 3.0, "0.6500", "-5.7561"),
        (1.0, 2.0, "0.4995", "-3.6446"),
        (5.0, 3.0, "0.7609", "-6.3531"),
        (0.5, 1.5, "0.4114", "-2.7299"),
        (6.0, 1.2, "0.9995", "-4.0332"),
        (10.0, 2.0, "0.9995", "-6.7220"),
    ] {
        din.row(format!("r {r}, s {s}: k"), factor, ok(din_6935_k(r, s)));
        din.row(format!("r {r}, s {s}: v, mm"), v, ok(din_6935_correction(FRAC_PI_2, r, s)));
    }
    din.row(
        "r 2, s 2, opening 135 degrees: v, mm",
        "-1.232403",
        ok(din_6935_correction(0.75 * PI, 2.0, 2.0)),
    );

    let mut handbook =
        Page::new(topic, "Machinery's Handbook, lengths of sheet metal bends: worked example", Seen::Memory);
    let soft = HandbookMaterial::SoftSteel;
    let (half, sixth) = (
        ok(handbook_allowance(soft, PI, 0.375, 0.125)),
        ok(handbook_allowance(soft, FRAC_PI_3, 0.625, 0.125)),
    );
    handbook.off("180 degrees, R 0.375 in, T 0.125 in: in", "1.338", half, 0.0006, "1.3375 printed as 1.338");
    handbook.off("60 degrees, R 0.625 in: in", "0.707", sixth, 0.0006, "0.7075 printed as 0.707");
    handbook.row("with straights of 3.5 in: in", "5.545", half + sixth + 3.5);
    vec![page, din, handbook]
}
