#!/usr/bin/env python3
"""Random networks, routed and compared with how they were made; then broken in one known way each.

property.py BIN SEED NETWORKS: BIN has thrum-route and thrum-budget. Says what it did and exits 0, or
shows the network that failed and exits 1. The same seed makes the same networks.
"""
import os
import random
import subprocess
import sys
import tempfile

JOINT_COLUMNS = ("joint closure cable_a fibre_a toward_a cable_b fibre_b toward_b kind polish_a polish_b "
                 "loss_nm loss_db").split()
PLAN_COLUMNS = "joint closure cable_a fibre_a toward_a cable_b fibre_b toward_b state ribbon_a position".split()
SPAN_COLUMNS = "cable section site_a site_b cut_a cut_b fibre_km fibres atten_1550_db_km".split()
PORT_COLUMNS = "site port link end cable fibre".split()
LEG_COLUMNS = "splitter kind closure side port cable fibre loss_db channel_from_nm channel_to_nm".split()
LINK_COLUMNS = "link pair apart".split()


class Network:
    """Cables along a chain of sites, closed to a ring or with spurs; links over them."""

    def __init__(self, rng):
        self.rng = rng
        self.joints, self.plan, self.spans, self.ports, self.legs, self.links = [], [], [], [], [], []
        self.expected = {}  # link: [(kind, ref, reversed or None, km in metres)]
        self.used = {}  # cable: the next fibre
        self.tails = self.splitters = 0
        self.heads = {}  # link: the head port that it shares
        self.trunk = {}  # link: the line between multiplexers that it shares
        self.hops = {}  # site: [(site, cable, section, side it is left from)]
        self.cut = {}  # cable, site: is it cut there
        self.lay_cables()
        for _ in range(rng.randint(3, 6)):
            self.add_bundle(rng.choice((1, 1, 2, 4, 6)))
        if rng.random() < 0.7:
            self.add_tree()
        if rng.random() < 0.5:
            self.add_channels(rng.randint(2, 4))
        if len(self.links) > 1:
            self.links[0]["pair"] = self.links[1]["link"]

    def lay_cable(self, sites):
        cable = "c%d" % len(self.used)
        self.used[cable] = 1
        for i in range(len(sites) - 1):
            self.spans.append({"cable": cable, "section": i + 1, "site_a": sites[i], "site_b": sites[i + 1],
                               "metres": self.rng.randint(100, 9000), "fibres": 144,
                               "atten_1550_db_km": "0.2"})
            self.hops.setdefault(sites[i], []).append((sites[i + 1], cable, i + 1, 0))
            self.hops.setdefault(sites[i + 1], []).append((sites[i], cable, i + 1, 1))
        for i, site in enumerate(sites):
            self.cut[cable, site] = i in (0, len(sites) - 1) or self.rng.random() < 0.6

    def lay_cables(self):
        sites = ["s%d" % i for i in range(self.rng.randint(4, 9))]
        i = 0
        while i < len(sites) - 1:
            k = min(self.rng.randint(1, 4), len(sites) - 1 - i)
            self.lay_cable(sites[i:i + k + 1])
            i += k
        if self.rng.random() < 0.5:  # a ring
            self.lay_cable([sites[-1], "r0", sites[0]])
        for n in range(self.rng.randint(0, 3)):  # spurs
            self.lay_cable([self.rng.choice(sites), "p%d" % n])
        self.sites = sorted(self.hops)
        for span in self.spans:
            for side in "ab":
                span["cut_" + side] = "yes" if self.cut[span["cable"], span["site_" + side]] else "no"
            span["fibre_km"] = "%.3f" % (span["metres"] / 1000)

    def way(self, start, goal):
        """Hops from start to goal, the shortest by a random order: (cable, section, side, from, to)."""
        came, queue = {start: None}, [start]
        while queue:
            here = queue.pop(0)
            hops = self.hops[here][:]
            self.rng.shuffle(hops)
            for there, cable, section, side in hops:
                if there not in came:
                    came[there] = (here, cable, section, side)
                    queue.append(there)
        hops = []
        while goal != start:
            here, cable, section, side = came[goal]
            hops.insert(0, (cable, section, side, here, goal))
            goal = here
        return hops

    def tail(self, site, metres=2):
        name = "t%d" % self.tails
        self.tails += 1
        self.spans.append({"cable": name, "section": 1, "site_a": site, "site_b": site, "metres": metres,
                           "cut_a": "", "cut_b": "", "fibre_km": "%.3f" % (metres / 1000), "fibres": 24,
                           "atten_1550_db_km": "0.2"})
        return name

    def join(self, site, a, b, kind="fusion", ribbon="", position=""):
        """a, b: (cable, fibre, toward)"""
        name = "j%d" % len(self.joints)
        if not ribbon and self.rng.random() < 0.5:
            a, b = b, a
        row = {"joint": name, "closure": site, "cable_a": a[0], "fibre_a": a[1], "toward_a": a[2],
               "cable_b": b[0], "fibre_b": b[1], "toward_b": b[2]}
        loss = "%.3f" % (self.rng.randint(1, 90) / 1000)
        polish = "apc" if kind == "connector" else ""
        self.joints.append(dict(row, kind=kind, polish_a=polish, polish_b=polish, loss_nm=1550, loss_db=loss))
        self.plan.append(dict(row, state="join", ribbon_a=ribbon, position=position))
        return name, "no" if self.joints[-1]["cable_a"] == a[0] else "yes"

    class Thread:
        """One fibre's way as it grows: what lies along it, and the loose end."""

        def __init__(self, net, site, end):
            self.net, self.site, self.loose, self.km, self.items = net, site, end, 0, []

        def fibre(self, cable, fibre, metres, back):
            self.items.append(("fibre", "%s:%d" % (cable, fibre), back, self.km))
            self.km += metres

        def joint(self, to, kind="fusion", ribbon="", position=""):
            net = self.net
            first = (self.loose, to)
            name, _ = net.join(self.site, self.loose, to, kind, ribbon, position)
            row = net.joints[-1]
            straight = (row["cable_a"], row["fibre_a"], row["toward_a"]) == first[0]
            self.items.append((kind, name, "no" if straight else "yes", self.km))

    def thread_hops(self, threads, hops, ribbon):
        """Leads threads, all at one site, along hops, side by side in each cable."""
        last = None
        for cable, section, side, here, there in hops:
            through = last is not None and last[0] == cable
            span = next(s for s in self.spans if s["cable"] == cable and s["section"] == section)
            express = through and (not self.cut[cable, here] or self.rng.random() < 0.4)
            first = None
            if not express:
                first = self.used[cable]
                self.used[cable] += len(threads)
                if not through and self.rng.random() < 0.15:
                    self.panel(threads, here)
            for i, t in enumerate(threads):
                if express:
                    fibre = t.loose[1]
                    if self.cut[cable, here]:
                        self.plan.append({"joint": "", "closure": here, "cable_a": cable, "fibre_a": fibre,
                                          "toward_a": there, "cable_b": "", "fibre_b": "", "toward_b": "",
                                          "state": "express", "ribbon_a": "", "position": ""})
                else:
                    fibre = first + i
                    t.joint((cable, fibre, there), ribbon="%s-%s-%d" % (here, cable, first) if ribbon else "",
                            position=i + 1 if ribbon else "")
                t.fibre(cable, fibre, span["metres"], "yes" if side else "no")
                t.loose, t.site = (cable, fibre, here), there
            last = (cable, section)

    def panel(self, threads, site):
        """Through a patch panel: pigtail, jumper, pigtail."""
        names = self.tail(site), self.tail(site, 1), self.tail(site)
        for i, t in enumerate(threads):
            for name, kind, metres in zip(names, ("fusion", "connector", "connector"), (2, 1, 2)):
                t.joint((name, i + 1, ""), kind)
                t.fibre(name, i + 1, metres, "no")
                t.loose = (name, i + 1, "")

    def port(self, site, link, end, cable, fibre, port=None):
        port = port or "%s-%02d" % (cable, fibre)
        self.ports.append({"site": site, "port": port, "link": link, "end": end, "cable": cable, "fibre": fibre})
        return "%s:%s" % (site, port)

    def finish(self, t, link, i, name):
        t.joint((name, i + 1, ""))
        t.fibre(name, i + 1, 2, "no")
        port = self.port(t.site, link, "b", name, i + 1)
        t.items.append(("connector", port, None, t.km))
        self.expected[link] = t.items

    def add_bundle(self, n):
        start, goal = self.rng.sample(self.sites, 2)
        name, threads = self.tail(start), []
        for i in range(n):
            link = "L%d" % len(self.links)
            self.links.append({"link": link, "pair": "", "apart": ""})
            t = self.Thread(self, start, (name, i + 1, ""))
            t.link = link
            t.items.append(("connector", self.port(start, link, "a", name, i + 1), None, 0))
            t.fibre(name, i + 1, 2, "no")
            threads.append(t)
        self.thread_hops(threads, self.way(start, goal), n > 2)
        last = self.tail(goal)
        for i, t in enumerate(threads):
            self.finish(t, t.link, i, last)

    def leg(self, splitter, kind, site, side, port, cable, fibre):
        """The legs of a multiplexer are channels of 20 nm, by their fibres."""
        channel = kind == "multiplexer" and side == "out"
        loss = "" if side == "in" else {"splitter": "7.2", "tap": "3.5", "multiplexer": "0.9"}[kind]
        self.legs.append({"splitter": splitter, "kind": kind, "closure": site, "side": side, "port": port,
                          "cable": cable, "fibre": fibre, "loss_db": loss,
                          "channel_from_nm": 1260 + 20 * fibre + self.rng.randint(0, 4) if channel else "",
                          "channel_to_nm": 1280 + 20 * fibre - self.rng.randint(1, 4) if channel else ""})

    def split(self, t, kind, n):
        """A splitter where the thread is: a thread behind each of its legs."""
        name, head = "x%d" % self.splitters, self.tail(t.site)
        self.splitters += 1
        t.joint((head, 1, ""))
        t.fibre(head, 1, 2, "no")
        self.leg(name, kind, t.site, "in", "in", head, 1)
        for i in range(n):
            leaf = self.Thread(self, t.site, (head, i + 2, ""))
            leaf.items = t.items + [("splitter" if kind == "splitter" else "other", "%s:%d" % (name, i), None, t.km)]
            leaf.km = t.km
            leaf.fibre(head, i + 2, 2, "no")
            self.leg(name, kind, t.site, "out", i, head, i + 2)
            yield leaf

    def grow(self, t, head, depth):
        """Splitters behind the thread, cascaded; each leaf is a link from the port `head`: (site, cable, fibre, port)."""
        for leaf in self.split(t, self.rng.choice(("splitter", "splitter", "tap")), self.rng.randint(2, 4)):
            goal = self.rng.choice(self.sites)
            self.thread_hops([leaf], self.way(leaf.site, goal), False)
            if depth > 0 and self.rng.random() < 0.5:
                self.grow(leaf, head, depth - 1)
            else:
                self.end_leaf(leaf, head)

    def end_leaf(self, leaf, head):
        link = "L%d" % len(self.links)
        self.links.append({"link": link, "pair": "", "apart": ""})
        site, cable, fibre, port = head
        self.heads[link] = head
        leaf.items.insert(0, ("connector", self.port(site, link, "a", cable, fibre, port), None, 0))
        self.finish(leaf, link, 0, self.tail(leaf.site))

    def add_tree(self):
        start, middle = self.rng.sample(self.sites, 2)
        name = self.tail(start)
        t = self.Thread(self, start, (name, 1, ""))
        t.fibre(name, 1, 2, "no")
        self.thread_hops([t], self.way(start, middle), False)
        self.grow(t, (start, name, 1, "olt-%s" % name), 2)

    def add_channels(self, n):
        """Two multiplexers with a line between them; behind a channel a link, or a tree of its own."""
        start, goal = self.rng.sample(self.sites, 2)
        name, mux = "x%d" % self.splitters, self.tail(start)
        self.splitters += 1
        t = self.Thread(self, start, (mux, 1, ""))
        t.km = 2
        t.fibre(mux, 1, 2, "no")
        self.leg(name, "multiplexer", start, "in", "com", mux, 1)
        self.thread_hops([t], self.way(start, goal), False)
        for i, leaf in enumerate(self.split(t, "multiplexer", n)):
            self.leg(name, "multiplexer", start, "out", "c%d" % i, mux, i + 2)
            leaf.items[:0] = [("fibre", "%s:%d" % (mux, i + 2), "no", 0), ("other", "%s:c%d" % (name, i), None, 2)]
            head = (start, mux, i + 2, "ch-%s-%d" % (mux, i))
            if self.rng.random() < 0.4:
                self.thread_hops([leaf], self.way(leaf.site, self.rng.choice(self.sites)), False)
            if self.rng.random() < 0.3:
                self.grow(leaf, head, 0)
            else:
                self.end_leaf(leaf, head)
            self.trunk.update({link: mux for link, at in self.heads.items() if at == head})

    def through(self, joint):
        """The links that have this joint on their way."""
        return [link for link, items in self.expected.items() if any(i[1] == joint for i in items)]


def write(path, columns, rows):
    with open(path, "w") as f:
        f.write("\t".join(columns) + "\n")
        for row in rows:
            f.write("\t".join(str(row.get(c, "")) for c in columns) + "\n")


def read(path):
    with open(path) as f:
        names = f.readline().rstrip("\n").split("\t")
        return [dict(zip(names, line.rstrip("\n").split("\t"))) for line in f]


def route(bin_dir, net, with_plan=True):
    tables = (("joints", JOINT_COLUMNS, net.joints), ("plan", PLAN_COLUMNS, net.plan),
              ("spans", SPAN_COLUMNS, net.spans), ("ports", PORT_COLUMNS, net.ports),
              ("splitters", LEG_COLUMNS, net.legs), ("links", LINK_COLUMNS, net.links))
    for name, columns, rows in tables:
        write(name, columns, rows)
    run = [bin_dir + "/thrum-route", "--findings", "findings", "-o", "elements", "joints"]
    for name in ("spans", "ports", "splitters", "links") + (("plan",) if with_plan else ()):
        run += ["--" + name, name]
    done = subprocess.run(run, capture_output=True, text=True)
    assert done.returncode in (0, 1), done.stderr
    return done.returncode, read("elements"), read("findings")


def verdicts(bin_dir):
    run = [bin_dir + "/thrum-budget", "--max", "1000", "--wavelength", "1550", "-o", "budgets", "elements"]
    assert subprocess.run(run).returncode in (0, 1)
    return {row["link"]: row["verdict"] for row in read("budgets")}


def check_whole(net, status, elements, findings):
    assert status == 0 and not findings, findings
    got = {}
    for e in elements:
        km = None if e["km"] == "" else round(float(e["km"]) * 1000)
        back = e["reversed"] or None
        if e["kind"] == "splitter":
            back = None
        got.setdefault(e["link"], []).append((e["kind"], e["ref"], back, km))
    for link, items in net.expected.items():
        assert got.get(link) == items, "%s\ngot  %s\nmade %s" % (link, got.get(link), items)
    assert len(got) == len(net.expected)


# --- breaks: each changes net and says (rule, who, links that must not pass), or None: does not apply ---------


def line_joints(net):
    tails = {s["cable"] for s in net.spans if s["site_a"] == s["site_b"]}
    return [i for i, j in enumerate(net.joints) if j["cable_a"] not in tails or j["cable_b"] not in tails]


def break_delete(net, rng):
    j = net.joints.pop(rng.randrange(len(net.joints)))
    return "open-end", {j["joint"]}, net.through(j["joint"])


def twins(net, rng):
    """Two joints of one closure, from one cable into another, both in the same sense."""
    pairs = []
    at = {}
    for j in net.joints:
        if j["kind"] == "fusion" and not (j["toward_a"] == "" and j["toward_b"] == ""):
            at.setdefault(tuple(j[c] for c in ("closure", "cable_a", "toward_a", "cable_b", "toward_b")), []).append(j)
    for group in at.values():
        pairs += [(a, b) for a in group for b in group if a is not b]
    return rng.choice(pairs) if pairs else None


def break_cross(net, rng):
    two = twins(net, rng)
    if two is None:
        return None
    a, b = two
    a["fibre_b"], b["fibre_b"] = b["fibre_b"], a["fibre_b"]
    return "crossed", {a["joint"], b["joint"]}, net.through(a["joint"]) + net.through(b["joint"])


def break_twice(net, rng):
    two = twins(net, rng)
    if two is None:
        return None
    a, b = two
    a["fibre_b"] = b["fibre_b"]
    return "end-twice", {a["joint"]}, net.through(a["joint"])


def break_loop(net, rng):
    lines = [net.joints[i] for i in line_joints(net) if net.joints[i]["toward_a"]]
    j = rng.choice(lines)
    j["cable_b"], j["toward_b"], j["fibre_b"] = j["cable_a"], j["toward_a"], 140
    return "loop", {j["joint"]}, net.through(j["joint"])


def break_place(net, rng):
    j = net.joints[rng.choice(line_joints(net))]
    j["closure"] = "nowhere"
    return "not-reached", {j["joint"]}, net.through(j["joint"])


def break_span(net, rng):
    lines = [s for s in net.spans if s["site_a"] != s["site_b"]]
    used = {i[1].rsplit(":", 1)[0] for items in net.expected.values() for i in items if i[0] == "fibre"}
    lines = [s for s in lines if s["cable"] in used]
    span = rng.choice(lines)
    links = [link for link, items in net.expected.items() for i in items
             if i[0] == "fibre" and i[1].rsplit(":", 1)[0] == span["cable"]]
    # nobody needs it if no link runs in this very section
    pairs = net.sections_of(span)
    if not pairs:
        return None
    net.spans.remove(span)
    return "section-missing", {span["cable"]}, pairs and links and pairs


def break_port(net, rng):
    b_ports = [p for p in net.ports if p["end"] == "b"]
    a, b = rng.sample(b_ports, 2)
    if a["site"] != b["site"]:
        return None
    b["port"] = a["port"]
    return "port-double", {a["link"], b["link"]}, [a["link"], b["link"]]


def break_exchange(net, rng):
    b_ports = [p for p in net.ports if p["end"] == "b"]
    a, b = rng.sample(b_ports, 2)
    if net.heads.get(a["link"], 0) == net.heads.get(b["link"], 1):
        return None  # two leaves of one head: nothing but their names tells them apart
    pair = [link["link"] for link in net.links if link["pair"]] + [link["pair"] for link in net.links if link["pair"]]
    for column in ("cable", "fibre"):
        a[column], b[column] = b[column], a[column]
    a["site"], b["site"], a["port"], b["port"] = b["site"], a["site"], b["port"], a["port"]
    if a["link"] in pair and b["link"] in pair:
        return "pair-exchanged", {a["link"], b["link"]}, [a["link"], b["link"]]
    return "links-exchanged", {a["link"], b["link"]}, [a["link"], b["link"]]


def break_pair(net, rng):
    pair = {net.links[0]["link"], net.links[0]["pair"]}
    two = [p for p in net.ports if p["end"] == "b" and p["link"] in pair]
    if len(two) != 2:
        return None
    for column in ("cable", "fibre"):
        two[0][column], two[1][column] = two[1][column], two[0][column]
    if two[0]["site"] != two[1]["site"]:
        return None
    return "pair-exchanged", pair, list(pair)


def break_ribbon(net, rng):
    ribbons = {}
    for p in net.plan:
        if p["ribbon_a"]:
            ribbons.setdefault(p["ribbon_a"], []).append(p["joint"])
    if not ribbons:
        return None
    names = rng.choice(sorted(ribbons.values()))
    joints = sorted((j for j in net.joints if j["joint"] in names), key=lambda j: int(j["joint"][1:]))
    n = len(joints)
    for j, fibre in zip(joints, [j["fibre_b"] for j in joints][::-1]):
        j["fibre_b"] = fibre
    return "ribbon-turned", set(names), [link for i, j in enumerate(joints) for link in net.through(j["joint"])
                                         if n % 2 == 0 or i != n // 2]


def break_polish(net, rng):
    mated = [j for j in net.joints if j["kind"] == "connector"]
    if not mated:
        return None
    j = rng.choice(mated)
    j["polish_a"] = "upc"
    return "polish", {j["joint"]}, []


def break_apart(net, rng):
    for a in net.links:
        for b in net.links:
            if a is not b and set(net.line_sections(a["link"])) & set(net.line_sections(b["link"])):
                a["apart"] = b["link"]
                return "apart", {a["link"]}, []
    return None


def sections_of(net, span):
    """The links that run in a span, by the metres at which they would be in it."""
    links = []
    for link, items in net.expected.items():
        for kind, ref, back, km in items:
            if kind == "fibre" and ref.rsplit(":", 1)[0] == span["cable"]:
                links.append(link)
    if sum(1 for s in net.spans if s["cable"] == span["cable"]) > 1:
        # several sections: only one in the middle is sure to be missed
        same = sorted((s for s in net.spans if s["cable"] == span["cable"]), key=lambda s: s["section"])
        if span in (same[0], same[-1]):
            return []
        return [link for link in set(links) if any(
            abs(float(span["fibre_km"]) - 0) > 0 for _ in [0]) and net.in_section(link, span)]
    return sorted(set(links))


def in_section(net, link, span):
    items = net.expected[link]
    for (kind, ref, back, km), (_, _, _, after) in zip(items, items[1:]):
        if kind == "fibre" and ref.rsplit(":", 1)[0] == span["cable"] and after - km == span["metres"]:
            return True
    return False


def line_sections(net, link):
    items = net.expected[link]
    return [(ref.rsplit(":", 1)[0], after - km) for (kind, ref, _, km), (_, _, _, after) in zip(items, items[1:])
            if kind == "fibre" and ref.startswith("c")]


Network.sections_of, Network.in_section, Network.line_sections = sections_of, in_section, line_sections

BREAKS = (break_delete, break_cross, break_twice, break_loop, break_place, break_span, break_port, break_exchange,
          break_pair, break_ribbon, break_polish, break_apart)


def check_broken(bin_dir, net, rule, who, links):
    status, _, findings = route(bin_dir, net)
    causes = [f for f in findings if f["because"] == "" and f["level"] == "error"]
    assert status == 1, "not found"
    assert len(causes) == 1, "%d causes: %s" % (len(causes), causes)
    cause = causes[0]
    assert cause["rule"] == rule, cause
    named = {cause["joint"], cause["link"], cause["found"]}
    assert named & who, (cause, who)
    for f in findings:
        assert f is cause or f["because"] == cause["finding"], f
    got = verdicts(bin_dir)
    for link in links:
        assert got[link] != "pass", (link, got[link])
    return len(findings)


def main():
    bin_dir, seed, networks = os.path.abspath(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    counts = {}
    cascaded = channels = 0
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        for n in range(networks):
            net = Network(random.Random(seed * 100003 + n))
            step = "whole"
            try:
                check_whole(net, *route(bin_dir, net))
                assert set(verdicts(bin_dir).values()) == {"pass"}
                behind = [[kind for kind, ref, _, _ in items if ref.startswith("x")] for items in net.expected.values()]
                cascaded += any(kinds.count("splitter") > 1 for kinds in behind)
                channels += len(net.trunk) > 0
                for k, broken in enumerate(BREAKS):
                    step = broken.__name__
                    net = Network(random.Random(seed * 100003 + n))
                    said = broken(net, random.Random(n * 97 + k))
                    if said is not None:
                        check_broken(bin_dir, net, *said)
                        counts[step] = counts.get(step, 0) + 1
            except AssertionError as failed:
                print("network %d of seed %d, %s: %s" % (n, seed, step, failed))
                print("its tables: " + " ".join(sorted(os.listdir("."))))
                if os.environ.get("KEEP"):
                    subprocess.run(["cp", "-r", ".", os.environ["KEEP"]])
                return 1
    print("%d networks recovered, %d with cascaded splitters, %d with multiplexers; broken and found: %s" % (
        networks, cascaded, channels,
        ", ".join("%s %d" % (k.replace("break_", ""), v) for k, v in sorted(counts.items()))))
    return 0 if len(counts) == len(BREAKS) else 1


if __name__ == "__main__":
    sys.exit(main())
