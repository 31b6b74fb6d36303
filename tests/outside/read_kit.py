"""Reads a kit with readers that are not ours, and measures it.

Usage: python read_kit.py FOLDER...

For every folder:
  kit.pdf        passes `qpdf --check`; in the content stream of every page, as qpdf hands it out, the scale bar is
                 100.000 mm long and every point lies between the margins of the paper; rendered by pdftoppm, the bar
                 measures 100 mm to a pixel.
  pages/*.svg    have the paper's true size; every closed outline on CUT is sound, lies in the printable window, and
                 shares no area with another (shapely); the bar is one line of 100 mm.
  tracings/*.svg hold one closed outline with the file's name as its id; edges with one number are equally long in
                 both files that have it, and run round the whole outline.
  model/*        is watertight (trimesh), and STL (mm) and GLB (metres) hold the same volume.
Ends with 1 if anything fails. Needs the packages of requirements.txt beside it, qpdf and poppler-utils.
"""

import base64
import json
import math
import re
import subprocess
import sys
from collections import defaultdict
from pathlib import Path

import numpy
import trimesh
from read_drawings import BAR_MM, DPI, FOOT_MM, MARGIN_MM, Failed, check_bar, require
from shapely.geometry import Polygon, box

POINT = 25.4 / 72
STRIP_MM = 14.0
# Coordinates in PDF and SVG are rounded to a thousandth of a millimetre or finer.
ROUNDING_MM = 1e-3
MARK_WEIGHT_MM = 0.18
# Edges of tracings are written to a millionth.
SAME_MM = 1e-5
NUMBER = r"-?[\d.]+(?:e-?\d+)?"


def lines_of(stream):
    """Polylines of a content stream in mm on the paper, with the transformations in force applied."""
    matrix, kept, stack, lines = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), [], [], []
    numbers = []
    for token in stream.split():
        if re.fullmatch(NUMBER, token):
            numbers.append(float(token))
            continue
        if token == "cm":
            a, b, c, d, e, f = numbers[-6:]
            p, q, r, s, t, u = matrix
            matrix = (a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s, e * p + f * r + t, e * q + f * s + u)
        elif token == "q":
            stack.append(matrix)
        elif token == "Q":
            matrix = stack.pop()
        elif token in "ml":
            x, y = numbers[-2:]
            p, q, r, s, t, u = matrix
            at = ((x * p + y * r + t) * POINT, (x * q + y * s + u) * POINT)
            if token == "m":
                kept = [at]
                lines.append(kept)
            else:
                kept.append(at)
        numbers = []
    return lines


def bars(lines):
    """Lengths of level lines that start where the bar does."""
    found = []
    for line in lines:
        if len(line) == 2 and math.dist(line[0], (MARGIN_MM, MARGIN_MM)) < ROUNDING_MM and abs(line[1][1] - MARGIN_MM) < ROUNDING_MM:
            found.append(line[1][0] - line[0][0])
    return found


def check_pdf(path):
    checked = subprocess.run(["qpdf", "--check", path], capture_output=True, text=True)
    require(checked.returncode == 0, f"qpdf: {checked.stdout}{checked.stderr}")
    text = subprocess.run(
        ["qpdf", "--json=2", "--json-stream-data=inline", "--decode-level=generalized", path],
        capture_output=True, text=True, check=True,
    ).stdout
    document = json.loads(text)
    objects = document["qpdf"][1]
    lengths = []
    for page in document["pages"]:
        width, height = (x * POINT for x in objects[f"obj:{page['object']}"]["value"]["/MediaBox"][2:])
        data = b"".join(base64.b64decode(objects[f"obj:{ref}"]["stream"]["data"]) for ref in page["contents"])
        lines = lines_of(data.decode("ascii"))
        found = bars(lines)
        require(len(found) == 1, f"{len(found)} scale bars on page {page['pageposfrom1']}")
        require(abs(found[0] - BAR_MM) < ROUNDING_MM / 2, f"the scale bar is {found[0]:.4f} mm long")
        lengths.append(found[0])
        for x, y in (p for line in lines for p in line):
            inside = MARGIN_MM - 0.5 < x < width - MARGIN_MM + 0.5 and MARGIN_MM - 0.5 < y < height - MARGIN_MM + 0.5
            require(inside, f"({x:.2f}, {y:.2f}) mm lies in the margin")
    require(lengths, "there is no page")
    # And as it comes out of a printer.
    high = round(height / 25.4 * DPI)
    foot = round(FOOT_MM / 25.4 * DPI)
    crop = ["-x", "0", "-y", str(high - foot), "-W", str(round(width / 25.4 * DPI)), "-H", str(foot)]
    command = ["pdftoppm", "-r", str(DPI), "-gray", "-f", "1", "-l", "1", *crop, str(path)]
    picture = subprocess.run(command, capture_output=True, check=True).stdout
    head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", picture)
    require(head, "pdftoppm wrote something else than a picture")
    shape = int(head[2]), int(head[1])
    grey = numpy.frombuffer(picture, numpy.uint8, shape[0] * shape[1], head.end()).reshape(shape)
    seen = check_bar(grey, DPI / 25.4, MARGIN_MM, MARK_WEIGHT_MM)
    return f"{len(lengths)} pages, bar {min(lengths):.3f} to {max(lengths):.3f} mm, printed {seen:.2f} mm"


def points_of(data):
    return [tuple(map(float, p)) for p in re.findall(rf"[ML]({NUMBER}) ({NUMBER})", data)]


def check_page(path):
    text = path.read_text(encoding="utf-8")
    size = re.search(r'width="([\d.]+)mm" height="([\d.]+)mm" viewBox="0 0 ([\d.]+) ([\d.]+)"', text)
    require(size and size[1] == size[3] and size[2] == size[4], "the size is not given in mm, one unit each")
    width, height = float(size[1]), float(size[2])
    window = box(MARGIN_MM, MARGIN_MM, width - MARGIN_MM, height - MARGIN_MM - STRIP_MM).buffer(ROUNDING_MM)
    group = re.search(r'<g id="CUT".*?</g>', text, re.S)
    paths = re.findall(r'<path d="([^"]*)Z"', group[0]) if group else []
    outlines = [Polygon(points_of(data)) for data in paths]
    for i, outline in enumerate(outlines):
        require(outline.is_valid, "an outline crosses itself")
        require(window.contains(outline), "an outline reaches out of the printable window")
        for other in outlines[:i]:
            # A hole lies wholly within its piece.
            nested = other.contains(outline) or outline.contains(other)
            require(nested or outline.intersection(other).area < 1e-6, "two pieces share an area")
    y = height - MARGIN_MM
    require(text.count(f"M{MARGIN_MM:g} {y:g}L{MARGIN_MM + BAR_MM:g} {y:g}") == 1, "there is no bar of 100 mm")
    return f"{width:g} x {height:g} mm, {len(outlines)} outlines"


def check_tracings(folder):
    lengths = defaultdict(list)
    area = 0.0
    files = sorted((folder / "tracings").glob("*.svg"))
    require(files, "there is no tracing")
    for path in files:
        text = path.read_text(encoding="utf-8")
        outline = re.findall(r'<path id="([^"]+)" d="([^"]+)Z"', text)
        require(len(outline) == 1 and outline[0][0] == path.stem, f"{path.name}: no outline of its name")
        shape = Polygon(points_of(outline[0][1]))
        require(shape.is_valid and shape.area > 0, f"{path.name}: crosses itself")
        area += shape.area
        round_it = 0.0
        for name, x1, y1, x2, y2 in re.findall(
            rf'<line id="edge_(\d+)" x1="({NUMBER})" y1="({NUMBER})" x2="({NUMBER})" y2="({NUMBER})"', text
        ):
            length = math.hypot(float(x2) - float(x1), float(y2) - float(y1))
            lengths[name].append(length)
            round_it += length
        require(abs(round_it - shape.length) < SAME_MM * 100, f"{path.name}: edges do not run all round")
    for name, both in lengths.items():
        require(len(both) == 2 and abs(both[0] - both[1]) < SAME_MM, f"edge {name} is {both} mm long")
    return f"{len(files)} tracings, {len(lengths)} edges, {area:.3f} mm2"


def check_model(folder):
    [stl], [glb] = sorted((folder / "model").glob("*.stl")), sorted((folder / "model").glob("*.glb"))
    small, metres = trimesh.load_mesh(stl), trimesh.load(glb, force="mesh")
    require(small.is_watertight and metres.is_watertight, "the model is not watertight")
    require(abs(metres.volume * 1e9 / small.volume - 1) < 1e-5, f"{small.volume} mm3 and {metres.volume} m3")
    return f"watertight, {small.volume:.1f} mm3, {' x '.join(f'{x:.1f}' for x in small.extents)} mm"


def run(name, check, argument):
    try:
        print(f"{name}: {check(argument)}")
        return True
    except (Failed, ValueError, KeyError, subprocess.CalledProcessError) as error:
        print(f"{name}: FAILED: {type(error).__name__}: {error}")
        return False


def main(folders):
    results = []
    for folder in map(Path, folders):
        results.append(run(folder / "kit.pdf", check_pdf, folder / "kit.pdf"))
        pages = sorted((folder / "pages").glob("*.svg"))
        results.extend(run(page, check_page, page) for page in pages)
        results.append(bool(pages))
        results.append(run(folder / "tracings", check_tracings, folder))
        results.append(run(folder / "model", check_model, folder))
    print(f"{len(results)} checks, {results.count(False)} failed")
    return 1 if False in results or not results else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:] or ["kit"]))
