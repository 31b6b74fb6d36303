//! The job book while it is watched: a few lines in it look at a file beside it, `watch.js`, twice a second. When that
//! names another book the page loads itself again, which keeps the place on the page; when it holds an error the page
//! shows it above everything. Nothing but that file is looked at, and no network. A plain `make` writes the book without
//! these lines and takes the file away.

use super::super::Stop;
use crate::folder::{Folder, Kept};
use ribwright_kernel::OutFile;
use sha2::{Digest, Sha256};

const BOOK: &str = "book.html";
const SIGNAL: &str = "watch.js";

/// Where scripts are off the page loads itself again every so many seconds.
const SECONDS_WITHOUT_SCRIPTS: u32 = 5;

/// Puts the lines into the book and adds the file it looks at.
pub(super) fn make_watched(files: &mut Vec<OutFile>) {
    let Some(book) = files.iter_mut().find(|f| f.path == BOOK) else { return };
    let stamp = stamp(&book.bytes);
    let Some(at) = book.bytes.windows(HEAD_END.len()).position(|w| w == HEAD_END) else { return };
    let lines = LINES.replace("STAMP", &stamp).replace("SECONDS", &SECONDS_WITHOUT_SCRIPTS.to_string());
    book.bytes.splice(at..at, lines.into_bytes());
    files.push(OutFile { path: SIGNAL.to_owned(), bytes: signal(&stamp, "") });
}

/// Shows an error in the book that is in the folder; does nothing where none is being watched.
pub(super) fn say(folder: &Folder, error: &str) -> Result<(), Stop> {
    let unread = |e: std::io::Error| Stop(format!("error: {SIGNAL}: cannot be read: {e}"));
    let Some(there) = folder.read(SIGNAL).map_err(unread)? else { return Ok(()) };
    let there = String::from_utf8_lossy(&there);
    let Some(stamp) = there.split('"').nth(1) else { return Ok(()) };
    let file = OutFile { path: SIGNAL.to_owned(), bytes: signal(stamp, error) };
    folder.write(&[file], Kept::EarlierToo).map(|_| ())
}

/// A few letters that stand for a book.
fn stamp(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().take(8).map(|byte| format!("{byte:02x}")).collect()
}

fn signal(stamp: &str, error: &str) -> Vec<u8> {
    // JSON is JavaScript, save for two line ends that older readers refuse within texts.
    let error = serde_json::Value::from(error).to_string().replace(['\u{2028}', '\u{2029}'], " ");
    format!("ribwrightWatch(\"{stamp}\", {error});\n").into_bytes()
}

const HEAD_END: &[u8] = b"</head>";

const LINES: &str = r##"<style>
#watch-error { position: fixed; top: 0; left: 0; right: 0; z-index: 9; max-height: 45vh; overflow: auto; margin: 0;
  padding: .8em 1em; background: #fff; color: #000; border-bottom: 6px double #000; font: 1rem/1.4 monospace;
  white-space: pre-wrap; }
@media print { #watch-error { display: none; } }
</style>
<noscript><meta http-equiv="refresh" content="SECONDS"></noscript>
<script>
(function () {
  var shown = "";
  window.ribwrightWatch = function (stamp, error) {
    if (stamp !== "STAMP") { location.reload(); return; }
    if (error === shown || !document.body) { return; }
    shown = error;
    var box = document.getElementById("watch-error");
    if (!box) {
      box = document.createElement("pre");
      box.id = "watch-error";
      box.setAttribute("role", "alert");
      document.body.appendChild(box);
    }
    box.hidden = !error;
    box.textContent = error ? "NOT MADE: this is the book of the last save that could be made.\n" + error : "";
  };
  setInterval(function () {
    var look = document.createElement("script");
    look.src = "watch.js?" + Date.now();
    look.onload = look.onerror = function () { look.remove(); };
    document.head.appendChild(look);
  }, 500);
})();
</script>
"##;

#[cfg(test)]
mod tests {
    use super::*;

    fn made(text: &str) -> Vec<OutFile> {
        let mut files = vec![OutFile { path: BOOK.to_owned(), bytes: text.as_bytes().to_vec() }];
        make_watched(&mut files);
        files
    }

    #[test]
    fn the_signal_names_the_book_it_lies_beside() {
        let files = made("<html><head></head><body>one</body></html>");
        let text = |i: usize| String::from_utf8_lossy(&files[i].bytes).into_owned();
        let stamp = text(1).split('"').nth(1).map(str::to_owned).expect("a stamp");
        assert!(text(0).contains(&format!("stamp !== \"{stamp}\"")), "{}", text(0));
        assert!(text(0).ends_with("</head><body>one</body></html>"), "{}", text(0));
        let other = made("<html><head></head><body>two</body></html>");
        assert_ne!(files[1].bytes, other[1].bytes, "another book has another signal");
    }

    #[test]
    fn nothing_in_the_watched_book_leads_to_a_network() {
        for word in ["http:", "https:", "//", "fetch", "XMLHttp", "WebSocket"] {
            assert!(!LINES.contains(word), "{word}");
        }
    }

    #[test]
    fn an_error_is_told_in_quotes_and_a_folder_without_a_watched_book_is_left_alone() {
        let place = tempfile::tempdir().expect("a folder");
        let out = place.path().join("out");
        let open = || Folder::open(&out).map_err(|s| s.0).expect("opens");
        let fill =
            |files: &[OutFile]| open().write(files, Kept::ForeignOnly).map_err(|s| s.0).expect("writes");
        fill(&[OutFile { path: "a.txt".to_owned(), bytes: b"1".to_vec() }]);
        say(&open(), "wrong").map_err(|s| s.0).expect("nothing to do");
        assert!(!out.join(SIGNAL).exists());
        fill(&made("<html><head></head></html>"));
        say(&open(), "line 3: \"x\"\n</script>").map_err(|s| s.0).expect("said");
        let text = std::fs::read_to_string(out.join(SIGNAL)).expect("there");
        assert!(text.contains(r#""line 3: \"x\"\n</script>""#), "{text}");
        assert!(out.join(BOOK).exists(), "the book went");
    }
}
