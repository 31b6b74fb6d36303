"""Liquid in the reference bodies, worked out again with a general mesh library.

    python liquid.py LIQUID.json

LIQUID.json is what `cargo bench -p ribwright-tests --bench liquid` prints. Every body is cut at every level with
trimesh's slice_plane, with a cap: the volume and the centre of what is below, the area of the cap (the free surface) and
the rest of its area (the wetted wall) must agree within 1e-6. Exit code 1 on any failure.
"""

import json
import pathlib
import sys

import numpy
import trimesh

ALLOWED = 1e-6


def below(points, triangles, up, level):
    """Volume, free surface, wetted area and centre of what lies below a level."""
    middle = points.mean(axis=0)
    mesh = trimesh.Trimesh(points - middle, triangles, process=False, validate=False)
    origin = up * (level - middle @ up)
    walls = trimesh.intersections.slice_mesh_plane(mesh, plane_normal=-up, plane_origin=origin, cap=False)
    full = trimesh.intersections.slice_mesh_plane(
        mesh, plane_normal=-up, plane_origin=origin, cap=True)
    return full.volume, full.area - walls.area, walls.area, full.center_mass + middle


def main():
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    bodies = json.loads(pathlib.Path(sys.argv[1]).read_text(encoding="utf-8"))
    failures, worst, checked = [], {}, 0
    for name, body in bodies.items():
        points, triangles = numpy.array(body["points"]), numpy.array(body["triangles"])
        size = float(numpy.linalg.norm(points.max(axis=0) - points.min(axis=0)))
        for case in body["levels"]:
            up = numpy.array(case["up"])
            volume, surface, wetted, centre = below(points, triangles, up, case["level"])
            off = {
                "volume": abs(case["volume"] / volume - 1),
                "surface": abs(case["surface"] / surface - 1),
                "wetted": abs(case["wetted"] / wetted - 1),
                "centre": float(numpy.linalg.norm(numpy.array(case["centre"]) - centre)) / size,
                "level": abs(case["level_again"] - case["level"]) / size,
            }
            checked += 1
            for what, difference in off.items():
                worst[what] = max(worst.get(what, 0.0), difference)
                if not difference <= ALLOWED:
                    failures.append(f"{name} up {case['up']} level {case['level']:.3f}: {what} is off by {difference:.2e}")
    print(f"{len(bodies)} bodies, {checked} levels: " +
          ", ".join(f"{what} within {off:.1e}" for what, off in sorted(worst.items())))
    if len(bodies) < 8 or checked < 200:
        failures.append(f"only {len(bodies)} bodies and {checked} levels were checked")
    for failure in failures:
        print(failure, file=sys.stderr)
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main()
