"""Measures `ribwright watch` on one script: time from a save to its finished files, and memory over many saves.

    python watch_cost.py RIBWRIGHT SCRIPT [--saves 200] [--most 0.5]

Saves change one number of the script back and forth in small steps, so that every save makes other files. The time is
taken outside: from the end of the write until the manifest in the output folder is another. The median must stay under
--most on two cores that are otherwise idle; memory after the last tenth of the saves must not be more than a tenth above
that after the first tenth. Then the script is broken: the output must stay as it was, the error must be shown, in the
terminal and in the watched book; and mended. Exit code 1 otherwise.
"""

import argparse
import pathlib
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time

MOST_GROWTH = 1.1
PATIENCE = 60.0


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


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("ribwright", type=pathlib.Path)
    arguments.add_argument("script", type=pathlib.Path)
    arguments.add_argument("--saves", type=int, default=200)
    arguments.add_argument("--most", type=float, default=0.5, help="median time from save to files, s")
    given = arguments.parse_args()
    text = given.script.read_text()
    found = re.search(r"phase: (\d+)", text)
    if not found:
        raise SystemExit("the script has no phase to change")
    before, phase, after = text[:found.start(1)], int(found.group(1)), text[found.end(1):]
    with tempfile.TemporaryDirectory() as place:
        place = pathlib.Path(place)
        script, out = place / "work.rhai", place / "out"
        script.write_text(text)
        process = subprocess.Popen([given.ribwright.resolve(), "watch", script], stdout=subprocess.PIPE,
                                   stderr=subprocess.STDOUT, text=True)
        said = []
        threading.Thread(target=lambda: said.extend(iter(process.stdout.readline, "")), daemon=True).start()
        ready = lambda: sum(line.startswith("watching ") for line in said)
        stamp = lambda: (out / "manifest.json").read_bytes() if (out / "manifest.json").exists() else b""
        wait(lambda: ready() == 1, "the first make")
        seconds, megabytes = [], []
        for save in range(given.saves):
            makes, old = ready(), stamp()
            script.write_text(f"{before}{phase + 1 + save % 25 + save % 2 / 2}{after}")
            start = time.perf_counter()
            wait(lambda: stamp() not in (old, b""), f"save {save}")
            seconds.append(time.perf_counter() - start)
            wait(lambda: ready() == makes + 1, f"the end of make {save}")
            megabytes.append(memory(process))
        tenth = max(1, given.saves // 10)
        first, last = (statistics.mean(part) for part in (megabytes[:tenth], megabytes[-tenth:]))
        keep = {p: p.read_bytes() for p in out.rglob("*") if p.is_file() and p.name not in ("watch.js", "manifest.json")}
        makes = ready()
        script.write_text(text.replace("sculpture(", "sculptur("))
        wait(lambda: ready() == makes + 1, "the broken save")
        kept = all(p.is_file() and p.read_bytes() == b for p, b in keep.items())
        shown = any("sculptur" in line and "error" in line for line in said)
        in_book = "sculptur" in (out / "watch.js").read_text()
        makes = ready()
        script.write_text(text)
        wait(lambda: ready() == makes + 1, "the mended save")
        mended = "sculptur" not in (out / "watch.js").read_text()
        process.kill()
        process.wait()
    ordered = sorted(seconds)
    median, most = statistics.median(seconds), ordered[int(len(ordered) * 0.95)]
    print(f"{given.script.name}: {given.saves} saves, median {median:.2f} s, 95 % under {most:.2f} s, least {ordered[0]:.2f} s; "
          f"{first:.0f} MB at first, {last:.0f} MB at last; broken save: output kept {kept}, error shown {shown}, "
          f"in the book {in_book}; mended {mended}")
    good = median < given.most and last < first * MOST_GROWTH and kept and shown and in_book and mended
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
