"""Random tables, each written as an export in a random dialect and imported by the map made for it.

random_exports.py PROGRAM FOLDER COUNT [SEED]: the table must come back cell by cell. Rows that cannot be
read and rows that the map drops are strewn in where the dialect allows it: every record is in the table, set
aside or dropped, and the counts add up. Same count, same exports.
"""

import json
import os
import random
import subprocess
import sys
from datetime import datetime, timedelta
from decimal import Decimal

program, folder, count = os.path.abspath(sys.argv[1]), sys.argv[2], int(sys.argv[3])
rnd = random.Random(int(sys.argv[4]) if len(sys.argv) > 4 else 20261126)
os.chdir(folder)
COLOURS = "blue orange green brown slate white red black yellow violet rose aqua".split()
DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar", "~": "~"}
GROUPING = {"none": "", "point": ".", "comma": ",", "blank": " ", "apostrophe": "'"}
MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()
DATES = {
    "YYYY-MM-DD": lambda t: t.strftime("%Y-%m-%d"),
    "DD.MM.YYYY": lambda t: t.strftime("%d.%m.%Y"),
    "D/M/YY": lambda t: "%d/%d/%s" % (t.day, t.month, t.strftime("%y")),
    "D. MON YYYY": lambda t: "%d. %s %d" % (t.day, MONTHS[t.month - 1], t.year),
}
TIMES = {
    "hh:mm": lambda t: t.strftime("%H:%M"),
    "hh:mm:ss": lambda t: t.strftime("%H:%M:%S"),
    "h:mm AM": lambda t: "%d:%02d %s" % (t.hour % 12 or 12, t.minute,
                                         rnd.choice(["am", "a.m."] if t.hour < 12 else ["PM", "P.M."])),
}


def word(letters="abcdefgh", longest=8):
    return "".join(rnd.choice(letters) for _ in range(rnd.randint(1, longest)))


class Case:
    """One table, its export and its map."""

    def __init__(self):
        self.layout = rnd.choice(["cells"] * 6 + ["fixed", "labels", "json"])
        self.cells = self.layout == "cells"
        self.delimiter = rnd.choice(list(DELIMITERS)) if self.cells else ":"
        self.point = "." if self.layout == "json" else rnd.choice(".,")
        self.grouping = rnd.choice([g for g, m in GROUPING.items() if m != self.point])
        self.minus = rnd.choice(["sign", "brackets", "behind", "apart"])
        self.unknown = rnd.choice(["", "n/a", "--", "OL"])
        self.unit = rnd.choice(["dB", "mdB", "cell"])
        self.mode = rnd.choice(["plain", "plain", "wide", "sides"]) if self.cells else "plain"
        self.blocks = rnd.choice(["", "", "fill", "section"]) if self.cells and self.mode != "sides" else ""
        self.night = self.mode == "plain" and rnd.random() < 0.4
        self.above = self.night or rnd.random() < 0.3
        self.header = not self.cells or rnd.random() < 0.85
        self.encoding = rnd.choice(["UTF-8", "UTF-8", "UTF-8-BOM", "WINDOWS-1252", "UTF-16"])
        self.date, self.time = rnd.choice(list(DATES)), rnd.choice(list(TIMES))
        self.tube = rnd.choice(["numbers", "colours", "codes"])
        self.set = []
        self.rules = []
        self.dropped = self.aside = 0

    # --- how values are written -------------------------------------------------------------------

    def number(self, x):
        text = "%s" % abs(x)
        whole, _, part = text.partition(".")
        mark = GROUPING[self.grouping]
        if mark and len(whole) > 3 and rnd.random() < 0.7:
            groups = []
            while whole:
                groups.insert(0, whole[-3:])
                whole = whole[:-3]
            whole = mark.join(groups)
        text = whole + (self.point + part if part else "")
        if x < 0:
            return {"sign": "-%s", "brackets": "(%s)", "behind": "%s-", "apart": "- %s"}[self.minus] % text
        return text

    def loss(self, x):
        """A loss as the export has it, and as it must come out."""
        if x is None:
            return rnd.choice(["", self.unknown]), ""
        unit = self.unit if self.unit != "cell" else rnd.choice(["dB", "mdB"])
        truth = x.scaleb(-3) if unit == "mdB" else x
        truth = format(truth, "f") if truth else format(abs(truth), "f")
        return self.number(x) + (rnd.choice(["", " "]) + unit if self.unit == "cell" else ""), truth

    def fibre(self, tube, fibre):
        if self.tube == "numbers":
            return str(tube), str(fibre)
        names = [COLOURS[tube - 1], COLOURS[fibre - 1]]
        if self.tube == "codes":
            names = [n[:3].upper() for n in names]
        return names[0], names[1]

    # --- the table --------------------------------------------------------------------------------

    def make(self):
        """Rows of (cells of the export by name), and the truth."""
        self.names = ["closure", "tray", "joint", "T", "F"]
        rows, self.truth = [], []
        start = datetime(rnd.randint(2001, 2049), rnd.randint(1, 12), rnd.randint(1, 28),
                         rnd.randint(12, 23), rnd.randint(0, 59), rnd.randint(0, 59))
        if "ss" not in self.time:
            start = start.replace(second=0)
        self.day = DATES[self.date](start)
        now, groups = start, rnd.randint(2, 4) if self.mode == "wide" else 1
        losses = ["loss%d" % (g + 1) for g in range(groups)] if self.mode == "wide" else ["loss"]
        self.names += losses + (["side"] if self.mode == "sides" else []) + ["when"]
        closure, tray = word(), rnd.randint(1, 24)
        for n in range(rnd.randint(1, 12)):
            if rnd.random() < 0.3:
                closure, tray = word() + rnd.choice(["", " ä", " é"]), rnd.randint(1, 24)
            joint, t, f = "J-%d" % n, rnd.randint(1, 12), rnd.randint(1, 12)
            xs = [None if rnd.random() < 0.15 else
                  Decimal(rnd.randint(-9999, 99999999)).scaleb(-rnd.randint(0, 3))
                  for _ in range(2 if self.mode == "sides" else groups)]
            tube, fibre = self.fibre(t, f)
            iso = now.strftime("%Y-%m-%dT%H:%M:%S" if "ss" in self.time else "%Y-%m-%dT%H:%M") + "Z"
            when = TIMES[self.time](now) if self.night else DATES[self.date](now) + " " + TIMES[self.time](now)
            row = {"closure": closure, "tray": str(tray), "joint": joint, "T": tube, "F": fibre, "when": when}
            known = [closure, str(tray), joint, str((t - 1) * 12 + f)]
            if self.mode == "sides":
                written = [self.loss(x) for x in xs]
                rows += [dict(row, loss=w[0], side=s) for w, s in zip(written, "AB")]
                self.truth.append(known + [w[1] for w in written] + [iso])
            else:
                written = [self.loss(x) for x in xs]
                if self.mode == "wide" and all(w[0] == "" for w in written):
                    written[0] = ("0", "0")
                    if self.unit == "cell":
                        written[0] = ("0 dB", "0")
                    elif self.unit == "mdB":
                        written[0] = ("0", "0.000")
                row.update({name: w[0] for name, w in zip(losses, written)})
                rows.append(row)
                for g, w in enumerate(written):
                    if self.mode != "wide" or w[0] != "":
                        self.truth.append(known + ([str(g + 1)] if self.mode == "wide" else []) + [w[1], iso])
            now += timedelta(minutes=rnd.randint(0, 600 if self.night else 3000))
        if self.mode == "sides":
            first, later = rows[::2], rows[1::2]
            rnd.shuffle(later)
            rows = first + later if rnd.random() < 0.5 else rows
        return rows

    # --- the map ----------------------------------------------------------------------------------

    def place(self, name):
        if self.layout == "fixed":
            return "#%d-%d" % self.places[name]
        return name if self.header or name in ("day", "tray heading") else "#%d" % (self.order.index(name) + 1)

    def rule(self, rule, name="", source="", pattern="", holds="", unit="", form="", words=""):
        self.rules.append([rule, name, source, pattern, holds, unit, form, words])

    def make_map(self):
        setting = {"decimal": "comma" if self.point == "," else "", "unknown": self.unknown,
                   "grouping": "" if self.grouping == "none" else self.grouping,
                   "minus": "" if self.minus == "sign" else self.minus, "layout": "" if self.cells else self.layout,
                   "header": "" if self.header else "no", "skip": str(self.skip) if self.skip else "",
                   "encoding": self.encoding.replace("-BOM", "")}
        if self.cells:
            setting["delimiter"] = DELIMITERS[self.delimiter]
        for name, value in setting.items():
            if value:
                self.rule("file", name, value)
        if self.above:
            self.rule("above", "day", "Date")
        if self.blocks == "fill":
            self.rule("fill", "", self.place("closure"))
            self.rule("fill", "", self.place("tray"))
        if self.blocks == "section":
            self.rule("section", "tray heading", self.place("joint"), "Tray ([0-9]+)")
        if self.tube == "codes":
            self.rule("words", "codes", words=";".join("%s=%s" % (c[:3].upper(), c) for c in COLOURS))
        if self.dropped:
            self.rule("drop", "", self.place("joint"), "^Total")
        loss = {"holds": "number", "unit": self.unit}
        if self.mode == "wide":
            self.rule("wide", "loss", " | ".join(self.place(n) for n in self.names if n.startswith("loss")))
        if self.mode == "sides":
            self.rule("key", "", self.place("joint"))
            self.rule("side", "a", self.place("side"), "A")
            self.rule("side", "b", self.place("side"), "B")
        self.rule("column", "closure", self.place("closure"))
        self.rule("column", "tray", "tray heading" if self.blocks == "section" else self.place("tray"), holds="whole")
        self.rule("column", "joint", self.place("joint"))
        self.rule("column", "fibre_a", self.place("T") + " + " + self.place("F"), holds="fibre",
                  form="12" if self.tube == "numbers" else "12 tia-598",
                  words="codes" if self.tube == "codes" else "")
        head = ["closure", "tray", "joint", "fibre_a"]
        if self.mode == "wide":
            self.rule("column", "n", "#group", holds="whole")
            self.rule("column", "loss_db", "loss", **loss)
            head += ["n", "loss_db"]
        elif self.mode == "sides":
            self.rule("column", "loss_a_db", self.place("loss") + " @a", **loss)
            self.rule("column", "loss_b_db", self.place("loss") + " @b", **loss)
            head += ["loss_a_db", "loss_b_db"]
        else:
            self.rule("column", "loss_db", self.place("loss"), **loss)
            head += ["loss_db"]
        self.rule("column", "made_at", ("day + " if self.night else "") + self.place("when"), unit="Z",
                  holds="night" if self.night else "date", form=self.date + " " + self.time)
        if self.blocks == "section" and self.header:
            self.rule("ignore", "", "tray")
        elif self.blocks == "section":
            self.rule("ignore", "", self.place("tray"))
        self.truth.insert(0, head + ["made_at"])
        rows = [["rule", "name", "from", "pattern", "holds", "unit", "form", "words"]] + self.rules
        return "".join("\t".join(row) + "\n" for row in rows)

    # --- the export -------------------------------------------------------------------------------

    def quoted(self, text):
        if any(c in text for c in (self.delimiter, '"', "\n")) or rnd.random() < 0.1:
            return '"' + text.replace('"', '""') + '"'
        return text

    def line(self, cells):
        return self.delimiter.join(self.quoted(c) for c in cells)

    def write_cells(self, rows):
        lines = [self.line(self.order)] if self.header else []
        before, sound = ["", "", ""], rnd.random() < 0.6 or self.blocks or self.night
        for row in rows:
            row = dict(row)
            if self.blocks == "section" and row["tray"] != before[2]:
                lines.append(self.line(["Tray " + row["tray"] if n == "joint" else "" for n in self.order]))
                before[2] = row["tray"]
            if self.blocks == "fill":
                here = [row["closure"], row["tray"]]
                if here[0] == before[0]:
                    row["closure"] = ""
                    if here[1] == before[1]:
                        row["tray"] = ""
                before[:2] = here
            if self.blocks == "section":
                row["tray"] = ""
            lines.append(self.line([row[n] for n in self.order]))
            if not sound and rnd.random() < 0.2:
                lines.append(self.line([row[n] for n in self.order] + ["one", "more"]))
                self.aside += 1
            if not sound and rnd.random() < 0.2:
                lines.append(self.line(["Total" if n == "joint" else "" for n in self.order]))
                self.dropped += 1
        return lines

    def write_fixed(self, rows):
        self.places, at, lines = {}, 1, []
        for n in self.order:
            width = max(len(r[n]) for r in rows) + rnd.randint(1, 3)
            self.places[n] = (at, at + width - 1)
            at += width
        for row in rows:
            lines.append("".join(row[n].ljust(self.places[n][1] - self.places[n][0] + 1) for n in self.order))
        return lines

    def write_labels(self, rows):
        lines = []
        for row in rows:
            names = ["closure"] + rnd.sample(self.order[1:], len(self.order) - 1)
            names = [n for n in names if row[n] != "" or rnd.random() < 0.5]
            lines += ["%s:%s%s" % (n, " " * rnd.randint(0, 2), row[n]) for n in names]
            lines += rnd.choice([[], [""], ["-----"]])
        return lines

    def write_json(self, rows):
        lines = []
        for row in rows:
            names = rnd.sample(self.order, len(self.order))
            item = {n: None if row[n] == "" and rnd.random() < 0.5 else row[n] for n in names}
            lines.append(json.dumps(item, ensure_ascii=rnd.random() < 0.5))
        return lines

    def write(self):
        rows = self.make()
        self.order = list(self.names)
        if self.cells:
            rnd.shuffle(self.order)
        elif self.layout == "labels":
            self.order = ["closure"] + rnd.sample(self.order[1:], len(self.order) - 1)
        if not self.cells:
            # a name that no record has is trouble, rightly
            rows[0]["loss"] = rows[0]["loss"] or self.unknown or "-"
            if rows[0]["loss"] == "-":
                rows[0]["loss"], self.truth[0][-2] = ("0 dB" if self.unit == "cell" else "0",
                                                      "0.000" if self.unit == "mdB" else "0")
        lines = getattr(self, "write_" + self.layout)(rows)
        before = []
        if self.above:
            before = rnd.choice([["Report"], []]) + ["Date: " + self.day] + rnd.choice([["x"], []])
        self.skip = len(before)
        text = "".join(line + rnd.ends for line in before + lines)
        with open("map", "w", encoding="utf-8") as f:
            f.write(self.make_map())
        with open("export", "wb") as f:
            f.write(text.encode({"UTF-8-BOM": "utf-8-sig", "WINDOWS-1252": "cp1252"}.get(self.encoding, self.encoding)))


def run(n):
    rnd.ends = rnd.choice(["\n", "\r\n"])
    case = Case()
    case.write()
    ran = subprocess.run([program, "-m", "map", "--set-aside", "aside", "-o", "table", "export"],
                         capture_output=True, check=False)
    said = ran.stderr.decode()
    want = "".join("\t".join(row) + "\n" for row in case.truth)
    got, aside = "", -1
    if ran.returncode in (0, 1):
        with open("table", encoding="utf-8") as f:
            got = f.read()
        with open("aside", encoding="utf-8") as f:
            aside = len(f.readlines()) - 1
    dropped = sum(int(line.split(": ")[2].split()[0]) for line in said.splitlines() if "dropped by" in line)
    if got == want and aside == case.aside and dropped == case.dropped and ran.returncode == (aside > 0):
        return True
    print("export %d: status %d, %d set aside, %d dropped; %d and %d wanted\n%s" % (
        n, ran.returncode, aside, dropped, case.aside, case.dropped, said))
    for name in ("map", "export"):
        with open(name, "rb") as f:
            print(f.read().decode("utf-8", "replace"))
    print("--- got\n%s--- wanted\n%s" % (got, want))
    return False


bad = 0
for n in range(count):
    bad += not run(n)
    if bad == 5:
        break
print("%d exports, %d tables that did not come back" % (count, bad))
sys.exit(bad > 0)
