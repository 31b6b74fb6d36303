//! Measuring: tests of readings, adjusted figures.

use crate::row::{Page, Seen};
use ribwright_kernel::adjust::{Leg, Network, critical_w, least_shift, smallest_noncentrality};

pub(crate) fn pages() -> Vec<Page> {
    let topic = "Measuring";
    let mut baarda =
        Page::new(topic, "Baarda 1968: critical value, least shift found, non-centrality", Seen::Memory);
    baarda.row("α 0.001: k", "3.29", critical_w(0.001));
    baarda.row("α 0.001, β 0.80: δ0", "4.13", least_shift(0.001, 0.8));
    baarda.row("α 0.001, β 0.80: λ0", "17.075", smallest_noncentrality(0.001, 0.8));
    baarda.row("α 0.01: k", "2.5758", critical_w(0.01));
    baarda.row("α 0.05: k", "1.9600", critical_w(0.05));
    baarda.row("α 0.01, β 0.80: λ0", "11.679", smallest_noncentrality(0.01, 0.8));
    baarda.row("α 0.05, β 0.80: λ0", "7.8489", smallest_noncentrality(0.05, 0.8));

    // Points by their whole coordinates, worked out again from the six whole distances.
    let mut whole = Page::new(
        topic,
        "Tetrahedra with whole coordinates and whole edges (OEIS A272388, Fricke, Marshall and Perlis): volume",
        Seen::Confirmed,
    );
    let figures: [([[f64; 3]; 4], &str); 3] = [
        ([[0.0, 0.0, 0.0], [108.0, 36.0, 27.0], [84.0, 0.0, 0.0], [64.0, 48.0, 0.0]], "18144"),
        ([[0.0, 0.0, 0.0], [128.0, 96.0, 0.0], [108.0, 108.0, 9.0], [72.0, 96.0, 0.0]], "8064"),
        ([[0.0, 60.0, 0.0], [96.0, 180.0, 128.0], [15.0, 0.0, 20.0], [63.0, 144.0, 56.0]], "35280"),
    ];
    for (points, volume) in figures {
        let mut legs = Vec::new();
        for from in 0..4 {
            for to in from + 1..4 {
                let square: f64 = (0..3).map(|i| (points[from][i] - points[to][i]).powi(2)).sum();
                legs.push(Leg { from, to, length: square.sqrt().round(), deviation: 1.0 });
            }
        }
        let start = points.map(|p: [f64; 3]| [p[0] * 1.01 + 0.3, p[1] * 0.99, p[2] + 0.4]).to_vec();
        let fit =
            Network { dimension: 3, points: start, held: vec![false; 4], legs }.adjust().expect("a figure");
        let [a, b, c, d] = [0, 1, 2, 3].map(|k| nalgebra::Vector3::from(fit.points[k]));
        whole.row(
            format!(
                "longest edge {:.0}",
                (0..3).map(|i| (points[0][i] - points[1][i]).powi(2)).sum::<f64>().sqrt()
            ),
            volume,
            ((b - a).cross(&(c - a))).dot(&(d - a)).abs() / 6.0,
        );
    }
    vec![baarda, whole]
}
