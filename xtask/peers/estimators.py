"""General f0 libraries, each with its documented settings, 60 to 1100 Hz, a row every 5 ms.

Every estimator takes (samples, rate) and gives (time, f0 or 0, available); `available` is nan where the method looks at the
whole take. Stamps are set right by `lag`, measured on a glide of known f0, for all in the same way.
"""

import aubio
import librosa
import numpy as np
import parselmouth
import pyworld
import swift_f0

LOW, HIGH, HOP_S = 60.0, 1100.0, 0.005
# aubio's documented gate is -90 dB, which lets everything through; a quiet voice here has -50 dBFS.
AUBIO_GATE_DB = -70.0


def whole(t, f0):
    return np.asarray(t, float), np.asarray(f0, float), np.full(len(t), np.nan)


def aubio_rows(method, samples, rate):
    hop, window = round(HOP_S * rate), 2048 if rate > 30000 else 1024
    window = 4096 if rate > 60000 else window
    pitch = aubio.pitch(method, window, hop, rate)
    pitch.set_unit("Hz")
    pitch.set_silence(AUBIO_GATE_DB)
    x = np.ascontiguousarray(samples, np.float32)
    n = len(x) // hop
    f0 = np.array([pitch(x[i * hop : (i + 1) * hop])[0] for i in range(n)])
    available = (np.arange(n) + 1) * hop / rate
    return available.copy(), np.where((f0 >= LOW) & (f0 <= HIGH), f0, 0.0), available


def praat_rows(method, samples, rate):
    sound = parselmouth.Sound(samples, rate)
    make = sound.to_pitch_ac if method == "ac" else sound.to_pitch_cc
    pitch = make(time_step=HOP_S, pitch_floor=LOW, pitch_ceiling=HIGH)
    return whole(pitch.xs(), pitch.selected_array["frequency"])


def world_rows(method, samples, rate):
    x = np.ascontiguousarray(samples, float)
    first = pyworld.harvest if method == "harvest" else pyworld.dio
    f0, t = first(x, rate, f0_floor=LOW, f0_ceil=HIGH, frame_period=1000 * HOP_S)
    return whole(t, pyworld.stonemask(x, f0, t, rate) if method != "harvest" else f0)


def at_22050(samples, rate):
    return librosa.resample(np.asarray(samples, np.float32), orig_sr=rate, target_sr=22050, res_type="soxr_hq")


def pyin_rows(samples, rate):
    f0, voiced, _ = librosa.pyin(samples, fmin=LOW, fmax=HIGH, sr=rate, frame_length=2048, hop_length=110)
    return whole(np.arange(len(f0)) * 110 / rate, np.where(voiced & np.isfinite(f0), np.nan_to_num(f0), 0.0))


def yin_rows(samples, rate):
    f0 = librosa.yin(samples, fmin=LOW, fmax=HIGH, sr=rate, frame_length=1024, hop_length=110)
    return whole(np.arange(len(f0)) * 110 / rate, f0)


def swift_rows(detector, samples, rate):
    found = detector.detect(np.asarray(samples, np.float32), rate)
    ok = (found.confidence >= 0.5) & (found.pitch_hz >= LOW) & (found.pitch_hz <= HIGH)
    return whole(found.timestamps, np.where(ok, found.pitch_hz, 0.0))


def all_estimators():
    """(name, prepare, run): preparing (resampling) is not counted."""
    same = lambda x, r: (x, r)
    down = lambda x, r: (at_22050(x, r), 22050)
    low = lambda x, r: (librosa.resample(np.asarray(x, np.float32), orig_sr=r, target_sr=16000, res_type="soxr_hq"), 16000)
    detector = swift_f0.SwiftF0(threads=1)
    return [
        ("aubio, yinfft (real time)", same, lambda x, r: aubio_rows("yinfft", x, r)),
        ("aubio, yinfast (real time)", same, lambda x, r: aubio_rows("yinfast", x, r)),
        ("praat-parselmouth, autocorrelation", same, lambda x, r: praat_rows("ac", x, r)),
        ("praat-parselmouth, cross-correlation", same, lambda x, r: praat_rows("cc", x, r)),
        ("swift-f0", low, lambda x, r: swift_rows(detector, x, r)),
        ("WORLD Harvest (pyworld)", same, lambda x, r: world_rows("harvest", x, r)),
        ("WORLD DIO + StoneMask (pyworld)", same, lambda x, r: world_rows("dio", x, r)),
        ("librosa pYIN", down, pyin_rows),
        ("librosa YIN (no voicing decision)", down, yin_rows),
    ]


def lag(run, prepare, rate=48000):
    """Seconds by which an estimator's stamps are late, on a sound whose f0 swings slowly about 220 Hz."""
    t = np.arange(4 * rate) / rate
    hz = lambda s: 220 * 2 ** (0.5 * np.sin(2 * np.pi * 0.5 * s))
    phase = 2 * np.pi * np.cumsum(hz(t)) / rate
    sound = 0.2 * sum(np.sin(k * phase) / k for k in range(1, 12))
    et, ef, _ = run(*prepare(sound, rate))
    inside = (ef > 0) & (et > 0.3) & (et < 3.7)
    grid = np.arange(-0.06, 0.0601, 0.0005)
    miss = [np.median(np.abs(1200 * np.log2(ef[inside] / hz(et[inside] - s)))) for s in grid]
    return float(grid[int(np.argmin(miss))])
