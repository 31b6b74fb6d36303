"""Kills `ribwright watch` at random moments while saves come in, and looks at what is left in the output folder.

    python killed_watch.py RIBWRIGHT SCRIPT [--kills 200] [--seed 1]

A watch is started and, once it has made the work, the script is saved again and again, in turn as it is, with one number
changed and now and then broken, at random moments, in one piece or in two; then the watch is killed. Before anything else
runs, the folder must be there and hold one of the two outputs whole: exactly the files its manifest lists, each with its
length and SHA-256 sum, all of them those of the one script or all of the other. A file of the user's own lies in it and
must stay. Exit code 1 otherwise.
"""

import pathlib
import subprocess
import sys
import tempfile
import threading
import time

from killed_makes import asked, made, output, whole

# What a watch leaves beside what a make does, or otherwise: the book with its lines, and the file they look at.
WATCHED = ("watch.js", "book.html")
# Longest wait for a make, s.
PATIENCE = 120


def alike(folder):
    return {k: v for k, v in made(output(folder)).items() if k not in WATCHED}


def save(script, text, chance):
    """In one piece, or as some editors do: emptied and filled, or another file put in place."""
    how = chance.random()
    if how < 0.3:
        beside = script.with_suffix(".part")
        beside.write_text(text)
        beside.replace(script)
    elif how < 0.5:
        with script.open("w") as file:
            # Within the first map, so that the half is no script of its own.
            half = chance.randrange(text.find("}") + 1 or len(text))
            file.write(text[:half])
            file.flush()
            time.sleep(chance.uniform(0, 0.02))
            file.write(text[half:])
    else:
        script.write_text(text)


def main():
    given, ribwright, texts, chance = asked(__doc__)
    with tempfile.TemporaryDirectory() as place:
        place = pathlib.Path(place)
        script, out = place / "work.rhai", place / "out"
        expected, seconds = [], 0.0
        for one in (1, 0):
            script.write_text(texts[one])
            start = time.perf_counter()
            subprocess.run([ribwright, "make", script, "--out", out], check=True, stdout=subprocess.DEVNULL)
            seconds = time.perf_counter() - start
            expected.insert(0, alike(out))
        assert expected[0] != expected[1], "both scripts make the same"
        (out / "mine.txt").write_text("mine")
        saves, makes, held = 0, 0, [0, 0]
        for kill in range(given.kills):
            process = subprocess.Popen([ribwright, "watch", script, "--out", out], stdout=subprocess.PIPE,
                                       stderr=subprocess.DEVNULL, text=True)
            said = []
            reader = threading.Thread(target=lambda: said.extend(iter(process.stdout.readline, "")), daemon=True)
            reader.start()
            ready = lambda: sum(line.startswith("watching ") for line in said)
            try:
                # A tenth is killed during the first make; the others after some saves.
                if chance.random() < 0.1:
                    time.sleep(chance.uniform(0, seconds))
                else:
                    end = time.perf_counter() + PATIENCE
                    while ready() == 0 and time.perf_counter() < end:
                        time.sleep(0.005)
                    for _ in range(chance.randint(1, 4)):
                        what = chance.random()
                        save(script, "let x = ;" if what < 0.1 else texts[0] if what < 0.55 else texts[1], chance)
                        saves += 1
                        time.sleep(chance.uniform(0, 1.2) * seconds)
            finally:
                process.kill()
            process.wait()
            reader.join()
            makes += ready()
            if not out.is_dir():
                sys.exit(f"kill {kill}: there is no output folder")
            files = alike(out)
            if files not in expected or not whole(out):
                sys.exit(f"kill {kill}: the output is neither the one nor the other")
            if (out / "mine.txt").read_text() != "mine":
                sys.exit(f"kill {kill}: a file of the user's own is gone")
            held[expected.index(files)] += 1
            # What was left broken or half written by the last save.
            script.write_text(texts[chance.randrange(2)])
        script.write_text(texts[0])
        subprocess.run([ribwright, "make", script, "--out", out], check=True, stdout=subprocess.DEVNULL)
        tidy = alike(out) == expected[0] and sorted(p.name for p in place.iterdir() if p.suffix != ".part") == ["out", "work.rhai"]
        print(f"{given.kills} kills of watching {given.script.name}, {saves} saves, {makes} makes to their end: the output "
              f"was that of the one script {held[0]} times, of the other {held[1]}; tidy afterwards: {tidy}")
        sys.exit(0 if tidy else 1)


if __name__ == "__main__":
    main()
