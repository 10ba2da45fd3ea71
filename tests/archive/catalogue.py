"""Random packs and look-ups: thrum-unpack with a catalogue, against without.

usage: catalogue.py BIN SEED TRIALS

Packs of several keys, columns and lengths, some joined in one file; conditions on keys and on others, of
values that are there and that are not, with --latest and without. Then files are changed, exchanged and
joined behind the catalogue's back, and rows of it are changed or lost: rows and status must stay those of
a look-up without it, or the catalogue's fault is named. Ends with 1 at the first that does not hold.
"""
import os
import random
import subprocess
import sys


def run(*words, stdin=None):
    return subprocess.run(words, input=stdin, capture_output=True, check=False)


def pack(exe, rng, name, mode="wb"):
    columns = ["joint", "attempt", "closure", "tray", "stands", "made_at"]
    columns = columns[:rng.choice([3, 4, 6])] + rng.choice([[], [], ["note"], ["a,b"]])
    if rng.random() < 0.3:
        columns[1:] = rng.sample(columns[1:], len(columns) - 1)
    closures = rng.sample(range(12), rng.choice([1, 2, 5]))
    rows = [columns]
    for _ in range(rng.choice([0, 3, 30, 300])):
        row = {"joint": f"J{rng.randrange(40)}", "attempt": str(rng.randrange(1, 4)),
               "closure": f"C{rng.choice(closures)}", "tray": rng.choice(["1", "2", ""]),
               "stands": rng.choice(["yes", "yes", "no"]), "made_at": f"2026-03-{rng.randrange(10, 28)}",
               "note": str(rng.random()), "a,b": "x"}
        rows.append([row[c] for c in columns])
    keys = rng.sample([c for c in columns if c not in ("note", "made_at")], rng.randrange(0, 4))
    table = "".join("\t".join(r) + "\n" for r in rows)
    made = run(exe + "/thrum-pack", *[w for k in keys if "," not in k for w in ("--key", k)], stdin=table.encode())
    if made.returncode != 0:
        sys.exit(f"pack: {made.stderr.decode()}")
    with open(name, mode) as f:
        f.write(made.stdout)


def question(rng):
    words = []
    for _ in range(rng.choice([1, 1, 2, 3])):
        column, value = rng.choice([("closure", f"C{rng.randrange(14)}"), ("closure", f"C{rng.randrange(14)}"),
                                    ("joint", f"J{rng.randrange(50)}"), ("tray", rng.choice("123")),
                                    ("stands", "yes")])
        words += ["--where", f"{column}={value}"]
    return words + rng.choice([[], ["--latest"]])


def same(exe, rng, names, told):
    words = question(rng)
    names = rng.sample(names, rng.randrange(1, len(names) + 1))
    without = run(exe, *words, *names)
    with_it = run(exe, "--catalogue", "packs.tsv", *words, *names)
    told["asked"] += 1
    if with_it.stderr.startswith(b"thrum-unpack: packs.tsv:") and with_it.returncode == 2:
        return  # what was changed cannot be read, and it is named
    if (without.stdout, without.returncode) != (with_it.stdout, with_it.returncode):
        print(words, names, without.stdout.decode(), without.stderr.decode(), with_it.stdout.decode(),
              with_it.stderr.decode(), sep="\n")
        sys.exit("otherwise than without the catalogue")
    told["opened"] += b"files are not as it says" in with_it.stderr


def change(exe, rng, names):
    how, name = rng.randrange(6), rng.choice(names)
    if how == 0:
        pack(exe, rng, name)
    elif how == 1:
        pack(exe, rng, name, "ab")
    elif how == 2:
        other = rng.choice(names)
        os.rename(name, "aside")
        os.rename(other if other != name else "aside", name)
        if other != name:
            os.rename("aside", other)
    with open("packs.tsv", "rb") as f:
        lines = f.read().splitlines(keepends=True)
    if len(lines) < 2:
        return
    at = rng.randrange(1, len(lines))
    if how == 3:
        del lines[at]
    elif how == 4 and b"a,b" not in lines[at]:
        cells = lines[at].rstrip(b"\n").split(b"\t")
        cell = rng.choice([c for c in range(len(cells)) if cells[c]])
        digit = rng.randrange(len(cells[cell]))
        cells[cell] = cells[cell][:digit] + bytes([rng.choice(b"0123456789abcdef")]) + cells[cell][digit + 1:]
        lines[at] = b"\t".join(cells) + b"\n"
    elif how == 5:
        lines.insert(at, rng.choice(lines[1:]))
    with open("packs.tsv", "wb") as f:
        f.writelines(lines)


def trial(exe, rng, told):
    names = [f"p{n}.gz" for n in range(rng.randrange(1, 9))]
    for name in names:
        pack(exe, rng, name)
        while rng.random() < 0.2:
            pack(exe, rng, name, "ab")
    with open("packs.tsv", "wb") as f:
        f.write(run(exe + "/thrum-unpack", "--list", "--hashes", *names).stdout)
    for _ in range(4):
        same(exe + "/thrum-unpack", rng, names, told)
    for _ in range(3):
        change(exe, rng, names)
        same(exe + "/thrum-unpack", rng, names, told)


def main():
    exe, seed, trials = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    told = {"opened": 0, "asked": 0}
    for n in range(trials):
        trial(exe, random.Random(f"{seed} {n}"), told)
    if not 0 < told["opened"] < told["asked"]:
        sys.exit("no trial that shows anything")
    print(f"{told['asked']} look-ups")


main()
