"""Kills `ribwright make` at random moments and looks at what is left in the output folder.

    python killed_makes.py RIBWRIGHT SCRIPT [--kills 200] [--seed 1]

Two makes take turns, of the script and of the script with one number changed, so that the folder always holds the one
while the other is made over it. After each kill, before anything else runs, the folder must be there and hold one of
the two outputs whole: exactly the files its manifest lists, each with its length and SHA-256 sum, all of them those of
the one output or all of the other. Every tenth time a file of the user's own lies in it too and must stay. Exit code 1
otherwise.
"""

import argparse
import hashlib
import json
import pathlib
import random
import re
import subprocess
import sys
import tempfile
import time


def output(folder):
    """All files as {path: SHA-256}."""
    return {str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest()
            for p in folder.rglob("*") if p.is_file()}


def made(files):
    """What a make comes to, without what depends on the make before."""
    return {k: v for k, v in files.items() if not k.startswith("changes/") and k not in ("manifest.json", "mine.txt")}


def whole(folder):
    """Whether the folder holds what its manifest says."""
    listed = {f["path"]: f["sha256"] for f in json.loads((folder / "manifest.json").read_text())["files"]}
    there = {k: v for k, v in output(folder).items() if k not in ("manifest.json", "mine.txt")}
    return listed == there


def other(text):
    """The same script with one phase or measure changed."""
    for pattern in (r"phase: (\d+)", r"height: (\d+)", r"size: \[(\d+)"):
        found = re.search(pattern, text)
        if found:
            at = found.span(1)
            return text[:at[0]] + str(int(found.group(1)) + 15) + text[at[1]:]
    raise SystemExit("the script has no phase, height or size to change")


def asked(about):
    """The arguments, the program, the script as it is and changed, and chance."""
    arguments = argparse.ArgumentParser(description=about, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("ribwright", type=pathlib.Path)
    arguments.add_argument("script", type=pathlib.Path)
    arguments.add_argument("--kills", type=int, default=200)
    arguments.add_argument("--seed", type=int, default=1)
    given = arguments.parse_args()
    ribwright = given.ribwright.resolve()
    text = given.script.read_text()
    texts = [text, other(text)]
    chance = random.Random(given.seed)
    return given, ribwright, texts, chance


def main():
    given, ribwright, texts, chance = asked(__doc__)
    with tempfile.TemporaryDirectory() as place:
        place = pathlib.Path(place)
        script, out = place / "work.rhai", place / "out"
        expected = []
        command = [ribwright, "make", script, "--out", out]
        for which in (1, 0):
            script.write_text(texts[which])
            start = time.perf_counter()
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
            seconds = time.perf_counter() - start
            expected.insert(0, made(output(out)))
        assert expected[0] != expected[1], "both scripts make the same"
        holds, left = 0, {"old": 0, "new": 0, "ended": 0}
        for kill in range(given.kills):
            if kill % 10 == 0:
                (out / "mine.txt").write_text(f"mine {kill}")
            wanted = 1 - holds
            script.write_text(texts[wanted])
            process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            # Half of the kills fall into the last part, where files are written and the folders exchanged.
            low = 0.0 if chance.random() < 0.5 else 0.6
            time.sleep(chance.uniform(low, 1.1) * seconds)
            process.kill()
            ended = process.wait() == 0
            if not out.is_dir():
                print(f"kill {kill}: there is no output folder")
                sys.exit(1)
            files = made(output(out))
            if files not in expected or not whole(out):
                print(f"kill {kill}: the output is neither the old nor the new one")
                sys.exit(1)
            if not (out / "mine.txt").is_file():
                print(f"kill {kill}: a file of the user's own is gone")
                sys.exit(1)
            now = expected.index(files)
            left["ended" if ended else "new" if now == wanted else "old"] += 1
            # A make over an alike one is quicker than the first: the span follows what runs take.
            seconds *= 0.96 if ended else 1.02
            holds = now
        # What is left behind does not stop the next make, which tidies up.
        script.write_text(texts[1 - holds])
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        tidy = made(output(out)) == expected[1 - holds] and sorted(p.name for p in place.iterdir()) == ["out", "work.rhai"]
        print(f"{given.kills} kills, in the end within {seconds:.2f} s, of making {given.script.name}: {left['old']} left the old "
              f"output, {left['new']} the new one, {left['ended']} came too late; tidy afterwards: {tidy}")
        sys.exit(0 if tidy else 1)


if __name__ == "__main__":
    main()
