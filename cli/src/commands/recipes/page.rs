//! The page of one recipe: what it is for, its settings, and a picture made by running it.

use super::picture::dots;
use super::{page_json, show_faults};
use crate::args::Recipes;
use crate::commands::{Stop, has_errors};
use crate::console::{Console, DONE, FAILED, count_text, plural};
use crate::progress::Progress;
use ribwright_kernel::drawing::Drawing;
use ribwright_kernel::export::svg::{Fit, drawing_to_svg};
use ribwright_kernel::stage::views;
use ribwright_kernel::{Registry, Work, run_stages, work_out};
use ribwright_scripts::{Page, Shelf};
use serde_json::json;
use std::path::Path;

/// What a picture is fitted into as a file: an A5 sheet upright or lying, mm.
const PICTURE: [f64; 2] = [148.0, 210.0];
const KG_SHOWN: f64 = 10.0;
const MM_IN_KM: f64 = 1.0e6;

pub(super) fn run(
    args: &Recipes,
    name: &str,
    registry: &Registry,
    console: &mut Console<'_>,
) -> Result<u8, Stop> {
    let shelf = Shelf::of(&args.recipes)?;
    let page = match shelf.page(name) {
        Ok(page) => page,
        Err(e) => {
            show_faults(&shelf, console);
            return Err(e.into());
        }
    };
    if args.source {
        console.say(page.text.trim_end());
        return Ok(DONE);
    }
    let progress = Progress::start(console.terminal(), 2);
    progress.step("running the recipe");
    let shown = show(page, registry, console.terminal())?;
    drop(progress);
    if let Some(file) = &args.out {
        if shown.picture.paths.is_empty() {
            return Err(Stop(format!(
                "error: {}: there is nothing to be seen of it, so no picture was written: it is {:.0} km across; build it \
                 nearer together",
                page.name,
                shown.size.into_iter().fold(0.0, f64::max) / MM_IN_KM
            )));
        }
        write(file, drawing_to_svg(&shown.picture, Fit::Page(PICTURE))?.as_bytes())?;
    }
    let failed = has_errors(&shown.work.findings);
    if args.json {
        let mut value = page_json(page);
        value["functions"] = json!(page.functions());
        value["shown"] = json!({
            "elements": shown.work.sculpture.elements.len(), "faces": shown.work.faces.len(),
            "mass_kg": shown.work.mass, "size_mm": shown.size,
            "findings": crate::commands::findings_json(&shown.work.findings),
        });
        value["picture"] = json!(args.out.as_ref().map(|file| file.display().to_string()));
        console.json(&value);
    } else {
        console.say(&text(page, &shown));
        if let Some(file) = &args.out {
            console.say(&format!("wrote {}", file.display()));
        }
    }
    Ok(if failed { FAILED } else { DONE })
}

/// What a recipe shows of itself.
struct Shown {
    work: Work,
    picture: Drawing,
    /// Along x, y and z, mm.
    size: [f64; 3],
}

fn show(page: &Page, registry: &Registry, colour: bool) -> Result<Shown, Stop> {
    let outcome = page.script(&[]).run(registry).map_err(|e| Stop(e.render(colour).trim_end().to_owned()))?;
    let work = work_out(&outcome.sculpture, registry)?;
    let output = run_stages(&work, registry, &[views::ROW.name.to_owned()])?;
    let picture = output.views.into_iter().find(|view| view.name == "pictorial").unwrap_or_default();
    let size = work.mesh.bounds().map_or([0.0; 3], |[low, high]| (high - low).into());
    Ok(Shown { work, picture, size })
}

/// The page as text.
fn text(page: &Page, shown: &Shown) -> String {
    let head = &page.head;
    let mut lines = vec![
        format!("{}: {} ({})", page.name, head.summary, head.kind),
        format!("by {}, {}; {}", head.author, head.licence, page.origin.words()),
    ];
    if !head.help.is_empty() {
        lines.extend([String::new(), head.help.clone()]);
    }
    lines.push(String::new());
    lines.extend(head.calls.iter().map(|call| format!("call   {call}")));
    lines.push(format!("gives  {}", head.gives));
    if !head.settings.is_empty() {
        lines.extend([String::new(), "Settings, all of which may be left out:".to_owned()]);
        let width = head.settings.iter().map(|row| row.name.len()).max().unwrap_or(0);
        let wide = head.settings.iter().map(|row| row.default_text().len()).max().unwrap_or(0);
        for row in &head.settings {
            let (default, allowed) = (row.default_text(), row.allowed());
            lines.push(format!("  {:width$}  {default:<wide$}  {}; {allowed}", row.name, row.summary));
        }
    }
    lines.extend([String::new(), "Functions:".to_owned()]);
    for (signature, comment) in page.functions() {
        lines.push(format!("  fn {signature}  {comment}"));
    }
    lines.extend([String::new(), dots(&shown.picture), String::new(), figures(shown)]);
    lines.join("\n")
}

/// One line of figures.
fn figures(shown: &Shown) -> String {
    let [x, y, z] = shown.size;
    format!(
        "as it stands: {}, {}, {x:.0} × {y:.0} × {z:.0} mm, {:.0} kg of sheet; {}",
        plural(shown.work.sculpture.elements.len(), "element"),
        plural(shown.work.faces.len(), "face"),
        (shown.work.mass / KG_SHOWN).round() * KG_SHOWN,
        count_text(&shown.work.findings)
    )
}

/// Writes a file whole or not at all.
fn write(file: &Path, bytes: &[u8]) -> Result<(), Stop> {
    let cannot = |e: std::io::Error| Stop(format!("error: {}: cannot be written: {e}", file.display()));
    if file.is_dir() {
        return Err(Stop(format!(
            "error: {} is a folder; name a file, for instance picture.svg",
            file.display()
        )));
    }
    let mut name = file.as_os_str().to_owned();
    name.push(".part");
    std::fs::write(&name, bytes).map_err(cannot)?;
    std::fs::rename(&name, file).map_err(cannot)
}
