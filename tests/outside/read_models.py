"""Reads the STL and GLB of an output folder with trimesh and compares them with job.json.

    python read_models.py OUT [--validator FOLDER_WITH_NODE_MODULES]

Both models must be watertight with one winding, as loaded and without any repair, and have the volume and
area of job.json. With --validator the GLB also goes through the Khronos validator (validate_glb.mjs beside
this file; `npm install gltf-validator` in that folder). Prints what was measured; exit code 1 on any failure.
"""

import argparse
import json
import pathlib
import subprocess
import sys

import numpy
import trimesh

# Both files hold single precision (24 bits). A vertex moves by at most about 2^-24 of the work's size, so area
# and volume of a plump body change by some 1e-7; thin works of many folds by somewhat more.
TOLERANCE = 1e-5
# The centroid may move by the same share of the work's size.
MM_PER_METRE = 1000.0


def load(path):
    """The file as one mesh, not repaired; STL has no shared vertices, so those at one place are joined."""
    mesh = trimesh.load(path, force="mesh")
    if not isinstance(mesh, trimesh.Trimesh) or len(mesh.faces) == 0:
        raise SystemExit(f"{path}: holds no mesh")
    return mesh


def check(path, mm_per_unit, sculpture):
    mesh = load(path)
    failures = []
    if not mesh.is_watertight:
        failures.append("not watertight")
    if not mesh.is_winding_consistent:
        failures.append("winding not consistent")
    shell = mesh.copy()
    if path.suffix == ".glb":
        # Metres with y up, to millimetres with z up.
        turn = numpy.array([[1, 0, 0, 0], [0, 0, -1, 0], [0, 1, 0, 0], [0, 0, 0, 1]], dtype=float)
        shell.apply_transform(turn)
        shell.apply_scale(mm_per_unit)
    else:
        shell.apply_translation(sculpture.get("model_origin_mm", [0, 0, 0]))
    size = float(numpy.linalg.norm(shell.extents))
    # About its own middle: trimesh integrates about the origin, where a far work would lose digits.
    middle = shell.bounds.mean(axis=0)
    local = trimesh.Trimesh(shell.vertices - middle, shell.faces, process=False)
    # The model closes the faces that are left open.
    areas = numpy.array([sculpture["shell_area_mm2"], sculpture.get("open_area_mm2", 0.0)])
    places = numpy.array([sculpture["shell_centroid_mm"], sculpture.get("open_centroid_mm", [0.0, 0.0, 0.0])])
    measured = {
        "volume": (local.volume, sculpture["enclosed_volume_mm3"], sculpture["enclosed_volume_mm3"]),
        "area": (local.area, areas.sum(), areas.sum()),
    }
    weights = local.area_faces / local.area
    centroid = (local.triangles.mean(axis=1) * weights[:, None]).sum(axis=0) + middle
    for axis, x, y in zip("xyz", centroid, areas @ places / areas.sum()):
        measured[f"centroid {axis}"] = (x, y, size)
    worst = 0.0
    for name, (found, wanted, scale) in measured.items():
        error = abs(found - wanted) / abs(scale)
        worst = max(worst, error)
        if not error <= TOLERANCE:
            failures.append(f"{name} is {found!r}, job.json says {wanted!r} (relative {error:.2e})")
    print(f"{path}: {len(mesh.faces)} triangles, volume {local.volume:.6g} mm3, worst difference {worst:.1e}")
    return [f"{path}: {f}" for f in failures]


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("out", type=pathlib.Path)
    arguments.add_argument("--validator", type=pathlib.Path, help="folder where gltf-validator is installed")
    given = arguments.parse_args()
    sculpture = json.loads((given.out / "job.json").read_text(encoding="utf-8"))["sculpture"]
    failures = []
    for suffix, mm_per_unit in [(".stl", 1.0), (".glb", MM_PER_METRE)]:
        files = sorted((given.out / "model").glob(f"*{suffix}"))
        if len(files) != 1:
            failures.append(f"{given.out}/model: {len(files)} {suffix} files, expected one")
        for path in files:
            failures += check(path, mm_per_unit, sculpture)
            if suffix == ".glb" and given.validator:
                script = pathlib.Path(__file__).with_name("validate_glb.mjs")
                if subprocess.run(["node", script, given.validator, path], check=False).returncode != 0:
                    failures.append(f"{path}: the Khronos validator found faults")
    for failure in failures:
        print(failure, file=sys.stderr)
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main()
