"""Compares the time of the trim with that of a mesh-boolean library on the same solids, in one run.

    python speed.py TRIM_TIMES.json REFERENCE_FOLDER

TRIM_TIMES.json is what `cargo bench -p ribwright-tests --bench trim` printed on this machine just before (one
thread, the whole of working out). The library (manifold3d) gets prisms bounded to the work, not the large ones of
reference.py, and only its booleans are timed, not the making of the prisms. The trim must take at most a tenth of
the time on every body, and a tower of 64 like elements at most 1.3 times 8 times one of 8. Exit code 1 otherwise.
"""

import itertools
import json
import pathlib
import statistics
import sys
import time

import numpy

import reference

MOST_RATIO = 1 / 10
MOST_GROWTH = 1.3 * 8
RUNS = 5
MARGIN = 1.05


def reach(element, depth):
    """How far the corners of the flat element lie from the points of its faces, with room for the ribs, mm."""
    normals = numpy.array([f["normal"] for f in element["faces"]], float)
    normals /= numpy.linalg.norm(normals, axis=1)[:, None]
    points = numpy.array([f["point"] for f in element["faces"]], float)
    offsets = (normals * points).sum(axis=1)
    far = 0.0
    for three in itertools.combinations(range(len(offsets)), 3):
        n = normals[list(three)]
        if abs(numpy.linalg.det(n)) < 1e-6:
            continue
        corner = numpy.linalg.solve(n, offsets[list(three)])
        # A corner of the solid, with some room: where three planes meet far outside does not count.
        if (normals @ corner - offsets <= depth).all():
            far = max(far, numpy.linalg.norm(points - corner, axis=1).max())
    return far * MARGIN + 4 * depth


def prisms(case):
    profile = {k: case["profile"][k] for k in ("pitch", "depth", "crest", "valley")}
    shape = reference.trapezoid(**profile, datum=case["profile"].get("datum", "mid"))
    made = []
    for element in case["elements"]:
        reference.R = reach(element, profile["depth"])
        reference.D = 2 * reference.R
        halves = []
        for f in element["faces"]:
            u, v, n = reference.frame(f["normal"], f["along"])
            half = reference.halfspace(f["point"], u, v, n, shape, f["phase"])
            half.num_tri()
            halves.append(half)
        made.append(halves)
    return made


def boolean_seconds(case, volume):
    times, made = [], prisms(case)
    for _ in range(RUNS):
        start = time.perf_counter()
        work = None
        for halves in made:
            body = halves[0]
            for half in halves[1:]:
                body = body ^ half
            work = body if work is None else work + body
        found = work.volume()
        times.append(time.perf_counter() - start)
        if abs(found - volume) > 1e-6 * volume:
            raise SystemExit(f"the bounded prisms do not cover the body: {found} instead of {volume}")
    return statistics.median(times)


def main():
    if len(sys.argv) != 3:
        raise SystemExit(__doc__)
    ours = json.loads(pathlib.Path(sys.argv[1]).read_text(encoding="utf-8"))
    failed = False
    for path in sorted(pathlib.Path(sys.argv[2]).glob("*.json")):
        body = json.loads(path.read_text(encoding="utf-8"))
        library = boolean_seconds(body["case"], body["reference"]["enclosed_volume_mm3"])
        trim = ours["bodies"][path.stem]
        ratio = trim / library
        failed |= not ratio <= MOST_RATIO
        print(f"{path.stem}: trim {trim * 1e3:.2f} ms, library {library * 1e3:.2f} ms, 1/{library / trim:.0f}"
              + ("" if ratio <= MOST_RATIO else "  TOO SLOW"))
    for joint, times in ours["towers"].items():
        growth = times["64"] / times["8"]
        failed |= not growth <= MOST_GROWTH
        print(f"towers, joint {joint}: 8 elements {times['8'] * 1e3:.1f} ms, 64 elements {times['64'] * 1e3:.1f} ms, "
              f"{growth / 8:.2f} per element" + ("" if growth <= MOST_GROWTH else "  NOT LINEAR"))
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
