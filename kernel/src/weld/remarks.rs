//! What a weld schedule has to say: one finding of a kind for the whole work, with the worst seams in it.

use super::assembly::Lump;
use super::practice::Practice;
use super::schedule::{Concern, Schedule, SeamWeld};
use super::tacks::Run;
use crate::finding::{Finding, Level};
use crate::work::Work;

/// How many seams or elements a finding names before it counts the others.
const NAMED: usize = 3;

/// Less than this of a seam is no reason for a word, mm: about a tack, and any welder manages it.
const SHORT: f64 = 10.0;

/// All findings about the welds of a work.
pub fn remarks(work: &Work, schedule: &Schedule) -> Vec<Finding> {
    let teller = Teller { work, schedule };
    let mut found: Vec<Finding> =
        [teller.acute(), teller.steep(), teller.unfused(), teller.lost(), teller.narrow(), teller.loose()]
            .into_iter()
            .flatten()
            .collect();
    found.extend(teller.stitches());
    found.extend(teller.hollow());
    found.extend(teller.care());
    found
}

struct Teller<'a> {
    work: &'a Work,
    schedule: &'a Schedule,
}

impl Teller<'_> {
    fn practice(&self) -> &Practice {
        &self.schedule.practice
    }

    fn finding(&self, level: Level, code: &str, message: String, remedy: &str) -> Finding {
        Finding::new(level, code, self.work.sculpture.name.as_str(), message, remedy)
    }

    /// Seams with so much of a concern, worst first, in words, and how much it is in all, mm.
    fn worst(
        &self,
        of: impl Fn(&Concern) -> f64,
        say: impl Fn(&SeamWeld) -> String,
    ) -> Option<(String, f64)> {
        let mut seams: Vec<(f64, &SeamWeld)> = self
            .schedule
            .seams
            .iter()
            .map(|s| (of(&s.concern), s))
            .filter(|(length, _)| *length >= SHORT)
            .collect();
        seams.sort_by(|a, b| b.0.total_cmp(&a.0));
        let total = seams.iter().map(|(length, _)| length).sum();
        let names: Vec<String> = seams.iter().map(|(_, s)| say(s)).collect();
        (!names.is_empty()).then(|| (few(&names), total))
    }

    fn id(&self, seam: &SeamWeld) -> String {
        self.work.seams[seam.seam].id.clone()
    }

    fn acute(&self) -> Option<Finding> {
        let say = |s: &SeamWeld| {
            let at = s.concern.narrowest.unwrap_or_default();
            format!("{} ({}, down to {at:.0}°)", self.id(s), metres(s.concern.acute))
        };
        let (names, total) = self.worst(|c| c.acute, say)?;
        let message = format!(
            "{} of seam are too acute to reach into: less than {}° before the torch; worst {names}",
            metres(total),
            self.practice().reach
        );
        let remedy = "weld these places from the other side (`inside_seams`), with a thin tungsten torch, or close \
                      them with a strip (joint \"mitre\"); the limit is `reach`";
        Some(self.finding(Level::Warning, "weld-acute", message, remedy))
    }

    fn steep(&self) -> Option<Finding> {
        let say = |s: &SeamWeld| format!("{} ({:.0}°)", self.id(s), s.bevel.map_or(0.0, |b| b.most));
        let (names, total) = self.worst(|c| c.steep, say)?;
        let limit = self.practice().bevel_limit;
        let message = format!("{} of seam ask for a bevel above {limit}°; worst {names}", metres(total));
        let remedy = "cut these seams square (`bevel: false`) and fill the groove, or grind the bevel by hand; the \
                      limit is `bevel_limit`";
        Some(self.finding(Level::Warning, "weld-bevel", message, remedy))
    }

    fn unfused(&self) -> Option<Finding> {
        let say = |s: &SeamWeld| format!("{} ({})", self.id(s), metres(s.concern.unfused));
        let (names, total) = self.worst(|c| c.unfused, say)?;
        let p = self.practice();
        let message = format!(
            "{} of seam in sheet above {} mm have a groove of less than {}° and are welded from one side: such a \
             weld may not go through; worst {names}",
            metres(total),
            p.square_limit,
            p.groove_least
        );
        let remedy = "grind a groove, leave a wider root gap (`gap`), or weld from both sides";
        Some(self.finding(Level::Warning, "weld-through", message, remedy))
    }

    fn lost(&self) -> Option<Finding> {
        let schedule = self.schedule;
        let lost = |l: &Lump| {
            let bonds: Vec<_> = l.lost.iter().map(|&b| &schedule.bonds.bonds[b]).collect();
            let required = bonds.iter().any(|b| b.required);
            let length: f64 = bonds.iter().map(|b| b.length).sum();
            let part = &self.work.parts[l.closing].id;
            (length >= SHORT).then(|| (required, format!("{} along {part}", metres(length))))
        };
        let all: Vec<_> = schedule.order.lumps.iter().filter_map(lost).collect();
        if all.is_empty() {
            return None;
        }
        let required = all.iter().any(|(required, _)| *required);
        let names: Vec<String> = all.into_iter().map(|(_, name)| name).collect();
        let message = format!(
            "the part that closes an element can be welded from outside only, though the inside was asked for: {}",
            few(&names)
        );
        let (level, remedy) = if required {
            (
                Level::Warning,
                "take seams of one part of the element out of `inside_seams`, so that it can close it",
            )
        } else {
            (Level::Note, "weld these seams from outside; nothing else is possible without a hatch")
        };
        Some(self.finding(level, "weld-closing", message, remedy))
    }

    fn narrow(&self) -> Option<Finding> {
        let lumps = self.schedule.order.lumps.iter().filter(|l| l.narrow && !l.inside_first.is_empty());
        let names: Vec<String> = lumps.map(|l| self.work.parts[l.closing].id.clone()).collect();
        if names.is_empty() {
            return None;
        }
        let message = format!(
            "no part leaves an opening of {} mm to weld in through; the widest there is: {}",
            self.practice().opening,
            few(&names)
        );
        let remedy = "weld these elements from outside, or tack two parts together and set them last as one";
        Some(self.finding(Level::Warning, "weld-opening", message, remedy))
    }

    fn loose(&self) -> Option<Finding> {
        let of = |(seam, k): &(usize, usize)| self.work.seams[*seam].segments[*k].length();
        let length: f64 = self.schedule.bonds.loose.iter().map(of).sum();
        if length < SHORT {
            return None;
        }
        let mut names: Vec<String> =
            self.schedule.bonds.loose.iter().map(|(seam, _)| self.work.seams[*seam].id.clone()).collect();
        names.dedup();
        let message = format!("{} of seam have no part on one side: {}", metres(length), few(&names));
        let remedy = "nothing to weld there; look at the findings about slivers and parts left out";
        Some(self.finding(Level::Note, "weld-loose", message, remedy))
    }

    fn stitches(&self) -> Option<Finding> {
        let Run::Stitch { length, pitch } = self.practice().run else { return None };
        let message = format!(
            "stitches of {length} mm every {pitch} mm leave crevices where water stands; weathering steel does not \
             form its skin there and rusts on"
        );
        let remedy = "weld seams that see the weather all along (`run: \"continuous\"`), or seal them, and let the \
                      inside drain and breathe";
        Some(self.finding(Level::Warning, "weld-crevice", message, remedy))
    }

    fn hollow(&self) -> Option<Finding> {
        let say = |s: &SeamWeld| format!("{} ({})", self.id(s), metres(s.concern.hollow));
        let (names, total) = self.worst(|c| c.hollow, say)?;
        let message = format!(
            "{} of seam lie in hollows (above 180° inside): there square-cut sheets touch with their outside skins, \
             gape inside and take a fillet outside; most of it {names}",
            metres(total)
        );
        Some(self.finding(
            Level::Note,
            "weld-hollow",
            message,
            "expect the gap on the inside; fit by the outside skin",
        ))
    }

    fn care(&self) -> Option<Finding> {
        if self.schedule.seams.is_empty() {
            return None;
        }
        let message = "weld figures are a preliminary plan: sections, times and the order of assembly come from the \
                       drawn shape and the shop's own settings, not from a welding procedure";
        let remedy = "have seams that carry load designed and inspected, and welded by qualified welders to a \
                      procedure (ISO 9606-1, ISO 15614-1 or the local code); use filler that weathers like the \
                      sheet; extract fume (manganese, chromium, nickel, copper); strip zinc and old paint from \
                      salvaged sheet before heat; vent closed elements";
        Some(self.finding(Level::Note, "weld-care", message.to_owned(), remedy))
    }
}

fn metres(length: f64) -> String {
    if length < 1000.0 { format!("{length:.0} mm") } else { format!("{:.1} m", length / 1000.0) }
}

/// The first few names, and how many more there are.
fn few(names: &[String]) -> String {
    let mut text = names[..names.len().min(NAMED)].join(", ");
    if names.len() > NAMED {
        text.push_str(&format!(" and {} more", names.len() - NAMED));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_list_is_cut_and_counted() {
        let names: Vec<String> = ["a", "b", "c", "d", "e"].map(str::to_owned).to_vec();
        assert_eq!(few(&names), "a, b, c and 2 more");
        assert_eq!(few(&names[..3]), "a, b, c");
        assert_eq!([metres(999.0), metres(1250.0)], ["999 mm", "1.2 m"]);
    }
}
