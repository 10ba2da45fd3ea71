#!/usr/bin/env python3
"""Links read from both ends, with their truth: a second opinion on thrum-twoway and thrum-rework.

Written from the manual pages alone (thrum-twoway(1), thrum-rework(1), thrum-tables(5)), without a look
at the programs. Mode fields are those of G.652 and G.657, scattering differs besides; joints lose by
offset, tilt and mismatch. Usage: second.py BIN FOLDER SEED LINKS [--rough], where --rough puts the
elements further from their points than a dead zone; the status is 1 if a figure is bad.
"""
import collections, csv, math, random, subprocess, sys
NAMES = {'links': 'link site_a site_b accept',
         'readings': 'link from wavelength_nm km kind loss_db sd_db index pulse_ns sample_m dead_m tested_at',
         'elements': 'link seq km kind ref site reversed category length_km',
         'joints': 'joint attempt stands closure tray slot kind ribbon_a est_db tension protector loss_nm '
                   'loss_ab_db loss_ba_db loss_db loss_with accept made_at',
         'plan': 'joint closure tray slot kind ribbon_a limit_db'}
TABLES = collections.defaultdict(list)
POINTS, JOINTS = {}, {}     # the truth, by (joint or port, wavelength) and by joint
ROUGH, NMS = '--rough' in sys.argv, (1310, 1550, 1625)
RIGHT = {'good': '-', 'not read': 'unread', 'two-fibres, merged': 'two-fibres', 'estimate-only, merged': 'estimate-only'}
UNDECIDED = ()

def put(table, **fields):
    TABLES[table].append([str(fields.get(name, '')) for name in NAMES[table].split()])
def fibre(rng, small):
    return {'category': 'G.657.B3' if small else rng.choice(['G.652.D', 'G.657.A1']), 'grows': rng.uniform(.1, .15),
            'mfd': rng.uniform(6.3, 7.6) if small else min(9.6, max(8.2, rng.gauss(8.95, .25))), 'scatter': rng.gauss(0, .04)}
def field(one, nm):
    return one['mfd'] * (1 + one['grows'] * (nm - 1310) / 240)
def mismatch(step):
    return 20 * math.log10((10 ** (step / 10) + 10 ** (-step / 10)) / 2)
def joint_loss(one, nm):
    """Insertion loss of two Gaussian fields: mismatch, eased by the arc, offset and tilt."""
    a, b = field(one['before'], nm) / 2, field(one['behind'], nm) / 2
    bent = one['bend'] * {1310: 0, 1550: 1, 1625: one['bend_grows']}[nm]
    moved = one['offset_um'] ** 2 + (math.pi * 1.46 * one['tilt'] * a * b / (nm / 1000)) ** 2
    return one['arc'] * mismatch(10 * math.log10(b / a)) + 8.686 * moved / (a * a + b * b) + bent
def joint_step(one, nm):
    return 10 * math.log10(field(one['behind'], nm) / field(one['before'], nm)) + one['behind']['scatter'] - one['before']['scatter']
def make_joint(rng, name, kind, before, behind, trouble):
    one = {'name': name, 'kind': kind, 'before': before, 'behind': behind, 'bend_grows': rng.uniform(1.5, 3),
           'arc': rng.uniform(.6, 1), 'ribbon': kind == 'fusion' and rng.random() < .1, 'planned': ''}
    one['limit'] = {'connector': .75, 'mechanical': .3, 'fusion': .2 if one['ribbon'] else .1}[kind]
    if kind != 'connector' and rng.random() < .1:
        one['limit'] = one['planned'] = rng.choice([.08, .15, .25, .4])
    pick = rng.choice(['offset', 'bend', 'two', 'limit', 'estimate']) if kind != 'connector' and rng.random() < trouble else 'good'
    extra = min(.5 * one['limit'], math.exp(rng.gauss(math.log(.2 * one['limit']), .6)))
    if pick == 'offset':
        extra = one['limit'] + rng.choice([rng.uniform(0, .1), rng.uniform(.1, .6)])
    elif pick == 'limit':
        one['arc'], extra = rng.uniform(0, .1), one['limit'] * rng.uniform(.97, 1.03)
    one['bend'] = rng.choice([rng.uniform(.03, .2), rng.uniform(.2, .8)]) if pick == 'bend' else 0
    one['moved'] = rng.uniform(-.8, 0) if pick == 'two' else 0      # what b reads is another fibre's
    both, tilted = field(before, 1550) ** 2 / 4 + field(behind, 1550) ** 2 / 4, rng.random() ** 2
    one['offset_um'] = math.sqrt(extra * (1 - tilted) * both / 8.686)
    one['tilt'] = math.sqrt(extra * tilted * both / 8.686) / (math.pi * 1.46 * field(before, 1550) * field(behind, 1550) / 4 / 1.55)
    one['est'] = one['limit'] + rng.uniform(.01, .1) if pick == 'estimate' else one['limit'] * rng.uniform(.05, .9)
    return one
def make_link(rng, number):
    link, sites = f'L{number}', (f'A{number}', f'B{number}')
    trouble, small, categories = 10 ** rng.uniform(-1.7, -.3), rng.choice([0, 0, .05, .2]), rng.random() < .8
    pulse = [max(50, min(1500, int(10 ** rng.uniform(1.7, 3.2)))) for _ in sites]
    dead = [round(rng.uniform(.6, 1.5) * .102 * p, 1) if rng.random() < .5 else '' for p in pulse]
    reach = [max(5, d or .102 * p) for d, p in zip(dead, pulse)]
    dead = [d and r for d, r in zip(dead, reach)]
    least = max(60, 4 * max(reach + [.102 * p for p in pulse])) / 1000
    # what is along the link: spots of one point or of several close together
    spots, km, count, now, spread = [], 0.0, int(10 ** rng.uniform(0, 1.8)), fibre(rng, False), rng.uniform(.2, 3)
    for place in range(count + 2):
        panel = place in (0, count + 1)
        km += least + rng.expovariate(1 / spread) if place else 0
        number_here = 2 if panel and rng.random() < .7 else 1 if panel or rng.random() < .9 else rng.choice([2, 2, 3])
        kinds = ['connector' if panel and i == 0 else 'mechanical' if rng.random() < .08 else 'fusion' for i in range(number_here)]
        kinds = kinds[::-1] if place else kinds
        gap = rng.uniform(1, 3) if panel else max(1, rng.uniform(.1, .35) * rng.choice(reach))     # m; clear of the dead zones' ends
        while not panel and any(.75 / (number_here - 1) < gap / r < 1.3 for r in reach if number_here > 1):
            gap *= .93
        members = []
        for i, kind in enumerate(kinds):
            name = f'{sites[place > 0]}:1' if kind == 'connector' else f'{link}-{place}-{i}'
            members.append(make_joint(rng, name, kind, now, fibre(rng, not panel and rng.random() < small), trouble))
            members[-1].update(km=km + i * gap / 1000, reversed=rng.random() < .4)
            now = members[-1]['behind']
        km = length = members[-1]['km']
        spots.append(members)
    accept = 'one-way' if rng.random() < .03 else ''
    put('links', link=link, site_a=sites[0], site_b=sites[1], accept=accept)
    drawn, seq = 1 + rng.uniform(-.03, .03), 0
    for place, members in enumerate(spots):
        shift = rng.uniform(-1, 1) * (.1 * least if ROUGH else min(.1 * least, .0001 * min(reach))) * (0 < place <= count)
        for one in members:
            seq, at = seq + 2, f"{(one['km'] + shift) * drawn:.6f}"
            put('elements', link=link, seq=seq, km=at, kind=one['kind'], ref=one['name'], site=f'C{number}-{place}',
                reversed='yes' if one['reversed'] else '')
            if one is not spots[-1][-1]:
                put('elements', link=link, seq=seq + 1, km=at, kind='fibre', category=one['behind']['category'] if categories else '')
            if one['kind'] != 'connector':
                JOINTS[one['name']] = one
                record = dict(joint=one['name'], closure=f'C{number}-{place}', tray=1, slot=1, kind=one['kind'],
                              ribbon_a=one['name'] if one['ribbon'] else '', limit_db=one['planned'])
                put('plan', **record)
                for n in rng.choice([[2], [2], [2], [1, 2]]):      # the first of two tries does not stand
                    put('joints', **record, attempt=n, stands='yes' if n > 1 else 'no', tension='pass', protector='pass',
                        est_db=f"{one['est'] if n > 1 else one['limit'] + .2:.3f}", made_at=f'2026-03-1{n}')
    # the two instruments, and what they show
    noise = rng.choice([.02, rng.uniform(.01, .03)])
    said, gain = noise != .02 or rng.random() < .5, [rng.uniform(-.03, .03) for _ in sites]
    gain = rng.choice([gain, [gain[0]] * 2, None])      # two instruments, one, or another error at each point
    cord = [rng.choice([0, rng.uniform(1.6, 5) * max(reach) / 1000 + .1, rng.uniform(.1, .5) * min(reach) / 1000]) for _ in sites]
    index, stated = [1.4682, 1.4682], rng.choice([(1, 1), (0, 0), (1, 0)])
    index[rng.random() < .5] *= 1 + rng.choice([0, 1, 1]) * rng.uniform(-.004, .004)
    jitter, lost, ends = rng.uniform(.1, .8), rng.choice([0, .01, .06]), rng.choice([(0, 1)] * 15 + [(0,), (1,)])
    endless = len(ends) == 2 and (stated == (1, 1) or index[0] == index[1]) and rng.random() < .02      # of the first
    for nm in [1310] * (rng.random() < .9) + [1550] + [1625] * (rng.random() < .4):
        rows = [], []
        for place, members in enumerate(spots):
            panel, gap = place in (0, count + 1), 1000 * (members[-1]['km'] - members[0]['km']) / max(1, len(members) - 1)
            merged = len(members) > 1 and (panel or gap < max(reach))
            gone = {e for e in (0, 1) if not panel and not merged and rng.random() < lost}
            for group in [members] if merged else [[one] for one in members]:
                point = {'nm': nm, 'group': group, 'seen': {}, 'var': {}, 'panel': panel, 'accept': accept,
                         'loss': sum(joint_loss(o, nm) for o in group), 'step': sum(joint_step(o, nm) for o in group),
                         'limit': sum(o['limit'] for o in group), 'moved': sum(o['moved'] for o in group),
                         'two': categories and group[0]['before']['category'] != group[-1]['behind']['category']}
                for e in ends:
                    kind = ('start' if (place > 0) == e else 'end') if panel else 'step'
                    here, short, total, variance = cord[place > 0], endless and kind == 'end' and e == ends[0], 0, 0
                    unread = panel and (not here if kind == 'end' and len(ends) < 2 else here * 1000 < max(reach))
                    for part in [group] if panel or gap < reach[e] else [[o] for o in group]:
                        true = sum(joint_loss(o, nm) + (joint_step(o, nm), -joint_step(o, nm) + o['moved'])[e] for o in part)
                        shown = true * (1 + (gain[e] if gain else rng.uniform(-.03, .03))) + rng.gauss(0, noise)
                        at = length if kind == 'end' else length - part[-1]['km'] if e else part[0]['km']
                        at += 0 if panel else max(-2, min(2, rng.gauss(0, jitter))) / 1000
                        says = kind if panel else rng.choice(['step', 'merged' if len(part) > 1 else 'reflective'])
                        if e not in gone and not short:
                            rows[e].append((cord[e] + at * 1.4682 / index[e], says, '' if panel and not here else f'{shown:.3f}'))
                        total, variance = total + float(f'{shown:.3f}'), variance + noise ** 2 + (.03 * true) ** 2 / 3
                    if not (unread or short or e in gone):
                        point['seen'][e], point['var'][e] = total, variance
                POINTS.update({(o['name'], nm): point for o in group})
        for e, old in [(e, old) for e in ends for old in [0] + [1] * (rng.random() < .05)]:      # an older reading does not count
            for at, kind, loss in rows[e]:
                loss = f'{float(loss) + rng.uniform(-.3, .3):.3f}' if old and loss else loss
                put('readings', **{'from': sites[e]}, link=link, wavelength_nm=nm, km=f'{at:.5f}', kind=kind, loss_db=loss,
                    sd_db=f'{noise:.5f}' if said else '', index=f'{index[e]:.6f}' if stated[e] else '', pulse_ns=pulse[e],
                    sample_m=.5, dead_m=dead[e], tested_at='2026-04-01' if old else '2026-04-02T10:00')
def cause_of(name):
    """The cause by the truth, and how many standard deviations it is past all that could turn it."""
    one, read_by = JOINTS[name], [POINTS[name, nm] for nm in NMS if (name, nm) in POINTS]
    points = [p for p in read_by if len(p['seen']) == 2]
    if any(len(p['seen']) == 1 for p in read_by) and (read_by[0]['accept'] or not points):
        return None if read_by[0]['accept'] else 'one-end', 99
    if not points:
        return 'not read', 99
    several, margin = ', merged' if len(points[0]['group']) > 1 else '', 99
    for p in points:
        p['sd'] = math.sqrt(sum(p['var'].values())) / 2
        p['is'], p['stepped'] = p['loss'] + p['moved'] / 2, p['step'] - p['moved'] / 2
        p['past'] = max((-.05 - p['is']) / p['sd'], -99 if p['two'] else (abs(p['stepped']) - .7) / p['sd'])
        margin = 0 if p['panel'] and abs(p['stepped']) > .6 else margin      # nobody knows the cord's category
    most = max(p['past'] for p in points)
    if most > 0:
        return 'two-fibres' + several, min(margin, most)
    margin = min(margin, -most)
    low = next((p for p in points if p['nm'] == 1310), None)
    for p in points:
        over, sd, sides, cause = p['is'] - p['limit'], p['sd'], [99], None
        if low and p is not low:
            sd_bend = math.hypot(sd, low['sd'])
            bend = p['is'] - low['is'] - max(.1, 3 * sd_bend)
            cause, sides = 'bend' if bend > 0 else None, [abs(bend) / sd_bend]
        less, drawn = p['is'] - 2 * mismatch(p['stepped']), sum(p['seen'].values()) / 2 - p['limit']
        if not cause and several and over > 0:
            cause, sides = 'merged', sides + [over / sd]
        elif not cause and abs(over) <= 1.96 * sd:      # never 3 sd inside: planted if what was drawn is well inside
            cause, sides = 'read-again', sides + [99 if abs(drawn) < 1.7 * sd and not several else 0]
        elif not cause:
            sides.append(abs(over) / sd - 1.96)
        if not cause and over > 0:
            cause, sides = 'offset' if less > 0 else 'mismatch', sides + [abs(less) / (sd * math.hypot(1, .92 * p['stepped']))]
        p.update(over=over, cause=cause or ('estimate-only' + several if one['est'] > one['limit'] else 'good'), margin=min(sides))
    first = max(points, key=lambda p: p['over'])
    rivals = [(first['over'] - p['over']) / math.hypot(p['sd'], first['sd']) for p in points if p['cause'] != first['cause']]
    if len(points) < len([p for p in read_by if p['seen']]) and all(p['cause'] != 'bend' for p in points):
        margin = min([margin] + [abs(p['over']) / p['sd'] for p in points])     # what is not known is worse than what is within
        if first['over'] <= 0:
            return 'one-end', margin
    return first['cause'], min([margin] + [p['margin'] for p in points if p['cause'] == first['cause']] + rivals)
def read(path):
    with open(path, newline='') as file:
        return list(csv.DictReader(file, delimiter='\t', quoting=csv.QUOTE_NONE))
def compare(folder):
    """Lists of figures: errors, and whether something is as it was planted; and what is not."""
    figures, wrong, heard = collections.defaultdict(list), [], set()
    for row in read(f'{folder}/twoway'):
        p = POINTS.get((row['joint'], int(row['wavelength_nm'])))
        if not p:
            continue
        several, both, got = len(p['group']) > 1, len(p['seen']) == 2, row['basis'] in ('two-way', 'merged')
        right = both == got and (row['basis'] == 'merged') == (got and several)
        figures['basis as planted'].append(right)
        wrong += [] if right else [('basis', row['joint'], p['nm'], row['basis'], *p['seen'])]
        heard |= {(row['joint'], p['nm'])} if both and got else set()
        if both and got and p['group'][0]['name'] == row['joint']:     # a group counts once
            for key, true in ('loss', p['loss'] + p['moved'] / 2), ('step', p['step'] - p['moved'] / 2):
                error, sd = float(row[f'{key}_db']) - true, float(row['sd_db' if key == 'loss' else 'step_sd_db'])
                key += ' of merged' if several else ''
                figures[f'{key}, error'].append(error)
                figures[f'{key}, within 1.96 sd'].append(abs(error) <= 1.96 * sd)
    figures['read from both ends, and told so'] = [key in heard for key, p in POINTS.items() if len(p['seen']) == 2]
    for row in read(f'{folder}/filled'):
        p = row['loss_nm'] and POINTS.get((row['joint'], int(row['loss_nm'])))
        if p and row['loss_db'] and len(p['seen']) == 2:
            seen = p['seen'][JOINTS[row['joint']]['reversed']]
            figures['filled as seen from side a'].append(abs(float(row['loss_ab_db']) - seen) < 2e-6)
    return figures, wrong
def main():
    binaries, folder, seed, links = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
    rng = random.Random(seed)
    for number in range(links):
        make_link(rng, number)
    rng.shuffle(TABLES['readings'])
    for name, rows in TABLES.items():
        with open(f'{folder}/{name}', 'w') as file:
            file.writelines('\t'.join(row) + '\n' for row in [NAMES[name].split()] + rows)
    common = '--links links --elements elements --plan plan'
    for line in (f'thrum-twoway {common} --fill joints --filled filled --findings findings -o twoway readings',
                 f'thrum-rework {common} --stage tested --twoway twoway --twoway-faults findings -o rework joints'):
        if subprocess.run([f'{binaries}/{line.split()[0]}'] + line.split()[1:], cwd=folder, stderr=subprocess.DEVNULL).returncode > 1:
            sys.exit(f'trouble: {line}')
    figures, wrong = compare(folder)
    told, tables = {row['joint']: row['cause'] for row in read(f'{folder}/rework')}, [collections.Counter(), collections.Counter()]
    for name, (planted, margin) in [(name, cause_of(name)) for name in JOINTS if cause_of(name)[0]]:
        tables[margin < 3][planted, told.get(name, '-')] += 1
        if margin >= 3 and told.get(name, '-') != RIGHT.get(planted, planted):
            wrong.append(('cause', name, planted, told.get(name, '-'), round(margin, 1)))
    print(f'{len(JOINTS)} joints on {links} links, {len(TABLES["readings"])} rows of readings:\n')
    print('| what | values | mean or share |\n|---|--:|--:|')
    bad = []
    for key, values in sorted(figures.items()):
        mean = sum(values) / len(values)
        print(f'| {key} | {len(values)} | {mean:.5f} |')
        good = abs(mean) < .002 if 'error' in key else .935 < mean < .975 if 'within' in key else mean > .995
        bad += [] if good else [key]
    for title, table in zip(('3 standard deviations or more past what decides:', 'Nearer:'), tables):
        heads = sorted({cause for _, cause in table})
        print(f'\n{title}\n\n| planted | ' + ' | '.join(heads) + ' |\n|---|' + '--:|' * len(heads))
        for row in sorted({planted for planted, _ in table}):
            print(f'| {row} | ' + ' | '.join(str(table[row, head] or '') for head in heads) + ' |')
            right, all_told = table[row, RIGHT.get(row, row)], sum(table[row, head] for head in heads)
            bad += [row] * (table is tables[0] and row not in UNDECIDED and right < .99 * all_told)
    print(*(' '.join(map(str, one)) for one in wrong + [('bad', *bad)] * bool(bad)), sep='\n', file=sys.stderr)
    sys.exit(bool(bad))
main()
