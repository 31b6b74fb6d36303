"""Measures time and memory of `ribwright make` on one script, all files, warm, on two cores.

    python make_cost.py RIBWRIGHT SCRIPT [--most SECONDS] [--memory MB] [--runs 3]

The best of so many runs must stay under 1.5 s, and every run under 200 MB, unless told otherwise: all but the first are
surely warm. Exit code 1 otherwise.
"""

import argparse
import os
import pathlib
import subprocess
import sys
import tempfile
import time

MOST_SECONDS = 1.5
MOST_MEGABYTES = 200.0
RUNS = 3


def run(ribwright, script, out):
    start = time.perf_counter()
    process = subprocess.Popen([ribwright, "make", script, "--out", out, "--threads", "2"],
                               stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    seconds = time.perf_counter() - start
    if process.returncode != 0:
        raise SystemExit(f"make ended with {process.returncode}")
    # Linux counts in KiB, macOS in bytes.
    return seconds, usage.ru_maxrss * (1 if sys.platform == "darwin" else 1024) / 1e6


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("ribwright", type=pathlib.Path)
    parser.add_argument("script", type=pathlib.Path)
    parser.add_argument("--most", type=float, default=MOST_SECONDS)
    parser.add_argument("--memory", type=float, default=MOST_MEGABYTES)
    parser.add_argument("--runs", type=int, default=RUNS)
    given = parser.parse_args()
    ribwright, script = given.ribwright.resolve(), given.script.resolve()
    with tempfile.TemporaryDirectory() as folder:
        out = pathlib.Path(folder) / "out"
        figures = [run(ribwright, script, out) for _ in range(given.runs)]
        files = sum(1 for path in out.rglob("*") if path.is_file())
    seconds = min(s for s, _ in figures)
    memory = max(m for _, m in figures)
    print(f"{script.name}: {files} files in {seconds:.2f} s (best of {given.runs}), {memory:.0f} MB")
    sys.exit(0 if seconds < given.most and memory < given.memory else 1)


if __name__ == "__main__":
    main()
