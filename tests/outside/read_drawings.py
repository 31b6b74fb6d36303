"""Reads cut files, templates and views with readers that are not ours, and measures them.

Usage: python read_drawings.py FOLDER...

For every folder (searched with its subfolders):
  *.dxf  is loaded strictly and audited with ezdxf: no error, no fix; units mm; every entity on CUT is a
         closed LWPOLYLINE; its area (even-odd, with shapely) is printed. Where the folder holds a job.json,
         the areas of the parts that name the file are compared to 1e-6 relative.
  *.svg  is rendered with resvg; the page has its true size, and ink reaches neither rim nor leaves the page
         empty; on every eighth the scale bar of 100 mm is measured on the picture.
  *.pdf  passes `qpdf --check`; on every page of every eighth file, rendered by pdftoppm, the scale bar of
         100 mm is measured.
Ends with 1 if anything fails. Needs the packages of requirements.txt beside it, qpdf and poppler-utils.
"""

import io
import json
import re
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import ezdxf
import numpy
import resvg_py
from PIL import Image
from shapely import make_valid
from shapely.geometry import Polygon

AREA_TOLERANCE = 1e-6  # relative, as promised for job.json
BAR_MM = 100.0
DPI = 200
MARGIN_MM = 10.0
# On paper the bar is a line of this weight with round ends, so it inks that much more than its length.
PDF_WEIGHT_MM = 0.2
SVG_WEIGHT_MM = 0.15
# Strip at the foot of a page that holds the bar.
FOOT_MM = 20.0


# Measuring takes seconds for a file of many pages; all files come from the same code.
MEASURED_EVERY = 8
# Pictures of angles, which have no scale.
DIAGRAMS = re.compile(r"(balance-polar|forecast(_\d+)?|bends-\d+)\.svg")
# Longest side of a picture to look at, in pixels.
PICTURE = 800


class Failed(Exception):
    """What a file does that it should not."""


def require(condition, message):
    if not condition:
        raise Failed(message)


def even_odd_area(outlines):
    """Area covered by an odd number of the outlines."""
    covered = Polygon()
    for outline in outlines:
        shape = Polygon(outline)
        covered = covered.symmetric_difference(shape if shape.is_valid else make_valid(shape))
    return covered.area


def dxf_area(path, more=frozenset()):
    """Audits a cut file and gives the area within its outlines, mm². Other layers than usual are named in `more`."""
    document = ezdxf.readfile(path)
    audit = document.audit()
    require(not audit.errors, f"audit errors: {[e.message for e in audit.errors]}")
    require(not audit.fixes, f"audit fixes: {[e.message for e in audit.fixes]}")
    require(document.dxfversion >= "AC1015", f"version {document.dxfversion} is older than R2000")
    require(document.units == ezdxf.units.MM, f"units {document.units} are not mm")
    require(document.header.get("$MEASUREMENT") == 1, "measurement is not metric")
    space = document.modelspace()
    used = {entity.dxf.layer for entity in space}
    # ezdxf itself adds Defpoints.
    named = {layer.dxf.name for layer in document.layers} - {"0", "Defpoints"}
    require(named == used, f"layers {sorted(named)} are declared, {sorted(used)} are used")
    require(used <= {"CUT", "OUTLINE", "LEAD", "BEND-UP", "BEND-DOWN", "MARK", "TEXT"} | more, f"stray layers in {sorted(used)}")
    on = {"CUT": [], "OUTLINE": []}
    for layer, outlines in on.items():
        for entity in space.query(f'*[layer=="{layer}"]'):
            require(entity.dxftype() == "LWPOLYLINE", f"a {entity.dxftype()} lies on {layer}")
            require(entity.closed, f"an outline on {layer} is open")
            outlines.append([(x, y) for x, y in entity.get_points("xy")])
        require(all(Polygon(o).is_valid for o in outlines), f"an outline on {layer} crosses itself")
    require(on["CUT"], "nothing lies on CUT")
    # Where the cut is moved aside by half the kerf, the true outline has a layer of its own.
    return even_odd_area(on["OUTLINE"] or on["CUT"])


def expected_areas(folder):
    """Area by path of cut file, from the job.json of a folder; None where there is none."""
    job = folder / "job.json"
    if not job.exists():
        return None
    areas = {}
    contents = json.loads(job.read_text(encoding="utf-8"))
    # Whole sheets carry their own outline; that the parts on them lie right is lay.py's to say.
    areas.update({sheet["file"]: None for sheet in contents.get("sheets", [])})
    areas.update({flat["file"]: flat["area_mm2"] for flat in contents.get("flat_pieces", [])})
    # Paper for hand-cut tube: an outline to cut paper by, which no figure of the job measures.
    spine = contents.get("spine", {})
    areas.update({name: None for name in spine.get("template_files", []) if name.endswith(".dxf")})
    for part in contents["parts"]:
        for name in part["template_files"]:
            if name.endswith(".dxf"):
                areas[name] = areas.get(name, 0.0) + part.get("plan_area_mm2", part["area_mm2"])
    return areas


def check_dxf(path, folder, expected):
    name = path.relative_to(folder).as_posix()
    sheet = expected is not None and name in expected and expected[name] is None
    area = dxf_area(path, {"HELPER"} if sheet else frozenset())
    text = f"area {area:.3f} mm2"
    if expected is not None and not sheet:
        require(name in expected, "no part of job.json names this file")
        wanted = expected[name]
        require(abs(area - wanted) <= AREA_TOLERANCE * wanted, f"{text}, job.json says {wanted}")
        text += " as in job.json"
    return text


def longest_dark_run(row):
    """First and last index of the longest unbroken run of true values."""
    padded = numpy.concatenate(([0], row.astype(numpy.int8), [0]))
    edges = numpy.flatnonzero(numpy.diff(padded))
    starts, ends = edges[::2], edges[1::2]
    if len(starts) == 0:
        return 0, 0
    best = numpy.argmax(ends - starts)
    return starts[best], ends[best]


def check_bar(grey, per_mm, above_foot_mm, weight_mm):
    """Measures the level line that starts at the left margin, `above_foot_mm` above the page's foot."""
    row = grey.shape[0] - above_foot_mm * per_mm
    band = grey[int(row - 0.5 * per_mm) : int(row + 0.5 * per_mm) + 1]
    start, end = longest_dark_run((band < 220).any(axis=0))
    # A line's edge lies within one pixel on each side.
    tolerance = 2 / per_mm
    require(abs(start / per_mm + weight_mm / 2 - MARGIN_MM) < tolerance, f"no bar starts at {MARGIN_MM} mm")
    length = (end - start) / per_mm - weight_mm
    require(abs(length - BAR_MM) <= tolerance, f"the scale bar measures {length:.2f} mm")
    return length


def picture(text, zoom):
    """A rendering in grey, as an array of rows."""
    # Without grey rims of lines: half the time, and what is asked is where ink lies, to two pixels.
    png = resvg_py.svg_to_bytes(
        svg_string=text, dpi=96, zoom=zoom, background="white", shape_rendering="optimize_speed"
    )
    return numpy.asarray(Image.open(io.BytesIO(bytes(png))).convert("L"))


def check_svg(path, measured):
    text = path.read_text(encoding="utf-8")
    size = re.search(r'width="([\d.]+)mm" height="([\d.]+)mm" viewBox="0 0 ([\d.]+) ([\d.]+)"', text)
    require(size, "the size is not given in mm")
    width, height, box_width, box_height = map(float, size.groups())
    require((width, height) == (box_width, box_height), "a unit of the file is not 1 mm")
    grey = picture(text, min(2.0, PICTURE / (max(width, height) / 25.4 * 96)))
    # The longer side gives the scale best: pictures have whole pixels.
    per_mm = max(grey.shape) / max(width, height)
    require(
        abs(grey.shape[0] - height * per_mm) < 2 and abs(grey.shape[1] - width * per_mm) < 2,
        "the picture has other proportions",
    )
    rows, columns = numpy.nonzero(grey < 200)
    require(len(rows), "the page is empty")
    white = [columns.min(), rows.min(), grey.shape[1] - 1 - columns.max()]
    # Half a line, and the pixels that a line at the edge of a coarse picture touches.
    require(all(w + 2 > (MARGIN_MM - 1.5) * per_mm for w in white), "ink lies in the margin")
    report = f"{width} x {height} mm"
    if measured and not DIAGRAMS.fullmatch(path.name):
        # Only the foot is rendered, finely: a window of the same page.
        wide = min(width, BAR_MM + 5 * MARGIN_MM)
        window = f'width="{wide}mm" height="{FOOT_MM}mm" viewBox="0 {height - FOOT_MM} {wide} {FOOT_MM}"'
        grey = picture(text.replace(size[0], window, 1), 2.0)
        bar = check_bar(grey, grey.shape[1] / wide, MARGIN_MM / 2, SVG_WEIGHT_MM)
        report += f", bar {bar:.2f} mm"
    return report


# To be read, not laid on sheet: no scale bar.
PAGES_TO_READ = ("book.pdf", "estimate.pdf")


def check_pdf(path, measured):
    checked = subprocess.run(["qpdf", "--check", path], capture_output=True, text=True)
    require(checked.returncode == 0, f"qpdf: {checked.stdout}{checked.stderr}")
    if path.name in PAGES_TO_READ:
        return "pages to read"
    if not measured:
        return "sound"
    info = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True).stdout
    size = re.search(r"Page size:\s+([\d.]+) x ([\d.]+) pts", info)
    require(size, "the page size is not known")
    # Only the foot of each page is rendered; all pages are of one size.
    whole, foot = (round(mm / 25.4 * DPI) for mm in (float(size[2]) * 25.4 / 72, FOOT_MM))
    across = str(round(float(size[1]) / 72 * DPI))
    crop = ["-x", "0", "-y", str(whole - foot), "-W", across, "-H", str(foot)]
    command = ["pdftoppm", "-r", str(DPI), "-gray", *crop, str(path)]
    stream = subprocess.run(command, capture_output=True, check=True).stdout
    lengths, pages, at = [], 0, 0
    while at < len(stream):
        head = re.compile(rb"P5\s+(\d+)\s+(\d+)\s+255\s").match(stream, at)
        require(head, "pdftoppm wrote something else than a picture")
        width, height = map(int, head.groups())
        at = head.end() + width * height
        grey = numpy.frombuffer(stream, numpy.uint8, width * height, head.end()).reshape(height, width)
        lengths.append(check_bar(grey, DPI / 25.4, MARGIN_MM, PDF_WEIGHT_MM))
        pages += 1
    require(pages, "there is no page")
    return f"{pages} pages, bar {min(lengths):.2f} to {max(lengths):.2f} mm"


def check_there(path):
    require(path.exists(), "job.json names it but it is missing")
    return "is there"


def run(job):
    """Runs one check; a broken file must not hide the others."""
    check, path, *rest = job
    try:
        return True, f"{path}: {check(path, *rest)}"
    except Exception as error:
        return False, f"{path}: FAILED: {type(error).__name__}: {error}"


def main(folders):
    jobs = []
    seen = {".svg": 0, ".pdf": 0}
    for folder in map(Path, folders):
        expected = expected_areas(folder)
        for path in sorted(folder.rglob("*")):
            if path.suffix == ".dxf":
                jobs.append((check_dxf, path, folder, expected))
            elif path.suffix in seen:
                check = check_svg if path.suffix == ".svg" else check_pdf
                jobs.append((check, path, seen[path.suffix] % MEASURED_EVERY == 0))
                seen[path.suffix] += 1
        jobs.extend((check_there, folder / name) for name in sorted(expected or {}))
    # Processes, not threads: ezdxf sets itself up on first use and is not safe for threads.
    with ProcessPoolExecutor(2) as pool:
        results = list(pool.map(run, jobs))
    for _, line in results:
        print(line)
    failed = sum(not good for good, _ in results)
    print(f"{len(results)} checks, {failed} failed")
    return 1 if failed or not results else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:] or ["out"]))
