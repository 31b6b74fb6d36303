"""Checks laid sheets with shapely: the cut files as a cutter gets them, and the placements of job.json.

Usage: python lay.py FOLDER [--spacing MM] [--margin MM]

FOLDER is an output folder of a script that lays parts on sheets. For every sheet of job.json:
  - its DXF file holds on CUT as many outer outlines as parts lie on the sheet; no two of them share area
    (0.001 mm2) or come nearer than the spacing, none comes nearer to an edge or to damage than the margin;
  - each outline's box is that of one placement, and each placement has one;
  - on formed sheet the matrix keeps the ribs along the sheet, is rigid, and puts a crest of the part (inside
    up: a valley, half a pitch further) on a crest of the sheet to within the misfit it reports;
  - the share used is the area of the outlines.
Every piece of the schedule lies on exactly one sheet. Ends with 1 if anything fails. Needs requirements.txt.
"""

import argparse
import csv
import json
import sys
from pathlib import Path

import ezdxf
from shapely.geometry import Polygon, box

AREA = 1e-3  # mm2
ROUNDING = 1e-4  # mm; positions in DXF are written to 1e-9, the schedule to 0.1


def shapes(path):
    """Outer outlines with their holes; outer ones run counter-clockwise."""
    outer, holes = [], []
    for entity in ezdxf.readfile(path).modelspace().query('*[layer=="CUT"]'):
        points = [(x, y) for x, y, *_ in entity.get_points()]
        ring = Polygon(points)
        (outer if ring.exterior.is_ccw else holes).append(ring)
    made = []
    for ring in outer:
        own = [h.exterior.coords for h in holes if ring.contains(h.representative_point()) and ring.contains(h)]
        made.append(Polygon(ring.exterior.coords, own))
    return made


def near(a, b, bound):
    return abs(a - b) <= bound


def check_sheet(folder, job, sheet, spacing, margin):
    faults = []
    parts = {p["id"]: p for p in job["parts"]}
    faces = {f["id"]: f for f in job["faces"]}
    laid = shapes(folder / sheet["file"])
    name = sheet["name"]
    if len(laid) != len(sheet["parts"]):
        faults.append(f"{name}: {len(laid)} outlines for {len(sheet['parts'])} parts")
    room = box(margin, margin, sheet["length_mm"] - margin, sheet["width_mm"] - margin)
    damage = [Polygon(d) for d in sheet["damage_mm"] if len(d) > 2]
    for i, shape in enumerate(laid):
        if not shape.is_valid:
            faults.append(f"{name}: outline {i} crosses itself")
        if shape.difference(room.buffer(ROUNDING)).area > AREA:
            faults.append(f"{name}: outline {i} leaves the margins")
        for hole in damage:
            if shape.distance(hole) < margin - ROUNDING:
                faults.append(f"{name}: outline {i} is {shape.distance(hole):.3f} mm from damage")
        for k, other in enumerate(laid[:i]):
            if shape.intersection(other).area > AREA:
                faults.append(f"{name}: outlines {k} and {i} overlap")
            elif shape.distance(other) < spacing - ROUNDING:
                faults.append(f"{name}: outlines {k} and {i} are {shape.distance(other):.4f} mm apart")
    boxes = [s.bounds for s in laid]
    for part in sheet["parts"]:
        wanted = (part["along_mm"][0], part["across_mm"][0], part["along_mm"][1], part["across_mm"][1])
        found = [b for b in boxes if all(near(x, y, ROUNDING) for x, y in zip(b, wanted))]
        if len(found) != 1:
            faults.append(f"{name}: {part['id']} has {len(found)} outlines in its box")
        (a, b), (c, d) = part["matrix"]
        if not near(abs(a * d - b * c), 1, 1e-9) or not near(a * b + c * d, 0, 1e-9):
            faults.append(f"{name}: {part['id']} is bent")
        known = parts.get(part["id"])
        if not sheet["crests_mm"] or known is None or known["kind"] != "sheet":
            continue
        if b != 0 or c != 0:
            faults.append(f"{name}: the ribs of {part['id']} do not run along")
        pitch = faces[known["face"]]["profile_pitch_mm"]
        up = known["placement"]["phase_mm"] + (pitch / 2 if a * d < 0 else 0)
        off = min(
            abs((part["at_mm"][1] + d * up - crest + pitch / 2) % pitch - pitch / 2) for crest in sheet["crests_mm"]
        )
        if off > part["misfit_mm"] + ROUNDING:
            faults.append(f"{name}: crests of {part['id']} are {off:.4f} mm off")
    used = sum(s.area for s in laid) / (sheet["length_mm"] * sheet["width_mm"])
    if not near(used, sheet["used_share"], 1e-6):
        faults.append(f"{name}: {used:.6f} is used, not {sheet['used_share']:.6f}")
    return faults


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("folder", type=Path)
    arguments.add_argument("--spacing", type=float, default=10.0)
    arguments.add_argument("--margin", type=float, default=15.0)
    given = arguments.parse_args()
    job = json.loads((given.folder / "job.json").read_text(encoding="utf-8"))
    sheets = job.get("sheets", [])
    faults = [] if sheets else ["no sheet is laid"]
    for sheet in sheets:
        faults += check_sheet(given.folder, job, sheet, given.spacing, given.margin)
    rows = list(csv.DictReader((given.folder / "schedules/sheets.csv").open(encoding="utf-8")))
    laid = [p["id"] for s in sheets for p in s["parts"]]
    if sorted(laid) != sorted(r["part"] for r in rows) or len(set(laid)) != len(laid):
        faults.append("the schedule and job.json name other parts, or one twice")
    missing = {f["where"] for f in job["findings"] if f["code"] == "no-sheet"}
    for part in job["parts"]:
        there = [i for i in laid if i == part["id"] or i.startswith(part["id"] + " piece ")]
        if not there and not any(m == part["id"] or m.startswith(part["id"] + " piece ") for m in missing):
            faults.append(f"{part['id']} lies nowhere and nothing says why")
    print(f"{len(sheets)} sheets, {len(laid)} parts laid, {len(missing)} without a place, {len(faults)} faults")
    for fault in faults[:40]:
        print(fault)
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
