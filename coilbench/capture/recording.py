"""Count sparks per pulse in a sound file: a phone beside the gap, or a loop of wire near the plug lead into a microphone
input.

A spark is a click far shorter than anything else a bench makes. The recording is high-passed, its envelope taken, and the
clicks are the envelope's sudden peaks. Their usual height is that of a pulse's loudest spark; a click from `STRONG` of it
on is a spark, one between `FAINT` and `STRONG` may be a weak spark or an echo and widens the stated limits. Pulses follow
each other at even gaps; where the person says the speed, that is the gap, else it is the commonest one, and then every
second pulse might as well be empty.

What cannot be told is refused: see `listen`. Nothing here has met a real coil: `sound_trial` judges it on imagined
recordings.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from scipy.io import wavfile
from scipy.ndimage import maximum_filter1d, uniform_filter1d
from scipy.signal import butter, sosfiltfilt

from coilbench.sheet import whole_file

MAX_BYTES = 300_000_000
LONGEST = 60.0  # s that are listened to
SHORTEST = 0.5  # s
FEWEST = 15  # pulses
LOWEST_RATE = 16_000  # samples a second: with fewer, two sparks 0.7 ms apart are one click
BAND = 2500.0, 16_000.0  # Hz in which a click is sought: voices and engines are mostly lower
APART = 4.5e-4  # s between two clicks that can be told apart
STRONG, FAINT = 0.40, 0.22  # of the usual loudest click: the amplitude goes with the root of the energy
ABOVE = 5.0  # times the background that a click must be
BLUNT = 6e-4  # s over which the mean click stays above a third of its height; longer ones are blurred
CLIPPED = 0.08  # share of pulses whose click is cut off at the top
EVEN = 0.12  # of a pulse: how far a gap may lie off a whole number of pulses
STEADY = 0.9  # share of the gaps that must be even
STRAY = 0.06  # loud clicks a pulse where none belongs; more is noise
WIDE = 0.3  # sparks a pulse: wider limits are no count
PULSE = 2.4e-3, 40e-3  # s between pulses that are sought


@dataclass(frozen=True)
class Sound:
    """A recording: its samples (shape: channels, samples; -1 to 1), samples a second, and which samples are cut off at
    the top."""

    rate: int
    samples: np.ndarray
    clipped: np.ndarray = field(repr=False)


@dataclass(frozen=True)
class Heard:
    """What was counted: sparks a pulse with limits (meant as 95 %, not yet counted out), pulses, s from pulse to pulse,
    and what is to be said beside."""

    count: float
    low: float
    high: float
    pulses: int
    gap: float
    told: bool  # the person said the speed
    sentences: tuple[str, ...] = ()

    def rpm(self, pole_pairs: int) -> float:
        """Return the crank speed that the gap between pulses means."""
        return 30.0 / (pole_pairs * self.gap)


def is_sound(path: Path) -> bool:
    """Return whether the file at `path` is named or begins like a sound file."""
    if path.suffix.lower() in (".wav", ".wave", ".mp3", ".m4a", ".aac", ".ogg", ".opus", ".flac", ".wma", ".amr", ".3gp"):
        return True
    try:
        if not path.is_file():
            return False
        with path.open("rb") as file:
            return file.read(4) in (b"RIFF", b"RIFX", b"RF64", b"OggS", b"fLaC", b"ID3\x03", b"ID3\x04")
    except OSError:
        return False


def read_sound(path: Path) -> Sound:
    """Return the recording at `path`. Raises ValueError in one sentence."""
    if path.exists() and not path.is_file():
        raise ValueError(f"{path}: is no file.")
    return parse_sound(whole_file(path, MAX_BYTES, "cut a shorter part out of it"))


def parse_sound(data: bytes) -> Sound:
    """Return the recording in the bytes of a WAV file. Raises ValueError in one sentence."""
    if data[:4] not in (b"RIFF", b"RIFX", b"RF64"):
        raise ValueError("This is no WAV file; let the recorder or any sound editor save it as WAV, best uncompressed from the "
                         "start.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            rate, raw = wavfile.read(io.BytesIO(data))
    except Exception as error:  # a spoilt file fails in many ways, and all mean the same to its owner
        raise ValueError("This WAV file cannot be read: it is damaged, or its samples are coded; save it again as plain "
                         "PCM.") from error
    if raw.size == 0:
        raise ValueError("There is no sample in this file.")
    table = np.atleast_2d(raw.T) if raw.ndim == 2 else raw[None, :]
    if not 1000 <= rate <= 1_000_000:
        raise ValueError(f"{rate} samples a second are outside 1000 to 1000000; the file's head is damaged.")
    if table.shape[0] > 8:
        raise ValueError(f"The file has {table.shape[0]} channels; 1 to 8 can be read.")
    table = table[:, :int(LONGEST * rate)]
    if table.dtype == np.uint8:
        samples = (table.astype(np.float64) - 128.0) / 128.0
    elif table.dtype.kind in "iu":
        samples = table.astype(np.float64) / float(np.iinfo(table.dtype).max)
    else:
        samples = table.astype(np.float64)
        if not np.isfinite(samples).all():
            raise ValueError("Some samples of this file are no numbers; save it again.")
    if np.abs(samples).max(initial=0.0) > 1e6:
        raise ValueError("The samples of this file are too large for a sound; save it again as plain PCM.")
    return Sound(int(rate), samples, _clipped(samples))


def _clipped(samples: np.ndarray) -> np.ndarray:
    """Return which samples stand at their channel's end for two or more in a row, as no sharp click does by itself."""
    top = np.abs(samples).max(axis=1, keepdims=True)
    for_sign = [(samples >= 0.999 * top) & (top > 0.0), (samples <= -0.999 * top) & (top > 0.0)]
    found = np.zeros(samples.shape, dtype=bool)
    for at in for_sign:
        both = at[:, 1:] & at[:, :-1]
        found[:, 1:] |= both
        found[:, :-1] |= both
    return found


@dataclass(frozen=True)
class _Clicks:
    """A channel's clicks: times (s), heights as shares of the usual loudest, and whether each is cut off at the top."""

    time: np.ndarray
    height: np.ndarray
    cut: np.ndarray
    contrast: float
    width: float  # s
    usual: float
    high: float  # share of the clicks' sound in the upper half of the band


def listen(sound: Sound, rpm: float | None = None, pole_pairs: int = 8) -> Heard:
    """Return the sparks per pulse heard in `sound`. rpm : crank speed, None where nobody says; pole_pairs : of the magneto

    Raises ValueError in one sentence where they cannot be told.
    """
    if sound.rate < LOWEST_RATE:
        raise ValueError(f"{sound.rate} samples a second are too few to part two sparks that follow each other closely; record "
                         f"with {LOWEST_RATE} or more (44100 is usual).")
    length = sound.samples.shape[1] / sound.rate
    if length < SHORTEST:
        raise ValueError(f"The recording lasts {length:.2g} s; {SHORTEST:g} s or more are needed.")
    gap = None if rpm is None else 30.0 / (pole_pairs * rpm)
    if gap is not None and length < FEWEST * gap:
        raise ValueError(f"The recording lasts {length:.2g} s, which is {length / gap:.0f} pulses; {FEWEST} or more are needed.")
    heard = [found for channel in range(len(sound.samples)) if (found := _clicks(sound, channel, gap)) is not None]
    if not heard:
        raise ValueError("Nothing stands out of the noise as a spark's click does: the recording is silent, too noisy, or too "
                         "far from the gap; hold the microphone nearer and record again.")
    best = max(heard, key=lambda one: one.contrast)
    if best.contrast < ABOVE:
        raise ValueError("The noise is too loud: the clicks hardly stand out of it; hold the microphone nearer to the gap, or "
                         "stop what makes the noise.")
    if best.width > BLUNT:
        raise ValueError(f"The clicks are blurred to {1e3 * best.width:.1f} ms, by a room that echoes or a recorder that "
                         "compresses; record as WAV without compression, close to the gap, something soft around it.")
    return _counted(best, gap, length)


def _clicks(sound: Sound, channel: int, gap: float | None) -> _Clicks | None:
    """Return the clicks of one channel, None where nothing in it stands out. gap : s from pulse to pulse, if known"""
    values = sound.samples[channel]
    rate = sound.rate
    if np.ptp(values) == 0.0:
        return None
    top = min(BAND[1], 0.45 * rate)
    sos = butter(4, [BAND[0], top], btype="bandpass", fs=rate, output="sos")
    band = sosfiltfilt(sos, values)
    short = max(1, round(1.2e-4 * rate))
    power = uniform_filter1d(band ** 2, short)
    envelope = np.sqrt(np.maximum(power, 0.0))
    background = float(np.median(envelope)) + 1e-12
    reach = max(1, round(APART * rate))
    peak = np.flatnonzero((envelope == maximum_filter1d(envelope, 2 * reach + 1)) & (envelope > 2.0 * background))
    if len(peak) < FEWEST:
        return None
    span = gap or PULSE[1]
    blocks = np.maximum.reduceat(envelope, np.arange(0, len(envelope), max(1, round(span * rate))))
    usual = float(np.median(blocks[:-1] if len(blocks) > 1 else blocks))
    if usual <= 0.0:
        return None
    # a click begins suddenly: just before it there was clearly less
    before = maximum_filter1d(envelope, max(1, round(1.5e-4 * rate)))
    lag = round(3e-4 * rate)
    earlier = np.where(peak >= lag, before[np.maximum(peak - lag, 0)], 0.0)
    sudden = envelope[peak] > 1.5 * earlier
    kept = peak[sudden & (envelope[peak] > FAINT * usual)]
    if len(kept) < FEWEST:
        return None
    loud = kept[envelope[kept] > STRONG * usual]
    if len(loud) < FEWEST:
        return None
    around = round(4e-3 * rate)
    inner = loud[(loud >= around) & (loud < len(envelope) - around)]
    if len(inner) < FEWEST // 2:
        return None
    some = inner[:: max(1, len(inner) // 400)]
    mean = np.median(np.array([envelope[at - around:at + around] / envelope[at] for at in some]), axis=0)
    floor = float(np.quantile(mean, 0.1))
    over = mean > floor + (1.0 - floor) / 3.0
    left = right = around
    while left > 0 and over[left - 1]:
        left -= 1
    while right < len(over) - 1 and over[right + 1]:
        right += 1
    near = round(6e-4 * rate)
    cut = np.array([sound.clipped[channel, max(0, at - near):at + near].any() for at in kept])
    return _Clicks(kept / rate, envelope[kept] / usual, cut, usual / background, (right - left + 1) / rate, usual, 0.0)


def _gap_of(times: np.ndarray) -> float | None:
    """Return the commonest gap (s) between loud clicks that is no gap within a pulse, None where none is common."""
    gaps = np.concatenate([times[step:] - times[:-step] for step in (1, 2, 3, 4)])
    gaps = gaps[(gaps > PULSE[0]) & (gaps < PULSE[1])]
    if len(gaps) < FEWEST:
        return None
    edges = np.geomspace(*PULSE, 140)
    counts, _ = np.histogram(gaps, edges)
    soft = np.convolve(counts, [1, 1, 1], mode="same")
    high = np.flatnonzero(soft >= 0.75 * soft.max())
    at = int(high[0])  # the shortest of the common ones: the others are twice, three times as long
    at = max(range(at, min(at + 3, len(soft))), key=lambda place: soft[place])
    if soft[at] < 0.5 * len(times):
        return None
    near = gaps[(gaps > edges[max(0, at - 1)]) & (gaps < edges[min(len(edges) - 1, at + 2)])]
    return float(np.median(near))


def _counted(clicks: _Clicks, told: float | None, length: float) -> Heard:
    loud = clicks.height >= STRONG
    times = clicks.time
    gap = told or _gap_of(times[loud])
    if gap is None:
        raise ValueError("The clicks follow no beat, so pulses cannot be told: it is no running coil, its speed wanders, or "
                         "noise lies between; say --speed, or record again at a steady speed.")
    # A pulse begins with a loud click after nearly half a pulse without one, or nearly a pulse after the last began.
    first = [float(times[loud][0])]
    last = first[0]
    for time in times[loud][1:]:
        since = time - first[-1]
        if since > 0.8 * gap or time - last > 0.45 * gap and since > 0.6 * gap:
            first.append(float(time))
        last = float(time)
    begins = np.array(first)
    apart = np.diff(begins)
    if len(begins) < FEWEST:
        raise ValueError(f"Only {len(begins)} pulses with a spark can be made out; {FEWEST} or more are needed: record longer.")
    near = apart[np.abs(apart / gap - 1.0) < 0.2]
    if len(near) < 0.5 * len(apart):
        raise ValueError("The clicks do not come at the speed that was said, nor evenly; check --speed and --pole-pairs, "
                         "or record at "
                         "a steady speed." if told else
                         "The clicks follow no even beat, so pulses cannot be told; say --speed, or record at a steady speed.")
    own = float(np.median(near))
    numbers = np.maximum(1.0, np.round(apart / own))
    even = np.abs(apart / own - numbers) < EVEN * np.maximum(1.0, np.sqrt(numbers))
    if even.mean() < STEADY:
        raise ValueError("The clicks come unevenly, so noise is among them or the speed wanders; record again at a steady speed, "
                         "without other noise.")
    pulses = int(numbers.sum())  # the last begin only ends the last pulse
    if pulses < FEWEST:
        raise ValueError(f"Only {pulses} whole pulses can be made out; {FEWEST} or more are needed: record longer.")
    owner = np.searchsorted(begins, times + 1e-6, side="right") - 1
    inside = (owner >= 0) & (owner < len(begins) - 1)
    if clicks.cut[inside & loud].mean() > CLIPPED:
        raise ValueError("The clicks are cut off at the top (too loud for the recorder), so an echo looks as loud as a spark; "
                         "turn the input down or go further away, and record again.")
    late = times - begins[np.clip(owner, 0, None)]
    # Nothing sparks just before the next pulse begins: what clicks there is noise, and as much of it lies everywhere.
    quiet = inside & (late > 0.7 * own) & (late < 0.93 * own)
    stray, noise = float((quiet & loud).sum()) / 0.23 / pulses, float((quiet & ~loud).sum()) / 0.23
    if stray > STRAY and (quiet & loud).sum() >= 3:  # one may be a spark that came late
        raise ValueError("There are clicks where no spark belongs, between the pulses: noise like that makes sparks out of "
                         "nothing; record again without it.")
    sparks = int((inside & loud).sum())
    faint = int((inside & ~loud).sum())
    marginal = int((inside & loud & (clicks.height < 1.25 * STRONG)).sum())
    most = sparks / pulses
    # Faint clicks that lie as thick between the pulses are noise, and only those beyond them may be sparks.
    faint = int(max(0.0, faint - max(0.0, noise - 2.0 * np.sqrt(noise / 0.23))))
    low_n, high_n = sparks - marginal, sparks + faint
    low = float(low_n / pulses - 1.7 * np.sqrt(max(low_n, 1.0)) / pulses * 0.3 - stray)
    high = float(high_n / pulses + 1.7 * np.sqrt(max(high_n, 1.0)) / pulses * 0.3 + 0.01)
    if high - low > 2.0 * WIDE:
        raise ValueError(f"Many clicks are fainter than the main ones ({faint + marginal} in {pulses} pulses): they may be "
                         "weak sparks or echoes, so sparks per pulse cannot be told; record closer to the gap, something soft "
                         "around it.")
    empty = int((numbers - 1.0).sum())
    said = [f"{empty} of {pulses} pulses have no spark."] if empty else []
    if faint:
        said.append(f"{faint} faint clicks may be weak sparks or echoes; the limits allow for either.")
    if told is None:
        said.append("Nobody says the speed, so every second pulse may be without a spark unheard; say --speed to be sure.")
    return Heard(most, max(0.0, low), high, pulses, own, told is not None, tuple(said))
