//! The job book as one page for the browser: pictures are inline SVG, nothing is fetched.
//!
//! With scripts, the shell can be turned where the picture on the cover stands (`book_turn.js`); without, and in print,
//! the picture stands.

use super::book_content::{Block, Book, Chapter, Field, Grid, Line, Row, RowKind, Span};
use super::book_picture::Picture;
use super::web_page::{MADE_BY, web_page};
use base64::Engine as _;
use maud::{Markup, PreEscaped, html};
use rayon::prelude::*;

const STYLE: &str = include_str!("book.css");
const SCRIPT: &str = include_str!("book_turn.js");

/// Id of the contents.
const CONTENTS: &str = "contents";

/// The chapters after the cover, which decide what revision the book is of.
pub(super) fn chapters(book: &Book<'_>) -> Vec<String> {
    book.chapters.par_iter().map(chapter_html).collect()
}

/// The whole page. `model` is the shell as a GLB file, if there is one.
pub(super) fn page(book: &Book<'_>, chapters: &[String], revision: &str, model: Option<&[u8]>) -> String {
    let turns = model.is_some() && chapters.iter().any(|c| c.contains("class=\"turn\""));
    let body = html! {
        main {
            @for (chapter, content) in book.chapters.iter().zip(chapters) {
                @if chapter.id == book.chapters[0].id {
                    section.cover #(chapter.id) {
                        p.kind { "Job book · revision " (revision) }
                        h1 { (chapter.title) }
                        (PreEscaped(content))
                    }
                    (contents(book))
                } @else {
                    (PreEscaped(content))
                }
            }
        }
        @if let Some(model) = model.filter(|_| turns) {
            script type="application/octet-stream" #shell { (base64::engine::general_purpose::STANDARD.encode(model)) }
            script { (PreEscaped(SCRIPT)) }
        }
    };
    web_page(&format!("{} · job book", book.title), Some(MADE_BY), STYLE, &body)
}

fn contents(book: &Book<'_>) -> Markup {
    html! {
        section.chapter #(CONTENTS) {
            h2 { "Contents" }
            nav aria-label="Contents" { ol {
                @for chapter in &book.chapters[1..] {
                    li class=[chapter.below.then_some("below")] { a href=(format!("#{}", chapter.id)) { (chapter.title) } }
                }
            } }
        }
    }
}

/// A chapter; of the cover only what is below its heading.
pub(super) fn chapter_html(chapter: &Chapter<'_>) -> String {
    if chapter.id == "cover" {
        return html! { @for block in &chapter.blocks { (block_html(block)) } }.into_string();
    }
    let page = html! {
        section class=(if chapter.strength { "chapter strength" } else { "chapter" }) #(chapter.id) {
            h2 { (chapter.title) }
            @for block in &chapter.blocks { (block_html(block)) }
        }
    };
    page.into_string()
}

fn block_html(block: &Block<'_>) -> Markup {
    html! {
        @match block {
            Block::Heading(text) => h3 { (text) },
            Block::Text(line) => p { (line_html(line)) },
            Block::Answer(line) => p.answer { (line_html(line)) },
            Block::Stop(text) => p.stop { (text) },
            Block::List { numbered: true, items } => ol { @for item in items { li { (line_html(item)) } } },
            Block::List { items, .. } => ul { @for item in items { li { (line_html(item)) } } },
            Block::Terms(rows) => dl.terms { @for (word, meaning) in rows { dt { (word) } dd { (meaning) } } },
            Block::Figures(rows) => dl.figures {
                @for (name, value, unit) in rows {
                    div { dt { (name) } dd { (value) @if !unit.is_empty() { " " small { (unit) } } } }
                }
            },
            Block::Grid(grid) => (grid_html(grid)),
            Block::Picture(picture) => (figure(picture)),
            Block::Pictures { columns, pictures } => {
                div.views style=(format!("grid-template-columns:repeat({columns},1fr)")) {
                    @for picture in pictures { (figure(picture)) }
                }
            },
            Block::Turning(picture) => (turning(picture)),
        }
    }
}

fn figure(picture: &Picture<'_>) -> Markup {
    html! {
        figure id=[picture.shows.as_ref().map(|name| format!("drawing-{name}"))] {
            (PreEscaped(picture.svg()))
            @if !picture.caption.is_empty() { figcaption { (breakable(&picture.caption)) } }
        }
    }
}

/// The picture, and beside it, hidden until the script finds that it can be used, the place where the shell is turned.
fn turning(picture: &Picture<'_>) -> Markup {
    html! {
        figure.turning id=[picture.shows.as_ref().map(|name| format!("drawing-{name}"))] {
            div.still #still { (PreEscaped(picture.svg())) }
            div.turn #turn hidden {
                canvas #turned tabindex="0" role="application" aria-describedby="turn-how"
                    aria-label="The finished shell in three dimensions, to be turned" {}
                div.handles {
                    label { "Show " select #turn-element { option value="" { "all elements" } } }
                    label { "Apart " input #turn-apart type="range" min="0" max="100" value="0"; }
                    button type="button" #turn-nearer aria-label="Nearer" { "+" }
                    button type="button" #turn-farther aria-label="Farther" { "−" }
                    button type="button" #turn-back { "Reset" }
                    output #turn-pose for="turned" {}
                }
                p #turn-how { small { "Drag to turn it, wheel or two fingers for size. With the keyboard: arrows, + and −, 0 to reset." } }
            }
        }
    }
}

fn grid_html(grid: &Grid<'_>) -> Markup {
    let class = if grid.class.is_empty() { "schedule" } else { grid.class };
    let rows = |foot: bool| grid.rows.iter().filter(move |r| (r.kind == RowKind::Foot) == foot);
    html! {
        div.wide {
            table class=(class) data-shows=[(!grid.shows.is_empty()).then(|| grid.shows.join(" "))] {
                thead { tr { @for column in &grid.columns {
                    th class=[column.number.then_some("n")] scope="col" { (line_html(&column.head)) }
                } } }
                tbody { @for row in rows(false) { (row_html(grid, row)) } }
                @if rows(true).next().is_some() { tfoot { @for row in rows(true) { (row_html(grid, row)) } } }
            }
        }
    }
}

fn row_html(grid: &Grid<'_>, row: &Row<'_>) -> Markup {
    html! {
        tr { @for (cell, column) in row.cells.iter().zip(&grid.columns) {
            td class=[column.number.then_some("n")] { (field_html(cell)) }
        } }
    }
}

fn field_html(field: &Field<'_>) -> Markup {
    html! {
        @if let Some(picture) = &field.picture { (PreEscaped(picture.svg())) }
        (line_html(&field.line))
    }
}

fn line_html(line: &Line) -> Markup {
    html! {
        @for span in &line.0 {
            @match span {
                Span::Plain(text) => (breakable(text)),
                Span::Bold(text) => b { (breakable(text)) },
                Span::Small(text) => small { (breakable(text)) },
                Span::Code(text) => code { (breakable(text)) },
                Span::Tick(text) => {
                    @if text.is_empty() { span.box {} } @else { span.each { span.box {} " " (text) } }
                },
                Span::Break => br;,
            }
        }
    }
}

/// Text that may be broken after `/` and `~`.
fn breakable(text: &str) -> Markup {
    html! { @for piece in text.split_inclusive(['/', '~']) { (piece) @if piece.ends_with(['/', '~']) { wbr; } } }
}
