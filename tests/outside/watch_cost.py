"""Time from save to finished files under `ribwright watch`, whether they are those of a make of its own, and memory over
many saves.

    python watch_cost.py RIBWRIGHT SCRIPT [--tweaks 20] [--most 0.5] [--saves 0] [--growth 1.05]

First so many tweaks, each on top of those before it: one number of the script after another (phases, shifts, turns, tips,
directions of ribs, measures), a word of a comment and the name of the work. The time is taken outside: from the end of the
write until the manifest in the output folder is another. The median must stay under --most seconds on two cores that are
otherwise idle. Afterwards the files are compared byte by byte with those of `make` into an empty folder, aside from what
tells of the make before (changes/) and of being watched (watch.js and its lines in the book).

Then so many saves that change one phase back and forth: resident memory in the last fifty must be no more than --growth
times that in the second fifty, each taken as their mean. All threads take theirs from one heap then: with a heap each it
varies by a tenth from save to save. Then the script is broken: the output must stay as it was, the error must be shown, in
the terminal and in the watched book; and mended. Exit code 1 where something does not hold.
"""

import argparse
import os
import pathlib
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time

PATIENCE = 60.0
SETTLED = 100
MEAN_OF = 50
NUMBERS = {
    "phase": r"phase: (-?\d+(?:\.\d+)?)",
    "shift": r"shift: \[(-?\d+(?:\.\d+)?)",
    "turn": r"\bturn: (-?\d+(?:\.\d+)?)",
    "tip": r"\btip: (-?\d+(?:\.\d+)?)",
    "direction of ribs": r"along: \[[-\d.]+, (-?\d+(?:\.\d+)?)",
    "sink": r"sink: (\d+(?:\.\d+)?)",
    "measure": r"(?:height|base|width): (\d+(?:\.\d+)?)",
}
STEP = {"phase": 3, "shift": 1, "turn": 0.5, "tip": 0.25, "direction of ribs": 0.01, "sink": 2, "measure": 4}


def memory(process):
    """Resident memory in MB."""
    text = pathlib.Path(f"/proc/{process.pid}/status").read_text()
    return int(re.search(r"VmRSS:\s+(\d+)", text).group(1)) / 1000


def wait(condition, what):
    start = time.perf_counter()
    while not condition():
        if time.perf_counter() - start > PATIENCE:
            raise SystemExit(f"waited {PATIENCE:.0f} s in vain for {what}")
        time.sleep(0.002)


def places(text):
    """Kinds and numbers of the places that can be tweaked, kinds taking turns."""
    lists = [[(kind, k) for k in range(len(re.findall(pattern, text)))] for kind, pattern in NUMBERS.items()]
    lists += [[("word of a comment", 0)], [("name of the work", 0)]]
    most = max(map(len, lists))
    return [found[turn] for turn in range(most) for found in lists if turn < len(found)]


def tweaked(text, kind, number, turn):
    if kind == "word of a comment":
        return text + f"// tweak {turn}\n"
    if kind == "name of the work":
        return re.sub(r'sculpture\("([^"]*)"', lambda m: f'sculpture("{m.group(1)} {turn}"', text, count=1)
    found = list(re.finditer(NUMBERS[kind], text))[number]
    low, high = found.span(1)
    return f"{text[:low]}{float(found.group(1)) + STEP[kind]:g}{text[high:]}"


def files(folder):
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def differences(watched, fresh):
    """Paths that differ between a watched output and one that was made."""
    watched = {k: v for k, v in watched.items() if not k.startswith("changes/") and k not in ("watch.js", "manifest.json")}
    fresh = {k: v for k, v in fresh.items() if k != "manifest.json"}
    head, _, rest = fresh["book.html"].partition(b"</head>")
    book = watched["book.html"]
    if book.startswith(head) and book.endswith(b"</head>" + rest):
        watched["book.html"] = fresh["book.html"]
    return sorted(k for k in watched.keys() | fresh.keys() if watched.get(k) != fresh.get(k))


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("ribwright", type=pathlib.Path)
    arguments.add_argument("script", type=pathlib.Path)
    arguments.add_argument("--tweaks", type=int, default=20)
    arguments.add_argument("--most", type=float, default=0.5, help="median time from save to files, s")
    arguments.add_argument("--saves", type=int, default=0)
    arguments.add_argument("--growth", type=float, default=1.05, help="memory of the last 50 saves against that of the 50 before half")
    given = arguments.parse_args()
    ribwright = given.ribwright.resolve()
    text = given.script.read_text()
    good = True
    with tempfile.TemporaryDirectory() as place:
        place = pathlib.Path(place)
        script, out = place / "work.rhai", place / "out"
        script.write_text(text)
        one_heap = {"MALLOC_ARENA_MAX": "1"} if given.saves else {}
        process = subprocess.Popen([ribwright, "watch", script], env=os.environ | one_heap, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        said = []
        threading.Thread(target=lambda: said.extend(iter(process.stdout.readline, "")), daemon=True).start()
        ready = lambda: sum(line.startswith("watching ") for line in said)
        stamp = lambda: (out / "manifest.json").read_bytes() if (out / "manifest.json").exists() else b""

        def save(changed, what):
            """Seconds until the files are there; none where no file came out other than it was."""
            makes, old = ready(), stamp()
            script.write_text(changed)
            start = time.perf_counter()
            wait(lambda: stamp() not in (old, b"") or ready() == makes + 1, what)
            seconds = time.perf_counter() - start if stamp() != old else None
            wait(lambda: ready() == makes + 1, f"the end of {what}")
            return seconds

        try:
            wait(lambda: ready() == 1, "the first make")
            rows = []
            order = places(text)
            for turn in range(given.tweaks):
                kind, number = order[turn % len(order)]
                text = tweaked(text, kind, number, turn + 1)
                seconds = save(text, f"tweak {turn + 1} ({kind})")
                if seconds is None:
                    good &= kind == "word of a comment"
                rows.append((kind, seconds))
            if rows:
                taken = sorted(s for _, s in rows if s is not None)
                median = statistics.median(taken)
                for kind in dict(rows):
                    print(f"  {kind}: " + ", ".join("no file changed" if s is None else f"{s:.2f}" for k, s in rows if k == kind))
                subprocess.run([ribwright, "make", script, "--out", place / "fresh"], check=True, stdout=subprocess.DEVNULL)
                differ = differences(files(out), files(place / "fresh"))
                print(f"{given.script.name}: {len(rows)} tweaks, median {median:.2f} s, most {taken[-1]:.2f} s; "
                      f"files other than those of a make of its own: {len(differ)} {differ[:5]}")
                good &= median < given.most and not differ
            if given.saves:
                found = re.search(NUMBERS["phase"], text)
                if not found:
                    raise SystemExit("the script has no phase to change")
                before, phase, after = text[:found.start(1)], float(found.group(1)), text[found.end(1):]
                megabytes = []
                for turn in range(given.saves):
                    save(f"{before}{phase + 1 + turn % 25 + turn % 2 / 2:g}{after}", f"save {turn}")
                    megabytes.append(memory(process))
                middle = min(SETTLED, len(megabytes) // 2)
                first, last = (statistics.mean(part) for part in (megabytes[middle - MEAN_OF:middle], megabytes[-MEAN_OF:]))
                print(f"{given.script.name}: {given.saves} saves: {first:.1f} MB before save {middle}, {last:.1f} MB at last "
                      f"({last / first:.3f} times, allowed {given.growth}), {max(megabytes):.1f} MB at the most")
                good &= last < first * given.growth
            save(text + " ", "a save in between")
            keep = {k: v for k, v in files(out).items() if k not in ("watch.js", "manifest.json")}
            makes = ready()
            script.write_text(text.replace("sculpture(", "sculptur("))
            wait(lambda: ready() == makes + 1, "the broken save")
            there = files(out)
            kept = all(there.get(k) == v for k, v in keep.items())
            shown = any("sculptur" in line and "error" in line for line in said)
            in_book = "sculptur" in (out / "watch.js").read_text()
            makes = ready()
            script.write_text(text)
            wait(lambda: ready() == makes + 1, "the mended save")
            mended = "sculptur" not in (out / "watch.js").read_text()
            print(f"broken save: output kept {kept}, error shown {shown}, in the book {in_book}; mended {mended}")
            good &= kept and shown and in_book and mended
        finally:
            process.kill()
            process.wait()
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
