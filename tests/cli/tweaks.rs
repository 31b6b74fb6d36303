//! Tweaks: what changed against the make before, parts that are cut already, runs that are killed, and `watch`.

use crate::{Run, SMALL, contents, folder_with, ribwright, write};
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

/// The small work with the ribs of its top moved.
fn shifted(by: u32) -> String {
    SMALL.replace("s.stand(a);", &format!("a.face(\"top\").ribs(#{{ phase: {by} }});\ns.stand(a);"))
}

#[track_caller]
fn json(run: Run) -> serde_json::Value {
    serde_json::from_str(&run.stdout).unwrap_or_else(|e| panic!("{e}: {run:?}"))
}

/// Kinds and names of changed parts.
fn parts(changes: &serde_json::Value) -> Vec<(String, String)> {
    let text = |v: &serde_json::Value| v.as_str().unwrap_or_default().to_owned();
    let list = changes["parts"].as_array().into_iter().flatten();
    list.map(|p| (text(&p["kind"]), text(&p["id"]))).collect()
}

#[test]
fn an_unchanged_script_lists_nothing() {
    let folder = folder_with(SMALL);
    let first = ribwright(folder.path(), &["make", "work.rhai"]).done();
    assert!(!first.stdout.contains("make before"), "there is none: {first:?}");
    let one = contents(&folder.path().join("out"));
    ribwright(folder.path(), &["make", "work.rhai"]).done().says(&["nothing changed: 6 parts as they were"]);
    assert_eq!(contents(&folder.path().join("out")), one, "the same files");
    ribwright(folder.path(), &["make", "work.rhai", "--out", "two", "--threads", "1"]).done();
    let found = json(ribwright(folder.path(), &["changes", "out", "two", "--json"]).done());
    for list in ["parts", "seams", "sheets"] {
        assert_eq!(found["changes"][list], serde_json::json!([]), "{list}");
    }
}

#[test]
fn what_changed_is_listed_and_drawn_until_the_next_make() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["make", "work.rhai", "--out", "old"]).done();
    ribwright(folder.path(), &["make", "work.rhai"]).done();
    write(&folder.path().join("work.rhai"), shifted(25).as_bytes());
    let run = ribwright(folder.path(), &["make", "work.rhai"]).done();
    let out = contents(&folder.path().join("out"));
    let drawn: Vec<&String> = out.keys().filter(|path| path.starts_with("changes/")).collect();
    assert!(drawn.contains(&&"changes/A_top.svg".to_owned()), "{drawn:?}");
    run.says(&["against the make before", "cut again", "A/top (", "old and new outlines", "changed seams"]);
    // The files of both folders say the same, without the script.
    std::fs::remove_file(folder.path().join("work.rhai")).unwrap_or_else(|e| panic!("{e}"));
    let found = json(ribwright(folder.path(), &["changes", "old", "out", "--json"]).done());
    let changed = parts(&found["changes"]);
    assert_eq!(changed.len(), drawn.len(), "{changed:?}");
    assert!(changed.contains(&("changed".to_owned(), "A/top".to_owned())), "{changed:?}");
    assert!(!changed.iter().any(|(_, id)| id == "A/bottom"), "{changed:?}");
    ribwright(folder.path(), &["changes", "old", "out", "--out", "pictures"])
        .done()
        .says(&["cut again", "A/top"]);
    let picture = std::fs::read_to_string(folder.path().join("pictures/A_top.svg")).unwrap_or_default();
    assert!(picture.contains("stroke-dasharray") && picture.contains("old outline dashed"), "{picture}");
    write(&folder.path().join("work.rhai"), shifted(25).as_bytes());
    ribwright(folder.path(), &["make", "work.rhai"]).done().says(&["nothing changed"]);
    assert!(!folder.path().join("out/changes").exists(), "pictures of an older change stayed");
}

/// Outlines that are cut, read from a DXF file without any library: pairs of group code and value.
fn outlines(dxf: &[u8]) -> Vec<Vec<[f64; 2]>> {
    let text = String::from_utf8_lossy(dxf);
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let entities = lines.iter().position(|l| *l == "ENTITIES").map_or(0, |at| at + 1);
    let (mut found, mut wanted, mut x) = (Vec::new(), false, 0.0);
    for pair in lines[entities..].chunks_exact(2) {
        let number = || pair[1].parse::<f64>().unwrap_or(f64::NAN);
        match pair[0] {
            "0" => {
                found.push(Vec::new());
                wanted = false;
            }
            "8" => wanted = ["CUT", "OUTLINE"].contains(&pair[1]),
            "10" if wanted => x = number(),
            "20" if wanted => found.last_mut().into_iter().for_each(|o: &mut Vec<_>| o.push([x, number()])),
            _ => {}
        }
    }
    found.retain(|o| o.len() > 2);
    found
}

/// Whether every corner of one lies on the edges of the other, every pair looked at: corners may slide along an edge.
fn lies_on(a: &[Vec<[f64; 2]>], b: &[Vec<[f64; 2]>]) -> bool {
    let edges: Vec<([f64; 2], [f64; 2])> =
        b.iter().flat_map(|o| o.iter().copied().zip(o.iter().copied().cycle().skip(1))).collect();
    let near = |p: &[f64; 2], (a, b): &([f64; 2], [f64; 2])| {
        let (d, q) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
        let share = ((q[0] * d[0] + q[1] * d[1]) / (d[0] * d[0] + d[1] * d[1]).max(1e-300)).clamp(0.0, 1.0);
        (q[0] - share * d[0]).hypot(q[1] - share * d[1]) <= 0.01
    };
    a.iter().flatten().all(|p| edges.iter().any(|e| near(p, e)))
}

/// Second method: the cut files of both folders, corner by corner. Bends move only with their outlines here.
#[test]
fn a_changed_phase_on_one_face_lists_exactly_the_parts_whose_cut_files_change() {
    let text = include_str!("../../scripts/examples/first.rhai");
    let folder = folder_with(text);
    ribwright(folder.path(), &["make", "work.rhai", "--out", "old"]).done();
    let old = contents(&folder.path().join("old"));
    for phase in ["30.0004", "31", "55"] {
        let tweaked = text.replace("phase: 30 ", &format!("phase: {phase} "));
        assert_ne!(tweaked, text, "the example has a phase of 30");
        write(&folder.path().join("work.rhai"), tweaked.as_bytes());
        ribwright(folder.path(), &["make", "work.rhai", "--out", "new"]).done();
        let new = contents(&folder.path().join("new"));
        let is_part = |path: &&String| path.starts_with("cut/");
        let mut expected: Vec<(String, String)> = Vec::new();
        for path in old.keys().chain(new.keys()).filter(is_part) {
            let kind = match (old.get(path), new.get(path)) {
                (Some(a), Some(b)) => {
                    let (a, b) = (outlines(a), outlines(b));
                    assert!(!a.is_empty(), "{path} holds no cut");
                    let alike = lies_on(&a, &b) && lies_on(&b, &a);
                    if alike { continue } else { "changed" }
                }
                (None, _) => "new",
                (_, None) => "gone",
            };
            expected.push((kind.to_owned(), path.clone()));
        }
        expected.sort();
        expected.dedup();
        let found = json(ribwright(folder.path(), &["changes", "old", "new", "--json"]).done());
        let stem = |id: &str| id.replace(['/', '~', '+', ' '], "_");
        let mut listed: Vec<(String, String)> = parts(&found["changes"])
            .into_iter()
            .filter(|(kind, _)| kind != "moved")
            .map(|(kind, id)| (kind, format!("cut/{}.dxf", stem(&id))))
            .collect();
        listed.sort();
        assert_eq!(listed, expected, "phase {phase}");
        assert_eq!(expected.is_empty(), phase == "30.0004", "phase {phase}");
    }
}

#[test]
fn folders_that_were_not_made_are_refused() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["make", "work.rhai"]).done();
    ribwright(folder.path(), &["changes", "out", "nowhere"]).failed().says(&["nowhere", "ribwright make"]);
    write(&folder.path().join("out/record.json"), b"{}");
    ribwright(folder.path(), &["changes", "out", "out"]).failed().says(&["no record of a make"]);
}

#[test]
fn a_run_of_some_stages_keeps_the_record_of_the_cut_files_that_are_kept() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["make", "work.rhai"]).done();
    write(&folder.path().join("work.rhai"), shifted(25).as_bytes());
    ribwright(folder.path(), &["make", "work.rhai", "--only", "views"]).done();
    ribwright(folder.path(), &["make", "work.rhai"]).done().says(&["cut again", "A/top ("]);
}

#[test]
fn a_part_that_is_cut_stops_a_change_until_it_is_allowed() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["make", "work.rhai"]).done();
    let out = folder.path().join("out");
    write(&out.join("cut.csv"), b"part,date\nA/top,2026-11-20\nA/bottom,2026-11-20\n");
    let before = contents(&out);
    write(&folder.path().join("work.rhai"), shifted(25).as_bytes());
    let run = ribwright(folder.path(), &["make", "work.rhai"]).failed();
    assert!(!run.stdout.contains("error[already-cut]: A/bottom"), "{run:?}");
    run.says(&[
        "error[already-cut]: A/top",
        "2026-11-20",
        "--allow-recut A/top",
        "is as it was",
        "it would be",
    ]);
    assert_eq!(contents(&out), before);
    ribwright(folder.path(), &["make", "work.rhai", "--allow-recut", "A/bottom"]).failed();
    assert_eq!(contents(&out), before);
    ribwright(folder.path(), &["make", "work.rhai", "--allow-recut", "A/top"])
        .done()
        .says(&["warning[cut-again]: A/top"]);
    assert!(out.join("cut.csv").exists(), "the maker's list went");
    write(&out.join("cut.csv"), b"A/top,yesterday\n");
    ribwright(folder.path(), &["make", "work.rhai"]).failed().says(&[
        "cut.csv, line 1",
        "not a date",
        "2026-11-26",
    ]);
}

#[test]
fn parts_that_only_move_are_not_cut_again() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["make", "work.rhai"]).done();
    write(&folder.path().join("out/cut.csv"), b"A/top\n");
    let moved = SMALL.replace("s.stand(a);", "a.move([1000, 0, 0]);\ns.stand(a);");
    write(&folder.path().join("work.rhai"), moved.as_bytes());
    let run = ribwright(folder.path(), &["make", "work.rhai"]).done().says(&[
        "only moved",
        "A/top (",
        "A/top (1000.00 mm)",
    ]);
    assert!(!run.stdout.contains("cut again"), "{run:?}");
}

/// Files that do not depend on the make before.
fn made(out: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = contents(out);
    files.retain(|path, _| !path.starts_with("changes") && path != "manifest.json");
    files
}

/// `tests/outside/killed_makes.py` does the same 200 times on a larger work.
#[test]
fn a_make_killed_at_any_moment_leaves_the_old_or_the_new_output_whole() {
    const KILLS: u32 = 24;
    let folder = folder_with(SMALL);
    let out = folder.path().join("out");
    let texts = [SMALL.to_owned(), shifted(25)];
    let mut expected = Vec::new();
    let mut longest = Duration::ZERO;
    for text in &texts {
        write(&folder.path().join("work.rhai"), text.as_bytes());
        let start = std::time::Instant::now();
        ribwright(folder.path(), &["make", "work.rhai"]).done();
        longest = start.elapsed();
        expected.push(made(&out));
    }
    let mut holds = 1;
    let mut left = [0; 2];
    for kill in 0..KILLS {
        write(&folder.path().join("work.rhai"), texts[1 - holds].as_bytes());
        let mut child = Command::new(env!("CARGO_BIN_EXE_ribwright"))
            .current_dir(folder.path())
            .args(["make", "work.rhai"])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap_or_else(|e| panic!("{e}"));
        // Spread evenly over the run, in an order that is not that of time.
        std::thread::sleep(longest * (kill * 7 % KILLS) / KILLS);
        let _ = child.kill();
        let _ = child.wait();
        let now = expected.iter().position(|e| *e == made(&out));
        let now = now.unwrap_or_else(|| panic!("kill {kill} left {:?}", made(&out).keys()));
        left[usize::from(now != holds)] += 1;
        holds = now;
    }
    assert!(left[0] > 0, "every run came to its end before it was killed: {left:?}");
    // What is left behind is tidied up by the next run.
    write(&folder.path().join("work.rhai"), texts[0].as_bytes());
    ribwright(folder.path(), &["make", "work.rhai"]).done();
    assert_eq!(made(&out), expected[0]);
    assert!(!folder.path().join(".out.partial").exists(), "something was left");
}

/// `ribwright watch`, which is ended when this goes.
struct Watching {
    child: Child,
    lines: Receiver<String>,
}

/// Long enough for a machine that does much else at the same time.
const PATIENCE: Duration = Duration::from_secs(120);

impl Watching {
    #[track_caller]
    fn start(folder: &Path) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_ribwright"))
            .current_dir(folder)
            .args(["watch", "work.rhai"])
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap_or_else(|e| panic!("{e}"));
        let (to, lines) = channel();
        let streams: [Option<Box<dyn std::io::Read + Send>>; 2] = [
            child.stdout.take().map(|s| Box::new(s) as Box<dyn std::io::Read + Send>),
            child.stderr.take().map(|s| Box::new(s) as Box<dyn std::io::Read + Send>),
        ];
        for stream in streams.into_iter().flatten() {
            let to = to.clone();
            std::thread::spawn(move || {
                for line in BufReader::new(stream).lines().map_while(Result::ok) {
                    let _ = to.send(line);
                }
            });
        }
        Self { child, lines }
    }

    /// All that is said up to the end of a make.
    #[track_caller]
    fn said(&self) -> Vec<String> {
        let mut all = Vec::new();
        loop {
            match self.lines.recv_timeout(PATIENCE) {
                Ok(line) => {
                    let last = line.starts_with("watching ");
                    all.push(line);
                    if last {
                        // The other stream may come a moment later.
                        while let Ok(line) = self.lines.recv_timeout(Duration::from_millis(200)) {
                            all.push(line);
                        }
                        return all;
                    }
                }
                Err(e) => panic!("{e}: {all:#?}"),
            }
        }
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[track_caller]
fn says(said: &[String], words: &[&str]) {
    for word in words {
        assert!(said.iter().any(|line| line.contains(word)), "{word:?} is not said in {said:#?}");
    }
}

#[test]
fn watch_makes_again_at_every_save_and_keeps_the_last_good_output() {
    let script = format!("import \"feet\" as feet;\n{SMALL}");
    let folder = folder_with(&script);
    let (work, out) = (folder.path().join("work.rhai"), folder.path().join("out"));
    write(&folder.path().join("feet.rhai"), b"fn deep() { 25 }");
    let watching = Watching::start(folder.path());
    let said = watching.said();
    says(&said, &["warning[", "wrote ", "watching 2 files"]);
    let found = said.iter().position(|l| l.contains("warning["));
    assert!(found < said.iter().position(|l| l.contains("wrote ")), "findings come first: {said:#?}");
    let first = contents(&out);
    assert!(first.contains_key("watch.js"), "{:?}", first.keys());

    write(
        &work,
        format!("import \"feet\" as feet;\n{}", shifted(25).replace("25", "feet::deep()")).as_bytes(),
    );
    let said = watching.said();
    says(&said, &["work.rhai saved", "cut again", "A/top (", "wrote "]);
    assert!(!said.iter().any(|l| l.contains("warning[wind-assumed]")), "said already: {said:#?}");

    write(&folder.path().join("feet.rhai"), b"fn deep() { 31 }");
    says(&watching.said(), &["feet.rhai saved", "cut again", "A/top ("]);
    let good = contents(&out);

    write(&folder.path().join("feet.rhai"), b"fn deep() { 31 ");
    says(&watching.said(), &["feet.rhai saved", "error", "is as it was"]);
    let mut kept = contents(&out);
    let signal = String::from_utf8(kept.remove("watch.js").unwrap_or_default()).unwrap_or_default();
    assert!(signal.contains("feet.rhai"), "the book shows no error: {signal}");
    for (path, bytes) in
        good.iter().filter(|(path, _)| !["watch.js", "manifest.json"].contains(&path.as_str()))
    {
        assert_eq!(kept.get(path), Some(bytes), "{path}");
    }

    write(&folder.path().join("feet.rhai"), b"fn deep() { 31 }");
    says(&watching.said(), &["feet.rhai saved", "nothing changed"]);
    let mended = contents(&out);
    assert_eq!(mended.get("watch.js"), good.get("watch.js"));

    write(&out.join("cut.csv"), b"A/top,2026-11-20\n");
    says(&watching.said(), &["cut.csv saved", "nothing changed"]);
    write(&folder.path().join("feet.rhai"), b"fn deep() { 44 }");
    says(&watching.said(), &["error[already-cut]: A/top", "nothing written", "is as it was"]);
    let signal = std::fs::read_to_string(out.join("watch.js")).unwrap_or_default();
    assert!(signal.contains("already-cut"), "{signal}");
    drop(watching);

    // A plain make takes the lines out of the book again.
    ribwright(folder.path(), &["make", "work.rhai", "--allow-recut", "all"]).done();
    let plain = contents(&out);
    assert!(!plain.contains_key("watch.js"), "{:?}", plain.keys());
    let book = plain.get("book.html").map(|b| String::from_utf8_lossy(b).into_owned()).unwrap_or_default();
    assert!(!book.contains("watch.js"), "the book still looks for saves");
}

/// What is taken from the makes before must be what a make of its own gives.
#[test]
fn what_watch_made_after_tweaks_is_what_make_makes_of_the_same_script() {
    let text = include_str!("../../scripts/examples/first.rhai");
    let folder = folder_with(text);
    let work = folder.path().join("work.rhai");
    let watching = Watching::start(folder.path());
    watching.said();
    let mut tweaked = text.to_owned();
    // One face's ribs; the upper element moved; a word; the first tweak taken back.
    let tweaks = [
        ("phase: 30 ", "phase: 37 "),
        ("shift: [", "shift: [1 + "),
        ("Low Water Mark", "Low Water"),
        ("phase: 37 ", "phase: 30 "),
    ];
    for (count, (from, to)) in tweaks.into_iter().enumerate() {
        let next = tweaked.replacen(from, to, 1);
        assert_ne!(next, tweaked, "the example says {from:?}");
        tweaked = next;
        write(&work, tweaked.as_bytes());
        says(&watching.said(), &["work.rhai saved", "wrote "]);
        let fresh = format!("fresh{count}");
        ribwright(folder.path(), &["make", "work.rhai", "--out", &fresh]).done();
        let (mut watched, fresh) = (made(&folder.path().join("out")), made(&folder.path().join(fresh)));
        assert!(watched.remove("watch.js").is_some(), "it is watched");
        assert_eq!(watched.keys().collect::<Vec<_>>(), fresh.keys().collect::<Vec<_>>());
        for (path, bytes) in &fresh {
            if path == "book.html" {
                let end = b"</head>";
                let at = bytes.windows(end.len()).position(|w| w == end).unwrap_or_default();
                let book = &watched[path];
                assert!(book.starts_with(&bytes[..at]) && book.ends_with(&bytes[at..]), "{to}: the book");
            } else {
                assert!(watched[path] == *bytes, "{to}: {path} is not what make gives");
            }
        }
    }
}
