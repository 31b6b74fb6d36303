//! Sizes of circular hollow sections that are made, by outside diameter and wall, mm.
//!
//! EN 10219-2 (cold formed), EN 10210-2 (hot finished) and ISO 1127 (stainless). The lists are from memory, but for
//! the sizes whose printed rows are tested in `section.rs`; a mill or stockist may hold fewer. Every figure
//! of a size is worked out, so none of them can be a misprint.

use super::section::Tube;

/// A list of sizes.
#[derive(Debug, Clone, Copy)]
pub struct Series {
    /// The word for it.
    pub name: &'static str,
    /// What it is.
    pub summary: &'static str,
    /// Outside diameter, mm, and the walls it is made with, mm.
    rows: &'static [(f64, &'static [f64])],
}

/// The series.
pub const SERIES: [Series; 3] = [
    Series {
        name: "cold",
        summary: "EN 10219-2, cold formed, structural steel",
        rows: &[
            (21.3, &[2.0, 2.5, 3.0]),
            (26.9, &[2.0, 2.5, 3.0]),
            (33.7, &[2.0, 2.5, 3.0]),
            (42.4, &[2.0, 2.5, 3.0, 4.0]),
            (48.3, &[2.0, 2.5, 3.0, 4.0, 5.0]),
            (60.3, &[2.0, 2.5, 3.0, 4.0, 5.0]),
            (76.1, &[2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 6.3]),
            (88.9, &[2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 6.3]),
            (101.6, &[2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 6.3]),
            (114.3, &[2.5, 3.0, 4.0, 5.0, 6.0, 6.3, 8.0]),
            (139.7, &[3.0, 4.0, 5.0, 6.0, 6.3, 8.0, 10.0]),
            (168.3, &[3.0, 4.0, 5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5]),
            (177.8, &[5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5]),
            (193.7, &[5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5]),
            (219.1, &[5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5]),
            (244.5, &[5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5]),
            (273.0, &[5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5]),
            (323.9, &[5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5]),
            (355.6, &[5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5, 16.0]),
            (406.4, &[6.0, 6.3, 8.0, 10.0, 12.0, 12.5, 16.0]),
        ],
    },
    Series {
        name: "hot",
        summary: "EN 10210-2, hot finished, structural steel",
        rows: &[
            (21.3, &[2.3, 2.6, 3.2]),
            (26.9, &[2.3, 2.6, 3.2]),
            (33.7, &[2.6, 3.2, 4.0]),
            (42.4, &[2.6, 3.2, 4.0]),
            (48.3, &[2.6, 3.2, 4.0, 5.0]),
            (60.3, &[2.6, 3.2, 4.0, 5.0]),
            (76.1, &[2.6, 3.2, 4.0, 5.0]),
            (88.9, &[3.2, 4.0, 5.0, 6.0, 6.3]),
            (101.6, &[3.2, 4.0, 5.0, 6.0, 6.3, 8.0, 10.0]),
            (114.3, &[3.2, 4.0, 5.0, 6.0, 6.3, 8.0, 10.0]),
            (139.7, &[4.0, 5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5]),
            (168.3, &[4.0, 5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5]),
            (177.8, &[5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5]),
            (193.7, &[5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5, 16.0]),
            (219.1, &[5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5, 16.0, 20.0]),
            (244.5, &[5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5, 16.0, 20.0, 25.0]),
            (273.0, &[5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5, 16.0, 20.0, 25.0]),
            (323.9, &[5.0, 6.0, 6.3, 8.0, 10.0, 12.0, 12.5, 16.0, 20.0, 25.0]),
            (355.6, &[6.0, 6.3, 8.0, 10.0, 12.0, 12.5, 16.0, 20.0, 25.0]),
            (406.4, &[6.0, 6.3, 8.0, 10.0, 12.0, 12.5, 16.0, 20.0, 25.0]),
        ],
    },
    Series {
        name: "stainless",
        summary: "ISO 1127, stainless steel",
        rows: &[
            (17.2, &[1.6, 2.0]),
            (21.3, &[1.6, 2.0, 2.6]),
            (26.9, &[1.6, 2.0, 2.6]),
            (33.7, &[1.6, 2.0, 2.6, 3.2]),
            (42.4, &[1.6, 2.0, 2.6, 3.2]),
            (48.3, &[1.6, 2.0, 2.6, 3.2]),
            (60.3, &[1.6, 2.0, 2.6, 3.2]),
            (76.1, &[1.6, 2.0, 2.6, 3.2]),
            (88.9, &[2.0, 2.6, 3.2]),
            (114.3, &[2.0, 2.6, 3.0, 3.2]),
            (139.7, &[2.0, 2.6, 3.0, 3.2]),
            (168.3, &[2.0, 2.6, 3.0, 3.2]),
            (219.1, &[2.0, 2.6, 3.0, 4.0]),
        ],
    },
];

impl Series {
    /// Its tubes, by diameter and then by wall.
    pub fn tubes(&self) -> impl Iterator<Item = Tube> + '_ {
        self.rows.iter().flat_map(|&(outside, walls)| walls.iter().map(move |&t| Tube::listed(outside, t)))
    }
}

/// The series of that name.
pub fn series_named(name: &str) -> Option<&'static Series> {
    SERIES.iter().find(|s| s.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_listed_size_is_possible_in_order_and_listed_once() {
        for series in &SERIES {
            let all: Vec<Tube> = series.tubes().collect();
            assert!(all.len() > 30, "{} has {} sizes", series.name, all.len());
            for t in &all {
                assert_eq!(Tube::new(t.outside(), t.wall()), Ok(*t), "{}", t.words());
            }
            for pair in all.windows(2) {
                let key = |t: &Tube| (t.outside(), t.wall());
                assert!(key(&pair[0]) < key(&pair[1]), "{} before {}", pair[0].words(), pair[1].words());
            }
        }
    }

    #[test]
    fn tested_rows_are_listed() {
        let has =
            |name: &str, d, t| series_named(name).expect("listed").tubes().any(|x| x == Tube::listed(d, t));
        assert!(has("hot", 33.7, 2.6) && has("cold", 88.9, 4.0) && has("cold", 101.6, 2.0));
        assert!(has("stainless", 17.2, 1.6) && has("stainless", 219.1, 3.0) && !has("stainless", 219.1, 1.6));
        assert!(series_named("lukewarm").is_none());
    }
}
