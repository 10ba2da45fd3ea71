"""Random joints in random shards: thrum-closure --merge of their --partial tables, against one run.

usage: merge.py BIN SEED TRIALS

A joint's rows stay in one shard, whatever they are: attempts that stand and do not, of several nights,
wavelengths, closures; names, fibres or nothing tell them. Output and status of both ways must be the
same byte for byte, with every option that changes a figure. Then one joint is put into a second shard,
and a table is cut short: both must be told. Ends with 1 at the first that does not hold.
"""
import random
import subprocess
import sys

COLUMNS = ("joint attempt stands closure tray cable_a fibre_a cable_b fibre_b ribbon_a kind est_db loss_db "
           "loss_ab_db loss_ba_db loss_nm loss_with tension accept shift made_at jointer crew").split()
SHARDS = 4


def table(path, columns, rows):
    with open(path, "w", encoding="ascii") as out:
        for row in [dict(zip(columns, columns))] + rows:
            out.write("\t".join(row.get(c, "") for c in columns) + "\n")


def loss(rng):
    return rng.choice(["", f"{rng.randrange(-60, 200) / 1000:.3f}", "0.05", f"{rng.random() / 5:.6f}"])


def joint(rng, n):
    how = rng.random()
    place = {"closure": rng.choice(["north", "south", "", "east"]), "kind": rng.choice(["", "", "mechanical"])}
    if how < 0.8:
        place["joint"] = f"J{n}"
    if how > 0.7:
        place.update(cable_a="tide", fibre_a=str(n), cable_b="kelp", fibre_b=str(n) if how < 0.95 else "")
    rows = []
    for attempt in range(rng.choice([1, 1, 1, 2, 3])):
        base = dict(place, attempt=str(attempt + 1), jointer=rng.choice(["Tamsel", "Wenlo", ""]),
                    crew=rng.choice("ab"), est_db=loss(rng), tension=rng.choice(["pass"] * 6 + ["fail", "?"]),
                    tray=rng.choice(["", "1", "02", "2", "top", "a,b"]), ribbon_a=rng.choice(["", "", "1"]),
                    stands=rng.choice(["yes", "yes", "", "no"]), accept=rng.choice(["", "", "estimate"]),
                    shift=rng.choice(["", "2026-03-11", "2026-03-12"]),
                    made_at=rng.choice(["", "2026-03-11", f"2026-03-1{rng.randrange(1, 4)}T0{rng.randrange(9)}:00Z"]))
        for nm in rng.choice([[""], ["1550"], ["1310", "1550"], ["1550", ""], ["1264.5"]]):
            row = dict(base, loss_nm=nm)
            row.update(rng.choice([{"loss_db": loss(rng)}, {"loss_ab_db": loss(rng), "loss_ba_db": loss(rng)}]))
            if rng.random() < 0.1:
                row["loss_with"] = rng.choice(["J1,J2", "north:P1", "J3"])
            if rng.random() < 0.05:
                row["closure"] = "west"
            rows.append(row)
    return rows


def options(rng):
    """What both sides get, and what --partial or --merge gets alone."""
    both, partial, merge = [], [], []
    if rng.random() < 0.5:
        both += ["--by", rng.choice(["jointer", "jointer,crew", "tray", "kind", "closure,crew"])]
    elif rng.random() < 0.6:
        both += ["--plan", "plan"] + rng.choice([[], ["--only", "closure=north,east"]])
    both += rng.choice([[], ["--accept", "estimate"], ["--accept", "one-way"], ["--value", "est_db"]])
    both += rng.choice([[], [], ["--limit", "0.07"], ["--limits", "limits"]])
    partial += rng.choice([[], ["--faults", "faults"]])
    merge += rng.choice([[], [], ["--no-quantiles"], ["--wavelength", "1310,1625"]])
    return both, partial, merge


def sides(rng, joints):
    planned = [dict(j[0], joint=j[0].get("joint", f"P{n}"), tray=rng.choice(["", "1"]), loss_nm="",
                    closure=rng.choice([j[0]["closure"], "north"]), limit_db=rng.choice(["", "", "0.04"]))
               for n, j in enumerate(joints) if rng.random() < 0.8]
    table("plan", "joint closure tray cable_a fibre_a cable_b fibre_b kind ribbon_a limit_db".split(),
          planned + [{"joint": "X1", "closure": "far"}, {"joint": "X2", "closure": "east"},
                     {"joint": "X3", "closure": "north"}])
    table("faults", ["joint", "level"], [{"joint": f"J{rng.randrange(9)}", "level": "error"}])
    table("limits", "closure kind loss_nm basis each_db mean_db".split(),
          [{"each_db": "0.1", "mean_db": "0.06"}, {"closure": "north", "each_db": "0.05", "mean_db": "0.03"},
           {"loss_nm": "1625", "each_db": "0.08"}, {"basis": "estimate", "each_db": "0.07"}])


def run(*words):
    return subprocess.run(words, capture_output=True, check=False)


def stop(why, *runs):
    print(why)
    for r in runs:
        print(r.args, r.returncode, r.stdout.decode(), r.stderr.decode())
    sys.exit(1)


def trial(exe, rng):
    joints = [joint(rng, n) for n in range(rng.randrange(0, 25))]
    rows = [r for j in joints for r in j]
    shards = [[] for _ in range(SHARDS)]
    for j in joints:
        rng.choice(shards).extend(j)
    for shard in shards:
        rng.shuffle(shard)
    names = [f"s{n}" for n in range(SHARDS)]
    parts = [f"p{n}" for n in range(SHARDS)]
    for name, shard in zip(names, shards):
        table(name, COLUMNS, shard)
    sides(rng, joints)
    both, partial, merge = options(rng)
    one = run(exe, *both, *partial, *merge, *names)
    for name, part in zip(names, parts):
        made = run(exe, "--partial", *both, *partial, "-o", part, name)
        if made.returncode != 0:
            stop("--partial", made)
    merged = run(exe, "--merge", *both, *merge, *parts)
    if (one.stdout, one.stderr, one.returncode) != (merged.stdout, merged.stderr, merged.returncode):
        stop("otherwise than in one run", one, merged)
    if one.returncode not in (0, 1):
        stop("trouble", one)
    named = [r for r in rows if r.get("joint") or r.get("fibre_b")]
    if named:
        double = rng.choice(named)
        table("s9", COLUMNS, [dict(double, attempt="9", stands=rng.choice(["yes", "no"]))])
        run(exe, "--partial", *both, *partial, "-o", "p9", "s9")
        told = run(exe, "--merge", *both, *merge, *parts, "p9")
        if told.returncode != 2 or b"column 'part_name': this joint is in a table before" not in told.stderr:
            stop("a joint in two tables is not told", told)
    with open(parts[1], "rb") as f:
        lines = f.read().splitlines(keepends=True)
    del lines[rng.randrange(1, len(lines))]
    with open(parts[1], "wb") as f:
        f.writelines(lines)
    if run(exe, "--merge", *both, *merge, *parts).returncode != 2:
        stop("a row is missing, and nobody says so")


def main():
    exe, seed, trials = sys.argv[1] + "/thrum-closure", int(sys.argv[2]), int(sys.argv[3])
    for n in range(trials):
        trial(exe, random.Random(f"{seed} {n}"))
    print(f"{trials} trials")


main()
