#!/usr/bin/env python3
"""Nights of invented crews for thrum-match, by what its manual page says alone: a second opinion.

crew.py score BIN NIGHTS KIND ODDS [SEED]   what is told, and how much of it wrongly
crew.py make FOLDER KIND SEED               the tables of one night

Habits and disturbances are drawn anew for each night, all at once: other rates, other ways to go astray and
another clock than those of tests/unit/match_crew.h.
"""
import os
import random
import subprocess
import sys
import tempfile
import time
from datetime import datetime, timedelta

# closure, tray, fibre: how often they are typed where they begin; odd: how often a fibre is typed after
# something out of order; wrong: of what is typed; stated: the order of slots is; answers: so many
KINDS = {
    'all': dict(closure=1, tray=1, fibre=1, odd=1, wrong=0, stated=1),
    'all1': dict(closure=1, tray=1, fibre=1, odd=1, wrong=0.01, stated=1),
    'trays20': dict(closure=1, tray=1, fibre=0.05, odd=0, wrong=0.003, stated=1),
    'careful': dict(closure=1, tray=1, fibre=0.1, odd=0.7, wrong=0.003, stated=1),
    'careful10': dict(closure=1, tray=1, fibre=0.1, odd=0.7, wrong=0.003, stated=1, answers=10),
    'unstated': dict(closure=1, tray=1, fibre=0.1, odd=0.7, wrong=0.003, stated=0),
    'visits20': dict(closure=0, tray=0, fibre=0.05, odd=0, wrong=0.003, stated=1, visits=1),
    'closures10': dict(closure=1, tray=0, fibre=0.1, odd=0.3, wrong=0.003, stated=1),
    'ribbon': dict(closure=1, tray=1, fibre=0.1, odd=0.5, wrong=0.003, stated=1, ribbon=12),
}


class Night:
    def __init__(self, kind, seed):
        self.r = random.Random(seed * 7919 + 13)
        self.k = KINDS[kind]
        self.size = self.k.get('ribbon', 1)
        r = self.r
        self.rate = {
            'bad': r.uniform(0.01, 0.18), 'looks_good': r.uniform(0, 0.15), 'looks_bad': r.uniform(0, 0.04),
            'again': r.choice([0, r.uniform(0, 0.012)]), 'skip': r.choice([0, r.uniform(0, 0.035)]),
            'soon': r.random() * 0.4, 'at_tray': r.random() * 0.6, 'at_end': r.random(),
            'practice': r.uniform(0, 0.03), 'burst': r.random(), 'lost': r.choice([0, r.uniform(0, 0.03)]),
            'no_heat': r.uniform(0, 0.1), 'elsewhere': r.uniform(0, 0.006), 'early': r.uniform(0, 0.25),
            'clock': 0.15, 'give_up': r.uniform(0, 0.1), 'unrecorded': r.uniform(0, 0.15)}
        self.order = r.choice(['work', 'work', 'work', 'reverse', 'alternate'])
        self.units, self.arcs, self.visits, self.last = {}, [], [], {}
        self.make_plan()
        self.clocks = [datetime(2026, 5, 4, 20, 30) + timedelta(minutes=r.randrange(60)) for _ in range(2)]
        self.count = [r.randrange(1, 4000), r.randrange(1, 4000)]
        self.pace = [r.uniform(200, 900) for _ in range(2)]
        self.spread = r.uniform(1.5, 9)
        self.shows_heat, self.shows_tension = r.random() < 0.8, r.random() < 0.8
        self.shift_s, self.left_over = [0, 0], [None, None]
        self.work()

    def chance(self, what):
        return self.r.random() < (self.rate[what] if isinstance(what, str) else what)

    def make_plan(self):
        r, n = self.r, 0
        self.plan, self.closures = [], []
        for c in range(r.randrange(3, 8)):
            per = r.choice([6, 8, 12, 16, 24]) if self.size == 1 else r.randrange(3, 9)
            trays = []
            for t in range(r.randrange(1, 7) if self.size == 1 else r.randrange(1, 4)):
                tray = []
                for s in range(per):
                    names = []
                    for p in range(self.size):
                        n += 1
                        names.append(f'N{n}')
                        self.plan.append([f'N{n}', f'pit-{c}', t + 1, s + 1, f'w{c}', len(trays) * per *
                                          self.size + s * self.size + p + 1, f'w{c + 1}', n,
                                          (len(trays) * per + s + 1) if self.size > 1 else '', p + 1])
                    self.units[names[0]] = names
                    tray.append(names[0])
                trays.append(tray)
            self.closures.append(trays)
        self.row = {row[0]: row for row in self.plan}

    def tick(self, m, paces):
        k = self.spread
        self.clocks[m] += timedelta(seconds=self.pace[m] * paces * self.r.gammavariate(k, 1 / k) + 15)
        if self.chance(0.03):
            self.clocks[m] += timedelta(minutes=self.r.uniform(8, 70))

    def typing(self, m, unit, first_in_closure, first_in_tray, odd):
        """closure, tray, cable_a, fibre_a as typed, each perhaps wrongly"""
        k, row = self.k, list(self.row[unit])
        said = [first_in_closure and self.chance(k['closure']), first_in_tray and self.chance(k['tray']),
                self.chance(k['fibre']) or (odd and self.chance(k['odd']))]
        if not any(said):
            return ['', '', '', '']
        if self.chance(k['wrong']):
            how = self.r.randrange(4)
            if how == 0 and self.left_over[m]:
                return self.left_over[m]
            if how == 1:
                row[5] = max(1, row[5] + self.r.choice([-1, 1]))
            elif how == 2:
                row[5] = int(str(row[5])[::-1]) or 1
            elif said[2]:
                row[5] = int(str(self.r.randrange(1, 10)) + str(row[5])[1:])
            else:
                row[2] = row[2] + 1
        out = [row[1] if said[0] else '', row[2] if said[1] else '', row[4] if said[2] else '',
               row[5] if said[2] else '']
        self.left_over[m] = out
        return out

    def arc(self, m, truth, good, typed=('', '', '', ''), seen=True):
        self.count[m] += 1
        if truth[0] == 'joint':
            self.last[truth[1]] = len(self.arcs)
        lost = self.chance('lost') or not seen
        looks = good != self.chance('looks_bad' if good else 'looks_good')
        est = abs(self.r.gauss(0.02, 0.015)) if looks else self.r.choice([0.02, self.r.uniform(0.08, 0.5)])
        heat = looks and good and truth[0] != 'practice' and not self.chance('no_heat')
        tension = 'pass' if looks or self.chance(0.3) else self.r.choice(['fail', ''])
        if truth[0] == 'practice':
            tension = self.r.choice(['', 'pass'])
        at = self.clocks[m] + timedelta(seconds=self.shift_s[m])
        self.arcs.append([self.count[m], f'x{m}', at.strftime('%Y-%m-%dT%H:%M:%SZ'), f'{est:.2f}',
                          tension if self.shows_tension else '', 30 if heat and self.shows_heat else '',
                          self.size, *typed, truth, lost])

    def joint(self, m, unit, visit, tray, odd):
        """One joint until it is kept or given up; whether something was out of order"""
        out = False
        if self.chance('practice'):
            self.tick(m, 0.4)
            self.arc(m, ('practice',), True)
            out = True
        if self.chance('elsewhere'):
            self.tick(m, 1)
            self.arc(m, ('elsewhere',), True)
            out = True
        self.tick(m, 1.5 if tray else 1)
        typed = self.typing(m, unit, visit, tray, odd or out)
        out = False
        while self.chance('bad'):
            self.arc(m, ('joint', unit), False, typed)
            if self.k['fibre'] < 1:
                typed = ('', '', '', '')
            if self.chance('give_up'):
                return True
            self.tick(m, 0.6)
        self.arc(m, ('joint', unit), True, typed)
        if self.chance('again'):
            self.tick(m, 0.8)
            self.arc(m, ('joint', unit), True, typed if self.k['fibre'] == 1 else ('', '', '', ''))
            out = True
        return out

    def ordered(self, tray):
        if self.order == 'reverse':
            return tray[::-1]
        return tray[0::2] + tray[1::2] if self.order == 'alternate' else list(tray)

    def visit(self, m, c, trays, part):
        """A machine's stay in a closure: these trays, of each the part of the slots"""
        begin, left, odd, first = self.clocks[m], [], False, True
        if self.chance('burst'):
            for _ in range(self.r.choice([1, 1, 2, 3, 6])):
                self.tick(m, 0.3)
                self.arc(m, ('practice',), self.chance(0.6))
        for t in trays:
            tray, new, here = self.ordered(self.closures[c][t]), True, []
            tray = tray[:len(tray) // 2] if part == 0 else tray[len(tray) // 2:] if part == 1 else tray
            for unit in tray:
                if self.chance('skip'):
                    here.append(unit)
                    odd = True
                    continue
                odd = self.joint(m, unit, first, new, odd)
                first = new = False
                if here and self.chance('soon'):
                    odd = self.joint(m, here.pop(0), first, new, True) or True
            while here and self.chance('at_tray'):
                odd = self.joint(m, here.pop(0), first, new, True) or True
            left += here
        for unit in left:
            if self.chance('at_end'):
                odd = self.joint(m, unit, False, False, True) or True
        self.visits.append([f'x{m}', f'pit-{c}', '', begin - timedelta(minutes=4), self.clocks[m] +
                            timedelta(minutes=4), self.order if self.k['stated'] else ''])
        self.clocks[m] += timedelta(minutes=self.r.uniform(20, 120))

    def work(self):
        half = (len(self.closures) + 1) // 2
        for c, trays in enumerate(self.closures):
            m, every = int(c >= half), list(range(len(trays)))
            if self.chance('clock'):
                self.shift_s[m] = self.r.choice([0, 3600, -3600, 86400])
            if len(every) > 1 and self.chance('unrecorded'):
                every = every[1:]  # the first tray at a machine that nobody read out
            if self.chance(0.12) and len(every) > 1:
                self.clocks[0] = self.clocks[1] = max(self.clocks)
                by_tray = self.chance(0.6)
                self.visit(0, c, every[:len(every) // 2] if by_tray else every, None if by_tray else 0)
                self.visit(1, c, every[len(every) // 2:] if by_tray else every, None if by_tray else 1)
            elif len(every) > 1 and self.chance('early'):
                cut = self.r.randrange(1, len(every))
                self.visit(m, c, every[:cut], None)
                if c > 0 and self.chance(0.3):
                    self.visit(m, c - 1, [], None)
                self.visit(m, c, every[cut:], None)
            else:
                self.visit(m, c, every, None)

    def write(self, folder):
        def table(name, rows):
            with open(os.path.join(folder, name), 'w') as f:
                for row in rows:
                    f.write('\t'.join(x.strftime('%Y-%m-%dT%H:%MZ') if isinstance(x, datetime) else str(x)
                                      for x in row) + '\n')
        table('plan.tsv', [['joint', 'closure', 'tray', 'slot', 'cable_a', 'fibre_a', 'cable_b', 'fibre_b',
                            'ribbon_a', 'position']] + self.plan)
        table('arcs.tsv', [['arc', 'splicer', 'made_at', 'est_db', 'tension', 'heat_s', 'fibres_n', 'closure',
                            'tray', 'cable_a', 'fibre_a']] + [a[:11] for a in self.arcs if not a[12]])
        table('visits.tsv', [['splicer', 'closure', 'tray', 'from_at', 'to_at', 'order']] + self.visits)

    def answer(self, questions, out):
        truth = {(a[1], str(a[0])): a[11] for a in self.arcs}
        with open(questions) as q, open(out, 'w') as f:
            f.write('splicer\tarc\tis\tjoint\n')
            for line in q.read().splitlines()[1:self.k['answers'] + 1]:
                splicer, arc = line.split('\t')[:2]
                t = truth[(splicer, arc)]
                f.write('\t'.join([splicer, arc, t[0], t[1] if len(t) > 1 else '']) + '\n')

    def run(self, program, odds):
        with tempfile.TemporaryDirectory() as d:
            self.write(d)
            call = [program, '--plan', 'plan.tsv', '--odds', str(odds), '-o', 'out.tsv', '--questions', 'q.tsv']
            call += ['--order', self.order] if self.k['stated'] and not self.k.get('visits') else []
            call += ['--visits', 'visits.tsv'] if self.k.get('visits') else []
            took = time.time()
            subprocess.run(call + ['arcs.tsv'], cwd=d, stderr=subprocess.DEVNULL, check=False)
            took = time.time() - took
            if self.k.get('answers'):
                self.answer(os.path.join(d, 'q.tsv'), os.path.join(d, 'a.tsv'))
                subprocess.run(call + ['--answers', 'a.tsv', 'arcs.tsv'], cwd=d, stderr=subprocess.DEVNULL,
                               check=False)
            with open(os.path.join(d, 'out.tsv')) as f:
                rows = [line.split('\t') for line in f.read().splitlines()]
        at = {name: i for i, name in enumerate(rows[0])}
        stands = {}
        for unit, i in self.last.items():
            if not self.arcs[i][12]:
                for name in self.units[unit]:
                    stands[name] = (self.arcs[i][1], str(self.arcs[i][0]))
        told = [row for row in rows[1:] if row[at['stands']] == 'yes']
        wrong = [row for row in told
                 if stands.get(row[at['joint']]) != (row[at['splicer']], row[at['arc']])]
        return len(stands), len(told), len(wrong), took


def main():
    if len(sys.argv) < 5:
        sys.exit(__doc__)
    if sys.argv[1] == 'make':
        os.makedirs(sys.argv[2], exist_ok=True)
        Night(sys.argv[3], int(sys.argv[4])).write(sys.argv[2])
        return
    program, nights, kind, odds = os.path.abspath(sys.argv[2]), int(sys.argv[3]), sys.argv[4], sys.argv[5]
    seed = int(sys.argv[6]) if len(sys.argv) > 6 else 1
    made = told = wrong = 0
    times = []
    for i in range(nights):
        m, t, w, took = Night(kind, seed * 1000 + i).run(program, odds)
        made, told, wrong = made + m, told + t, wrong + w
        times.append(took)
    times.sort()
    print(f'{kind} {odds}: {made} joints, told {100 * told / made:.1f} %, wrong {wrong} = '
          f'{100 * wrong / max(told, 1):.3f} %, {times[len(times) // 2]:.3f} s a night')


main()
