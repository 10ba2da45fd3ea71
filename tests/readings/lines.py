#!/usr/bin/env python3
"""Links with random fibres, joints and readings from both ends, with their truth.

    lines.py SEED LINKS FOLDER     writes readings.tsv links.tsv truth.tsv
    lines.py score BIN SEED LINKS  runs thrum-twoway on them and compares

Disturbances, drawn for each link and combined: index set differently at the two ends (stated, or left out), a launch cord
at each end or none, offsets of the distance at one end, readings missing at either end, points closer than the dead zone,
bends, scattering steps beside the mode-field steps, links read at one or two wavelengths, sites named so that b sorts
before a, rows shuffled.
"""
import math
import os
import random
import subprocess
import sys
import tempfile

def link(r, n):
    wavelengths = r.choice([[1310, 1550], [1550], [1310, 1550], [1310, 1625]])
    kinds, km, at = [], [], 0.0
    count = r.randint(3, 30)
    places = []
    for _ in range(count):
        at += r.uniform(.15, 4.0)
        places.append(at)
    merged = None
    if r.random() < .25 and count > 4:                     # two joints 2 to 12 m apart
        i = r.randrange(1, count - 1)
        merged = i
        places.insert(i + 1, places[i] + r.uniform(.002, .012))
    length = places[-1] + r.uniform(.2, 4.0)
    fibres = []
    for _ in range(len(places) + 1):
        mfd = r.gauss(9.0, .2) if r.random() < .9 else r.gauss(8.7, .15)
        fibres.append(dict(w={1310: mfd, 1550: mfd * r.uniform(1.12, 1.15), 1625: mfd * r.uniform(1.16, 1.2)},
                           s=r.gauss(0, .02)))
    joints = []
    for i, x in enumerate(places):
        a, b = fibres[i], fibres[i + 1]
        base = abs(r.gauss(.03, .03))
        if r.random() < .03: base += r.uniform(.1, .5)
        bend = r.uniform(.15, 1.2) if r.random() < .03 and len(wavelengths) > 1 else 0
        truth = {}
        for nm in wavelengths:
            mis = -20 * math.log10(2 * a["w"][nm] * b["w"][nm] / (a["w"][nm] ** 2 + b["w"][nm] ** 2))
            truth[nm] = (base + mis + (bend if nm > 1500 else bend * .03),
                         10 * math.log10(b["w"][nm] / a["w"][nm]) + (a["s"] - b["s"]))
        joints.append(dict(km=x, truth=truth, bend=bend))
    return dict(name=f"K{n:04d}", length=length, joints=joints, wavelengths=wavelengths, merged=merged)

def readings(r, l, rows, links, truth):
    a, b = f"zan-{l['name']}", f"abo-{l['name']}"
    links.append((l["name"], a, b))
    cords = [r.choice([0, .5, 1.0]), r.choice([0, .5, 1.0])]
    real = 1.4676
    state = r.choice(["both", "both", "none"])             # is the index stated
    index = [r.choice([1.4676, 1.4680, 1.4677]), r.choice([1.4676, 1.4690, 1.4660])]
    if state == "none" and r.random() < .6: index[1] = index[0]
    pulse = r.choice([30, 100, 100, 300])
    noise = r.uniform(.008, .03)
    sample = r.choice([.5, 1, 2])
    for nm in l["wavelengths"]:
        for end, name in ((0, a), (1, b)):
            offset = r.uniform(-.0006, .0006)
            scale = real / index[end]
            def row(x, kind, loss, sd):
                shown = (x * scale + cords[end]) if kind == "start" else (x * scale + cords[end] + offset + r.gauss(0, sample / 3000))
                rows.append((l["name"], name, nm, f"{index[end]:.4f}" if state == "both" else "", pulse, sample,
                             f"{shown:.5f}", kind, "" if loss is None else f"{loss:.3f}", f"{noise:.3f}"))
            row(0, "start", r.uniform(.1, .4) if cords[end] else None, noise)
            dead = .102 * pulse / 1000
            order = l["joints"] if end == 0 else l["joints"][::-1]
            seen = []
            for j in order:
                x = j["km"] if end == 0 else l["length"] - j["km"]
                loss, step = j["truth"][nm]
                shown = loss + (step if end == 0 else -step)
                if seen and x - seen[-1][0] < dead:        # the instrument cannot part them: one event at the first
                    seen[-1][1] += shown
                else:
                    seen.append([x, shown])
            for x, shown in seen:
                if r.random() < .03: continue              # not found by the instrument
                lin = r.uniform(-.03, .03) * abs(shown)
                kind = "step" if r.random() < .98 else "reflective"
                row(x, kind, shown + lin + r.gauss(0, noise), noise)
            row(l["length"], "end", None, noise)
        for j in l["joints"]:
            truth.append((l["name"], nm, j["km"] * real / (index[0]), j["truth"][nm][0], j["truth"][nm][1], j["bend"]))

def make(seed, n, folder):
    r = random.Random(seed)
    rows, links, truth = [], [], []
    for i in range(n): readings(r, link(r, i), rows, links, truth)
    r.shuffle(rows)
    os.makedirs(folder, exist_ok=True)
    with open(f"{folder}/readings.tsv", "w") as f:
        f.write("link\tfrom\twavelength_nm\tindex\tpulse_ns\tsample_m\tkm\tkind\tloss_db\tsd_db\n")
        for x in rows: f.write("\t".join(map(str, x)) + "\n")
    with open(f"{folder}/links.tsv", "w") as f:
        f.write("link\tsite_a\tsite_b\n")
        for x in links: f.write("\t".join(x) + "\n")
    return truth

def score(binary, seed, n):
    folder = tempfile.mkdtemp()
    truth = make(seed, n, folder)
    p = subprocess.run([binary, "--links", f"{folder}/links.tsv", "-o", f"{folder}/out.tsv",
                        "--findings", f"{folder}/found.tsv", f"{folder}/readings.tsv"], capture_output=True, text=True)
    if p.returncode > 1: sys.exit(p.stderr)
    def rows(name):
        lines = open(f"{folder}/{name}").read().splitlines()
        return [dict(zip(lines[0].split("\t"), x.split("\t"))) for x in lines[1:]]
    points, out = {}, {}
    for name, nm, km, loss, step, bend in truth: points.setdefault((name, str(nm)), []).append((km, loss, step, bend))
    for d in rows("out.tsv"): out.setdefault((d["link"], d["wavelength_nm"]), []).append(d)
    bends = {(d["link"], d["wavelength_nm"], d["km"]) for d in rows("found.tsv") if d["rule"] == "bend"}
    rules = {}
    for d in rows("found.tsv"): rules[d["rule"]] = rules.get(d["rule"], 0) + 1
    errors, covered, stepped, planted, told, false = [], 0, 0, 0, 0, 0
    for key, mine in out.items():
        for d in mine:
            if d["basis"] not in ("two-way", "merged"): continue
            km, loss, sd = float(d["km"]), float(d["loss_db"]), float(d["sd_db"])
            near = [p for p in points[key] if abs(p[0] - km) < .02]
            if sum(abs(float(x["km"]) - km) < .02 for x in mine) > 1:      # told apart
                near = sorted(points[key], key=lambda p: abs(p[0] - km))[:1]
            if not near: sys.exit(f"{key} {km}: no such joint")
            errors.append(loss - sum(p[1] for p in near))
            covered += abs(errors[-1]) <= 1.96 * sd
            stepped += abs(float(d["step_db"]) - sum(p[2] for p in near)) <= 1.96 * float(d["step_sd_db"])
            bend, is_told = sum(p[3] for p in near), (key[0], key[1], d["km"]) in bends
            if d["bend_db"] and bend > .1 + 3 * float(d["bend_sd_db"]):
                planted += 1
                told += is_told
            false += is_told and not bend
    n2 = len(errors)
    print(f"joints {n2}")
    print(f"mean_error_db {sum(errors) / n2:.6f}")
    print(f"spread_db {math.sqrt(sum(e * e for e in errors) / n2):.5f}")
    print(f"covered_percent {100 * covered / n2:.2f}")
    print(f"steps_covered_percent {100 * stepped / n2:.2f}")
    print(f"bends {planted} told {told} false {false}")
    print("findings", *(f"{k} {v}" for k, v in sorted(rules.items())))

if __name__ == "__main__":
    if sys.argv[1] == "score": score(sys.argv[2], int(sys.argv[3]), int(sys.argv[4]))
    else: make(int(sys.argv[1]), int(sys.argv[2]), sys.argv[3])
