"""Exports of many kinds, each with its map and the table it must become, cell by cell.

run.py PROGRAM FOLDER: each *.case beside this file has parts that begin with "== ": the map, the export
(its encoding and "crlf" may stand behind the word), the truth, and if there are any the rows that must be
set aside (line, column, why) and what must be said on standard error. Says which cells differ.
"""

import glob
import os
import subprocess
import sys

program, folder = os.path.abspath(sys.argv[1]), sys.argv[2]
os.chdir(folder)


def parts(path):
    found, name = {}, None
    with open(path, encoding="utf-8") as f:
        for line in f:
            if line.startswith("== "):
                name, _, how = line[3:].rstrip("\n").partition(" ")
                found[name] = [how, ""]
            elif name:
                found[name][1] += line
    return found


def differences(what, got, want):
    got, want = got.rstrip("\n").split("\n"), want.rstrip("\n").split("\n")
    if len(got) != len(want):
        yield "%s: %d lines, %d wanted:\n%s" % (what, len(got), len(want), "\n".join(got))
        return
    for n, (a, b) in enumerate(zip(got, want), 1):
        a, b = a.split("\t"), b.split("\t")
        for i in range(max(len(a), len(b))):
            x, y = "".join(a[i : i + 1]), "".join(b[i : i + 1])
            if x != y or len(a) != len(b):
                yield "%s: line %d, cell %d: %r, %r wanted" % (what, n, i + 1, x, y)


def run(path):
    case = parts(path)
    how = case["export"][0].split()
    text = case["export"][1]
    if "crlf" in how:
        text = text.replace("\n", "\r\n")
    encoding = [h for h in how if h != "crlf"] or ["UTF-8"]
    with open("export", "wb") as f:
        f.write(text.encode(encoding[0]))
    with open("map", "w", encoding="utf-8") as f:
        f.write(case["map"][1])
    ran = subprocess.run([program, "-m", "map", "--set-aside", "aside", "-o", "table", "export"],
                         capture_output=True, check=False)
    said = ran.stderr.decode()
    aside = case.get("aside", ["", ""])[1]
    if ran.returncode != (1 if aside else 0):
        yield "status %d: %s" % (ran.returncode, said)
        return
    with open("table", encoding="utf-8") as f:
        yield from differences("table", f.read(), case["truth"][1])
    with open("aside", encoding="utf-8") as f:
        rows = [line.rstrip("\n").split("\t")[1:4] for line in f][1:]
    yield from differences("aside", "\n".join("\t".join(r) for r in rows), aside)
    heard = "".join(line + "\n" for line in said.splitlines() if "set aside" not in line)
    yield from differences("said", heard, case.get("said", ["", ""])[1])


bad = 0
cases = sorted(glob.glob(os.path.dirname(os.path.abspath(__file__)) + "/*.case"))
for path in cases:
    faults = list(run(path))
    bad += bool(faults)
    for fault in faults:
        print("%s: %s" % (os.path.basename(path), fault))
print("%d exports, %d not as they should be" % (len(cases), bad))
sys.exit(bad > 0)
