"""Imagined recordings: the sparks of the model as a microphone or a loop of wire would take them down. Nothing here was
measured.

A spark is a pulse of pressure some 0.1 ms long (N-shaped, as from a small explosion; from memory) and a hiss that dies
within half a millisecond; its height goes with the root of its energy. The blades' knocks are duller and weaker. The room
is a bench's reflection and a tail of noise that dies exponentially. Voices are a buzz with moving resonances in syllables,
an engine is a sum of harmonics with low noise. The lossy codec is a stand-in: a cosine transform in overlapping frames
(MDCT), a low-pass, and coefficients rounded the more coarsely the louder their band; no real codec's psychoacoustics.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from scipy.io import wavfile
from scipy.signal import butter, fftconvolve, resample_poly, sosfilt

from coilmodel import Run
from coilmodel.sparks import sparks

FINE = 96_000  # samples a second in which the sound is made before the recorder takes its own


@dataclass(frozen=True)
class Recorder:
    """How a recording is made. Levels are root mean squares against the height of a spark of 20 mJ."""

    rate: int = 48_000
    bits: int = 16  # 8, 16, 24; 32 is floating point
    channels: int = 1
    wire: bool = False  # a loop of wire: no room, no voice, a little hum
    echo: float = 0.03  # energy of the room's tail against that of the click
    tail: float = 0.25  # s in which the tail falls by 60 dB
    bench: float = 0.15  # height of the first reflection
    engine: float = 0.0
    speech: float = 0.0
    hiss: float = 0.004
    gain: float = 0.5  # of the recorder's range that a spark of 20 mJ fills; over 1 it is cut off
    lossy: float = 0.0  # coarseness of the codec: 0 none, 0.1 mild, 1 heavy
    wander: float = 0.004  # slow wandering of the speed, share


def record(run: Run, recorder: Recorder, generator: np.random.Generator) -> np.ndarray:
    """Return samples (shape: channels, samples; -1 to 1) of the sparks of `run`; `generator` draws the chances."""
    fired = sparks(run)
    end = max(spark.time for spark in fired) + run.pulse_seconds
    start = min(spark.time - spark.after for spark in fired)
    length = int((end + 0.05) * FINE)

    def warped(times: np.ndarray) -> np.ndarray:
        times = times - start
        slow = recorder.wander * 0.3 * np.sin(2.0 * np.pi * times / 0.9 + generator.random() * 0.0)
        return times + slow * 0.9 / (2.0 * np.pi) + 0.02

    click = _click(generator)
    sound = np.zeros(length)
    for time, spark in zip(warped(np.array([spark.time for spark in fired])), fired):
        _add(sound, click, time, np.sqrt(spark.energy / 20e-3) * generator.normal(1.0, 0.06))
    if recorder.wire:
        sound += 0.02 * np.sin(2.0 * np.pi * 50.0 * np.arange(length) / FINE)
    else:
        knock = _knock(generator)
        for time in warped(np.array([opening.time for opening in run.openings])):
            _add(sound, knock, time, 0.12 * generator.normal(1.0, 0.2))
        sound = fftconvolve(sound, _room(recorder, generator))[:length]
        sound += recorder.engine * _engine(length, generator) + recorder.speech * _speech(length, generator)
    sound += recorder.hiss * generator.normal(0.0, 1.0, length)
    common = int(np.gcd(FINE, recorder.rate))
    taken = resample_poly(sound, recorder.rate // common, FINE // common) * recorder.gain
    if recorder.lossy:
        taken = lossy(taken, recorder.rate, recorder.lossy)
    taken = np.clip(taken, -1.0, 1.0)
    other = [np.clip(0.6 * taken + 0.002 * generator.normal(0.0, 1.0, len(taken)), -1.0, 1.0)
             for _ in range(recorder.channels - 1)]
    return np.array([taken, *other])


def wav(samples: np.ndarray, recorder: Recorder) -> bytes:
    """Return `samples` as the bytes of a WAV file, in the recorder's form."""
    table = samples.T if len(samples) > 1 else samples[0]
    out = io.BytesIO()
    if recorder.bits == 24:
        return _wav_24(np.atleast_2d(samples), recorder.rate)
    if recorder.bits == 8:
        made = np.clip(np.round(table * 127.0) + 128.0, 0, 255).astype(np.uint8)
    elif recorder.bits == 16:
        made = np.round(table * 32767.0).astype(np.int16)
    else:
        made = table.astype(np.float32)
    wavfile.write(out, recorder.rate, made)
    return out.getvalue()


def _wav_24(samples: np.ndarray, rate: int) -> bytes:
    """Return a WAV file of 24 bits, which scipy reads and does not write."""
    import wave

    whole = np.round(samples.T * 8388607.0).astype("<i4")
    raw = np.ascontiguousarray(whole).view(np.uint8).reshape(*whole.shape, 4)[..., :3].tobytes()
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(samples.shape[0])
        file.setsampwidth(3)
        file.setframerate(rate)
        file.writeframes(raw)
    return out.getvalue()


def _add(sound: np.ndarray, piece: np.ndarray, time: float, height: float) -> None:
    at = int(time * FINE)
    if 0 <= at < len(sound) - len(piece):
        sound[at:at + len(piece)] += height * piece


def _click(generator: np.random.Generator) -> np.ndarray:
    time = np.arange(int(1.5e-3 * FINE)) / FINE
    length = generator.uniform(6e-5, 1.4e-4)
    pulse = np.where(time < length, 1.0 - 2.0 * time / length, 0.0)
    return np.asarray(pulse + 0.3 * np.exp(-time / 1.5e-4) * generator.normal(0.0, 1.0, len(time)))


def _knock(generator: np.random.Generator) -> np.ndarray:
    time = np.arange(int(6e-3 * FINE)) / FINE
    return np.asarray(np.exp(-time / 1.2e-3) * np.sin(2.0 * np.pi * generator.uniform(900.0, 2200.0) * time))


def _room(recorder: Recorder, generator: np.random.Generator) -> np.ndarray:
    length = int(min(0.4, recorder.tail) * FINE)
    time = np.arange(length) / FINE
    tail = generator.normal(0.0, 1.0, length) * np.exp(-6.9 * time / recorder.tail)
    tail[: int(1.5e-3 * FINE)] = 0.0  # the nearest wall
    tail = sosfilt(butter(1, 6000.0, fs=FINE, output="sos"), tail)
    tail *= np.sqrt(recorder.echo / max(float(tail @ tail), 1e-30))
    tail[0] += 1.0
    tail[int(generator.uniform(4e-4, 2.5e-3) * FINE)] += recorder.bench
    return np.asarray(tail)


def _engine(length: int, generator: np.random.Generator) -> np.ndarray:
    time = np.arange(length) / FINE
    base = generator.uniform(12.0, 30.0)
    made = sum(np.sin(2.0 * np.pi * base * k * time + generator.uniform(0.0, 6.3)) / k for k in range(1, 40))
    rough = sosfilt(butter(2, 1500.0, fs=FINE, output="sos"), generator.normal(0.0, 1.0, length))
    both = made / np.std(made) + rough / np.std(rough) + 0.03 * generator.normal(0.0, 1.0, length)
    return np.asarray(both / np.std(both))


def _speech(length: int, generator: np.random.Generator) -> np.ndarray:
    time = np.arange(length) / FINE
    pitch = 120.0 + 25.0 * np.sin(2.0 * np.pi * 0.7 * time + generator.uniform(0.0, 6.3))
    phase = np.cumsum(pitch) / FINE
    buzz = (np.diff(np.floor(phase), prepend=0.0) > 0).astype(float)
    voiced = np.zeros(length)
    for low, high in ((300.0, 900.0), (900.0, 2400.0), (2400.0, 3600.0)):
        voiced += sosfilt(butter(2, [low, high], btype="bandpass", fs=FINE, output="sos"), buzz)
    hiss = sosfilt(butter(2, [3500.0, 9000.0], btype="bandpass", fs=FINE, output="sos"), generator.normal(0.0, 1.0, length))
    syllable = np.clip(np.sin(2.0 * np.pi * 2.1 * time + generator.uniform(0.0, 6.3)), 0.0, None)
    other = np.clip(np.sin(2.0 * np.pi * 2.1 * time + 2.5), 0.0, None) ** 4
    both = syllable * voiced / np.std(voiced) + 0.35 * other * hiss / np.std(hiss)
    return np.asarray(both / np.std(both))


def lossy(values: np.ndarray, rate: int, coarse: float, frame: int = 1024) -> np.ndarray:
    """Return `values` as a stand-in for a lossy codec leaves them. rate : samples a second; coarse : as in `Recorder.lossy`"""
    size = len(values)
    padded = np.concatenate([np.zeros(frame), values, np.zeros(2 * frame - size % frame)])
    window = np.sin(np.pi * (np.arange(2 * frame) + 0.5) / (2 * frame))
    place = np.arange(2 * frame)[:, None] + 0.5 + frame / 2.0
    basis = np.cos(np.pi / frame * place * (np.arange(frame)[None, :] + 0.5))
    number = len(padded) // frame - 1
    blocks = np.lib.stride_tricks.sliding_window_view(padded, 2 * frame)[::frame][:number] * window
    lines = blocks @ basis
    width = 32
    bands = lines.reshape(number, frame // width, width)
    step = coarse * np.sqrt(np.mean(bands ** 2, axis=2, keepdims=True)) * 1.5 + 1e-9
    bands = np.round(bands / step) * step
    lines = bands.reshape(number, frame)
    lines[:, int(frame * min(1.0, (16_000.0 - 9_000.0 * min(coarse, 1.0)) / (0.5 * rate))):] = 0.0
    back = (lines @ basis.T) * window * (2.0 / frame)
    out = np.zeros(len(padded))
    for row in range(number):
        out[row * frame:row * frame + 2 * frame] += back[row]
    return out[frame:frame + size]
