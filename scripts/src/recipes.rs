//! The shipped recipes: modules any script can import by name.

/// A shipped module.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Recipe {
    /// The name to import it by.
    pub name: &'static str,
    /// Its whole text.
    pub source: &'static str,
}

impl Recipe {
    /// One line on what it is for: the first `//!` line of its text.
    pub fn summary(&self) -> &'static str {
        self.source.lines().find_map(|line| line.strip_prefix("//! ")).unwrap_or("")
    }

    /// How to use it: the further `//!` lines of its text.
    pub fn help(&self) -> String {
        let lines: Vec<&str> = self
            .source
            .lines()
            .map_while(|line| line.strip_prefix("//!"))
            .map(|l| l.strip_prefix(' ').unwrap_or(l))
            .collect();
        lines.join("\n")
    }
}

/// All shipped recipes, by name.
pub fn recipes() -> &'static [Recipe] {
    RECIPES
}

const RECIPES: &[Recipe] = &[
    Recipe { name: "alternate_faces", source: include_str!("../recipes/alternate_faces.rhai") },
    Recipe { name: "boulder", source: include_str!("../recipes/boulder.rhai") },
    Recipe { name: "cantilever", source: include_str!("../recipes/cantilever.rhai") },
    Recipe { name: "chevron", source: include_str!("../recipes/chevron.rhai") },
    Recipe { name: "closed_floors", source: include_str!("../recipes/closed_floors.rhai") },
    Recipe { name: "cut_drum", source: include_str!("../recipes/cut_drum.rhai") },
    Recipe { name: "fallen", source: include_str!("../recipes/fallen.rhai") },
    Recipe { name: "fanned_ribs", source: include_str!("../recipes/fanned_ribs.rhai") },
    Recipe { name: "leaning_stack", source: include_str!("../recipes/leaning_stack.rhai") },
    Recipe { name: "ridge_mitres", source: include_str!("../recipes/ridge_mitres.rhai") },
    Recipe { name: "shard", source: include_str!("../recipes/shard.rhai") },
    Recipe { name: "split_boulder", source: include_str!("../recipes/split_boulder.rhai") },
    Recipe { name: "teeter", source: include_str!("../recipes/teeter.rhai") },
    Recipe { name: "tide_mark", source: include_str!("../recipes/tide_mark.rhai") },
    Recipe { name: "toppled_block", source: include_str!("../recipes/toppled_block.rhai") },
    Recipe { name: "twisted_stack", source: include_str!("../recipes/twisted_stack.rhai") },
    Recipe { name: "two_profiles", source: include_str!("../recipes/two_profiles.rhai") },
    Recipe { name: "wedge", source: include_str!("../recipes/wedge.rhai") },
    Recipe { name: "wrack_line", source: include_str!("../recipes/wrack_line.rhai") },
];
