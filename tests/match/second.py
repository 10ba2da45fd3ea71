#!/usr/bin/env python3
"""Nights of splicing as crews work, by a hand that knew only the manual page of thrum-match: told and wrong.

usage: second.py BIN --seed S --nights N --habit HABIT [--odds 30,50,100,1000] [--keep DIR] [--calm X] [--without RATES]

HABIT is one of these, several with commas between, or all:
  all-right  each arc's fibre typed, none wrong     all-1pc    the same, 1 value in 100 wrong
  sparse     trays, 1 fibre in 20, order stated     careful    trays, 1 in 10, and whatever was out of order
  answers    careful, and ten questions answered    visits     nothing typed, --visits given
  ribbons    careful, with ribbon machines
Each night draws its rates anew. One table comes out: of each habit and odds the joints that have a record,
how many were told, how many of these wrongly, and what was wrong:
  other   the told arc made another joint            nojoint  it was practice, a test or work elsewhere
  older   it made the joint, but a later record did too
Not counted as wrong, as no input shows it: lost, the standing attempt left no record, and the last one that
did is told. early: rows of attempts that do not stand, under a wrong joint. runs: wrong ones in a row are one.
--keep writes the input of each night, its truth and what was told wrongly; --calm multiplies all disturbances; --without
makes some rates zero: swap,backward,unrecorded are what an input that says little cannot show.
"""
import argparse
import collections
import math
import os
import random
import subprocess
import sys
import tempfile
from datetime import datetime, timedelta

HABITS = "all-right all-1pc sparse careful answers visits ribbons".split()
PLAN = "joint closure tray slot cable_a fibre_a cable_b fibre_b ribbon_a position".split()
ARCS = ("splicer arc made_at est_db tension heat_s fibres_n position joint closure tray slot cable_a fibre_a "
        "cable_b fibre_b note").split()
START = datetime(2026, 3, 11, 20, 0)


def table(path, columns, rows):
    with open(path, "w", encoding="utf-8") as out:
        for row in [dict(zip(columns, columns))] + rows:
            out.write("\t".join(str(row.get(c, "")) for c in columns) + "\n")


def read(path):
    with open(path, encoding="utf-8") as lines:
        names = next(lines).rstrip("\n").split("\t")
        return [dict(zip(names, line.rstrip("\n").split("\t"))) for line in lines]


def stamp(minutes):
    return (START + timedelta(seconds=round(minutes * 60))).strftime("%Y-%m-%dT%H:%M:%S")


def rates(rng, habit, calm, without):
    """What this night is like: each rate from a wide range, even by its logarithm."""
    def even(low, high):
        return math.exp(rng.uniform(math.log(low), math.log(high)))
    r = {"bad": even(.02, .2), "skip": even(.002, .04), "look": even(.002, .02), "test": even(.002, .03),
         "lost": even(.0005, .015), "blank": even(.0005, .02), "noheat": even(.003, .08), "elsewhere": even(.02, .2),
         "swap": even(.01, .1), "backward": even(.002, .03), "unrecorded": even(.01, .1), "clock": even(.02, .3),
         "leave": even(.02, .2), "stale": even(.02, .2), "oddtray": even(.05, .5), "late": even(.02, .2)}
    r = {k: v * calm for k, v in r.items()}
    r.update(arrive=rng.uniform(.1, .9), made_later=rng.uniform(.3, .95), heard=rng.uniform(.8, 1),
             wrong={"all-right": 0, "all-1pc": .01}.get(habit, even(.001, .01) * calm),
             fibre={"sparse": .05, "visits": 0}.get(habit, 1 if habit.startswith("all") else .1),
             how=rng.choice(["a", "a", "a", "b", "joint", "note", "bare"]))
    r.update({name: 0 for name in without})
    if habit == "all-right":
        r["stale"] = r["swap"] = 0
    return r


def plan(rng, ribbons):
    """Closures of a cable that runs on from one to the next, or of branches that stand alone."""
    closures, chain = {}, rng.random() < .5
    for k in range(rng.randrange(3, 8)):
        name = f"{rng.choice(['fen', 'moor', 'weir', 'holt', 'carr'])}-{k + 1}"
        trays, slots = rng.randrange(1, 7), rng.choice([3, 4, 6]) if ribbons else rng.choice([8, 12, 12, 24])
        size = rng.choice([4, 8, 12, 12]) if ribbons else 1
        cable = (f"line-{k}", f"line-{k + 1}") if chain else (f"{name}-in", f"{name}-out")
        number, shift, units = 0, rng.choice([0, 0, 0, 12, 24]), {}
        for tray in range(1, trays + 1):
            for slot in range(1, slots + 1):
                unit = []
                for place in range(size):
                    number += 1
                    unit.append({"joint": f"{name[:1].upper()}{k + 1}-{number:03}", "closure": name, "tray": tray,
                                 "slot": slot, "cable_a": cable[0], "fibre_a": number, "cable_b": cable[1],
                                 "fibre_b": number + shift, "position": place + 1 if ribbons else "",
                                 "ribbon_a": f"R{tray}-{slot}" if ribbons else ""})
                units[tray, slot] = unit
        closures[name] = units
    return closures


def sequence(order, slots):
    return {"work": slots, "reverse": slots[::-1], "alternate": slots[::2] + slots[1::2]}[order]


class Crew:
    """One machine and who works at it; arcs are what happened, with the truth in 'made' and 'why'."""

    def __init__(self, rng, name, rate, ribbons):
        self.rng, self.name, self.rate, self.ribbons = rng, name, rate, ribbons
        self.arcs, self.visits, self.at = [], [], rng.uniform(0, 90)
        self.end = self.at + rng.uniform(360, 600)
        self.pace, self.uneven = rng.uniform(5, 10) if ribbons else rng.uniform(2.5, 7), rng.uniform(.2, .5)
        self.number = rng.randrange(100, 9000)
        self.tells = rng.choice(["both"] * 4 + ["heat", "tension", "none"])
        self.oven, self.limit = rng.choice([20, 35, 60]), rng.choice([.06, .08, .1])
        self.rows = rng.random() < .5
        self.note, self.kept_place = set(), rng.random() < .3

    def chance(self, what):
        return self.rng.random() < self.rate[what]

    def arc(self, unit, made, est, heated, why="", takes=1.0):
        self.at += self.pace * takes * self.rng.lognormvariate(0, self.uneven)
        if self.rng.random() < .02:
            self.at += self.rng.uniform(10, 45)
            self.note.add("pause")
        self.number += 1 + (self.rng.randrange(1, 4) if self.chance("blank") else 0)
        oven = round(self.oven * self.rng.uniform(.95, 1.05)) if heated and not self.chance("noheat") else 0
        tension = "pass" if heated or self.rng.random() < .3 else self.rng.choice(["", "fail"])
        self.arcs.append({"splicer": self.name, "arc": self.number, "t": self.at, "unit": unit, "made": made,
                          "est": est, "heat_s": oven if self.tells in ("both", "heat") else "",
                          "tension": tension if self.tells in ("both", "tension") else "",
                          "why": set(why.split()) | self.note, "typed": {}, "lost": self.chance("lost")})
        self.note = set()
        return self.arcs[-1]

    def tests(self, most, why):
        """Practice or an arc calibration: mostly cold and quick, sometimes with a good estimate."""
        for _ in range(self.rng.randrange(1, most + 1)):
            good = self.rng.random() < .6
            self.arc([], [], [self.rng.uniform(0, .05) if good else self.rng.uniform(.05, .6)],
                     self.rng.random() < .05, why, .5)
        self.note.add("after-test")

    def elsewhere(self):
        for _ in range(self.rng.randrange(1, 13)):
            self.arc([], [], [self.rng.lognormvariate(-3.8, .6)], True, "elsewhere")

    def joint(self, unit, why=""):
        """Attempts until the crew is content. True: it was left as it is, to be made again later."""
        todo = unit
        for attempt in range(7):
            bad = self.chance("bad") and attempt < 6
            shown = bad and self.rng.random() < .85
            est = [min(self.rng.lognormvariate(-3.8, .6), .2) for _ in todo]
            worst = self.rng.randrange(len(todo))
            if shown:
                est[worst] = self.rng.uniform(self.limit, self.limit * 6)
            again = bad or self.chance("look") or (max(est) > self.limit and self.rng.random() < .8)
            seen = max(est) > self.limit
            again = again and attempt < 6 and self.rng.random() < .96
            later = again and self.chance("late")
            heated = not again or later or self.rng.random() < (.05 if seen else .4)
            self.arc(unit, todo, est, heated, why, .7 if attempt else 1)
            if not again or later:
                return later
            why = "again-bad" if seen else "again-good"
            if len(todo) > 1 and self.rng.random() < .15:
                todo, why = [todo[worst]], why + " one-fibre"
            if self.chance("test"):
                self.tests(4, "test")
        return False

    def tray(self, units, waiting):
        """The units of a tray in their order; what is left out comes back in the tray, at its end, or later."""
        for n, unit in enumerate(units):
            if self.at > self.end:
                return
            if self.chance("test"):
                self.tests(3, "test")
            if self.chance("skip"):
                self.note.add("after-skip")
                waiting += [unit] if self.chance("made_later") else []
                continue
            if n + 1 < len(units) and self.chance("swap") and self.rng.random() < .1:
                units[n], units[n + 1] = units[n + 1], unit
                unit = units[n]
                self.note.add("swapped")
            waiting += [unit] if self.joint(unit) else []
            if waiting and self.rng.random() < .05:
                self.come_back(waiting)
        if self.rng.random() < .5:
            self.come_back(waiting)

    def come_back(self, waiting):
        for unit in waiting:
            if not self.joint(unit, "later"):
                self.note.add("after-later")
        waiting.clear()

    def visit(self, name, trays, order, waiting, last):
        begin, first = self.at, len(self.arcs)
        if self.chance("arrive"):
            self.tests(5, "practice")
        at_tray = []
        for tray, units in trays:
            at_tray.append((tray, self.at))
            if self.chance("backward"):
                units = units[::-1]
                self.note.add("backward")
            self.note.add("first-of-tray")
            self.tray(units, waiting)
            self.at += self.rng.uniform(1, 8)
        if last and self.at < self.end:
            self.come_back(waiting)
        if len(self.arcs) > first:
            self.arcs[first]["why"].add("first-of-visit")
        for k, (tray, when) in enumerate(at_tray):
            self.visits.append({"splicer": self.name, "closure": name, "tray": tray, "order": order, "from": when if k
                                else begin, "to": at_tray[k + 1][1] if k + 1 < len(at_tray) else self.at})
        self.at += self.rng.uniform(15, 60)
        if self.chance("elsewhere"):
            self.elsewhere()


def parts(rng, rate, closures, crews, orders):
    """Who makes what where: tours of (closure, trays with units in order, waiting list, last visit)."""
    tours = {crew: [] for crew in crews}
    for name, units in closures.items():
        numbers = sorted({tray for tray, _ in units})
        numbers = rng.choice([numbers, numbers, numbers[::-1]])
        if rng.random() < rate["oddtray"]:
            rng.shuffle(numbers)
        trays = [(t, sequence(orders[name], [u for (tray, _), u in units.items() if tray == t])) for t in numbers]
        if rng.random() < rate["unrecorded"]:
            trays = trays[1:] if rng.random() < .5 and len(trays) > 1 else \
                [(t, u[rng.randrange(len(u)):] if k == 0 else u) for k, (t, u) in enumerate(trays)]
        who, shares = rng.sample(crews, min(2, len(crews))), [trays]
        if len(who) > 1 and rng.random() < .25:
            if len(trays) > 1 and rng.random() < .5:
                shares = [trays[::2], trays[1::2]]
            else:
                shares = [[(t, u[:len(u) // 2]) for t, u in trays], [(t, u[len(u) // 2:]) for t, u in trays]]
        for crew, share in zip(who, shares):
            waiting = []
            if rng.random() < rate["leave"]:
                cut = rng.randrange(len(share))
                tray, inside = share[cut]
                half = rng.randrange(len(inside))
                tours[crew] += [(name, share[:cut] + [(tray, inside[:half])], waiting, False),
                                (name, [(tray, inside[half:])] + share[cut + 1:], waiting, True)]
            else:
                tours[crew].append((name, share, waiting, True))
    for tour in tours.values():
        places = list(range(len(tour)))
        rng.shuffle(places)
        slots = collections.defaultdict(list)
        for k in sorted(places):
            slots[tour[k][0]].append(tour[k])
        tour[:] = [slots[tour[k][0]].pop(0) for k in places]
    return tours


def typing(rng, rate, habit, crew):
    """What is typed at each arc, then what goes wrong with it."""
    before, place, stale = {}, "", 0
    for arc in crew.arcs:
        typed, why, unit = arc["typed"], arc["why"], arc["unit"]
        if habit == "visits":
            continue
        if not unit:
            if rng.random() < .2:
                typed["note"] = "practice" if why & {"practice", "test"} else ""
            if "elsewhere" in why and rng.random() < .5:
                typed["closure"] = "quarry-9"
            continue
        one = rng.choice(arc["made"])
        here = one["closure"]
        if here != place:
            stale = rng.randrange(1, 12) if place and rng.random() < rate["stale"] else 0
            old, place = place, here
            typed["closure"] = here
        if crew.kept_place:
            typed["closure"] = here
        if stale:
            stale -= 1
            why.add("stale-closure")
            typed["closure"] = old if crew.kept_place or not before else ""
        if "first-of-tray" in why:
            typed["tray"] = one["tray"]
        odd = why & {"after-skip", "later", "after-later", "again-good", "after-test", "swapped", "backward"}
        if rng.random() < rate["fibre"] or (odd and habit in ("careful", "answers", "ribbons") and
                                            rng.random() < rate["heard"]):
            names = {"joint": ["joint"], "note": ["joint"], "bare": ["fibre_a"], "a": ["cable_a", "fibre_a"],
                     "b": ["cable_b", "fibre_b"]}[rate["how"]]
            for name in names:
                typed["note" if rate["how"] == "note" else name] = one[name]
        for name, value in list(typed.items()):
            if value != "" and rng.random() < rate["wrong"]:
                why.add("typed-wrong")
                kind = rng.random()
                if kind < .3:
                    typed[name] = before.get(name, "")
                elif kind < .85 and isinstance(value, int):
                    typed[name] = max(1, value + rng.choice([-1, 1])) if kind < .7 else rng.randrange(1, 73)
                else:
                    typed[name] = str(value)[:-1] + rng.choice("0123456789x")
        before = dict(before, **typed)
    if habit not in ("visits", "all-right"):
        for one, two in zip(crew.arcs, crew.arcs[1:]):
            if one["typed"].get("fibre_a") and two["typed"].get("fibre_a") and rng.random() < rate["wrong"] / 2:
                one["typed"], two["typed"] = two["typed"], one["typed"]
                one["why"].add("typed-swapped")


def records(rng, rate, crew):
    """The machine's memory: the clock is wrong for a while, records are lost."""
    wrong = (rng.uniform(0, 500), rng.uniform(30, 300), rng.choice([-60, 60, -720, -7, 11, 1440]))
    wrong = wrong if rng.random() < rate["clock"] else (0, 0, 0)
    rows = []
    for arc in crew.arcs:
        off = wrong[2] if wrong[0] <= arc["t"] < wrong[0] + wrong[1] else 0
        if off:
            arc["why"].add("clock")
        if arc["lost"]:
            continue
        row = {k: arc[k] for k in ("splicer", "arc", "heat_s", "tension")}
        row.update(made_at=stamp(arc["t"] + off), est_db=f"{max(arc['est']):.2f}")
        if crew.ribbons:
            row["fibres_n"] = len(arc["made"]) or rng.choice([1, 4, 12])
        if len(arc["made"]) > 1 and crew.rows:
            for k, est in enumerate(arc["est"]):
                rows.append(dict(row, position=k + 1, est_db=f"{est:.2f}", **(arc["typed"] if k == 0 else {})))
        else:
            rows.append(dict(row, **arc["typed"]))
    return rows


def stated(rng, rate, crews):
    """Visits as somebody wrote them down: some minutes wrong, some late, by trays or not, ends often left out."""
    rows, by_tray = [], rng.random() < .5
    for crew in crews:
        last = None
        for visit in crew.visits:
            if not by_tray and last and last["closure"] == visit["closure"]:
                last["to_at"] = last["to_at"] and stamp(visit["to"])
                continue
            wrote = visit["from"] + rng.gauss(0, 4) + (rng.uniform(5, 25) if rng.random() < rate["late"] else 0)
            last = dict(visit, tray=visit["tray"] if by_tray else "", from_at=stamp(wrote),
                        to_at=stamp(max(visit["to"] + rng.gauss(0, 3), wrote + 1)) if rng.random() < .5 else "")
            rows.append(last)
    return rows


def night(rng, habit, calm, without, folder):
    """Writes the input; gives options and the crews with their truth."""
    rate, ribbons = rates(rng, habit, calm, without), habit == "ribbons"
    closures = plan(rng, ribbons)
    known = habit == "sparse" or rng.random() < .7
    order = rng.choice(["work", "work", "work", "reverse", "alternate"])
    orders = {c: order if known else rng.choice(["work", "reverse", "alternate"]) for c in closures}
    crews = [Crew(rng, f"m{k + 1}", rate, ribbons) for k in range(rng.randrange(1, 4))]
    tours = parts(rng, rate, closures, crews, orders)
    options, rows = ["--plan", "plan"], []
    for crew in crews:
        for name, trays, waiting, last in tours[crew]:
            if crew.at < crew.end and trays:
                crew.visit(name, trays, orders[name], waiting, last)
        typing(rng, rate, habit, crew)
        rows += records(rng, rate, crew)
    columns = ARCS if ribbons else [c for c in ARCS if c not in ("fibres_n", "position")]
    table(os.path.join(folder, "arcs"), columns, rows)
    table(os.path.join(folder, "plan"), PLAN if ribbons else PLAN[:-2],
          [row for units in closures.values() for unit in units.values() for row in unit])
    if habit == "visits":
        table(os.path.join(folder, "visits"), "splicer closure tray from_at to_at order".split(),
              stated(rng, rate, crews))
        options += ["--visits", "visits"]
    elif known and not habit.startswith("all"):
        options += ["--order", order]
    return options, crews


def match(program, folder, options):
    done = subprocess.run([program] + options + ["-o", "joints", "arcs"], cwd=folder, stderr=subprocess.PIPE,
                          text=True, check=False)
    if done.returncode not in (0, 1):
        sys.exit(f"{folder}: {' '.join(options)}: status {done.returncode}: {done.stderr}")
    return read(os.path.join(folder, "joints"))


def answer(folder, truth):
    rows = read(os.path.join(folder, "ask"))[:10]
    for row in rows:
        arc = truth[row["splicer"], row["arc"]]
        row["is"] = "joint" if arc["made"] else "elsewhere" if "elsewhere" in arc["why"] else "practice"
        row["joint"] = arc["made"][0]["joint"] if arc["made"] else ""
    table(os.path.join(folder, "said"), list(rows[0]) if rows else "splicer arc is joint".split(), rows)


def judge(rows, crews, count):
    """Each told joint against the truth; gives the wrong ones."""
    truth = {(a["splicer"], str(a["arc"])): a for c in crews for a in c.arcs}
    final, stands = {}, {}
    for arc in sorted(truth.values(), key=lambda a: a["t"]):
        for one in arc["made"]:
            stands[one["joint"]] = arc
            if not arc["lost"]:
                final[one["joint"]] = arc
    count["joints"] += len(final)
    wrong = []
    for row in rows:
        arc, joint = truth[row["splicer"], row["arc"]], row["joint"]
        right = joint in [one["joint"] for one in arc["made"]]
        if row["stands"] == "no":
            count["early"] += not right
            continue
        count["told"] += 1
        kind = ("" if right and arc is final[joint] else "older" if right else "other" if arc["made"] else "nojoint")
        count["lost"] += not kind and stands[joint] is not arc
        count[kind] += bool(kind)
        count["wrong"] += bool(kind)
        if kind:
            wrong.append((arc, joint, kind))
    seen = {(a["splicer"], a["arc"]) for a, _, _ in wrong}
    told = sorted({(r["splicer"], int(r["arc"])) for r in rows if r["stands"] == "yes"})
    count["runs"] += sum(a in seen and (k == 0 or told[k - 1] not in seen) for k, a in enumerate(told))
    return wrong


def main():
    args = argparse.ArgumentParser(usage=__doc__.split("usage: ")[1].split("\n")[0])
    args.add_argument("bin")
    args.add_argument("--seed", type=int, required=True)
    args.add_argument("--nights", type=int, required=True)
    args.add_argument("--habit", required=True)
    args.add_argument("--odds", default="30,50,100,1000")
    args.add_argument("--keep")
    args.add_argument("--calm", type=float, default=1)
    args.add_argument("--without", default="")
    args = args.parse_args()
    without = [name for name in args.without.split(",") if name]
    program, shown = os.path.abspath(os.path.join(args.bin, "thrum-match")), "other nojoint older lost early".split()
    print("\t".join("habit odds joints told wrong told_pc wrong_pc runs".split() + shown), flush=True)
    for habit in HABITS if args.habit == "all" else args.habit.split(","):
        counts = {odds: collections.Counter() for odds in args.odds.split(",")}
        for n in range(args.nights):
            with tempfile.TemporaryDirectory() as folder:
                if args.keep:
                    folder = os.path.join(args.keep, f"{habit}-{n}")
                    os.makedirs(folder, exist_ok=True)
                options, crews = night(random.Random(f"{args.seed} {habit} {n}"), habit, args.calm, without, folder)
                if habit == "answers":
                    match(program, folder, options + ["--questions", "ask"])
                    answer(folder, {(a["splicer"], str(a["arc"])): a for c in crews for a in c.arcs})
                    options += ["--answers", "said"]
                for odds, count in counts.items():
                    wrong = judge(match(program, folder, options + ["--odds", odds]), crews, count)
                    if args.keep:
                        table(os.path.join(folder, f"wrong-{odds}"), "splicer arc told made kind".split(),
                              [{"splicer": a["splicer"], "arc": a["arc"], "told": j, "kind": k,
                                "made": ",".join(m["joint"] for m in a["made"])} for a, j, k in wrong])
                if args.keep:
                    table(os.path.join(folder, "truth"), "splicer arc made lost why typed".split(),
                          [dict(a, made=",".join(m["joint"] for m in a["made"]), why=",".join(sorted(a["why"])))
                           for c in crews for a in c.arcs])
                    table(os.path.join(folder, "options"), ["options"], [{"options": " ".join(options)}])
        for odds, c in counts.items():
            print("\t".join([habit, odds] + [str(c[k]) for k in ("joints", "told", "wrong")] +
                            [f"{100 * c['told'] / max(c['joints'], 1):.1f}", f"{100 * c['wrong'] / max(c['told'], 1):.3f}",
                             str(c["runs"])] + [str(c[k]) for k in shown]), flush=True)


main()
