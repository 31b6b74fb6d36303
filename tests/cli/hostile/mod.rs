//! Hostile scripts: each ends within its limits with a plain error, or makes a work with findings; never a panic, never
//! an exhausted machine. Run through the binary, one process each, so that a broken one cannot take the tests with it.

mod depth;
mod geometry;
mod growth;
mod names;
mod numbers;
mod paths;
mod recipes;

use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// A run that has not ended by then is killed and fails. The slowest is stopped by its own clock after 20 s; a loaded
/// machine takes a multiple of that.
const KILL_AFTER: Duration = Duration::from_secs(120);
/// Most memory a run may take, kB.
const MOST_MEMORY_KB: u64 = 300 * 1024;
/// Most bytes a run may say.
const MOST_SAID: usize = 200_000;
/// How often a run is looked at.
const LOOK: Duration = Duration::from_millis(2);
/// Fewest cases there are.
const FEWEST: usize = 100;

/// One hostile script.
pub(super) struct Case {
    name: String,
    args: Vec<&'static str>,
    files: Vec<(String, Vec<u8>)>,
    /// Links beside them: where each leads, and its name.
    links: Vec<(String, String)>,
    /// What the error says, where it must be refused; none where a work with findings will do.
    refused: Option<&'static str>,
    /// What must be said, however it ends.
    says: Option<&'static str>,
}

/// What a script needs to be a whole work at its end.
pub(super) const BODY: &str = "let s = sculpture(\"S\"); let a = slab(\"A\", #{ size: [900, 600, 400] }); a.clad(flat(#{})); s.stand(a); s";

/// A script that must be refused with an error that says `what`.
pub(super) fn refused(name: impl Into<String>, text: impl Into<String>, what: &'static str) -> Case {
    Case {
        name: name.into(),
        args: vec!["check", "work.rhai"],
        links: Vec::new(),
        says: None,
        files: vec![("work.rhai".to_owned(), text.into().into_bytes())],
        refused: Some(what),
    }
}

/// A script that must end, either way.
pub(super) fn ends(name: impl Into<String>, text: impl Into<String>) -> Case {
    Case { refused: None, ..refused(name, text, "") }
}

impl Case {
    /// The same with one more file beside the script.
    pub(super) fn with(mut self, name: impl Into<String>, text: impl Into<Vec<u8>>) -> Self {
        self.files.push((name.into(), text.into()));
        self
    }

    /// The same, making all files.
    pub(super) fn made(mut self) -> Self {
        self.args[0] = "make";
        self
    }
}

/// What a run came to.
struct Ended {
    code: Option<i32>,
    said: String,
    memory_kb: u64,
    took: Duration,
    killed: bool,
}

fn run(case: &Case) -> Ended {
    let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("no folder: {e}"));
    for (name, bytes) in &case.files {
        let path = folder.path().join(name);
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent).unwrap_or_else(|e| panic!("{name}: {e}"));
        }
        std::fs::write(&path, bytes).unwrap_or_else(|e| panic!("{name}: {e}"));
    }
    #[cfg(unix)]
    for (to, name) in &case.links {
        std::os::unix::fs::symlink(to, folder.path().join(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
    }
    let said = folder.path().join("said.txt");
    let file = std::fs::File::create(&said).unwrap_or_else(|e| panic!("{e}"));
    let again = file.try_clone().unwrap_or_else(|e| panic!("{e}"));
    let start = Instant::now();
    let child = Command::new(env!("CARGO_BIN_EXE_ribwright"))
        .current_dir(folder.path())
        .args(&case.args)
        .stdin(Stdio::null())
        .stdout(file)
        .stderr(again)
        .spawn()
        .unwrap_or_else(|e| panic!("ribwright does not start: {e}"));
    let (code, memory_kb, killed) = wait(child, start);
    let bytes = std::fs::read(&said).unwrap_or_default();
    assert!(
        folder.path().parent().is_some_and(|p| !p.join("escaped").exists()),
        "{}: wrote outside",
        case.name
    );
    Ended {
        code,
        said: String::from_utf8_lossy(&bytes).into_owned(),
        memory_kb,
        took: start.elapsed(),
        killed,
    }
}

/// Waits for the end, noting the most memory it took.
fn wait(mut child: Child, start: Instant) -> (Option<i32>, u64, bool) {
    let mut most = 0;
    loop {
        most = most.max(memory_kb(child.id()).unwrap_or(0));
        match child.try_wait() {
            Ok(Some(status)) => return (status.code(), most, false),
            Ok(None) if start.elapsed() < KILL_AFTER && most <= 4 * MOST_MEMORY_KB => {
                std::thread::sleep(LOOK)
            }
            _ => {
                let _ = child.kill();
                let _ = child.wait();
                return (None, most, true);
            }
        }
    }
}

/// The most memory a process has had so far, where the system says so.
fn memory_kb(process: u32) -> Option<u64> {
    let text = std::fs::read_to_string(Path::new("/proc").join(process.to_string()).join("status")).ok()?;
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.trim().trim_end_matches("kB").trim().parse().ok()
}

/// What is wrong with how it ended.
fn judge(case: &Case, ended: &Ended) -> Vec<String> {
    let mut wrong = Vec::new();
    if ended.killed {
        wrong.push("had to be killed".to_owned());
    } else if !matches!(ended.code, Some(0 | 1)) {
        wrong.push(format!("ended with {:?}", ended.code));
    }
    if ended.memory_kb > MOST_MEMORY_KB {
        wrong.push(format!("took {} MB", ended.memory_kb / 1024));
    }
    if ended.said.len() > MOST_SAID {
        wrong.push(format!("said {} bytes", ended.said.len()));
    }
    for fault in ["panicked", "fault of ribwright", "overflowed its stack", "memory allocation"] {
        if ended.said.contains(fault) {
            wrong.push(format!("said {fault:?}"));
        }
    }
    if ended.code == Some(1) && !ended.said.contains("error") {
        wrong.push("failed without an error".to_owned());
    }
    // What a terminal acts upon, or what hides and turns round what stands beside it.
    let acts = |c: char| {
        (c.is_control() && !matches!(c, '\n' | '\t'))
            || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200b}'..='\u{200f}')
    };
    if let Some(c) = ended.said.chars().find(|c| acts(*c)) {
        wrong.push(format!("said U+{:04X}", u32::from(c)));
    }
    if let Some(part) = case.says
        && !ended.said.contains(part)
    {
        wrong.push(format!("did not say {part:?}"));
    }
    if ended.said.contains("secret-words") || ended.said.contains("root:") {
        wrong.push("showed a file outside of its folder".to_owned());
    }
    if let Some(part) = case.refused {
        if ended.code != Some(1) || !ended.said.contains(part) {
            wrong.push(format!("was not refused with {part:?}"));
        }
        if !ended.said.contains(" --> ") {
            wrong.push("does not say where".to_owned());
        }
    }
    wrong
}

#[test]
fn a_hundred_hostile_scripts_end_with_a_plain_error_or_findings() {
    let mut cases = Vec::new();
    for family in [
        depth::cases,
        growth::cases,
        paths::cases,
        names::cases,
        numbers::cases,
        geometry::cases,
        recipes::cases,
    ] {
        cases.extend(family());
    }
    // To look at some alone while working on them.
    if let Ok(only) = std::env::var("RIBWRIGHT_HOSTILE") {
        cases.retain(|case| case.name.contains(&only));
    } else {
        assert!(cases.len() >= FEWEST, "{} cases", cases.len());
    }
    let (next, faults, slow) = (AtomicUsize::new(0), Mutex::new(Vec::new()), Mutex::new(Vec::new()));
    let work = || {
        while let Some(case) = cases.get(next.fetch_add(1, Ordering::Relaxed)) {
            let ended = run(case);
            let wrong = judge(case, &ended);
            let line = format!("{:?} {} MB {}", ended.took, ended.memory_kb / 1024, case.name);
            slow.lock().unwrap_or_else(|e| panic!("{e}")).push((ended.took, line));
            if !wrong.is_empty() {
                let shown: String = ended.said.chars().take(700).collect();
                let fault = format!("{}: {}\n{shown}", case.name, wrong.join(", "));
                faults.lock().unwrap_or_else(|e| panic!("{e}")).push(fault);
            }
        }
    };
    std::thread::scope(|scope| {
        let _ = [scope.spawn(work), scope.spawn(work)];
    });
    let mut slow = slow.into_inner().unwrap_or_else(|e| panic!("{e}"));
    slow.sort();
    for (_, line) in slow.iter().rev().take(12) {
        println!("{line}");
    }
    let faults = faults.into_inner().unwrap_or_else(|e| panic!("{e}"));
    assert!(faults.is_empty(), "{} of {} cases:\n\n{}", faults.len(), cases.len(), faults.join("\n\n"));
}
