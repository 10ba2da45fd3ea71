"""Random exports, written and read back by Python's csv module, against thrum-import.

csv_random.py PROGRAM FOLDER COUNT: writes COUNT files, the same for the same count, with every
delimiter, way of quoting and line end, and says which of them thrum-import reads otherwise.
"""

import csv
import io
import random
import subprocess
import sys

program, folder, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
random.seed(20261125)
ALPHABET = ["a", "B", "7", " ", '"', "'", ",", ";", "\t", "|", "\n", "ä", "€", "="]
DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}


def cell(ends):
    letters = ALPHABET + (["\r\n"] if ends == "\r\n" else [])
    return "".join(random.choice(letters) for _ in range(random.choice([0, 1, 1, 2, 3, 8, 40])))


def field(text):
    """A cell as a table may hold it."""
    return text.replace("\r\n", " ").replace("\n", " ").replace("\t", " ")


bad = 0
for n in range(count):
    delimiter = random.choice(list(DELIMITERS))
    ends = random.choice(["\n", "\r\n"])
    quoting = random.choice([csv.QUOTE_MINIMAL, csv.QUOTE_ALL, csv.QUOTE_NONNUMERIC])
    width = random.randint(1, 7)
    rows = [["c%d" % i for i in range(width)]]
    rows += [["x" + cell(ends)] + [cell(ends) for _ in range(width - 1)] for _ in range(random.randint(0, 9))]
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter, lineterminator=ends, quoting=quoting).writerows(rows)
    with open(folder + "/in.csv", "w", encoding="utf-8", newline="") as f:
        f.write(out.getvalue())
    with open(folder + "/map.tsv", "w", encoding="utf-8") as f:
        f.write("rule\tname\tfrom\nfile\tdelimiter\t%s\n" % DELIMITERS[delimiter])
        f.writelines("column\t%s\t%s\n" % (name, name) for name in rows[0])
    with open(folder + "/in.csv", encoding="utf-8", newline="") as f:
        read = list(csv.reader(f, delimiter=delimiter, strict=True))
    want = "".join("\t".join(field(c) for c in row) + "\n" for row in read)
    got = subprocess.run([program, "-m", folder + "/map.tsv", folder + "/in.csv"],
                         capture_output=True, check=False)
    if got.returncode != 0 or got.stdout.decode() != want:
        bad += 1
        print("file %d, delimiter %r: status %d %s" % (n, delimiter, got.returncode, got.stderr.decode()))
        print(repr(out.getvalue()), repr(got.stdout.decode()), repr(want), sep="\n")
print("%d files, %d read otherwise" % (count, bad))
sys.exit(bad > 0)
