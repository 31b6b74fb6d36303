//! The chapter of the job book on what was found: worst first, what can hurt people before what only spoils sheet, and
//! many findings of one kind under one heading with one remedy.

use super::book_content::{Block, Chapter, Column, Grid, Line, Row};
use crate::finding::{Finding, Level, by_weight};

/// So many findings of one kind get a heading of their own.
const MANY: usize = 3;

/// Sign and word of a level: not told by colour alone.
fn level_sign(level: Level) -> (&'static str, &'static str) {
    match level {
        Level::Error => ("✕", "Error"),
        Level::Warning => ("▲", "Warning"),
        Level::Note => ("○", "Note"),
    }
}

/// What was found.
pub(super) fn chapter<'a>(findings: &[&Finding]) -> Chapter<'a> {
    let mut chapter = Chapter::new("findings", "Findings");
    if findings.is_empty() {
        chapter.text("Nothing was found that needs a word.");
        return chapter;
    }
    let rows = groups(findings).iter().flat_map(Group::rows).collect();
    chapter.blocks.push(Block::Grid(Grid {
        shows: vec!["findings".to_owned()],
        class: "findings",
        columns: vec![Column::words("Level"), Column::words("Where"), Column::words("What, and what to do")],
        rows,
    }));
    chapter
}

/// Findings of one kind, with the words that they share.
struct Group<'f> {
    shared: &'f str,
    findings: Vec<&'f Finding>,
}

/// Both sides of a message's first colon; nothing on the left where there is none.
fn sides(finding: &Finding) -> [&str; 2] {
    finding.message.split_once(": ").map_or(["", finding.message.as_str()], |(front, tail)| [front, tail])
}

/// Worst first, then what can hurt, else as they came; those of one level, code and remedy together where they are many.
fn groups<'f>(findings: &[&'f Finding]) -> Vec<Group<'f>> {
    let mut left = by_weight(findings.iter().copied());
    let mut groups = Vec::new();
    while let Some(&first) = left.first() {
        let alike = |f: &Finding| (f.level, &f.code, &f.remedy) == (first.level, &first.code, &first.remedy);
        // What stands after the colon may be shared, or else what stands before it.
        let [front, tail] = sides(first);
        let count =
            |side: usize, words: &str| left.iter().filter(|f| alike(f) && sides(f)[side] == words).count();
        let shared = match (count(1, tail), count(0, front)) {
            (many, _) if many >= MANY && !front.is_empty() => Some((1, tail)),
            (_, many) if many >= MANY => Some((0, front)),
            _ => None,
        };
        let (own, rest): (Vec<&Finding>, Vec<&Finding>) = match shared {
            Some((side, words)) => left.iter().partition(|f| alike(f) && sides(f)[side] == words),
            None => (vec![first], left[1..].to_vec()),
        };
        groups.push(Group { shared: shared.map_or("", |(_, words)| words), findings: own });
        left = rest;
    }
    groups
}

impl Group<'_> {
    fn rows<'a>(&self) -> Vec<Row<'a>> {
        let Some(first) = self.findings.first() else { return Vec::new() };
        let (sign, word) = level_sign(first.level);
        let level = Line::new().bold(format!("{sign}\u{a0}{word}"));
        let remedy = format!("→ {}", first.remedy);
        if self.findings.len() == 1 {
            let what = Line::from(first.message.as_str()).br().small(remedy);
            return vec![Row::body(vec![level, first.place.as_str().into(), what])];
        }
        let places = Line::new().bold(format!("{} places", self.findings.len()));
        let what = match self.shared {
            "" => Line::new().small(remedy),
            words => Line::new().bold(words).br().small(remedy),
        };
        let mut rows = vec![Row::body(vec![level, places, what])];
        rows.extend(self.findings.iter().map(|f| {
            let own = match sides(f) {
                ["", whole] => whole,
                [front, tail] if tail == self.shared => front,
                [front, tail] if front == self.shared => tail,
                _ => f.message.as_str(),
            };
            Row::body(vec![Line::from(sign), f.place.as_str().into(), own.into()])
        }));
        rows
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn finding(level: Level, code: &str, place: &str, message: &str) -> Finding {
        Finding::new(level, code, place, message, format!("mend {code}"))
    }

    #[test]
    fn what_can_hurt_comes_first_and_many_of_a_kind_share_heading_and_remedy() {
        let mut all = vec![finding(Level::Error, "open", "A", "not closed")];
        for k in 0..5 {
            all.push(finding(Level::Warning, "edge", &format!("A/side{k}"), &format!("bends {k}: too near")));
        }
        for k in 0..3 {
            all.push(finding(Level::Warning, "narrow", &format!("A/n{k}"), &format!("too narrow: neck {k}")));
        }
        all.push(finding(Level::Warning, "wind-topples", "Slack Tide", "wind tips it: by far"));
        for k in 0..2 {
            all.push(finding(Level::Note, "few", &format!("A/f{k}"), "one of two: said"));
        }
        let all: Vec<&Finding> = all.iter().collect();
        let groups = groups(&all);
        let told: Vec<(&str, usize, &str)> =
            groups.iter().map(|g| (g.findings[0].code.as_str(), g.findings.len(), g.shared)).collect();
        let expected = [
            ("open", 1, ""),
            ("wind-topples", 1, ""),
            ("edge", 5, "too near"),
            ("narrow", 3, "too narrow"),
            ("few", 1, ""),
            ("few", 1, ""),
        ];
        assert_eq!(told, expected);
        let page = crate::export::book_html::chapter_html(&chapter(&all));
        assert_eq!(page.matches("mend edge").count(), 1, "one remedy for five");
        assert_eq!(page.matches("too near").count(), 1, "one heading for five");
        for text in ["bends 4", "neck 2", "A/<wbr>side3"] {
            assert!(page.contains(text), "{text}: {page}");
        }
    }
}
