"""Figures of f0 rows against a clip's truth: one set of definitions for every estimator.

Truth: NAME.f0.csv (time_s, f0_hz, state every 5 ms; `uncertain` is not scored), NAME.notes.csv where there is one.
Rows: (time, f0 or 0, available), seconds and hertz. At a truth instant the estimate is the nearest previous row within
15 ms, interpolated in cents to the next voiced one no more than 15 ms away. RPA n: share of truth-voiced frames called
voiced and within n cents. mir_eval's raw pitch and chroma accuracy, voicing and overall accuracy stand beside them.
"""

import csv
import mir_eval
import numpy as np

HOLD_S = 0.015
BLANK = 1e-6


def rows(path):
    with open(path, newline="") as f:
        return list(csv.DictReader(f))


def truth(path):
    r = rows(path)
    return (np.array([float(x["time_s"]) for x in r]), np.array([float(x["f0_hz"]) for x in r]), np.array([x["state"] for x in r]))


def at_truth_times(est, t):
    """f0 at the truth's instants, 0 where unvoiced."""
    et, ef = est[0], est[1]
    if len(et) == 0:
        return np.zeros(len(t))
    i = np.searchsorted(et, t + BLANK, side="right") - 1
    ok = (i >= 0) & (t - et[np.maximum(i, 0)] <= HOLD_S + BLANK)
    i = np.maximum(i, 0)
    j = np.minimum(i + 1, len(et) - 1)
    a, b, gap = ef[i], ef[j], et[j] - et[i]
    joined = (gap > 0) & (gap <= HOLD_S + BLANK) & (b > 0) & (a > 0)
    way = np.where(joined, np.clip((t - et[i]) / np.maximum(gap, 1e-9), 0, 1), 0)
    f = np.where(a > 0, np.maximum(a, 1e-9) ** (1 - way) * np.where(joined, b, 1.0) ** way, 0.0)
    return np.where(ok, f, 0.0)


def first_right(truth_rows, est):
    """Seconds from each onset after 0.1 s of rest to the first lasting right reading that is available."""
    t, f0, state = truth_rows
    et, ef, avail = est
    ref = np.interp(et, t, f0)
    with np.errstate(divide="ignore", invalid="ignore"):
        err = np.where((ef > 0) & (ref > 0), np.abs(1200 * np.log2(ef / ref)), np.inf)
    sounding, out, quiet, i = state != "unvoiced", [], t[0], 0
    while i < len(t):
        if not sounding[i]:
            i += 1
            continue
        j = i
        while j < len(t) and sounding[j]:
            j += 1
        v = np.flatnonzero(state[i:j] == "voiced")
        if len(v) and t[i] - quiet >= 0.1 - BLANK:
            on, end, got = t[i + v[0]], t[j - 1], np.nan
            for k in np.flatnonzero((et >= on - BLANK) & (et <= end) & (err <= 25)):
                after = (et > et[k]) & (et <= min(et[k] + 0.05, end) + BLANK)
                if np.all(err[after] <= 50):
                    got = avail[k] - on
                    break
            out.append(got)
        quiet = t[j] if j < len(t) else t[-1]
        i = j
    return out


def facts(truth_rows, notes, est):
    """What one clip adds to the figures."""
    t, f0, state = truth_rows
    f = at_truth_times(est, t)
    v, u = state == "voiced", state == "unvoiced"
    with np.errstate(divide="ignore", invalid="ignore"):
        err = np.where(v & (f > 0) & (f0 > 0), 1200 * np.log2(f / np.where(f0 > 0, f0, 1)), np.nan)
    held = np.zeros(len(t), bool)
    for n in notes:
        if n["kind"] == "held":
            a, b = float(n["start_s"]), float(n["end_s"])
            m = min(0.15, 0.25 * (b - a))
            held |= (t >= a + m) & (t <= b - m)
    scored = v | u
    return dict(
        err=err[v], held=err[v & held], false=f[u] > 0, late=est[2] - est[0], first=first_right(truth_rows, est),
        ref=np.where(v, f0, 0.0)[scored], est=f[scored],
    )


def figures(all_facts):
    join = lambda k: np.concatenate([np.asarray(f[k], float) for f in all_facts]) if all_facts else np.zeros(0)
    err, held, false, late, first = (join(k) for k in ("err", "held", "false", "late", "first"))
    found = err[np.isfinite(err)]
    near = np.abs(found[np.abs(found) <= 50])
    share = lambda x: 100 * np.sum(x) / max(len(err), 1)
    octave = (np.abs(found) > 50) & (np.abs(found - 1200 * np.round(found / 1200)) <= 50)
    late, first = late[np.isfinite(late)], first[np.isfinite(first)]
    pct = lambda x, q: float(np.percentile(x, q)) if len(x) else None
    # mir_eval on the same instants, so that nothing is resampled twice.
    ref, est = join("ref"), join("est")
    to_cents = mir_eval.melody.hz2cents
    rv, ev = ref > 0, est > 0
    rc, ec = to_cents(ref), to_cents(est)
    recall, alarm = mir_eval.melody.voicing_measures(rv, ev)
    return dict(
        **{f"rpa{n}": share(np.abs(found) <= n) for n in (50, 25, 10, 5)},
        recall=share(np.isfinite(err)), alarm=100 * float(np.mean(false)) if len(false) else None, octave=share(octave),
        median=pct(near, 50), p95=pct(near, 95), held=pct(np.abs(held[np.isfinite(held)]), 50),
        late=pct(late * 1000, 50), first=pct(first * 1000, 50), first95=pct(first * 1000, 95),
        mir_overall=100 * mir_eval.melody.overall_accuracy(rv, rc, ev, ec),
        mir_rpa=100 * mir_eval.melody.raw_pitch_accuracy(rv, rc, ev, ec),
        mir_rca=100 * mir_eval.melody.raw_chroma_accuracy(rv, rc, ev, ec),
        mir_recall=100 * recall, mir_alarm=100 * alarm,
    )


def note_scores(ref, est):
    """mir_eval's note metrics of two lists of (start, end, hertz): onset within 50 ms and pitch within 50 cents; then with
    the end as well (within 20 % of the length or 50 ms)."""
    if not ref or not est:
        return None
    split = lambda notes: (np.array([n[:2] for n in notes]), np.array([n[2] for n in notes]))
    (ri, rp), (ei, ep) = split(ref), split(est)
    score = mir_eval.transcription.precision_recall_f1_overlap
    onset = score(ri, rp, ei, ep, offset_ratio=None)
    whole = score(ri, rp, ei, ep)
    return dict(precision=onset[0], recall=onset[1], f1=onset[2], f1_end=whole[2], overlap=whole[3])
