"""A plan from a schedule in the plainest way, and random schedules for it: naive.py SEED FOLDER

Writes FOLDER/schedule, spans, sites, and what the plan and the rules found must be: plan, rules.
Nothing here is shared with the program but the description of the tables.
"""

import random
import sys

TIA = "blue orange green brown slate white red black yellow violet rose aqua".split()
IEC = "blue yellow red white green violet orange grey turquoise black brown pink".split()


def colour(order, n):
    """ANSI/TIA-598-C, and the ring signatures of 24 fibres in the colours of IEC 60304"""
    base = {"tia-598": TIA, "iec-60794-2": IEC}[order][(n - 1) % 12]
    marks = (n - 1) // 12
    if marks == 0:
        return base
    if order == "iec-60794-2":
        if marks > 1:
            return None
        return "uncoloured ring" if base == "black" else base + " ring"
    return f"{base} stripe" if marks == 1 else f"{base} {marks} stripes"


def numbers(text):
    out = []
    for piece in text.split(",") if text else []:
        a, _, b = piece.partition("-")
        a, b = int(a), int(b or a)
        out += range(a, b + 1) if a <= b else range(a, b - 1, -1)
    return out


def write(path, names, rows):
    with open(path, "w") as f:
        for row in [names] + rows:
            f.write("\t".join(str(row[n]) if isinstance(row, dict) else n for n in names) + "\n")


def network(rng):
    """A chain of sites, a cable of its own between each two, and one that is cut on its way."""
    n = rng.randint(3, 6)
    spans = []
    for i in range(n - 1):
        spans.append({"cable": f"c{i}", "section": 1, "site_a": f"s{i}", "site_b": f"s{i + 1}"})
    for i in range(n - 1):
        spans.append({"cable": "long", "section": i + 1, "site_a": f"s{i}", "site_b": f"s{i + 1}"})
    for s in spans:
        kind = random.Random(s["cable"] + str(n))
        s["fibres"] = kind.choice([24, 48, 96])
        s["tube_size"] = kind.choice([4, 6, 12, 16, 24])
        s["tube_order"] = kind.choice(["tia-598", "none", "red,green"])
        s["fibre_order"] = kind.choice(["tia-598", "iec-60794-2"])
        s["category"] = kind.choice(["G.652.D", "G.657.A1", ""])
    sites = [{"site": f"s{i}", "trays": rng.randint(1, 6), "slots": rng.choice([6, 12, 24])}
             for i in range(n)]
    return spans, sites


def some_range(rng, most):
    pieces = []
    for _ in range(rng.randint(1, 3)):
        a = rng.randint(1, most)
        b = max(1, min(most, a + rng.randint(-8, 8)))
        pieces.append(str(a) if a == b else f"{a}-{b}")
    return ",".join(pieces)


def schedule(rng, spans, sites):
    rows = []
    for i in range(rng.randint(1, 12)):
        site = rng.randrange(len(sites))
        state = rng.choice(["join"] * 6 + ["", "express", "parked", "dead"])
        near = [s for s in spans if f"s{site}" in (s["site_a"], s["site_b"])]
        row = dict.fromkeys(COLUMNS, "")
        row.update(closure=f"s{site}", state=state)
        a = rng.choice(near if rng.random() < 0.95 else spans)
        row["cable_a"] = a["cable"]
        row["fibres_a"] = some_range(rng, a["fibres"] + (5 if rng.random() < 0.1 else 0))
        if a["cable"] == "long" and rng.random() < 0.9 and state != "express":
            row["toward_a"] = rng.choice([f"s{site - 1}", f"s{site + 1}"])
        if state in ("", "join"):
            b = rng.choice(near if rng.random() < 0.95 else spans)
            row["cable_b"] = b["cable"]
            n = len(numbers(row["fibres_a"]))
            start = rng.randint(1, max(1, b["fibres"] - n))
            if rng.random() < 0.15:
                row["fibres_b"] = some_range(rng, b["fibres"])
            else:
                row["fibres_b"] = f"{start + n - 1}-{start}" if rng.random() < 0.3 else \
                    f"{start}-{start + n - 1}"
            if b["cable"] == "long" and rng.random() < 0.9:
                row["toward_b"] = rng.choice([f"s{site - 1}", f"s{site + 1}"])
            row["kind"] = rng.choice(["", "fusion", "mechanical"])
            row["ribbon_size"] = rng.choice(["", "", "4", "12"])
            row["limit_db"] = rng.choice(["", "0.15"])
            if rng.random() < 0.5:
                row["joint"] = f"J{i}-{rng.randint(0, 98):02d}"
        if rng.random() < 0.8:
            row["tray"] = rng.randint(1, 5)
            row["slot"] = rng.choice(["", "", 1, 5, 13])
            row["tray_slots"] = rng.choice(["", "", "", 6, 12, 30])
        rows.append(row)
    return rows


COLUMNS = ("closure joint cable_a toward_a fibres_a cable_b toward_b fibres_b tray slot tray_slots "
           "kind ribbon_size state limit_db").split()
PLAN = ("joint closure tray slot cable_a fibre_a toward_a section_a cable_b fibre_b toward_b section_b "
        "state kind tube_a colour_a tube_b colour_b ribbon_a ribbon_b position expected_db "
        "limit_db").split()


class Expansion:
    def __init__(self, spans, sites):
        self.spans, self.sites = spans, {s["site"]: s for s in sites}
        self.plan, self.rules = [], []
        self.joined, self.ends, self.express = set(), set(), set()
        self.joints, self.slots = set(), set()

    def side(self, row, x):
        """The section this side is in, or None, and the cable's rules of counting."""
        name, toward = row["cable_" + x], row["toward_" + x]
        here = row["closure"]
        fits = []
        for s in self.spans:
            if s["cable"] == name:
                if s["site_a"] == here and toward in ("", s["site_b"]):
                    fits.append(s)
                elif s["site_b"] == here and toward in ("", s["site_a"]):
                    fits.append(s)
        if name:
            if not fits:
                self.found(row, "not-met")
            if len(fits) > 1 and row["state"] != "express":
                self.found(row, "toward-missing")
        section = fits[0] if len(fits) == 1 else None
        fibres = numbers(row["fibres_" + x])
        if section and fibres and max(fibres) > section["fibres"]:
            self.found(row, "fibre-beyond")
        return section, fibres, next((s for s in self.spans if s["cable"] == name), None)

    def found(self, row, rule):
        self.rules.append(f"{row['line']} {rule}")

    def use(self, row, x, toward, section, n):
        where = (row["closure"], row["cable_" + x], n)
        end = where + ((section["cable"], section["section"]) if section else (toward,))
        if row["state"] == "express":
            if where in self.joined:
                self.found(row, "express-joined")
            if where in self.express:
                self.found(row, "fibre-twice")
            self.express.add(where)
            return
        if where in self.express:
            self.found(row, "express-joined")
        if end in self.ends:
            self.found(row, "fibre-twice")
        self.joined.add(where)
        self.ends.add(end)

    def expand(self, row):
        row["state"] = row["state"] or "join"
        join = row["state"] == "join"
        sides = {x: self.side(row, x) for x in "ab"}
        count = {x: len(sides[x][1]) for x in "ab"}
        if join and count["a"] != count["b"]:
            self.found(row, "unequal")
        site = self.sites[row["closure"]]
        slots = int(row["tray_slots"] or site["slots"])
        placed = join and row["tray"] != ""
        first = (int(row["tray"]) if placed else 0, int(row["slot"] or 1))
        if placed and slots > site["slots"]:
            self.found(row, "tray-full")
        if placed and first[1] > slots:
            self.found(row, "tray-full")
        size = int(row["ribbon_size"] or 0)
        kind = (row["kind"] or "fusion") if join else ""
        expected = ""
        if join and all(sides[x][0] and sides[x][0]["category"] for x in "ab"):
            # both have the same mode field; the typical allowances are common practice
            expected = {"fusion": "0.050", "mechanical": "0.150"}[kind]
        tray, slot, full = first[0], first[1], False
        for i in range(max(count.values())):
            out = dict.fromkeys(PLAN, "")
            out.update(closure=row["closure"], tray=row["tray"], state=row["state"], kind=kind,
                       limit_db=row["limit_db"] and "0.150", expected_db=expected)
            if join:
                out["joint"] = self.name(row, sides, i)
                if out["joint"] in self.joints:
                    self.found(row, "joint-twice")
                self.joints.add(out["joint"])
            if placed:
                if not size or i % size == 0:
                    if i > 0:
                        slot += 1
                        if slot > slots:
                            tray, slot = tray + 1, 1
                    if tray > site["trays"] and not full:
                        full = True
                        self.found(row, "closure-full")
                    if (row["closure"], tray, slot) in self.slots:
                        self.found(row, "slot-twice")
                    self.slots.add((row["closure"], tray, slot))
                out["tray"], out["slot"] = tray, slot
            for x in "ab":
                self.fibre(row, out, x, sides[x], i, size)
            self.plan.append(out)

    @staticmethod
    def name(row, sides, i):
        if row["joint"]:
            stem, _, digits = row["joint"].partition("-")
            return f"{stem}-{int(digits) + i:0{len(digits)}d}"
        x = "a" if i < len(sides["a"][1]) else "b"
        name = f"{row['closure']}:{row['cable_' + x]}:{sides[x][1][i]}"
        return name + (":" + row["toward_" + x] if row["toward_" + x] else "")

    def fibre(self, row, out, x, side, i, size):
        section, fibres, cable = side
        out["cable_" + x], out["toward_" + x] = row["cable_" + x], row["toward_" + x]
        out["section_" + x] = section["section"] if section else ""
        if i >= len(fibres):
            return
        n = fibres[i]
        out["fibre_" + x] = n
        tube, within = (n - 1) // cable["tube_size"] + 1, (n - 1) % cable["tube_size"] + 1
        if cable["tube_order"] == "none":
            tube, within = "", n
        elif cable["tube_order"] == "red,green":
            tube = {1: "red", 2: "green"}.get(tube, tube)
        else:
            tube = colour(cable["tube_order"], tube)
        out["tube_" + x] = tube
        out["colour_" + x] = colour(cable["fibre_order"], within) or ""
        if not out["colour_" + x]:
            self.found(row, "colour-unknown")
        if size:
            if (fibres[i - i % size] - 1) // size != (n - 1) // size:
                self.found(row, "ribbon-split")
            out["ribbon_" + x] = (n - 1) // size + 1
            if x == "a":
                out["position"] = (n - 1) % size + 1
        self.use(row, x, row["toward_" + x], section, n)


def main():
    seed, folder = int(sys.argv[1]), sys.argv[2]
    rng = random.Random(seed)
    spans, sites = network(rng)
    rows = schedule(rng, spans, sites)
    e = Expansion(spans, sites)
    write(f"{folder}/schedule", COLUMNS, rows)
    write(f"{folder}/spans", list(spans[0]), spans)
    write(f"{folder}/sites", list(sites[0]), sites)
    for line, row in enumerate(rows, 2):
        row["line"] = line
        e.expand(row)
    write(f"{folder}/plan", PLAN, e.plan)
    with open(f"{folder}/rules", "w") as f:
        f.writelines(sorted(r + "\n" for r in e.rules))


main()
