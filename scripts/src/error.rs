//! The error of a script: file, line, column, the fact, and what to do.

use crate::session::word_at;
use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use ribwright_kernel::element::planes::is_unseen;
use std::borrow::Cow;
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

/// A place in a script or module.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Frame {
    /// The file as it was given, or the name of a shipped recipe.
    pub file: String,
    /// Line, from 1; 0 if the error is about the file as a whole.
    pub line: usize,
    /// Column in characters, from 1; 0 if the error is about the file as a whole.
    pub column: usize,
    /// Byte range of the word at that place within `source`.
    pub span: Range<usize>,
    /// The whole text of the file; empty if it could not be read.
    pub source: Arc<str>,
}

/// What went wrong in a script, for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScriptError {
    inside: Box<Inside>,
}

/// What an error holds; boxed, so that results stay small.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Inside {
    message: String,
    remedy: Option<String>,
    place: Frame,
    called_from: Vec<Frame>,
    printed: Vec<String>,
}

impl ScriptError {
    pub(crate) fn new(message: impl Into<String>, place: Frame) -> Self {
        let (called_from, printed) = (Vec::new(), Vec::new());
        let message = in_signs(&message.into()).into_owned();
        Self { inside: Box::new(Inside { message, remedy: None, place, called_from, printed }) }
    }

    pub(crate) fn with_remedy(mut self, remedy: Option<String>) -> Self {
        self.inside.remedy = remedy;
        self
    }

    pub(crate) fn with_callers(mut self, callers: Vec<Frame>) -> Self {
        self.inside.called_from = callers;
        self
    }

    pub(crate) fn with_printed(mut self, printed: Vec<String>) -> Self {
        self.inside.printed = printed;
        self
    }

    /// What is wrong, with the value and its bound; lower case, no final stop.
    pub fn message(&self) -> &str {
        &self.inside.message
    }

    /// What to do about it.
    pub fn remedy(&self) -> Option<&str> {
        self.inside.remedy.as_deref()
    }

    /// Where it is.
    pub fn place(&self) -> &Frame {
        &self.inside.place
    }

    /// The file it is in.
    pub fn file(&self) -> &str {
        &self.inside.place.file
    }

    /// The line, from 1; 0 if it is about the file as a whole.
    pub fn line(&self) -> usize {
        self.inside.place.line
    }

    /// The column in characters, from 1; 0 if it is about the file as a whole.
    pub fn column(&self) -> usize {
        self.inside.place.column
    }

    /// The calls that led there, innermost first; empty for an error in the script itself.
    pub fn called_from(&self) -> &[Frame] {
        &self.inside.called_from
    }

    /// What the script had printed before.
    pub fn printed(&self) -> &[String] {
        &self.inside.printed
    }

    /// The error with its source line and a marker under the word, in colour or plain.
    pub fn render(&self, color: bool) -> String {
        let mut report =
            Level::ERROR.primary_title(&self.inside.message).elements(self.inside.place.snippet(true));
        for frame in &self.inside.called_from {
            report = report.elements(frame.snippet(false));
        }
        if let Some(remedy) = &self.inside.remedy {
            report = report.element(Level::HELP.message(remedy));
        }
        let renderer = if color { Renderer::styled() } else { Renderer::plain() };
        let mut text = renderer.decor_style(DecorStyle::Ascii).render(&[report]);
        if self.inside.place.source.is_empty() {
            text = format!("{text}\n --> {}", self.inside.place.file);
        }
        text
    }
}

/// A text with characters that a terminal acts upon, or that hide and turn round what stands beside them, written out: a
/// recipe may be anybody's.
pub(crate) fn in_signs(text: &str) -> Cow<'_, str> {
    let acts = |c: char| (c.is_control() && !matches!(c, '\n' | '\t')) || is_unseen(c);
    if !text.contains(acts) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(text.chars().fold(String::new(), |mut said, c| {
        if acts(c) {
            said.extend(c.escape_unicode())
        } else {
            said.push(c)
        }
        said
    }))
}

impl Frame {
    /// The place at a line and column, both from 1, of a text.
    pub(crate) fn at(file: &str, text: &str, line: usize, column: usize) -> Self {
        Self::within(file, Arc::from(text), line, column)
    }

    /// The same of a text that is shared. Behind the last line end there is no line that could be shown: the end of the
    /// last line is meant.
    pub(crate) fn within(file: &str, source: Arc<str>, line: usize, column: usize) -> Self {
        let lines = source.lines().count().max(1);
        let (line, column) = if line > lines {
            (lines, 1 + source.lines().last().map_or(0, |last| last.chars().count()))
        } else {
            (line.max(1), column.max(1))
        };
        let span = word_at(&source, line, column);
        Self { file: file.to_owned(), line, column, span, source }
    }

    /// The place of an error about a file as a whole.
    pub(crate) fn file(file: impl Into<String>) -> Self {
        Self { file: file.into(), line: 0, column: 0, span: 0..0, source: Arc::from("") }
    }

    fn snippet(&self, primary: bool) -> Option<Snippet<'_, annotate_snippets::Annotation<'_>>> {
        if self.source.is_empty() {
            return None;
        }
        let kind = if primary { AnnotationKind::Primary } else { AnnotationKind::Context };
        let mark = kind.span(self.span.clone());
        let mark = if primary { mark } else { mark.label("called from here") };
        Some(Snippet::source(&*self.source).path(&*self.file).annotation(mark))
    }
}

impl fmt::Display for ScriptError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.inside.place.file)?;
        if self.inside.place.line > 0 {
            write!(f, ":{}:{}", self.inside.place.line, self.inside.place.column)?;
        }
        write!(f, ": {}", self.inside.message)?;
        if let Some(remedy) = &self.inside.remedy {
            write!(f, "; {remedy}")?;
        }
        Ok(())
    }
}

impl std::error::Error for ScriptError {}
