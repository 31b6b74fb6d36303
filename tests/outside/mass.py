"""Mass properties of the reference bodies, worked out again with a general mesh library.

    python mass.py MASSES.json

MASSES.json is what `cargo bench -p ribwright-tests --bench mass` prints. Checked for every body:

* as a solid, the very same mesh in trimesh: volume, centroid and all six entries of the inertia tensor;
* as a thin shell, by numpy: area times the three middles of the edges of every triangle, a rule that is exact for
  squares and products and not the one ribwright uses;
* every part as thick sheet: its outline cut into strips by shapely, each extruded square through its thickness (the
  folds reckoned by thick_parts.py, arcs as chords that weigh what the arc weighs) and integrated by trimesh as a solid.

The first two must agree within 1e-9, the third within 0.1 %: strips that meet at an angle overlap on one side and
gape on the other. Exit code 1 on any failure.
"""

import json
import math
import pathlib
import sys

import numpy
import trimesh
from shapely.geometry import box

from thick_parts import THICKNESS, Section, as_polygon, flat_pieces

SAME_MESH = 1e-9
THICK = 1e-3


def figures(mass, centre, inertia):
    return {"mass": mass, "centre": numpy.array(centre), "inertia": numpy.array(inertia)}


def off(ours, theirs, size):
    """The largest of the three relative differences; a centre counts against the size."""
    return max(
        abs(ours["mass"] / theirs["mass"] - 1),
        float(numpy.linalg.norm(numpy.array(ours["centre"]) - theirs["centre"])) / size,
        float(numpy.linalg.norm(numpy.array(ours["inertia"]) - theirs["inertia"]) /
              numpy.linalg.norm(theirs["inertia"])),
    )


def as_solid(points, triangles):
    middle = points.mean(axis=0)
    mesh = trimesh.Trimesh(points - middle, triangles, process=False, validate=False)
    if not mesh.is_watertight:
        raise SystemExit("the mesh is not watertight")
    return figures(mesh.volume, mesh.center_mass + middle, mesh.moment_inertia)


def from_moments(mass, first, second):
    """A body from mass, ∫ x dm and ∫ x xᵀ dm."""
    centre = first / mass
    second = second - mass * numpy.outer(centre, centre)
    return figures(mass, centre, numpy.trace(second) * numpy.eye(3) - second)


def as_shell(points, triangles):
    middle = points.mean(axis=0)
    a, b, c = (points[triangles[:, k]] - middle for k in range(3))
    area = numpy.linalg.norm(numpy.cross(b - a, c - a), axis=1) / 2
    mass, first, second = area.sum(), numpy.zeros(3), numpy.zeros((3, 3))
    for m in ((a + b) / 2, (b + c) / 2, (c + a) / 2):
        first += (area[:, None] / 3 * m).sum(axis=0)
        second += numpy.einsum("i,ij,ik->jk", area / 3, m, m)
    body = from_moments(mass, first, second)
    return figures(mass, body["centre"] + middle, body["inertia"])


def prism(polygon, low, high, place):
    """Mass 1 per volume of a plate over a polygon, laid in space, as moments."""
    mesh = trimesh.creation.extrude_polygon(polygon, high - low)
    mesh.apply_translation([0, 0, low])
    mesh.apply_transform(place)
    return mesh


def thick(part, section, density):
    """A part as thick strips: a body in kg and mm."""
    origin, along, across, outward = (numpy.array(part[k]) for k in ("origin", "along", "across", "outward"))
    half = part["thickness"] / 2
    mass, first, second = 0.0, numpy.zeros(3), numpy.zeros((3, 3))
    plates = []
    if part["kind"] == "closure":
        place = numpy.vstack([numpy.column_stack([along, across, outward, origin]), [0, 0, 0, 1]])
        plates = [(p, -2 * half, 0.0, place, 1.0) for p in flat_pieces(as_polygon(part["outlines"]))]
    else:
        shape = as_polygon(part["outlines"])
        s_low, t_low, s_high, t_high = shape.bounds
        first_pitch = math.floor((t_low - part["phase"]) / section.pitch) - 1
        last_pitch = math.ceil((t_high - part["phase"]) / section.pitch) + 1
        for period in range(first_pitch, last_pitch + 1):
            for strip in section.strips:
                (t0, h0), (t1, h1) = strip["from"], strip["to"]
                start = t0 + part["phase"] + period * section.pitch
                band = shape.intersection(box(s_low - 1, start, s_high + 1, start + t1 - t0))
                chord = math.hypot(t1 - t0, h1 - h0)
                run = (across * (t1 - t0) + outward * (h1 - h0)) / chord
                stretch = chord / (t1 - t0)
                corner = origin + across * start + outward * (h0 + part["lift"])
                place = numpy.vstack([numpy.column_stack([along, run, numpy.cross(along, run), corner]), [0, 0, 0, 1]])
                for piece in flat_pieces(band):
                    moved = trimesh.path.polygons.transform_polygon(
                        piece, numpy.array([[1, 0, 0], [0, stretch, -start * stretch], [0, 0, 1]]))
                    plates.append((moved, -half, half, place, strip["width"] / chord))
    for polygon, low, high, place, weight in plates:
        mesh = prism(polygon, low, high, place)
        m = mesh.volume * weight * density * 1e-9
        c, i = mesh.center_mass - origin, mesh.moment_inertia * weight * density * 1e-9
        mass += m
        first += m * c
        second += numpy.trace(i) / 2 * numpy.eye(3) - i + m * numpy.outer(c, c)
    body = from_moments(mass, first, second)
    return figures(mass, body["centre"] + origin, body["inertia"])


def main():
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    bodies = json.loads(pathlib.Path(sys.argv[1]).read_text(encoding="utf-8"))
    failures, worst, parts = [], [0.0, 0.0, 0.0], 0
    for name, body in bodies.items():
        points, triangles = numpy.array(body["points"]), numpy.array(body["triangles"])
        size = float(numpy.linalg.norm(points.max(axis=0) - points.min(axis=0)))
        checks = [
            (0, "solid", off(body["solid"], as_solid(points, triangles), size), SAME_MESH),
            (1, "shell", off(body["shell"], as_shell(points, triangles), size), SAME_MESH),
        ]
        section = Section(body["profile"], body["profile"]["radius"])
        for part in body["parts"]:
            if part["thickness"] != THICKNESS:
                raise SystemExit(f"{name} {part['id']}: the sheet is not {THICKNESS} mm")
            shape = numpy.array([p for o in part["outlines"] for p in o])
            own = float(numpy.linalg.norm(shape.max(axis=0) - shape.min(axis=0)))
            difference = off(part["figures"], thick(part, section, body["density"]), own)
            checks.append((2, part["id"], difference, THICK))
            parts += 1
        for kind, what, difference, allowed in checks:
            worst[kind] = max(worst[kind], difference)
            if not difference <= allowed:
                failures.append(f"{name}: {what} is off by {difference:.2e} (allowed {allowed:.0e})")
    print(f"{len(bodies)} bodies: solids within {worst[0]:.1e}, thin shells within {worst[1]:.1e}; "
          f"{parts} thick parts within {worst[2]:.1e}")
    if len(bodies) < 8 or parts < 40:
        failures.append(f"only {len(bodies)} bodies and {parts} parts were checked")
    for failure in failures:
        print(failure, file=sys.stderr)
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main()
