"""The buzz test: a coil on a battery, as most owners try one, and what the same coil does on the magneto.

A battery gives no pulses; the coil makes its own, each parting beginning the next swing. That is another machine than the
one in the car, and an ear can judge only this one.
"""

from __future__ import annotations

from coilmodel import BatteryDrive, MagnetoDrive, simulate
from coilmodel.pitch import pitch_of
from coilmodel.readings import read
from lessons.contracts import Control, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts
from lessons.panels.box import PRELOAD_CONTROL, RPM, SLACK, STIFF, in_plain_words, machine
from lessons.sound import heard_run, in_words, sound_at

VOLTS_CONTROL = Control(
    "volts", "Battery", "V", 5.0, 14.0, 0.5, 12.0,
    "Six or twelve volts, fresh or tired: the same coil buzzes at another pitch on each.",
)
PULSES = 12  # of the magneto, to compare with


def _picture(values: Values, whole: bool) -> Picture:
    coil = machine(values["preload"])
    run = heard_run(coil, BatteryDrive(values["volts"]))
    heard, result = pitch_of(run), read(run)
    told = in_words(run, heard)
    if whole:
        on_magneto = in_plain_words(simulate(coil, MagnetoDrive(RPM), pulses=PULSES, warm_up=1))
        told = f"{told} And on the magneto? {on_magneto}"
    steady = heard if heard and heard.steady and result.opening_current.mean is not None else None
    return Picture(
        told,
        f"The contact set through ten thousandths of a second on a battery of {values['volts']:g} V. {told}",
        (
            Reading("Pitch of the buzz", f"{steady.hertz:.0f} Hz" if steady else "none", steady.hertz if steady else None, "Hz"),
            Reading("Sparks a second", f"{result.sparks_a_second:.0f}", result.sparks_a_second, "1/s"),
            Reading("Opening current", parts.number(result.opening_current.mean, "A"), result.opening_current.mean, "A"),
        ),
        scene=parts.scene(run, last=1e3 * run.pulse_seconds),
    )


PANEL = Panel(
    "battery_buzz",
    "The buzz test: a coil on a battery",
    "Slacken the cushion spring and put the coil on a battery. Will it fall silent, buzz as before, or buzz otherwise?",
    (PRELOAD_CONTROL, VOLTS_CONTROL),
    compute=lambda values: _picture(values, True),
    quick=lambda values: _picture(values, False),
    sound=lambda values, slowed: sound_at(machine(values["preload"]), BatteryDrive(values["volts"]), slowed),
    presets=(
        Preset("Well set", {}, "Press Listen. This is how a good coil sounds, on this battery and on no other."),
        Preset("Too slack", {"preload": SLACK}, "Press Listen: it buzzes, in another voice. Is it the worse coil? Read "
                                                "what it does on the magneto."),
        Preset("Too stiff", {"preload": STIFF}, "It buzzes too. None of the three falls silent, and only one of them is "
                                                "well set."),
        Preset("Six volts", {"volts": 6.0}, "The well-set coil again on a weaker battery: nothing was bent, and the voice "
                                            "is another."),
    ),
)

PANELS = (PANEL,)
