"""Thick parts: whether what is cut fits together, by a general-purpose mesh-boolean library.

    python thick_parts.py RIBWRIGHT FIXTURES

Writes the reference bodies as scripts with real sheet (2 mm; sharp folds and folds of 4 mm inside radius), makes
them, and reads back what a shop gets: the blanks in cut/*.dxf, and from job.json only where each part lies. Every
blank is folded here again, by this file's own reckoning of flats and arcs, and extruded square through its
thickness. Then:

* `meet: "inside"` (true and mitred joints): neighbours are intersected with manifold3d; they may share less
  than 1 mm3 per metre of seam.
* `meet: "outside"` with bevels: every point of a part's edge on its outside skin lies within 0.01 mm of the edge
  of another part on its own outside skin.

Arcs are taken as the chords the design allows (ends on the true arc, 0.05 mm at most off it). Exit code 1 on any
failure.
"""

import argparse
import itertools
import json
import math
import pathlib
import re
import subprocess
import sys
import tempfile

import manifold3d
import numpy
from ezdxf.addons import iterdxf
from shapely.geometry import Polygon, box
from shapely.geometry.polygon import orient

from random_bodies import script

SHARED_PER_METRE = 1.0
TOUCH = 0.01
CHORD = 0.05
THICKNESS = 2.0
# Corners of a drawing nearer than this to a fold lie on it.
ON_FOLD = 1e-4
# Where an entity of a drawing begins, and its layer: codes stand in three columns.
ENTITY = re.compile(r"^  0\n", re.MULTILINE)
LAYER = re.compile(r"^  8\n(.*)$", re.MULTILINE)
# Edges are looked for within this, mm, in cells of this size.
MARGIN, CELL = 1.0, 60.0


class Section:
    """One pitch of a trapezoid's middle skin, folded with an inside radius, as strips with the normals at both ends."""

    def __init__(self, profile, radius):
        middle = radius + THICKNESS / 2 if radius else 0.0
        run = (profile["pitch"] - profile["crest"] - profile["valley"]) / 2
        slope = math.atan2(profile["depth"], run)
        web = math.hypot(profile["depth"], run)
        setback = middle * math.tan(slope / 2)
        half_crest = profile["crest"] / 2 - setback
        bend = ("bend", middle, slope)
        pieces = [("flat", half_crest), bend, ("flat", web - 2 * setback), ("bend", middle, -slope),
                  ("flat", profile["valley"] - 2 * setback), ("bend", middle, -slope), ("flat", web - 2 * setback),
                  bend, ("flat", half_crest)]
        t, h, w, angle = 0.0, profile["depth"] / 2, 0.0, 0.0
        self.strips = []
        for piece in pieces:
            if piece[0] == "flat":
                length = piece[1]
                end = (t + length * math.cos(angle), h - length * math.sin(angle))
                self.add((t, h), end, w, length, angle, angle)
                (t, h), w = end, w + length
                continue
            _, r, turn = piece
            if r == 0:
                angle += turn
                continue
            count = math.ceil(abs(turn) / (2 * math.acos(1 - CHORD / r)) * (1 - 1e-9))
            for _ in range(count):
                part = turn / count
                chord, mean = 2 * r * math.sin(abs(part) / 2), angle + part / 2
                end = (t + chord * math.cos(mean), h - chord * math.sin(mean))
                self.add((t, h), end, w, r * abs(part), angle, angle + part)
                (t, h), w, angle = end, w + r * abs(part), angle + part
        assert abs(t - profile["pitch"]) < 1e-6 and abs(angle) < 1e-9
        self.pitch, self.length, self.sharp = profile["pitch"], w, radius == 0

    def add(self, start, end, w, width, before, after):
        self.strips.append({"from": start, "to": end, "w": w, "width": width, "angles": (before, after)})

    def all_strips(self, low, high):
        """Strips of every pitch that reaches into the range, with neighbours' slopes for mitres."""
        for period in range(math.floor(low / self.length) - 1, math.ceil(high / self.length) + 1):
            for i, strip in enumerate(self.strips):
                w = strip["w"] + period * self.length
                if w < high and w + strip["width"] > low:
                    yield i, period, w, strip


def frame_of(placement):
    return [numpy.array(placement[k]) for k in ("origin_mm", "along", "across", "outward")]


def outlines_of(path):
    """Rings of the layers a part is cut out by. Polylines of other layers, which are lettering for the most part, are left
    out before the drawing is read, for reading whole drawings takes as long as all the rest; read_drawings.py reads them
    whole."""
    rings = {"OUTLINE": [], "CUT": []}
    first, *entities = ENTITY.split(path.read_text(encoding="utf-8"))
    kept = [e for e in entities if not e.startswith("LWPOLYLINE") or LAYER.search(e)[1] in rings]
    short = path.with_suffix(".short")
    short.write_text("  0\n".join([first, *kept]), encoding="utf-8")
    for entity in iterdxf.modelspace(short, types=["LWPOLYLINE"]):
        if entity.dxf.layer in rings:
            rings[entity.dxf.layer].append([(float(x), float(y)) for x, y in entity.get_points("xy")])
    return rings["OUTLINE"] or rings["CUT"]


def as_polygon(outlines):
    """Outer outlines less holes, whichever way round the file has them."""
    shapes = sorted((Polygon(o).buffer(0) for o in outlines), key=lambda p: -p.area)
    whole = Polygon()
    for shape in shapes:
        whole = whole.difference(shape) if whole.contains(shape.representative_point()) else whole.union(shape)
    return whole


def flat_pieces(shape):
    pieces = getattr(shape, "geoms", [shape])
    return [p for p in pieces if p.geom_type == "Polygon" and p.area > 1e-9]


def extrude(polygon, low, high, place):
    """A plate from low to high over a polygon, `place` giving the 3 x 4 matrix into space."""
    rings = [list(orient(polygon).exterior.coords)[:-1]] + [list(r.coords)[:-1] for r in orient(polygon).interiors]
    section = manifold3d.CrossSection([numpy.array(r) for r in rings], manifold3d.FillRule.EvenOdd)
    solid = manifold3d.Manifold.extrude(section, high - low).translate((0, 0, low))
    return solid.transform(place)


def fold(part, outlines, section):
    """The thick part, folded up from its blank: one solid for each flat strip."""
    origin, along, across, outward = frame_of(part["placement"])
    corner = part["placement"]["drawing_corner_mm"]
    if part["kind"] == "closure":
        shape = as_polygon([[(x + corner[0], y + corner[1]) for x, y in o] for o in outlines])
        place = numpy.column_stack([along, across, outward, origin])
        return [extrude(p, -part["thickness_mm"], 0.0, place) for p in flat_pieces(shape)]
    shape = as_polygon([[(y + corner[0], corner[1] - x) for x, y in o] for o in outlines])
    phase, lift = part["placement"]["phase_mm"], part["placement"]["lift_mm"]
    s_low, w_low, s_high, w_high = shape.bounds
    half = THICKNESS / 2
    solids = []
    for i, period, w, strip in section.all_strips(w_low, w_high):
        band = shape.intersection(box(s_low - 1, w, s_high + 1, w + strip["width"]))
        (t0, h0), (t1, h1) = strip["from"], strip["to"]
        chord = math.hypot(t1 - t0, h1 - h0)
        run = (across * (t1 - t0) + outward * (h1 - h0)) / chord
        normal = numpy.cross(along, run)
        start = origin + across * (t0 + phase + period * section.pitch) + outward * (h0 + lift)
        place = numpy.column_stack([along, run, normal, start])
        for piece in flat_pieces(band):
            # Along the chord an arc's strip is a little shorter than along the arc.
            points = [(s, (x - w) * chord / strip["width"]) for s, x in piece.exterior.coords]
            holes = [[(s, (x - w) * chord / strip["width"]) for s, x in r.coords] for r in piece.interiors]
            solid = extrude(Polygon(points, holes), -half, half, place)
            if section.sharp:
                solid = mitred(solid, section, i, start, start + run * chord, run, along, across, outward)
            solids.append(solid)
    return solids


def mitred(solid, section, i, start, end, run, along, across, outward):
    """A sharply folded strip ends on the planes that halve the angles to its neighbours."""
    def direction(k):
        (t0, h0), (t1, h1) = section.strips[k % len(section.strips)]["from"], section.strips[k % len(section.strips)]["to"]
        v = across * (t1 - t0) + outward * (h1 - h0)
        return v / numpy.linalg.norm(v)

    for point, other, sign in ((start, direction(i - 1), 1.0), (end, direction(i + 1), -1.0)):
        halving = (run + other) * sign
        halving = halving / numpy.linalg.norm(halving)
        solid = solid.trim_by_plane(tuple(halving), float(halving @ point))
    return solid


def pieces_of(folder, job, section):
    """Of each part its pieces, and their boxes."""
    whole = {}
    for part in job["parts"]:
        file = next(f for f in part["template_files"] if f.startswith("cut/"))
        pieces = fold(part, outlines_of(folder / file), section)
        whole[part["id"]] = pieces, numpy.array([p.bounding_box() for p in pieces])
    return whole


def meet(a, b):
    """Which of some boxes meet which of others."""
    return ((a[:, None, :3] < b[None, :, 3:]) & (b[None, :, :3] < a[:, None, 3:])).all(axis=2)


def check_inside(name, folder, job, section):
    parts = pieces_of(folder, job, section)
    metres = sum(s["length_mm"] for s in job["seams"]) / 1000
    shared, worst = 0.0, (0.0, "")
    for (a, (ours, own)), (b, (others, their)) in itertools.combinations(sorted(parts.items()), 2):
        # Pieces of one part hardly overlap, and what they do is counted twice.
        pairs = numpy.argwhere(meet(own, their))
        volume = sum((ours[i] ^ others[j]).volume() for i, j in pairs)
        shared += volume
        worst = max(worst, (volume, f"{a} and {b}"))
    good = shared <= SHARED_PER_METRE * metres
    print(f"{'ok' if good else 'FAILED'}  {name}: {len(parts)} parts share {shared:.3f} mm3 on {metres:.1f} m of seam "
          f"({shared / metres:.4f} per metre; most: {worst[1]} {worst[0]:.3f})")
    return good


def outside_edges(part, outlines, section):
    """The edges of a blank on the outside skin, as segments in space."""
    origin, along, across, outward = frame_of(part["placement"])
    corner = part["placement"]["drawing_corner_mm"]
    phase, lift = part["placement"]["phase_mm"], part["placement"]["lift_mm"]

    def place(s, w):
        period = math.floor((w + ON_FOLD) / section.length)
        local = w - period * section.length
        strip = next((x for x in section.strips if local <= x["w"] + x["width"] + ON_FOLD), section.strips[-1])
        share = min(max((local - strip["w"]) / strip["width"], 0.0), 1.0)
        ends = []
        for (t, h), angle in zip((strip["from"], strip["to"]), strip["angles"]):
            ends.append((t + THICKNESS / 2 * math.sin(angle), h + THICKNESS / 2 * math.cos(angle)))
        t, h = (ends[0][j] + (ends[1][j] - ends[0][j]) * share for j in (0, 1))
        return origin + along * s + across * (t + phase + period * section.pitch) + outward * (h + lift)

    segments = []
    for outline in outlines:
        points = [place(y + corner[0], corner[1] - x) for x, y in outline]
        segments += [(points[i - 1], points[i]) for i in range(len(points))]
    return numpy.array(segments)


def distances(points, segments):
    """Distance of each point to the nearest segment."""
    # Segments by the cells their boxes reach into; a point with none in its cell, or none within the cells' margin, is held
    # against all of them.
    low = numpy.floor((segments.min(axis=1) - MARGIN) / CELL).astype(int)
    high = numpy.floor((segments.max(axis=1) + MARGIN) / CELL).astype(int)
    cells = {}
    for k in range(len(segments)):
        for cell in itertools.product(*(range(a, b + 1) for a, b in zip(low[k], high[k]))):
            cells.setdefault(cell, []).append(k)
    best = numpy.empty(len(points))
    for k, (p, cell) in enumerate(zip(points, map(tuple, numpy.floor(points / CELL).astype(int)))):
        best[k] = distance(p, segments[cells[cell]]) if cell in cells else numpy.inf
        if best[k] > MARGIN:
            best[k] = distance(p, segments)
    return best


def distance(p, segments):
    a, d = segments[:, 0], segments[:, 1] - segments[:, 0]
    share = numpy.clip(((p - a) * d).sum(1) / numpy.maximum((d * d).sum(1), 1e-12), 0, 1)
    apart = a + d * share[:, None] - p
    return math.sqrt((apart * apart).sum(1).min())


def check_outside(name, folder, job, section):
    edges = {}
    for part in job["parts"]:
        file = next(f for f in part["template_files"] if f.startswith("cut/"))
        edges[part["id"]] = outside_edges(part, outlines_of(folder / file), section)
    worst, where, count = 0.0, "", 0
    for own, segments in edges.items():
        others = numpy.concatenate([s for other, s in edges.items() if other != own])
        points = numpy.concatenate([segments[:, 0], segments.mean(axis=1)])
        apart = distances(points, others)
        count += len(points)
        if apart.max() > worst:
            worst, where = float(apart.max()), own
    good = worst <= TOUCH
    print(f"{'ok' if good else 'FAILED'}  {name}: outside skins are at most {worst:.5f} mm apart at {count} places "
          f"of their edges ({where})")
    return good


def make(ribwright, folder, case, joints, radius):
    text = script(case).replace("thickness: 1, bend_radius: 0", f"thickness: {THICKNESS}, bend_radius: {radius}")
    path = folder / "body.rhai"
    path.write_text(text.replace('kind: "true"', joints), encoding="utf-8")
    out = folder / "out"
    done = subprocess.run([ribwright, "make", str(path), "--out", str(out), "--only", "templates"],
                          capture_output=True, text=True)
    if done.returncode == 1 and "error[apart]" in done.stdout:
        return out, None
    if done.returncode != 0:
        sys.exit(f"{path}: {done.stdout}{done.stderr}")
    return out, json.loads((out / "job.json").read_text(encoding="utf-8"))


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("ribwright")
    parser.add_argument("fixtures", type=pathlib.Path)
    given = parser.parse_args()
    good, count = True, 0
    for file in sorted(given.fixtures.glob("*.json")):
        case = json.loads(file.read_text(encoding="utf-8"))["case"]
        for radius in (0, 4):
            section = Section(case["profile"], radius)
            runs = [('kind: "true", meet: "inside"', check_inside)]
            if radius:
                runs += [('kind: "mitre", meet: "inside"', check_inside),
                         ('kind: "true", meet: "outside", bevel: true', check_outside)]
            for joints, check in runs:
                with tempfile.TemporaryDirectory() as folder:
                    out, job = make(given.ribwright, pathlib.Path(folder), case, joints, radius)
                    if job is None:
                        # A mitred body may fall into lumps, which is an error finding and makes no files.
                        print(f"--  {file.stem}, radius {radius}, {joints}: falls apart, left out")
                        continue
                    good &= check(f"{file.stem}, radius {radius}, {joints}", out, job, section)
                    count += 1
    good &= count >= 3 * len(list(given.fixtures.glob("*.json")))
    print(f"{count} bodies of thick parts, {'all good' if good else 'FAILED'}")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
