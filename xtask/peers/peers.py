"""Ours beside general f0 libraries on a folder of clips: one table, with processor time.

    peers.py FOLDER OURS COST ALONE OUT.md [--without-drone] [--only-ours]

FOLDER: NAME.flac with NAME.f0.csv (truth), and NAME.json (`class`, `tonic_hz`) and NAME.notes.csv where there are some.
OURS: the take checker; COST: the example that runs the listening chain on sound in memory; ALONE: the one that runs the tracker
by itself.
"""

import argparse
import datetime
import json
import os
import resource
import subprocess
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile

import estimators
import figures

DRONE = ("bleed_string", "bleed_reed", "late_bleed", "drone_only", "tonic", "long_hold")
OURS = "Achala (real time)"
TOLD = "Achala, told what drone it sends (real time)"
ALONE = "Achala without what takes drones out (real time)"
# Clips with a short way to go count once more for the cost of the chain: the longer, the less start-up counts.
COST_TIMES = (1, 6)


def clips(folder, without_drone):
    out = []
    for path in sorted(Path(folder).glob("*.f0.csv")):
        name = path.name[: -len(".f0.csv")]
        about = json.loads((path.parent / f"{name}.json").read_text()) if (path.parent / f"{name}.json").exists() else {}
        notes = path.parent / f"{name}.notes.csv"
        clip = dict(name=name, sound=path.parent / f"{name}.flac", truth=figures.truth(path), tonic=about.get("tonic_hz") or 200.0)
        drone = path.parent / f"{name}.drone.flac"
        clip["drone"] = drone if drone.exists() else None
        played = about.get("drone") or {}
        clip.update(played=played.get("kind"), level=played.get("level_db"))
        clip.update(kind=about.get("class", ""), notes=figures.rows(notes) if notes.exists() else [])
        annotated = path.parent / f"{name}.f0-annotated.csv"
        by_hand = path.parent / f"{name}.notes-annotated.csv"
        clip["by_hand"] = figures.rows(by_hand) if by_hand.exists() else []
        clip["annotated"] = figures.truth(annotated) if annotated.exists() else None
        if not (without_drone and clip["kind"] in DRONE):
            out.append(clip)
    return out


def ours(program, clip, folder):
    quiet = dict(check=True, stdout=subprocess.DEVNULL)
    subprocess.run([program, "check", clip["sound"], "--tonic", f"{clip['tonic']}Hz", "--out", folder], **quiet)
    clip["ours_notes"] = figures.rows(Path(folder) / f"{clip['name']}.notes.csv")
    return traced(program, clip, folder, False)


def chain_cost(program, takes):
    """Processor time of the listening chain per second of sound; a take may name its drone: TAKE=DRONE."""
    few, many = COST_TIMES
    seconds = sum(soundfile.info(t.split("=")[0]).duration for t in takes)
    return (user_seconds([program, str(many), *takes]) - user_seconds([program, str(few), *takes])) / (many - few) / seconds


def user_now():
    """Processor time of this process in user mode so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_utime


def user_seconds(command):
    """Processor time of a child in user mode."""
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(child.pid, 0)
    if status:
        raise SystemExit(f"{command[0]} failed")
    return used.ru_utime


def traced(program, clip, folder, told):
    table = Path(folder) / f"{clip['name']}.csv"
    known = ["--known-drone", clip["drone"]] if told and clip["drone"] else []
    subprocess.run([program, "trace", clip["sound"], "--tonic", f"{clip['tonic']}Hz", *known, "--csv", table], check=True)
    r = figures.rows(table)
    column = lambda k: np.array([float(x[k] or 0) for x in r])
    return column("time_s"), np.where(column("voiced") > 0.5, column("f0_hz"), 0.0), column("available_s")


def by_itself(program, clip):
    lines = subprocess.run([program, clip["sound"]], check=True, capture_output=True, text=True).stdout.splitlines()
    r = list(figures.csv.DictReader(lines))
    column = lambda k: np.array([float(x[k] or 0) for x in r])
    return column("time_s"), np.where(column("voiced") > 0.5, column("f0_hz"), 0.0), column("available_s")


def measured(args, takes):
    """name -> (facts per clip, seconds of processor time per second of sound, lag)"""
    seconds = sum(soundfile.info(c["sound"]).duration for c in takes)
    rows = {}
    with tempfile.TemporaryDirectory() as folder:
        found = [ours(args.ours, c, folder) for c in takes]
    rows[OURS] = (found, chain_cost(args.cost, [str(c["sound"]) for c in takes]), 0.0)
    with_drone = [c for c in takes if c["drone"]]
    if with_drone:
        with tempfile.TemporaryDirectory() as folder:
            told = [traced(args.ours, c, folder, True) if c["drone"] else f for c, f in zip(takes, found)]
        rows[TOLD] = (told, chain_cost(args.cost, [f"{c['sound']}={c['drone']}" for c in with_drone]), 0.0)
        rows[ALONE] = ([by_itself(args.alone, c) for c in takes], None, 0.0)
    for name, prepare, run in [] if args.only_ours else estimators.all_estimators():
        late = estimators.lag(run, prepare)
        found, used = [], 0.0
        for clip in takes:
            x, rate = soundfile.read(clip["sound"])
            x, rate = prepare(x, rate)
            start = user_now()
            t, f0, available = run(x, rate)
            used += user_now() - start
            found.append((t - late, f0, available))
        rows[name] = (found, used / seconds, late)
        print(f"{name}: stamps {1000 * late:+.1f} ms, {used / seconds:.4f} s per s", flush=True)
    return rows


def aubio_at_its_own_hop(takes):
    """Processor time of aubio yinfft per second of sound at its default hop of 512 samples, twice as seldom as ours."""
    used = seconds = 0.0
    for clip in takes:
        x, rate = soundfile.read(clip["sound"])
        start = user_now()
        estimators.aubio_rows("yinfft", x, rate, 512)
        used += user_now() - start
        seconds += len(x) / rate
    return used / seconds


def cell(x, digits):
    return "" if x is None else f"{x:.{digits}f}"


COLUMNS = [
    ("RPA50", "rpa50", 1), ("RPA25", "rpa25", 1), ("RPA10", "rpa10", 1), ("RPA5", "rpa5", 1), ("voicing recall", "recall", 1),
    ("false alarm", "alarm", 1), ("octave", "octave", 2), ("median c", "median", 2), ("p95 c", "p95", 1), ("held c", "held", 2),
    ("latency ms", "late", 0), ("first right ms", "first", 0), ("p95 ms", "first95", 0),
]
MIR = [("overall accuracy", "mir_overall", 2), ("raw pitch", "mir_rpa", 2), ("raw chroma", "mir_rca", 2),
       ("voicing recall", "mir_recall", 2), ("voicing false alarm", "mir_alarm", 2)]


def table(head, body):
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    return lines + ["| " + " | ".join(row) + " |" for row in body]


def scored(rows, takes, truth="truth", notes=True):
    out = {}
    for name, (found, _, _) in rows.items():
        pairs = [(c, est) for c, est in zip(takes, found) if c[truth] is not None]
        out[name] = figures.figures([figures.facts(c[truth], c["notes"] if notes else [], est) for c, est in pairs])
    return out


def frame_tables(rows, takes, title, truth="truth"):
    result = scored(rows, takes, truth)
    order = sorted(result, key=lambda n: -result[n]["rpa25"])
    body = [[n] + [cell(result[n][k], d) for _, k, d in COLUMNS] + [cell(rows[n][1], 4)] for n in order]
    mir = [[n] + [cell(result[n][k], d) for _, k, d in MIR] for n in order]
    return ["", f"## {title}", ""] + table(["estimator"] + [h for h, _, _ in COLUMNS] + ["CPU"], body) + [
        "", "The same rows by mir_eval's melody metrics (50 cents):", ""] + table(["estimator"] + [h for h, _, _ in MIR], mir)


def from_second(clip, est, start):
    """The clip's facts from an instant on."""
    t, f0, state = clip["truth"]
    late = t >= start
    return figures.facts((t[late], f0[late], state[late]), clip["notes"], est)


def drone_tables(rows, takes):
    """RPA25 over voices, and false alarm, by what drone sounds how loud: from the first second on, and from the start."""
    cells = [(f"{name} {kind}", "rpa25", lambda c, k=kind, low=low, high=high: c["kind"].startswith("bleed") and c["played"] == k and low < c["level"] <= high)
             for kind in ("string", "reed") for name, low, high in (("<= -12 dB,", -99, -12), ("-6 dB,", -7, -5), ("0 dB,", -1, 1))]
    for kind in ("string", "reed"):
        cells.append((f"false alarm, {kind}", "alarm", lambda c, k=kind: c["kind"].startswith("bleed") and c["played"] == k))
        cells.append((f"alone, {kind}", "alarm", lambda c, k=kind: c["kind"] == "drone_only" and c["played"] == k))
    cells += [("late", "rpa25", lambda c: c["kind"] == "late_bleed"), ("false alarm, late", "alarm", lambda c: c["kind"] == "late_bleed")]
    lines = []
    for start, title in ((1.0, "from the first second on"), (0.0, "from the start")):
        body = []
        for name, (found, _, _) in rows.items():
            means = []
            for _, key, belongs in cells:
                each = [figures.figures([from_second(c, est, start)])[key] for c, est in zip(takes, found) if belongs(c)]
                means.append(cell(float(np.mean(each)) if each else None, 1))
            body.append([name] + means)
        lines += ["", f"### By drone and level, means over clips, {title}: RPA25, and false alarm", ""] + table(["estimator"] + [c[0] for c in cells], body)
    return lines


def more_drone_tables(rows, takes):
    """What held notes, long holds and long takes with a drone come to: error, cents, and shares, percent."""
    by = lambda kind: [(k, lambda c, k=k: c["kind"] == kind and c["played"] == k) for k in ("string", "reed")]
    at_12 = [(k, lambda c, k=k: c["kind"].startswith("bleed") and c["played"] == k and c["level"] == -12) for k in ("string", "reed")]
    cells = [(f"held c, -12 dB, {k}", "held", 1.0, 2, of) for k, of in at_12]
    cells += [(f"long hold, voiced, {k}", "recall", 1.0, 2, of) for k, of in by("long_hold")]
    cells += [(f"45 s from 15 s, {what}, {k}", key, 15.0, 1, of) for k, of in by("tonic") for what, key in (("RPA25", "rpa25"), ("false alarm", "alarm"))]
    body = []
    for name, (found, _, _) in rows.items():
        means = []
        for _, key, start, digits, belongs in cells:
            each = [figures.figures([from_second(c, est, start)])[key] for c, est in zip(takes, found) if belongs(c)]
            each = [x for x in each if x is not None]
            means.append(cell(float(np.mean(each)) if each else None, digits))
        body.append([name] + means)
    return ["", "### Held notes, long holds and long takes beside a drone", ""] + table(["estimator"] + [c[0] for c in cells], body)


NAMES = dict(S=1, R1=16 / 15, R2=9 / 8, G1=9 / 8, R3=6 / 5, G2=6 / 5, G3=5 / 4, M1=4 / 3, M2=45 / 32, P=3 / 2, D1=8 / 5,
             D2=5 / 3, N1=5 / 3, D3=9 / 5, N2=9 / 5, N3=15 / 8)
NOTE_HEAD = ["precision", "recall", "F1", "F1 with the end", "overlap"]


def placed(note, tonic, shift=0.0):
    """(start, end, hertz) of a note; one that moves has no cents and stands at its swara."""
    cents = 1200 * int(note["octave"]) + float(note["cents"] or 0)
    return float(note["start_s"]) + shift, float(note["end_s"]) + shift, tonic * NAMES[note["swara"]] * 2 ** (cents / 1200)


def note_cells(found):
    return [f"{100 * found[k]:.1f}" for k in ("precision", "recall", "f1", "f1_end")] + [f"{found['overlap']:.3f}"]


def note_table(takes):
    """Ours by mir_eval's note metrics; the peers give no notes."""
    ref, est = [], []
    for i, clip in enumerate(takes):
        row = lambda n: placed(n, clip["tonic"], 1000.0 * i)
        ref += [row(n) for n in clip["notes"] if n["kind"] == "held"]
        est += [row(n) for n in clip["ours_notes"] if n["kind"] == "held"]
    found = figures.note_scores(ref, est)
    if not found:
        return []
    title = "Held notes by mir_eval's note metrics (ours; onset within 50 ms, pitch within 50 cents)"
    return ["", f"## {title}", ""] + table(NOTE_HEAD, [note_cells(found)])


def by_hand_table(takes):
    """Notes against annotators who worked by hand, and one annotator against another, for scale."""
    body = []
    for clip in takes:
        people = sorted({n["annotator"] for n in clip["by_hand"]})
        notes = {p: [(float(n["start_s"]), float(n["end_s"]), float(n["annotated_hz"])) for n in clip["by_hand"]
                     if n["annotator"] == p] for p in people}
        notes["ours, all kinds"] = [placed(n, clip["tonic"]) for n in clip["ours_notes"]]
        pairs = [(p, "ours, all kinds") for p in people] + [(a, b) for a in people for b in people if a < b]
        body += [[clip["name"], f"{a} / {b}"] + note_cells(figures.note_scores(notes[a], notes[b])) for a, b in pairs]
    if not body:
        return []
    return ["", "## Notes against annotators (mir_eval, as above)", ""] + table(["clip", "reference / estimate"] + NOTE_HEAD, body)


def main():
    p = argparse.ArgumentParser()
    for word in ("folder", "ours", "cost", "alone", "out"):
        p.add_argument(word)
    p.add_argument("--without-drone", action="store_true")
    p.add_argument("--only-ours", action="store_true", help="our own rows beside drones alone, to bring a recorded table up to date")
    args = p.parse_args()
    takes = clips(args.folder, args.without_drone)
    if not takes:
        raise SystemExit(f"{args.folder}: no NAME.f0.csv beside a NAME.flac")
    start = time.time()
    rows = measured(args, takes)
    if args.only_ours:
        lines = drone_tables(rows, takes) + more_drone_tables(rows, takes)
        Path(args.out).write_text("\n".join(lines) + "\n")
        print("\n".join(lines))
        return
    own = rows[OURS][1] / aubio_at_its_own_hop(takes)
    ratio = rows[OURS][1] / rows["aubio, yinfft (real time)"][1]
    plain = [i for i, c in enumerate(takes) if c["kind"] not in DRONE]
    pick = lambda some, rows=rows: ({n: ([r[0][i] for i in some], *r[1:]) for n, r in rows.items()}, [takes[i] for i in some])
    lines = [f"{datetime.date.today()}, {len(takes)} clips, {sum(soundfile.info(c['sound']).duration for c in takes):.0f} s. "
             "Shares in percent of truly voiced (false alarm: unvoiced) frames; error and held in cents, of frames within 50; CPU in "
             "seconds of user time per second of sound, one thread, everything loaded. First right counts only for "
             "estimators that work in real time. Stamps of every peer were set right on a glide of known f0."]
    if plain:
        untold = {n: r for n, r in rows.items() if n not in (TOLD, ALONE)}
        lines += frame_tables(*pick(plain, untold), "Without a drone")
    for title, kinds in (("With a drone in the microphone (of which the others cannot be told)", DRONE[:3] + DRONE[4:]), ("A drone alone", DRONE[3:4])):
        some = [i for i, c in enumerate(takes) if c["kind"] in kinds]
        if some:
            lines += frame_tables(*pick(some), title)
    some = [i for i, c in enumerate(takes) if c["kind"].startswith("bleed") or c["kind"] in ("drone_only", "late_bleed")]
    if some:
        lines += drone_tables(*pick(some))
        lines += more_drone_tables(rows, takes)
    some = [i for i, c in enumerate(takes) if c["annotated"] is not None]
    if some:
        lines += frame_tables(*pick(some), "Against the published annotation", "annotated")
    lines += note_table([c for c in takes if c["notes"]])
    lines += by_hand_table([c for c in takes if c["by_hand"]])
    lines += ["", f"Processor time of the whole listening chain over that of aubio yinfft in this run: {ratio:.2f} "
              f"with a row every 5 ms from both, {own:.2f} with aubio's default hop of 512 samples"
              + (f"; with a known drone {own * rows[TOLD][1] / rows[OURS][1]:.2f}." if TOLD in rows else ".")]
    Path(args.out).write_text("\n".join(lines) + "\n")
    print("\n".join(lines) + f"\n\n{time.time() - start:.0f} s; written to {args.out}")


if __name__ == "__main__":
    main()
