//! Wind, partial factors, anchors in concrete.

use crate::row::{Page, Seen};
use ribwright_kernel::base::concrete::{Concrete, narrow};
use ribwright_kernel::wind::Site;

fn site(speed: f64, terrain: &str) -> Site {
    Site::new(speed, terrain).expect("a site")
}

pub(crate) fn pages() -> Vec<Page> {
    let topic = "Wind and anchors";
    let mut belgium = Page::new(
        topic,
        "Steel Buildings in Europe, worked example to EN 1991-1-4: 26 m/s, category III, 8 m",
        Seen::Confirmed,
    );
    let f = site(26.0, "III").at(8.0);
    belgium.row("k_r", "0.215", f.terrain_factor);
    belgium.off("c_r", "0.706", f.roughness_factor, 0.0013, "with k_r rounded");
    belgium.row("basic pressure, N/m²", "422.5", f.basic);
    belgium.off("exposure", "1.56", f.exposure, 0.0066, "with rounded factors");
    belgium.off("peak pressure, N/m²", "659", f.peak, 3.0, "with rounded factors; exactly 661.8");
    let mut first =
        Page::new(topic, "A worked sheet to EN 1991-1-4: 27 m/s, category I, 3.5 m", Seen::Confirmed);
    first.row("peak pressure, kN/m²", "0.989", site(27.0, "I").at(3.5).peak / 1000.0);
    let mut sea =
        Page::new(topic, "A worked sheet to EN 1991-1-4: 25 m/s, category 0, 77.36 m", Seen::Confirmed);
    let f = site(25.0, "0").at(77.36);
    sea.row("c_r", "1.585", f.roughness_factor);
    sea.row("k_r", "0.156", f.terrain_factor);
    sea.row("mean speed, m/s", "39.624", f.mean_speed);
    sea.row("turbulence", "0.098", f.turbulence);
    sea.row("peak pressure, kN/m²", "1.658", f.peak / 1000.0);
    let mut town = Page::new(
        topic,
        "A worked sheet to EN 1991-1-4: 26 m/s, category IV, 9 m, which is below its least height of 10 m",
        Seen::Confirmed,
    );
    let f = site(26.0, "IV").at(9.0);
    town.row("k_r", "0.234", f.terrain_factor);
    town.row("c_r", "0.54", f.roughness_factor);
    town.row("turbulence", "0.434", f.turbulence);
    town.off("exposure", "1.18", f.exposure, 0.005, "1.176");
    town.row("peak pressure, kN/m²", "0.497", f.peak / 1000.0);

    let mut anchors = Page::new(
        topic,
        "EN 1992-4, concrete cone of one anchor, k1 √fck hef^1.5, kN; formula read, k1 from memory",
        Seen::Memory,
    );
    for (fck, depth, printed) in
        [(25.0, 100.0, ["38.5", "44.5", "55.0", "63.5"]), (30.0, 125.0, ["58.94", "68.13", "84.20", "97.21"])]
    {
        for (k, printed) in printed.into_iter().enumerate() {
            let (headed, cracked) = (k % 2 == 1, k < 2);
            let edges = [[f64::NEG_INFINITY, f64::INFINITY]; 2];
            let concrete = Concrete { fck, cracked, headed, depth, dense: false, edges };
            let name = format!(
                "fck {fck}, {depth} mm, {}, {}",
                if headed { "headed" } else { "post-installed" },
                if cracked { "cracked" } else { "uncracked" }
            );
            anchors.row(name, printed, concrete.single(depth) / 1000.0);
        }
    }
    let mut thin = Page::new(
        topic,
        "A worked example to EN 1992-4: depth that counts in a narrow member, mm",
        Seen::Confirmed,
    );
    thin.row("edge 250 mm away", "167", narrow(250.0, 0.0));
    vec![belgium, first, sea, town, anchors, thin]
}
