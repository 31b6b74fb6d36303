"""Further reference bodies, not in the fixtures: random cases through `ribwright make` and manifold3d.

    python random_bodies.py RIBWRIGHT [--count 12] [--seed 1] [--keep FOLDER]

Makes single bodies, stacks of two to four elements, octahedra given by their corners, and boulders of nine to
fourteen planes, in random sharp-folded trapezoids with random rib directions and phases; works each out with a
general-purpose mesh-boolean library (reference.py) and with ribwright (joints `true`), and compares every figure
of job.json to 1e-6 relative: volumes, areas, pieces, centroid, the list of seams and their lengths, flat edges and
areas. Cases whose faces fall into several pieces are left out and counted, since there the two lists of slivers
may differ by rounding. Exit code 1 on any difference.
"""

import argparse
import itertools
import json
import pathlib
import random
import subprocess
import sys
import tempfile

import numpy

import reference
from speed import reach

TOLERANCE = 1e-6
# reference.py rounds the areas of pieces to 0.01 mm2.
PIECE_ROUNDING = 0.0051
# The corners of an octahedron and its eight faces, each as the corners on the six half axes.
AXES = [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)]


def rounded(values, digits=3):
    return [round(float(v), digits) for v in values]


def random_profile(source):
    pitch = round(source.uniform(60, 320), 1)
    crest, valley = (round(pitch * source.uniform(0.15, 0.42), 1) for _ in range(2))
    return {"pitch": pitch, "depth": round(pitch * source.uniform(0.08, 0.25), 1), "crest": crest,
            "valley": valley, "datum": source.choice(["mid", "mid", "crest", "valley"])}


def face(source, profile, name, point, normal):
    along = rounded([source.gauss(0, 1) for _ in range(3)])
    return {"name": name, "point": rounded(point), "normal": rounded(normal, 4), "along": along,
            "phase": round(source.uniform(0, profile["pitch"]), 1)}


def slab(source, profile, name, foot, size):
    """A box of six tilted planes standing at `foot`."""
    x, y, z = size
    middle = numpy.array([foot[0], foot[1], foot[2] + z / 2])
    sides = {"east": (1, 0, 0), "west": (-1, 0, 0), "north": (0, 1, 0), "south": (0, -1, 0), "top": (0, 0, 1),
             "bottom": (0, 0, -1)}
    faces = []
    for label, direction in sides.items():
        direction = numpy.array(direction, float)
        point = middle + direction * numpy.array([x, y, z]) / 2
        tilt = numpy.array([source.gauss(0, 0.06) for _ in range(3)])
        faces.append(face(source, profile, label, point, direction + tilt))
    return {"name": name, "faces": faces}


def prism(source, profile, name, foot, width, height):
    """A leaning prism of three to seven sides."""
    sides = source.choice([3, 5, 6, 7])
    faces = []
    for k in range(sides):
        angle = 2 * numpy.pi * k / sides + source.uniform(-0.1, 0.1)
        out = numpy.array([numpy.cos(angle), numpy.sin(angle), source.uniform(-0.05, 0.25)])
        point = numpy.array([foot[0], foot[1], foot[2] + height / 2]) + out * numpy.array([1, 1, 0]) * width / 2
        faces.append(face(source, profile, f"side{k + 1}", point, out))
    tilted = [source.gauss(0, 0.04), source.gauss(0, 0.04)]
    faces.append(face(source, profile, "top", [foot[0], foot[1], foot[2] + height], tilted + [1]))
    faces.append(face(source, profile, "bottom", foot, [0, 0, -1]))
    return {"name": name, "faces": faces}


def octahedron(source, profile, name, foot, width):
    """Eight faces through six moved corners; the script gets the corners, the library the planes."""
    centre = numpy.array([foot[0], foot[1], foot[2] + width * 0.6])
    corners = [rounded(centre + numpy.array(a) * width * source.uniform(0.5, 0.65)) for a in AXES]
    faces, hull = [], {}
    for number, signs in enumerate(itertools.product((0, 1), repeat=3), start=1):
        indices = [signs[0], 2 + signs[1], 4 + signs[2]]
        p = [numpy.array(corners[i]) for i in indices]
        normal = numpy.cross(p[1] - p[0], p[2] - p[0])
        normal /= numpy.linalg.norm(normal)
        point = sum(p) / 3
        if normal @ (point - centre) < 0:
            normal = -normal
        one = face(source, profile, f"f{number}", point, normal)
        one["point"], one["normal"] = [float(v) for v in point], [float(v) for v in normal]
        faces.append(one)
        hull[one["name"]] = indices
    return {"name": name, "faces": faces, "corners": corners, "hull": hull}


def boulder(source, profile, name, foot, width):
    """Nine to fourteen planes all round a middle, as the hull of many points has them."""
    count = source.randint(9, 14)
    middle = numpy.array([foot[0], foot[1], foot[2] + width / 2])
    faces = []
    for k in range(count):
        # Even over the sphere by the golden angle, then shaken, so that no two planes are nearly one.
        z = 1 - (2 * k + 1) / count
        angle = 2.39996 * k
        out = numpy.array([numpy.cos(angle) * (1 - z * z) ** 0.5, numpy.sin(angle) * (1 - z * z) ** 0.5, z])
        out += [source.gauss(0, 0.08) for _ in range(3)]
        point = middle + out / numpy.linalg.norm(out) * width * source.uniform(0.46, 0.54)
        faces.append(face(source, profile, f"f{k + 1}", point, out))
    return {"name": name, "faces": faces}


def random_case(source):
    profile = random_profile(source)
    kind = source.choice(["single", "prism", "octahedron", "boulder", "stack", "stack", "stack"])
    if kind == "boulder":
        # Shallow edges want shallow ribs, or every face falls into pieces.
        profile["depth"] = round(profile["pitch"] * 0.06, 1)
        return {"profile": profile, "elements": [boulder(source, profile, "A", (0, 0, 0), source.uniform(1200, 2000))]}
    if kind == "octahedron":
        return {"profile": profile, "elements": [octahedron(source, profile, "A", (0, 0, 0), source.uniform(900, 1600))]}
    count = source.randint(2, 4) if kind == "stack" else 1
    elements, foot, width = [], numpy.zeros(3), source.uniform(1100, 1500)
    for k in range(count):
        height = source.uniform(800, 1300)
        name = "ABCD"[k]
        if kind == "prism" or source.random() < 0.3:
            elements.append(prism(source, profile, name, foot, width, height))
        else:
            elements.append(slab(source, profile, name, foot, (width, width * source.uniform(0.8, 1.1), height)))
        sink = profile["depth"] * 2 + source.uniform(60, 140)
        foot = foot + numpy.array([source.uniform(-80, 80), source.uniform(-80, 80), height - sink])
        width *= source.uniform(0.6, 0.75)
    return {"profile": profile, "elements": elements}


def script(case):
    p = case["profile"]
    datum = {"mid": "middle"}.get(p["datum"], p["datum"])
    lines = [
        f"let rib = trapezoid(#{{ pitch: {p['pitch']}, depth: {p['depth']}, crest: {p['crest']}, "
        f"valley: {p['valley']}, thickness: 1, bend_radius: 0 }});",
        'let s = sculpture("random body");',
        's.joints(#{ kind: "true" });',
    ]
    for k, e in enumerate(case["elements"]):
        if "corners" in e:
            names = ", ".join(f"{name}: {indices}" for name, indices in e["hull"].items())
            lines.append(f'let e{k} = hull("{e["name"]}", {e["corners"]}, #{{ {names} }});')
        else:
            planes = ",\n    ".join(
                f'#{{ name: "{f["name"]}", point: {f["point"]}, normal: {f["normal"]} }}' for f in e["faces"])
            lines.append(f'let e{k} = planes("{e["name"]}", [\n    {planes}\n]);')
        lines.append(f"e{k}.clad(rib);")
        for f in e["faces"]:
            lines.append(f'e{k}.face("{f["name"]}").ribs(#{{ along: {f["along"]}, through: {f["point"]}, '
                         f'phase: {f["phase"]}, datum: "{datum}" }});')
        lines.append(f"s.add(e{k});")
    return "\n".join(lines + ["s", ""])


def differences(job, expected):
    """Every figure of job.json against the library's; one line per difference, and how many were compared."""
    lines, count = [], 0

    def figure(what, found, wanted, bound=None):
        nonlocal count
        count += 1
        if not abs(found - wanted) <= (TOLERANCE * abs(wanted) if bound is None else bound):
            lines.append(f"{what}: {found!r}, the library says {wanted!r}")

    def table(what, found, wanted):
        for name in sorted(set(found) ^ set(wanted)):
            lines.append(f"{what} {name}: only in {'job.json' if name in found else 'the library'}")
        for name in sorted(set(found) & set(wanted)):
            figure(f"{what} {name}", found[name], wanted[name])

    whole = job["sculpture"]
    figure("volume", whole["enclosed_volume_mm3"], expected["enclosed_volume_mm3"])
    figure("shell area", whole["shell_area_mm2"], expected["shell_area_mm2"])
    size = numpy.linalg.norm(expected["shell_centroid_mm"])
    for axis in range(3):
        figure(f"centroid {'xyz'[axis]}", whole["shell_centroid_mm"][axis], expected["shell_centroid_mm"][axis],
               TOLERANCE * size)
    table("element volume", {e["name"]: e["volume_mm3"] for e in job["elements"]}, expected["element_volume_mm3"])
    visible = {f["id"]: f for f in job["faces"] if f["area_mm2"] > 0}
    table("face area", {i: f["area_mm2"] for i, f in visible.items()}, expected["face_area_mm2"])
    table("flat face area", {f["id"]: f["nominal_area_mm2"] for f in job["faces"] if f["nominal_area_mm2"] > 0},
          expected["flat"]["face_area_mm2"])
    for name, pieces in expected["face_pieces_mm2"].items():
        found = visible.get(name, {}).get("pieces_mm2", [])
        if len(found) != len(pieces):
            lines.append(f"pieces of {name}: {found}, the library says {pieces}")
        for a, b in zip(found, pieces):
            figure(f"piece of {name}", a, b, TOLERANCE * b + PIECE_ROUNDING)
    tilde = lambda given: {k.replace(" ~ ", "~"): v for k, v in given.items()}
    table("seam", {s["id"]: s["length_mm"] for s in job["seams"]}, tilde(expected["seam_length_mm"]))
    table("flat edge", {s["id"]: s["nominal_length_mm"] for s in job["seams"] if s["nominal_length_mm"] > 0},
          tilde(expected["flat"]["edge_length_mm"]))
    return lines, count


# The library and we may merge or keep a piece of less than this differently, mm².
LEAST_PIECE = 1.0


def is_clean(expected):
    """One body, no piece of nearly nothing, and no flat edge without a ribbed seam or the other way round."""
    return (expected["components"] == 1
            and all(min(pieces) >= LEAST_PIECE for pieces in expected["face_pieces_mm2"].values())
            and set(expected["flat"]["edge_length_mm"]) == set(expected["seam_length_mm"]))


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("ribwright", type=pathlib.Path, help="the binary")
    arguments.add_argument("--count", type=int, default=12, help="clean bodies to compare")
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--keep", type=pathlib.Path, help="a folder for the scripts and cases that differ")
    given = arguments.parse_args()
    source = random.Random(given.seed)
    compared, left_out, figures, failures = 0, 0, 0, []
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        while compared < given.count:
            if left_out > 20 * given.count:
                raise SystemExit(f"only {compared} of {given.count} random bodies are clean")
            case = random_case(source)
            # Prisms that just cover the work: the library is faster on them, and as exact.
            reference.R = max(reach(e, case["profile"]["depth"]) for e in case["elements"])
            reference.D = 2 * reference.R
            try:
                expected = reference.run(case)
            except (AssertionError, ValueError):
                left_out += 1
                continue
            if not is_clean(expected):
                left_out += 1
                continue
            compared += 1
            path = folder / f"body{compared}.rhai"
            path.write_text(script(case), encoding="utf-8")
            out = folder / f"out{compared}"
            made = subprocess.run([given.ribwright.resolve(), "make", path, "--out", out, "--only", "schedules"],
                                  capture_output=True, text=True, check=False)
            if made.returncode != 0:
                lines = [f"make ended with {made.returncode}: {made.stdout[-800:]}{made.stderr[-800:]}"]
            else:
                lines, count = differences(json.loads((out / "job.json").read_text(encoding="utf-8")), expected)
                figures += count
            label = f"seed {given.seed}, body {compared} ({len(case['elements'])} elements)"
            failures += [f"{label}: {line}" for line in lines]
            if lines and given.keep:
                given.keep.mkdir(parents=True, exist_ok=True)
                stem = f"seed{given.seed}_body{compared}"
                (given.keep / f"{stem}.rhai").write_text(script(case), encoding="utf-8")
                (given.keep / f"{stem}.json").write_text(
                    json.dumps({"case": case, "reference": expected}, indent=1), encoding="utf-8")
    print(f"{compared} random bodies, {figures} figures compared, {left_out} bodies left out as not clean")
    for line in failures:
        print(line, file=sys.stderr)
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main()
