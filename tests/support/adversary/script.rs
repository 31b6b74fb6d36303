//! Script texts: each ends within its limits with a sculpture or with an error that has a line.

use super::End;
use ribwright_kernel::Registry;
use ribwright_scripts::{Frame, Script, ScriptError, limits};
use std::sync::OnceLock;

/// Most bytes a rendered error may have: the line it shows is itself part of the script.
const LONGEST_SHOWN: usize = 200_000;

pub(super) fn feed(bytes: &[u8]) -> Result<End, String> {
    static REGISTRY: OnceLock<Registry> = OnceLock::new();
    let registry = REGISTRY.get_or_init(Registry::standard);
    let Ok(text) = std::str::from_utf8(bytes) else { return Ok(End::Skipped) };
    let (outcome, choices) = Script::new("work.rhai", text, None).run_and_choose(registry);
    if choices.len() > limits::MAX_CHOICES {
        return Err(format!("{} choices", choices.len()));
    }
    match outcome {
        Err(error) => refused(text, &error).map(|()| End::Refused),
        Ok(outcome) => {
            let elements = &outcome.sculpture.elements;
            if elements.is_empty() || elements.len() > limits::MAX_ELEMENTS {
                return Err(format!("a sculpture of {} elements", elements.len()));
            }
            for element in elements {
                super::finite(element.name(), element.solid.vertices().flat_map(|p| [p.x, p.y, p.z]))?;
                let volume = element.solid.volume();
                if volume.is_nan() || volume <= 0.0 {
                    return Err(format!("{}: a volume of {volume} mm³", element.name()));
                }
                if element.cladding.len() != element.solid.faces.len() {
                    return Err(format!("{}: not every face has its cladding", element.name()));
                }
            }
            printed(&outcome.printed)?;
            Ok(End::Taken)
        }
    }
}

fn printed(lines: &[String]) -> Result<(), String> {
    let bytes: usize = lines.iter().map(String::len).sum();
    // One line more says that the rest is left out.
    if lines.len() > limits::MAX_PRINTED_LINES + 1 || bytes > limits::MAX_PRINTED_BYTES + 1000 {
        return Err(format!("printed {} lines of {bytes} bytes", lines.len()));
    }
    Ok(())
}

fn refused(text: &str, error: &ScriptError) -> Result<(), String> {
    let message = error.message();
    let said = format!("{message} {}", error.remedy().unwrap_or_default());
    if message.trim().is_empty() {
        return Err("an error that says nothing".to_owned());
    }
    for fault in ["fault of ribwright", "broke down", "panicked", "Dynamic", "EvalAltResult"] {
        // A script can say these words itself.
        if said.contains(fault) && !text.contains(fault) {
            return Err(format!("says {fault:?}: {said}"));
        }
    }
    printed(error.printed())?;
    let whole = text.len() > limits::MAX_SCRIPT_BYTES || message.contains("makes no sculpture");
    if error.line() == 0 && !whole {
        return Err(format!("an error without a line: {error}"));
    }
    for frame in [error.place()].into_iter().chain(error.called_from()) {
        within(frame)?;
    }
    for color in [false, true] {
        let shown = error.render(color);
        if shown.len() > LONGEST_SHOWN + 3 * text.len() {
            return Err(format!("an error shown with {} bytes", shown.len()));
        }
        let has_text = !error.place().source.is_empty();
        if has_text && error.line() > 0 && !color && !shown.contains(&format!(":{}", error.line())) {
            return Err(format!("line {} is not shown: {shown}", error.line()));
        }
    }
    Ok(())
}

/// A place lies in its file.
fn within(frame: &Frame) -> Result<(), String> {
    if frame.line == 0 || frame.source.is_empty() {
        return Ok(());
    }
    let lines = frame.source.split('\n').count();
    let span = &frame.span;
    if frame.line > lines || frame.column == 0 {
        return Err(format!("line {}, column {} of a text of {lines} lines", frame.line, frame.column));
    }
    if span.start > span.end || span.end > frame.source.len() || frame.source.get(span.clone()).is_none() {
        return Err(format!("marks bytes {span:?} of {}", frame.source.len()));
    }
    Ok(())
}
