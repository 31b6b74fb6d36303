//! Wind by height: the silhouette the worst wind sees, the pressure beside it, and the force of every strip.

use crate::balance::Balance;
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::silhouette::Silhouettes;
use crate::wind::Wind;
use crate::work::Work;

/// Height of letters as a share of the work.
const LETTERS: f64 = 1.0 / 40.0;
/// Width of the longest bar as a share of the work's height.
const BAR: f64 = 0.6;

pub(super) fn by_height(work: &Work, balance: &Balance, wind: &Wind) -> Drawing {
    let worst = wind.worst().map(|w| w.0).or(wind.ways.first());
    let from = worst.map_or(0.0, |w| w.from);
    let mut drawing = Drawing {
        name: "wind-height".to_owned(),
        title: format!("Wind from {from:.1}°: what it sees, and the force on every strip"),
        ..Drawing::default()
    };
    for line in Silhouettes::new(&work.mesh).from(from).lines() {
        drawing.paths.push(Path::open(Layer::Seam, line));
    }
    let (Some([lo, hi]), Some(way)) = (drawing.bounds(), worst) else { return drawing };
    let size = (hi[1] - lo[1]).max(hi[0] - lo[0]);
    let letters = size * LETTERS;
    let most = way.strips.iter().map(|s| s.force).fold(0.0, f64::max);
    let start = hi[0] + 3.0 * letters;
    for s in &way.strips {
        let [z0, z1] = s.strip.z;
        drawing.paths.push(Path::open(Layer::Helper, vec![[lo[0] - letters, z1], [start, z1]]));
        if most > 0.0 {
            let end = start + size * BAR * s.force / most;
            drawing
                .paths
                .push(Path::closed(Layer::Fold, vec![[start, z0], [end, z0], [end, z1], [start, z1]]));
            let middle = f64::midpoint(z0, z1) - letters * 0.4;
            let words = format!("{:.0} N, {:.0} N/m²", s.force, s.pressure);
            let at = [end + letters * 0.6, middle];
            // A last sliver of a strip has no room for words.
            if z1 - z0 > letters * 1.2 {
                drawing.labels.push(Label {
                    at,
                    height: letters * 0.8,
                    angle: 0.0,
                    centred: false,
                    text: words,
                });
            }
        }
    }
    let foot = balance.lowest;
    drawing
        .paths
        .push(Path::open(Layer::Helper, vec![[lo[0] - 3.0 * letters, foot], [start + size * BAR, foot]]));
    let end = lo[0] - letters;
    let z = way.height;
    drawing.paths.push(Path::open(Layer::Cut, vec![[end - size * 0.2, z], [end, z]]));
    for side in [-1.0, 1.0] {
        drawing.paths.push(Path::open(Layer::Cut, vec![[end, z], [end - letters, z + side * letters * 0.5]]));
    }
    drawing.labels.push(Label {
        at: [end - size * 0.2, z + letters * 0.6],
        height: letters,
        angle: 0.0,
        centred: false,
        text: format!("{:.2} kN", way.force / 1000.0),
    });
    drawing
}
