#!/usr/bin/env python3
"""Random routes and a distance read along each; how often the place is within what thrum-locate says of it.

locate.py BIN SEED ROUTES: BIN has thrum-locate. Prints, for each kind of knowledge, how many of the true
places were within uncertainty_m, and which share of uncertainty_m would have held exactly 95 %. Exits 0
if it held 95 % and no more than twice of what is needed was stated, else 1.

All lengths are in metres. Sheath and fibre are laid first, then records of them are made with errors.
"""
import os
import random
import subprocess
import sys
import tempfile

N_REF = 1.4675


class Route:
    def __init__(self, rng, name):
        self.rng, self.name = rng, name
        self.elements, self.spans, self.readings = [], [], []
        self.sections = []  # cable, section, sheath, optical length, true marks, reversed
        self.seq = 0
        self.lay()
        self.unstated_index = rng.uniform(1.466, 1.469)  # of every instrument that does not state one
        self.read = rng.choice(("none", "a", "b", "both", "both"))
        for side in ("a", "b"):
            if self.read in (side, "both"):
                for _ in range(rng.choice((1, 1, 2))):
                    self.trace(side)
        self.ask()

    def element(self, kind, ref, site, section="", turned="no"):
        self.seq += 1
        self.elements.append((self.name, self.seq, kind, ref, site, section, turned))

    def pigtail(self, cable, site, fibre_m):
        self.spans.append((cable, "1", site, site, "%.4f" % (fibre_m / 1000), "", "", "", "", "", ""))
        self.element("fibre", cable + ":1", site, "1")
        self.sections.append((cable, "1", fibre_m, fibre_m, None, False))

    def lay(self):
        rng, name = self.rng, self.name
        self.site_a, self.site_b = name + "-s0", None
        self.element("connector", self.site_a + ":1", self.site_a)
        self.pigtail(name + "-pa", self.site_a, rng.uniform(1, 4))
        self.joints = []  # the optical place of each closure
        left, site = rng.randint(1, 8), 0
        cable_n = 0
        while left > 0:
            n = min(left, rng.randint(1, 3))
            left -= n
            cable_n += 1
            self.cable("%s-c%d" % (name, cable_n), n, site)
            site += n
        self.site_b = "%s-s%d" % (name, site)
        self.pigtail(name + "-pb", self.site_b, rng.uniform(1, 4))
        self.element("connector", self.site_b + ":1", self.site_b)

    def cable(self, cable, n, site):
        rng = self.rng
        excess = rng.uniform(0.005, 0.04)
        index = rng.uniform(1.466, 1.469)
        stated = "%.5f" % rng.gauss(index, 0.0002) if rng.random() < 0.8 else ""
        measured = rng.random() < 0.4
        turned = rng.random() < 0.4  # laid from the other end
        for k in range(n):
            ends = ["%s-s%d" % (self.name, site + k), "%s-s%d" % (self.name, site + k + 1)]
            sheath = rng.uniform(300, 7000)
            fibre = sheath * (1 + excess) * (1 + rng.gauss(0, 0.003))
            first = rng.uniform(0, 9000)
            marks = [first, first + sheath] if rng.random() < 0.5 else [first + sheath, first]
            shown = ["%.1f" % rng.gauss(m, 0.7) for m in marks]
            slack = [max(0, rng.gauss(rng.choice((0, 15, 30)), 0.7)) for _ in range(2)]
            fibre_km = ""
            if measured:
                off = rng.uniform(-1, 1) + rng.uniform(-5e-5, 5e-5) * fibre
                seen = fibre * index / (float(stated) if stated else N_REF) + off
                fibre_km = "%.4f" % (seen / 1000)
            section = str(n - k if turned else k + 1)
            self.joints.append(self.length())
            self.element("fusion", "j", ends[0])
            self.element("fibre", cable + ":7", ends[0], section, "yes" if turned else "no")
            if turned:
                ends.reverse()
            self.spans.append((cable, section, *ends, fibre_km, "", *shown, *("%.1f" % s for s in slack), stated))
            self.sections.append((cable, section, sheath, fibre * index / N_REF, marks, turned))
        if not self.site_b:
            self.joints.append(self.length())

    def length(self):
        return sum(s[3] for s in self.sections)

    def instrument(self):
        """What an instrument shows of an optical length, less where it begins; and its stated index."""
        rng = self.rng
        stated = rng.random() < 0.85
        index = round(rng.uniform(1.466, 1.469), 4) if stated else self.unstated_index
        off, scale, sample = rng.uniform(-1, 1), 1 + rng.uniform(-5e-5, 5e-5), rng.choice((0.5, 1, 2))
        return (lambda x: x * N_REF / index * scale + off + rng.uniform(-sample, sample) / 2,
                "%.4f" % index if stated else "", sample)

    def trace(self, side):
        rng = self.rng
        show, index, sample = self.instrument()
        cord = self.cord.setdefault(side, rng.choice((0, rng.uniform(200, 1500))))
        whole = self.length()
        at = lambda x: x if side == "a" else whole - x
        rows = [(cord, "start")]
        rows += [(cord + show(at(x)), "step") for x in self.joints if rng.random() < 0.6]
        if rng.random() < 0.8:
            rows.append((cord + show(whole), "end"))
        for _ in range(rng.choice((0, 0, 1, 2))):  # a bend
            rows.append((cord + show(rng.uniform(100, whole)), "step"))
        when = "t%d" % len(self.readings)
        site = self.site_a if side == "a" else self.site_b
        for m, kind in rows:
            if m >= 0:
                self.readings.append((self.name, site, "1550", when, index, sample, "%.4f" % (m / 1000), kind))

    cord = None

    def __new__(cls, *_):
        self = super().__new__(cls)
        self.cord = {}
        return self

    def ask(self):
        rng = self.rng
        whole = self.length()
        x = rng.uniform(10, whole - 10)
        self.true = self.sheath_place(x)
        side = rng.choice(("a", "b"))
        show, index, sample = self.instrument()
        far = ""
        shown = show(x if side == "a" else whole - x) + self.cord.get(side, 0)
        if rng.random() < 0.2:
            other = "b" if side == "a" else "a"
            far = "%.4f" % ((show(whole - x if side == "a" else x) + self.cord.get(other, 0)) / 1000)
        site = self.site_a if side == "a" else self.site_b
        self.distance = (self.name, site, "%.4f" % (max(0, shown) / 1000), far, index, sample)

    def sheath_place(self, x):
        """How much sheath lies before the optical place x."""
        before = 0
        for section in self.sections:
            if x <= section[3]:
                return before + section[2] * x / section[3]
            x -= section[3]
            before += section[2]
        raise AssertionError

    def answered(self, row):
        """The same for the place in an answer; None: there is none."""
        before = 0
        for cable, section, sheath, _, marks, turned in self.sections:
            if (cable, section) == (row["cable"], row["section"]):
                if marks is None:
                    return before + sheath / 2
                s = (float(row["mark_m"]) - marks[0]) * (1 if marks[1] > marks[0] else -1)
                return before + (sheath - s if turned else s)
            before += sheath
        return None


def write(path, columns, rows):
    with open(path, "w") as f:
        f.write("\t".join(columns.split()) + "\n")
        for row in rows:
            f.write("\t".join(str(x) for x in row) + "\n")


def main():
    bin_, seed, n = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    rng = random.Random(seed)
    routes = [Route(rng, "r%d" % i) for i in range(n)]
    with tempfile.TemporaryDirectory() as folder:
        path = lambda name: os.path.join(folder, name)
        write(path("elements"), "link seq kind ref site section reversed", (r for x in routes for r in x.elements))
        write(path("spans"), "cable section site_a site_b fibre_km sheath_km mark_a_m mark_b_m slack_a_m slack_b_m "
              "index", (r for x in routes for r in x.spans))
        write(path("readings"), "link from wavelength_nm tested_at index sample_m km kind",
              (r for x in routes for r in x.readings))
        write(path("distances"), "link from km far_km index sample_m", (x.distance for x in routes))
        out = subprocess.run([os.path.join(bin_, "thrum-locate"), "--elements", path("elements"), "--spans",
                              path("spans"), "--readings", path("readings"), path("distances")],
                             check=True, stdout=subprocess.PIPE, text=True).stdout
    lines = [line.split("\t") for line in out.splitlines()]
    if len(lines) != n + 1:
        sys.exit("%d rows for %d" % (len(lines) - 1, n))
    kinds = {}
    for route, fields in zip(routes, lines[1:]):
        row = dict(zip(lines[0], fields))
        place = route.answered(row)
        off = abs(place - route.true) if place is not None else float("inf")
        u = float(row["uncertainty_m"] or 1)
        known = "known on both sides" if "on both sides" in row["says"] else "known on one side"
        for kind in ("all", known, "read: " + route.read, "both distances" if route.distance[3] else "one distance"):
            kinds.setdefault(kind, []).append((off / u, u, off))
    failed = False
    print("%-24s %6s %8s %8s %10s %10s" % ("", "routes", "within", "needed", "median u", "median off"))
    for kind, v in sorted(kinds.items()):
        v.sort()
        within = sum(x <= 1 for x, _, _ in v) / len(v)
        needed = v[min(len(v) - 1, int(0.95 * len(v)))][0]
        middle = [sorted(x[k] for x in v)[len(v) // 2] for k in (1, 2)]
        print("%-24s %6d %8.4f %8.3f %8.2f m %8.2f m" % (kind, len(v), within, needed, *middle))
        if kind == "all":
            failed = within < 0.95 or needed < 0.5
    sys.exit(failed)


if __name__ == "__main__":
    main()
