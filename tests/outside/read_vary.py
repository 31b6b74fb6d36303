"""Checks the variants that `vary` tries and draws, with readers that are not ours.

Usage: python read_vary.py RIBWRIGHT

Runs a small script of its own:
  * the points tried are those of a Halton sequence, moved round by one share per choice, as scipy has it: the steps
    from point to point agree modulo 1, within the three digits that chosen values have;
  * vary.csv, read by the csv module, tells of the same variants as vary.json;
  * one page of A3 on its side in vary.pdf (pdfinfo), with the number of every drawn variant on it (as titles in vary.svg,
    read by an XML parser), and ink within the margins (resvg);
  * two variants are picked and made: the figures of job.json are those of vary.json to the last bit.
Ends with 1 if anything fails. Needs the packages of requirements.txt beside it, and poppler-utils.
"""

import csv
import io
import json
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import numpy
import resvg_py
from PIL import Image
from scipy.stats import qmc

COUNT = 24
MARGIN_MM = 9.5
SCRIPT = """
let s = sculpture("Tried");
let a = slab("A", #{ size: [choose("a", 600, 1600), choose("b", 700, 1700), 300] });
a.clad(flat(#{}));
s.stand(a);
let b = slab("B", #{ size: [300, 300, choose("c", 300, 1300)] });
b.clad(flat(#{}));
s.stack(b, #{ on: "A/top", sink: 50 });
s
"""
RANGES = {"a": (600.0, 1000.0), "b": (700.0, 1000.0), "c": (300.0, 1000.0)}
GRAIN = 2e-3  # of the range: each of two values is rounded by half a thousandth of it

failed = []


def check(ok, what):
    print(("ok    " if ok else "WRONG ") + what)
    if not ok:
        failed.append(what)


def run(binary, folder, *words):
    done = subprocess.run([binary, *words], cwd=folder, capture_output=True, text=True)
    if done.returncode:
        sys.exit(f"{' '.join(words)}: {done.stdout}\n{done.stderr}")


def main(binary):
    binary = str(Path(binary).resolve())
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "tried.rhai").write_text(SCRIPT)
        run(binary, folder, "vary", "tried.rhai", "--count", str(COUNT))
        report = json.loads((folder / "vary/vary.json").read_text())
        variants = report["variants"]
        check(len(variants) == COUNT, f"{len(variants)} variants")

        # The first is the work as it is; the others are points 1 to COUNT - 1.
        shares = numpy.array(
            [[(v["values"][k] - low) / span for k, (low, span) in RANGES.items()] for v in variants[1:]]
        )
        halton = qmc.Halton(d=3, scramble=False).random(COUNT)[1:]
        off = (numpy.diff(shares, axis=0) - numpy.diff(halton, axis=0)) % 1.0
        off = numpy.minimum(off, 1.0 - off).max()
        check(off < GRAIN, f"steps of the sequence agree with scipy's within {off:.5f}")

        rows = list(csv.DictReader(io.StringIO((folder / "vary/vary.csv").read_text())))
        same = len(rows) == COUNT and all(
            int(row["variant"]) == v["number"]
            and all(float(row[k]) == v["values"][k] for k in RANGES)
            and abs(float(row["mass kg"]) - v["figures"]["mass_kg"]) <= 0.051
            for row, v in zip(rows, variants)
        )
        check(same, "table and report tell of the same variants")

        info = subprocess.run(
            ["pdfinfo", folder / "vary/vary.pdf"], capture_output=True, text=True, check=True
        ).stdout
        size = next(line for line in info.splitlines() if line.startswith("Page size"))
        check("1190.55 x 841.89" in size and "Pages:           1" in info, size)
        svg = (folder / "vary/vary.svg").read_text()
        titles = [t.text for t in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}title")]
        shown = [str(v["number"]) for v in variants if v["shown"]]
        check(len(shown) == 12 and all(n in titles for n in shown), f"drawn: {' '.join(shown)}")
        png = resvg_py.svg_to_bytes(svg_string=svg, dpi=96, zoom=1, background="white")
        picture = Image.open(io.BytesIO(bytes(png)))
        dark = numpy.array(picture.convert("L")) < 128
        per_mm = dark.shape[1] / 420.0
        ys, xs = numpy.nonzero(dark)
        rim = min(xs.min(), ys.min(), dark.shape[1] - 1 - xs.max(), dark.shape[0] - 1 - ys.max()) / per_mm
        check(rim > MARGIN_MM, f"ink keeps {rim:.1f} mm from the rim")

        for number in (2, 11):
            run(binary, folder, "vary", "tried.rhai", "--pick", str(number))
            run(binary, folder, "make", "tried.rhai")
            job = json.loads((folder / "out/job.json").read_text())
            figures = variants[number - 1]["figures"]
            names = ["enclosed_volume_mm3", "shell_area_mm2", "mass_kg", "centre_of_mass_mm"]
            same = all(job["sculpture"][n] == figures[n] for n in names)
            check(same, f"variant {number}, made: volume, area, mass and centre to the last bit")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
