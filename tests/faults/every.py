#!/usr/bin/env python3
"""Lets each allocation and each call of the system fail in turn: every.py BIN FAULTS SOURCE PROGRAM

Every job of PROGRAM runs on tables of about twenty rows, once soundly and then once for each call that
the sound run has made (tests/faults/faults.c counts them). Whatever fails, the exit status is 0, 1 or 2;
with 2 there is a message and no output, the old file is as it was, and what went to standard output is
the start of what is due; with 0 or 1 nothing differs from the sound run, the status included; only the last words of a message,
a hint at another value, may be missing.

Prints what is wrong, then "TRIALS N". Exit status 1 if something is wrong.
"""
import os
import subprocess
import sys

BIN, FAULTS, SOURCE, PROGRAM = sys.argv[1:]
OLD = b"old\n"
ERRNO = {"alloc": 12, "thread": 11}  # ENOMEM, EAGAIN; else EIO
OUTPUTS = ("out", "aside", "findings")


def head(path, to, lines=21):
    """The first lines of a table, in the folder of the inputs."""
    with open(os.path.join(SOURCE, path), "rb") as f, open(to, "wb") as out:
        out.writelines(f.readlines()[:lines])
    return os.path.abspath(to)


def tool(name, *args):
    return subprocess.run([os.path.join(BIN, name), *args], check=True, capture_output=True).stdout


def jobs():
    """For each program the arguments of its jobs; inputs are made here."""
    os.makedirs("in", exist_ok=True)
    joints = head("tests/night/quoinmere.tsv", "in/joints")
    arcs = head("tests/night/arcs.tsv", "in/arcs")
    plan = head("samples/plan.tsv", "in/plan", 60)
    csv = head("samples/exports/larkrope.csv", "in/csv", 24)
    mfd = head("tests/common/thrum-mfd.tsv", "in/mfd")
    elements = head("tests/night/elements.tsv", "in/elements")
    map_ = os.path.join(SOURCE, "samples/exports/larkrope.map.tsv")
    pack, cut = os.path.abspath("in/pack"), os.path.abspath("in/cut")
    for name, option in (("rules", "check"), ("limits", "closure"), ("allowances", "budget")):
        with open("in/" + name, "wb") as f:
            f.write(tool("thrum-" + option, "--print-" + name))
    tool("thrum-pack", "--key", "joint,closure", "-o", pack, joints)
    with open(pack, "rb") as f, open(cut, "wb") as out:
        out.write(f.read()[:-40])
    here = os.path.abspath("in") + "/"
    side = {name: ["--" + name, head(f"samples/{name}.tsv", "in/" + name, 30)]
            for name in ("spans", "sites", "ports", "splitters", "links", "facts")}
    along = ["--elements", elements, *side["links"]]
    night = {name: head(f"tests/night/{name}.tsv", "in/" + name) for name in ("faults", "astray", "twoway", "budgets")}
    closure = ["--limits", here + "limits"]
    part = os.path.abspath("in/part")
    tool("thrum-closure", "--partial", "--by", "kind", "-o", part, joints)
    return {
        "thrum-budget": [["-o", "out", "--max", "8", "--wavelength", "1550", elements],
                         ["--max", "8", "--wavelength", "1550", "--allowances", here + "allowances", elements]],
        "thrum-check": [["-o", "out", joints],
                        ["--pass", "-o", "out", "--set-aside", "aside", "--findings", "findings",
                         "--rules", here + "rules", joints]],
        "thrum-closure": [["-o", "out", *closure, joints], [*closure, joints],
                          ["-o", "out", "--partial", "--by", "kind", joints],
                          ["-o", "out", "--merge", "--by", "kind", part]],
        "thrum-import": [["-o", "out", "-m", map_, "--set-aside", "aside", csv],
                         ["-o", "out", "--draft", csv]],
        "thrum-match": [["-o", "out", "--findings", "findings", "--plan", plan, arcs]],
        "thrum-mfd": [["-o", "out", mfd, mfd], [mfd]],
        "thrum-pack": [["-o", "out", "--key", "joint", "--threads", "2", joints], ["--threads", "1", joints]],
        "thrum-plan": [["-o", "out", "--findings", "findings", *side["spans"], *side["sites"],
                        head("samples/schedule.tsv", "in/schedule", 5)]],
        "thrum-plot": [["-o", "out", "--kind", kind, table] for kind, table in
                       (("losses", joints), ("season", joints), ("closure", joints), ("ends", joints))],
        "thrum-report": [["-o", "out", *side["facts"], common()[-1]]],
        "thrum-rework": [["-o", "out", "--faults", night["faults"], "--twoway", night["twoway"], "--budgets",
                          night["budgets"], "--route-faults", night["astray"], "--plan", plan, *along, joints]],
        "thrum-route": [["-o", "out", "--findings", "findings", *side["spans"], *side["ports"], *side["links"],
                         *side["splitters"], "--plan", plan, joints]],
        "thrum-sheet": [["-o", "out", *along, *side["sites"], plan]],
        "thrum-show": [["-o", "out", joints]],
        "thrum-twoway": [["-o", "out", "--findings", "findings", "--filled", "aside", "--fill", joints, "--plan", plan,
                          *along, head("samples/readings.tsv", "in/readings", 30)]],
        "thrum-unpack": [["-o", "out", "--threads", "2", pack], ["--where", "closure=Quoinmere", pack],
                         ["--test", pack], ["--list", pack], ["--latest", "joint", "-o", "out", pack],
                         ["--salvage", "-o", "out", cut], ["--test", cut], ["-o", "out", cut]],
    }


def common():
    """The arguments that tests/common.bats tries a program with."""
    start = os.path.join(SOURCE, "tests/common/")
    args = []
    if os.path.exists(f"{start}{PROGRAM}.args"):
        with open(f"{start}{PROGRAM}.args", encoding="ascii") as f:
            args = [arg.replace("@/", start) for arg in f.read().split()]
    return ["-o", "out", *args, f"{start}{PROGRAM}.tsv"]


def fresh():
    for name in os.listdir("."):
        os.unlink(name)
    with open("out", "wb") as f:
        f.write(OLD)


def run(args, fault=None, log=None):
    """(status, standard output, messages, outputs, what else is there)"""
    fresh()
    env = dict(os.environ, LD_PRELOAD=FAULTS)
    env.pop("FAULT", None)
    if fault:
        env["FAULT"] = fault
    if log:
        env["FAULT_LOG"] = log
    done = subprocess.run([os.path.join(BIN, PROGRAM), *args], capture_output=True, env=env,
                          stdin=subprocess.DEVNULL, check=False)
    there = {}
    for name in os.listdir("."):
        with open(name, "rb") as f:
            there[name] = f.read()
    outputs = {name: there.pop(name, None) for name in OUTPUTS}
    return done.returncode, done.stdout, done.stderr, outputs, sorted(there)


def judge(fault, sound, got):
    """What is wrong with this run, or None."""
    status, stdout, messages, outputs, others = got
    if b"Sanitizer: CHECK failed: sanitizer_" in messages:
        return None  # the sanitizer's own start of a thread had no memory: nothing of the program's
    if status not in (0, 1, 2):
        return f"ended with {status}"
    if others and not (fault.startswith("unlink") and all(name.endswith("~") for name in others)):
        return f"left {others}"
    if status == 2:
        if not messages.startswith(PROGRAM.encode() + b": ") or not messages.endswith(b"\n"):
            return f"no message: {messages!r}"
        if outputs != {"out": OLD, "aside": None, "findings": None}:
            return "an output after 2"
        if not sound[1].startswith(stdout):
            return "other bytes on standard output after 2"
        return None
    if status != sound[0]:
        return f"status {status} in place of {sound[0]}"
    if stdout != sound[1] or outputs != sound[3]:
        return f"another output with {status}"
    if not sound[2].startswith(messages[:-1]):
        return f"another message: {messages!r}"
    return None


def main():
    todo = jobs()
    if PROGRAM not in todo:
        todo[PROGRAM] = [common()]
    log = os.path.abspath("log")
    os.makedirs("work", exist_ok=True)
    os.chdir("work")
    trials = wrong = 0
    for args in todo[PROGRAM]:
        if os.path.exists(log):
            os.unlink(log)
        sound = run(args, log=log)
        with open(log, encoding="ascii") as f:
            calls = f.read().split()
        for call in sorted(set(calls)):
            for nth in range(1, calls.count(call) + 1):
                fault = f"{call} {nth} {ERRNO.get(call, 5)}"
                why = judge(fault, sound, run(args, fault))
                trials += 1
                if why:
                    wrong += 1
                    print(f"{PROGRAM} {' '.join(args)}: {fault}: {why}")
    print(f"TRIALS {trials}")
    return 1 if wrong or not trials else 0


sys.exit(main())
