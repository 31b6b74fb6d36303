//! The estimate writer: the client's page as HTML to send and to read aloud, and as PDF to print. Both say the same.

use super::pdf::pages_to_pdf;
use super::svg::page_to_svg;
use super::web_page::web_page;
use super::{OutFile, Writer};
use crate::costs::ClientSheet;
use crate::costs::sheet::{PAGE, money};
use crate::error::Result;
use crate::output::Output;
use crate::work::Work;
use maud::{PreEscaped, html};

/// The registry row.
pub const ROW: Writer = Writer {
    name: "estimate",
    summary: "one page for the client, as HTML and PDF, where the script asks for costs",
    write,
};

fn write(_work: &Work, output: &Output) -> Result<Vec<OutFile>> {
    let Some(sheet) = &output.estimate else { return Ok(Vec::new()) };
    let title = format!("{}, estimate", sheet.work);
    Ok(vec![
        OutFile { path: "costs/estimate.html".to_owned(), bytes: page(sheet, &title)?.into_bytes() },
        OutFile {
            path: "costs/estimate.pdf".to_owned(),
            bytes: pages_to_pdf(&title, std::slice::from_ref(&sheet.page), PAGE)?,
        },
    ])
}

fn page(sheet: &ClientSheet, title: &str) -> Result<String> {
    let picture = match &sheet.picture {
        Some((drawing, size)) => Some(page_to_svg(drawing, *size)?),
        None => None,
    };
    let list = |pairs: &[[String; 2]]| {
        html! { @if !pairs.is_empty() { dl { @for [name, words] in pairs { div { dt { (name) } dd { (words) } } } } } }
    };
    let row = |name: &str, [low, usual, high]: [f64; 3], class: &str| {
        html! { tr class=(class) {
            th scope="row" { (name) } td { (money(low)) } td { (money(usual)) } td { (money(high)) }
        } }
    };
    let body = html! {
        main {
            p.kind { "Estimate" }
            @if let Some(draft) = &sheet.draft { p.draft { (draft) } }
            h1 { (sheet.work) }
            (list(&sheet.about))
            @if let Some(svg) = picture {
                figure role="img" aria-label={ "Picture of " (sheet.work) } { (PreEscaped(svg)) }
            }
            (list(&sheet.figures))
            table {
                caption { "Price in " (sheet.currency) @if sheet.taxed.is_some() { ", before tax" } }
                thead { tr { th scope="col" { "What" } th scope="col" { "low" } th scope="col" { "usual" }
                    th scope="col" { "high" } } }
                tbody {
                    @for (name, range) in &sheet.groups { (row(name, *range, "")) }
                    (row("Together", sheet.price, "sum"))
                    @if let Some((per_cent, range)) = sheet.taxed {
                        (row(&format!("with {per_cent} % tax"), range, ""))
                    }
                }
            }
            p.likely { "Likely between " strong { (money(sheet.likely[0])) } " and "
                strong { (money(sheet.likely[1])) " " (sheet.currency) } @if sheet.taxed.is_some() { " before tax" } "." }
            @if !sheet.without.is_empty() {
                p { "Not in it: " (sheet.without.join(", ")) "." }
            }
            ul { @for remark in &sheet.remarks { li { (remark) } } }
        }
    };
    Ok(web_page(title, None, STYLE, &body))
}

const STYLE: &str = "
@page { size: A4; margin: 12mm 14mm; }
body { font: 11pt/1.35 sans-serif; color: #000; background: #fff; margin: 0; }
main { max-width: 182mm; margin: 0 auto; padding: 1mm 3mm; }
.draft { border: 0.6mm solid #000; padding: 1mm 2mm; font-weight: bold; }
.kind { margin: 0; font-size: 13pt; }
h1 { margin: 0 0 3mm; font-size: 24pt; line-height: 1.15; }
dl { display: flex; flex-wrap: wrap; gap: 2mm 8mm; margin: 0 0 3mm; }
dl div { display: flex; gap: 2mm; }
dt { color: #333; } dt::after { content: ':'; }
dd { margin: 0; font-weight: bold; }
figure { margin: 2mm 0; text-align: center; }
figure svg { max-width: 100%; max-height: 80mm; }
table { border-collapse: collapse; width: 100%; }
caption { text-align: left; padding-bottom: 1mm; }
th, td { padding: 1mm 2mm; border-bottom: 0.2mm solid #666; text-align: right; }
td { white-space: nowrap; }
th:first-child { text-align: left; font-weight: normal; }
thead th { font-weight: normal; }
.sum th, .sum td { font-weight: bold; border-top: 0.5mm solid #000; }
.likely { font-size: 14pt; margin: 3mm 0; }
p { margin: 2mm 0; } ul { margin: 2mm 0; padding-left: 5mm; }
";
