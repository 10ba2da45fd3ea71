"""Random sound nights with a plan: they pass, and with one record changed for the worse they do not.

usage: random.py BIN SEED NIGHTS

Two nights of a few closures, each joint read at two wavelengths from both ends; retries, joints opened
again in the second night, ribbons, fibres that run through or are parked, a cable that goes both ways.
The untouched tables must pass in every closure. Then single rows that count are deleted, read from one
end only, failed or misplaced, one at a time: no closure that the row is or was in may pass. Ends with 1
at the first that does, and prints it.
"""
import os
import random
import subprocess
import sys

COLUMNS = ("joint attempt stands closure tray slot cable_a fibre_a toward_a cable_b fibre_b toward_b ribbon_a "
           "ribbon_b kind cleave_a_deg cleave_b_deg est_db tension protector jointer splicer cleaver arcs_n "
           "shift made_at loss_nm loss_ab_db loss_ba_db loss_db").split()
PLAN = ("joint closure tray slot cable_a fibre_a toward_a cable_b fibre_b toward_b state kind ribbon_a "
        "ribbon_b").split()
WAVELENGTHS = ("1310", "1550")


def write(path, columns, rows):
    with open(path, "w", encoding="ascii") as out:
        for row in [dict(zip(columns, columns))] + rows:
            out.write("\t".join(row.get(c, "") for c in columns) + "\n")


def db(rng, low, high):
    return rng.randrange(low, high, 2)


def attempt(rng, place, number, night, stands, good):
    """The rows of one attempt: one for each wavelength if it stands, else one without."""
    base = dict(place, attempt=str(number), stands="yes" if stands else "no", kind="fusion",
                cleave_a_deg="0.3", cleave_b_deg="0.2", est_db="0.02" if good or stands else "0.31",
                tension="pass" if stands else "", protector="pass" if stands else "", jointer="Tamsel",
                splicer="weaver-1", cleaver="nib-1", arcs_n=str(next_arc(rng)),
                shift=f"2026-03-1{night}", made_at=f"2026-03-1{night}T{clock(rng)}Z")
    if not stands:
        return [base]
    rows = []
    for nm in WAVELENGTHS:
        mean, half = (db(rng, 10, 44), db(rng, 0, 60)) if good else (db(rng, 300, 400), 0)
        rows.append(dict(base, loss_nm=nm, loss_ab_db=f"{(mean + half) / 1000:.3f}",
                         loss_ba_db=f"{(mean - half) / 1000:.3f}", loss_db=f"{mean / 1000:.3f}"))
    return rows


def next_arc(rng):
    rng.arcs += rng.randrange(1, 4)
    return rng.arcs


def clock(rng):
    rng.second += rng.randrange(30, 200)
    return f"{rng.second // 3600:02}:{rng.second // 60 % 60:02}:{rng.second % 60:02}"


def night(rng):
    rng.arcs, rng.second, plan, records = 100, 0, [], []
    for c in range(rng.randrange(2, 4)):
        closure, ribbon = f"cove-{c}", rng.random() < 0.3
        for n in range(1, rng.randrange(3, 7)):
            place = dict(joint=f"C{c}-{n:03}", closure=closure, tray=str((n - 1) // 3 + 1),
                         slot=str((n - 1) % 3 + 1), cable_a=f"tide-{c}", fibre_a=str(n), cable_b=f"kelp-{c}",
                         fibre_b=str(n))
            if ribbon:
                place.update(ribbon_a="1", ribbon_b="1")
            elif rng.random() < 0.2:
                place.update(cable_b=place["cable_a"], toward_a="north", toward_b="south")
            plan.append(dict(place, state="join", kind="fusion"))
            tries = rng.randrange(0, 3)
            for t in range(tries):
                records += attempt(rng, place, t + 1, 1, False, False)
            reopened = rng.random() < 0.3
            records += attempt(rng, place, tries + 1, 1, True, not reopened)
            if reopened:
                records += attempt(rng, place, tries + 2, 2, True, True)
        for n, state in ((20, "express"), (21, "parked"), (22, "dead")):
            plan.append(dict(closure=closure, cable_a=f"tide-{c}", fibre_a=str(n), state=state))
    return plan, records


def counts(records):
    """The places of the rows that count: those of each joint's last attempt that stands."""
    last = {}
    for r in records:
        if r["stands"] == "yes":
            last[r["joint"]] = r["attempt"]
    return [i for i, r in enumerate(records) if r["stands"] == "yes" and last[r["joint"]] == r["attempt"]]


def changes(rng, row):
    """Single changes for the worse: what it is, and the row; None: it is deleted."""
    yield "deleted", None
    end = rng.choice(("loss_ab_db", "loss_ba_db"))
    yield "read from one end", dict(row, **{end: "", "loss_db": ""})
    yield "read from one end, a loss beside it", dict(row, **{end: ""})
    yield "not measured", dict(row, loss_ab_db="", loss_ba_db="", loss_db="")
    yield "proof test failed", dict(row, tension="fail")
    yield "protector failed", dict(row, protector="fail")
    yield "too much loss", dict(row, loss_ab_db="0.500", loss_ba_db="0.500", loss_db="0.500")
    yield "a loss below its readings", dict(row, loss_ab_db="0.500", loss_ba_db="0.500")
    yield "does not stand", dict(row, stands="no")
    yield "another closure", dict(row, closure="cove-0" if row["closure"] != "cove-0" else "cove-1")
    yield "an unknown closure", dict(row, closure="cove-9")
    yield "another tray", dict(row, tray="9")
    yield "another slot", dict(row, slot="9")
    yield "another fibre", dict(row, fibre_b=str(int(row["fibre_b"]) + 1))
    yield "another cable", dict(row, cable_a="tide-9")
    yield "a fibre that runs through", dict(row, fibre_a="20")
    yield "another name", dict(row, joint="C9-001")


def verdicts(binary, plan_rows, records):
    write("plan.tsv", PLAN, plan_rows)
    write("joints.tsv", COLUMNS, records)
    check = subprocess.run([f"{binary}/thrum-check", "--plan", "plan.tsv", "-o", "faults.tsv", "joints.tsv"],
                           capture_output=True, text=True, check=False)
    closure = subprocess.run([f"{binary}/thrum-closure", "--plan", "plan.tsv", "--faults", "faults.tsv",
                              "--wavelength", ",".join(WAVELENGTHS), "joints.tsv"],
                             capture_output=True, text=True, check=False)
    if check.returncode > 1 or closure.returncode > 1:
        sys.exit(f"trouble: {check.stderr}{closure.stderr}")
    passes = {}
    lines = [line.split("\t") for line in closure.stdout.splitlines()]
    for line in lines[1:]:
        name = line[lines[0].index("closure")]
        passes[name] = passes.get(name, True) and line[lines[0].index("verdict")] == "pass"
    return check.returncode, closure.returncode, passes


def main():
    binary, seed, nights = os.path.abspath(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    tried = 0
    for n in range(nights):
        rng = random.Random(seed + n)
        plan, records = night(rng)
        check, closure, passes = verdicts(binary, plan, records)
        if check != 0 or closure != 0 or not all(passes.values()):
            sys.exit(f"seed {seed + n}: the untouched night does not pass: {check} {closure} {passes}")
        for i in rng.sample(counts(records), 3):
            for what, row in changes(rng, records[i]):
                changed = records[:i] + ([row] if row is not None else []) + records[i + 1:]
                _, closure, passes = verdicts(binary, plan, changed)
                touched = {records[i]["closure"], row["closure"] if row else records[i]["closure"]}
                tried += 1
                if closure != 1 or any(passes.get(c, False) for c in touched):
                    sys.exit(f"seed {seed + n}, row {i + 2}: {what}: passes: {passes}")
    print(f"{tried} changes, none passed")


main()
