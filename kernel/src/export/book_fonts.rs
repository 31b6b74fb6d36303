//! The letters of the job book: Liberation Sans, whose widths are those of the fonts a browser takes for the book too.
//! (Licence of the fonts: SIL Open Font License 1.1, `fonts/LICENSE.txt`.)
//!
//! What the PDF file uses of them is embedded as a subset (ISO 32000-1, 9.7, composite fonts): a character's code is its
//! glyph's number in the whole font, so that pages can be written before the subset is known.

use crate::error::{Error, Result};
use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Finish, Name, Pdf, Rect, Ref, Str};
use std::collections::BTreeMap;
use std::sync::LazyLock;
use subsetter::GlyphRemapper;
use ttf_parser::Face;

/// Which of the two.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Weight {
    Regular,
    Bold,
}

/// Both, with their names among a page's resources.
pub(super) const WEIGHTS: [(Weight, Name<'static>); 2] =
    [(Weight::Regular, Name(b"R")), (Weight::Bold, Name(b"B"))];

/// Characters looked up once: all below this; the others are looked up in the font.
const KNOWN: u32 = 0x2700;

struct Font {
    data: &'static [u8],
    face: Face<'static>,
    /// Glyph and width, in units of the font, of the first characters.
    known: Vec<(u16, u16)>,
    units: f64,
}

impl Font {
    fn new(data: &'static [u8]) -> Self {
        #[allow(clippy::expect_used, reason = "the font is part of the program, and a test reads it")]
        let face = Face::parse(data, 0).expect("the shipped font can be read");
        let known = (0..KNOWN).map(|c| char::from_u32(c).map_or((0, 0), |c| looked_up(&face, c))).collect();
        let units = f64::from(face.units_per_em());
        Self { data, face, known, units }
    }

    fn glyph(&self, c: char) -> (u16, u16) {
        self.known.get(c as usize).copied().unwrap_or_else(|| looked_up(&self.face, c))
    }
}

/// Glyph and width of a character; a box with its width for one that the font lacks.
fn looked_up(face: &Face<'_>, c: char) -> (u16, u16) {
    let id = face.glyph_index(c).unwrap_or_default();
    (id.0, face.glyph_hor_advance(id).unwrap_or(0))
}

static REGULAR: LazyLock<Font> =
    LazyLock::new(|| Font::new(include_bytes!("fonts/LiberationSans-Regular.ttf")));
static BOLD: LazyLock<Font> = LazyLock::new(|| Font::new(include_bytes!("fonts/LiberationSans-Bold.ttf")));

fn font(weight: Weight) -> &'static Font {
    match weight {
        Weight::Regular => &REGULAR,
        Weight::Bold => &BOLD,
    }
}

/// Characters that the font lacks, and what stands for them.
fn stand_in(c: char) -> char {
    match c {
        '✕' | '✗' | '╳' => '×',
        '⌀' => 'Ø',
        '\u{2011}' | '\u{2010}' => '-',
        '\u{202f}' | '\u{2009}' | '\u{2007}' => '\u{a0}',
        _ => c,
    }
}

/// Width of a text, in shares of the size of its letters.
pub(super) fn width(text: &str, weight: Weight) -> f64 {
    let font = font(weight);
    text.chars().map(|c| f64::from(font.glyph(stand_in(c)).1)).sum::<f64>() / font.units
}

/// The glyphs that pages of a file use: for each glyph of both fonts the character it stands for, or none.
#[derive(Default, Clone)]
pub(super) struct Used([Vec<Option<char>>; 2]);

impl Used {
    fn mark(&mut self, weight: Weight, glyph: u16, c: char) {
        let used = &mut self.0[weight as usize];
        let at = usize::from(glyph);
        if used.len() <= at {
            used.resize(at + 1, None);
        }
        used[at].get_or_insert(c);
    }

    /// The codes of a text.
    pub(super) fn codes(&mut self, text: &str, weight: Weight) -> Vec<u8> {
        let font = font(weight);
        let mut codes = Vec::with_capacity(2 * text.len());
        for c in text.chars() {
            let c = stand_in(c);
            let (id, _) = font.glyph(c);
            self.mark(weight, id, c);
            codes.extend(id.to_be_bytes());
        }
        codes
    }

    /// All of these pages.
    pub(super) fn merge(&mut self, other: &Self) {
        for (weight, _) in WEIGHTS {
            for (glyph, c) in other.glyphs(weight) {
                self.mark(weight, glyph, c);
            }
        }
    }

    fn glyphs(&self, weight: Weight) -> impl Iterator<Item = (u16, char)> + '_ {
        let used = self.0[weight as usize].iter().enumerate();
        used.filter_map(|(glyph, c)| Some((u16::try_from(glyph).ok()?, (*c)?)))
    }

    /// Writes both fonts, whose numbers are given, with what they need.
    pub(super) fn write(
        &self,
        pdf: &mut Pdf,
        fonts: [Ref; 2],
        mut next: impl FnMut() -> Ref,
        packed: impl Fn(&[u8]) -> Vec<u8>,
    ) -> Result<()> {
        for ((weight, _), id) in WEIGHTS.into_iter().zip(fonts) {
            let font = font(weight);
            let used: BTreeMap<u16, char> = self.glyphs(weight).collect();
            let mut mapper = GlyphRemapper::new();
            used.keys().for_each(|&glyph| {
                mapper.remap(glyph);
            });
            let subset = subsetter::subset(font.data, 0, &mapper)
                .map_err(|e| Error::bug(format!("the shipped font cannot be cut down: {e}")))?;
            let name: &[u8] = match weight {
                Weight::Regular => b"RIBWRI+LiberationSans",
                Weight::Bold => b"RIBWRI+LiberationSans-Bold",
            };
            let [cid, descriptor, file, map, unicode] = std::array::from_fn(|_| next());
            let info = SystemInfo { registry: Str(b"Adobe"), ordering: Str(b"Identity"), supplement: 0 };
            pdf.type0_font(id)
                .base_font(Name(name))
                .encoding_predefined(Name(b"Identity-H"))
                .descendant_font(cid)
                .to_unicode(unicode);
            #[allow(clippy::cast_possible_truncation, reason = "a thousand units")]
            let thousandth = |x: f64| (x * 1000.0 / font.units) as f32;
            let mut described = pdf.cid_font(cid);
            described.subtype(CidFontType::Type2).base_font(Name(name)).system_info(info);
            described.font_descriptor(descriptor).default_width(0.0).cid_to_gid_map_stream(map);
            let mut widths = described.widths();
            for (&glyph, &c) in &used {
                widths.same(glyph, glyph, thousandth(f64::from(font.glyph(c).1)));
            }
            widths.finish();
            described.finish();
            let face = &font.face;
            let bounds = face.global_bounding_box();
            let [left, low, right, high] =
                [bounds.x_min, bounds.y_min, bounds.x_max, bounds.y_max].map(|x| thousandth(f64::from(x)));
            pdf.font_descriptor(descriptor)
                .name(Name(name))
                .flags(FontFlags::NON_SYMBOLIC)
                .bbox(Rect::new(left, low, right, high))
                .italic_angle(0.0)
                .ascent(thousandth(f64::from(face.ascender())))
                .descent(thousandth(f64::from(face.descender())))
                .cap_height(thousandth(f64::from(face.capital_height().unwrap_or(1409))))
                .stem_v(if weight == Weight::Bold { 140.0 } else { 85.0 })
                .font_file2(file);
            pdf.stream(file, &packed(&subset)).filter(pdf_writer::Filter::FlateDecode).pair(
                Name(b"Length1"),
                i32::try_from(subset.len()).map_err(|_| Error::bug("a font beyond 2 GB"))?,
            );
            let most = used.keys().next_back().copied().unwrap_or(0);
            let to_subset: Vec<u8> =
                (0..=most).flat_map(|glyph| mapper.get(glyph).unwrap_or(0).to_be_bytes()).collect();
            pdf.stream(map, &packed(&to_subset)).filter(pdf_writer::Filter::FlateDecode);
            let mut words = UnicodeCmap::new(Name(b"ribwright"), info);
            used.iter().for_each(|(&glyph, &c)| words.pair(glyph, c));
            pdf.stream(unicode, &packed(&words.finish())).filter(pdf_writer::Filter::FlateDecode);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fonts_can_be_read_and_have_what_books_use() {
        // Widths of Helvetica and Arial, in thousandths: published in the AFM files of the standard 14 fonts.
        for (c, regular, bold) in [('a', 556, 556), ('i', 222, 278), ('W', 944, 944), ('0', 556, 556)] {
            for (weight, figure) in [(Weight::Regular, regular), (Weight::Bold, bold)] {
                let found = width(&c.to_string(), weight) * 1000.0;
                assert!((found - f64::from(figure)).abs() < 1.0, "{c}: {found}, not {figure}");
            }
        }
        for c in "äß°±×²³µ·–→≥≤▲○✕Ωφσψ√Łő".chars() {
            assert_ne!(font(Weight::Regular).glyph(stand_in(c)).0, 0, "{c}");
        }
    }
}
