//! Grades of preparation (ISO 8501-1), of rust, and of the profile that blasting leaves (ISO 8503-1), with what they take.
//!
//! Words of the grades are the standard's, from memory. Segments of the comparators: ISO 8503-1 as published in
//! instructions of surface comparators; that medium and coarse leave out their upper segment is from memory.

/// A grade of preparation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Preparation {
    /// `Sa 2½`.
    pub name: &'static str,
    /// What the surface looks like then, in short.
    pub looks: &'static str,
    /// Whether it is blasted; else cleaned by hand and power tools.
    pub blasted: bool,
    /// m² in an hour, common practice, no source.
    pub rate: f64,
    /// Abrasive thrown, kg/m², common practice, no source; 0 for tools.
    pub abrasive: f64,
}

const fn grade(
    name: &'static str,
    looks: &'static str,
    blasted: bool,
    rate: f64,
    abrasive: f64,
) -> Preparation {
    Preparation { name, looks, blasted, rate, abrasive }
}

/// Grades of preparation, least first.
pub const PREPARATIONS: [Preparation; 6] = [
    grade("St 2", "hand and power tools, thorough: loose scale, rust and paint are off", false, 6.0, 0.0),
    grade("St 3", "hand and power tools, very thorough: a metallic sheen", false, 3.0, 0.0),
    grade("Sa 1", "light blast: loose scale, rust and paint are off", true, 25.0, 10.0),
    grade("Sa 2", "thorough blast: most scale and rust are off, what stays sticks", true, 14.0, 20.0),
    grade(
        "Sa 2½",
        "very thorough blast: what stays shows as slight stains in spots or stripes only",
        true,
        9.0,
        30.0,
    ),
    grade("Sa 3", "blast to visually clean steel: an even metallic colour", true, 6.0, 45.0),
];

/// Words for [`PREPARATIONS`] that a setting takes; a keyboard may have no ½.
pub const PREPARATION_WORDS: [&str; 7] = ["St 2", "St 3", "Sa 1", "Sa 2", "Sa 2½", "Sa 2.5", "Sa 3"];

/// The grade of a word of [`PREPARATION_WORDS`]; others give Sa 2½.
pub fn preparation(word: &str) -> &'static Preparation {
    let word = if word == "Sa 2.5" { "Sa 2½" } else { word };
    PREPARATIONS.iter().find(|p| p.name == word).unwrap_or(&PREPARATIONS[4])
}

/// Rust grades of steel before preparation (ISO 8501-1), word and look.
pub const RUST: [(&str, &str); 4] = [
    ("A", "mill scale that sticks, little if any rust"),
    ("B", "rust has begun, mill scale begins to flake"),
    ("C", "mill scale rusted away or easily scraped off, slight pits"),
    ("D", "mill scale rusted away, pits all over"),
];

/// Words of [`RUST`].
pub const RUST_WORDS: [&str; 4] = ["A", "B", "C", "D"];

/// Kinds of abrasive, which have comparators of their own.
pub const ABRASIVES: [&str; 2] = ["grit", "shot"];
/// Grades of profile.
pub const PROFILES: [&str; 3] = ["fine", "medium", "coarse"];

/// Heights of the four segments of a comparator, µm: of grit, or of shot.
pub fn segments(abrasive: &str) -> [f64; 4] {
    if abrasive == "shot" { [25.0, 40.0, 70.0, 100.0] } else { [25.0, 60.0, 100.0, 150.0] }
}

/// Least and greatest height of a grade of profile, µm.
pub fn heights(abrasive: &str, profile: &str) -> [f64; 2] {
    let at = PROFILES.iter().position(|p| *p == profile).unwrap_or(1);
    let all = segments(abrasive);
    [all[at], all[at + 1]]
}

/// The grade of a profile of this height, µm.
pub fn grade_of(abrasive: &str, height: f64) -> &'static str {
    let all = segments(abrasive);
    match all.iter().filter(|s| height >= **s).count() {
        0 => "finer than fine",
        4 => "coarser than coarse",
        n => PROFILES[n - 1],
    }
}

/// Whether the comparator is made for a grade of preparation: Sa 2½ and Sa 3 only (ISO 8503-1).
pub fn comparator_applies(preparation: &Preparation) -> bool {
    preparation.blasted && ["Sa 2½", "Sa 3"].contains(&preparation.name)
}
