//! `ribwright inspect FILE`: what a DXF or SVG file holds.

use super::{Stop, read_bounded, show_stop};
use crate::args::Inspect;
use crate::console::{Console, DONE};
use ribwright_kernel::lines::LARGEST_FILE;

pub(crate) fn run(args: &Inspect, console: &mut Console<'_>) -> u8 {
    match report(args) {
        Ok(text) => {
            console.say(text.trim_end());
            DONE
        }
        Err(stop) => show_stop(&stop, args.json, console),
    }
}

fn report(args: &Inspect) -> Result<String, Stop> {
    let name = args.file.display().to_string();
    let bytes = read_bounded(&args.file, LARGEST_FILE, "a DXF or SVG file")?;
    let report = ribwright_kernel::inspect::inspect(&name, &bytes)?;
    if args.json {
        serde_json::to_string_pretty(&report).map_err(|e| Stop(format!("error: {name}: {e}")))
    } else {
        Ok(report.to_string())
    }
}
