//! The page of HTML that the job book, the estimate and the sheet of variants are written on: one file, nothing fetched.

use maud::{DOCTYPE, Markup, PreEscaped, html};

/// What files say they were made by.
pub(crate) const MADE_BY: &str = concat!("ribwright ", env!("CARGO_PKG_VERSION"));

/// A whole page with its style sheet; `made_by` is left out of a page that goes to a client.
pub(crate) fn web_page(title: &str, made_by: Option<&str>, style: &str, body: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                @if let Some(made_by) = made_by { meta name="generator" content=(made_by); }
                title { (title) }
                style { (PreEscaped(style)) }
            }
            body { (body) }
        }
    };
    page.into_string()
}
