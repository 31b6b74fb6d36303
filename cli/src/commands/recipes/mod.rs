//! `ribwright recipes`: the recipes there are, the page of one with its picture, and trials of a folder of them.

mod page;
mod picture;
mod trials;

use super::Stop;
use crate::args::Recipes;
use crate::console::{Console, DONE, FAILED, finding_text};
use ribwright_kernel::Registry;
use ribwright_scripts::{Page, Shelf};
use serde_json::{Value, json};

pub(crate) fn run(args: &Recipes, registry: &Registry, console: &mut Console<'_>) -> u8 {
    let done = match (&args.check, &args.name) {
        (Some(folder), _) => trials::run(args, folder, registry, console),
        (None, Some(name)) => page::run(args, name, registry, console),
        (None, None) => list(args, console),
    };
    done.unwrap_or_else(|stop| super::show_stop(&stop, args.json, console))
}

/// Lists all recipes: name, kind, what it is for, where it comes from.
fn list(args: &Recipes, console: &mut Console<'_>) -> Result<u8, Stop> {
    let shelf = Shelf::of(&args.recipes)?;
    if args.json {
        let pages: Vec<Value> = shelf.pages.iter().map(page_json).collect();
        let faults: Vec<String> = shelf.faults.iter().map(ToString::to_string).collect();
        console.json(&json!({
            "recipes": pages, "modules": shelf.modules, "faults": faults,
            "findings": super::findings_json(&shelf.findings),
        }));
    } else {
        let width = shelf.pages.iter().map(|page| page.name.len()).max().unwrap_or(0);
        for page in &shelf.pages {
            let from = match args.recipes.is_empty() {
                true => String::new(),
                false => format!("  ({})", page.origin.words()),
            };
            console.say(&format!("{:width$}  {:<8}  {}{from}", page.name, page.head.kind, page.head.summary));
        }
        for module in &shelf.modules {
            console.say(&format!("no recipe, for its head has no line `kind:`: {module}"));
        }
        show_faults(&shelf, console);
    }
    Ok(if shelf.faults.is_empty() { DONE } else { FAILED })
}

/// Shows names that are there twice, and recipes that cannot be read.
fn show_faults(shelf: &Shelf, console: &mut Console<'_>) {
    for finding in &shelf.findings {
        console.error(&finding_text(finding));
    }
    for fault in &shelf.faults {
        console.error(fault.render(console.terminal()).trim_end());
    }
}

/// What a recipe's head says, as JSON.
fn page_json(page: &Page) -> Value {
    let head = &page.head;
    let settings: Vec<Value> = head
        .settings
        .iter()
        .map(|row| {
            json!({
                "name": row.name, "unit": row.unit, "default": row.default_text(), "allowed": row.allowed(),
                "summary": row.summary,
            })
        })
        .collect();
    json!({
        "name": page.name, "kind": head.kind.name(), "summary": head.summary, "from": page.origin.words(),
        "file": page.file, "calls": head.calls, "gives": head.gives, "author": head.author, "licence": head.licence,
        "settings": settings,
    })
}
