"""Lesson 5: cushion-spring behaviour. Both contacts' travel, contact force, parting and sparks; and the blades' statics."""

from __future__ import annotations

from coilmodel import Machine, MagnetoDrive, Run, simulate
from coilmodel.readings import in_words, read
from lessons.contracts import Axis, Chart, Control, Line, Mark, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts
from lessons.panels.bad_coils import SLACK, STIFF
from lessons.sound import sound_at

NOMINAL = Machine()
PRELOAD = NOMINAL.cushion.preload
SLACK_PRELOAD, STIFF_PRELOAD = round(SLACK * PRELOAD, 2), round(STIFF * PRELOAD, 2)  # N, of the course's slack and stiff coils
STIFFNESS = 1e-3 * NOMINAL.cushion.stiffness  # N/mm
TRAVEL = 1e3 * NOMINAL.cushion.travel  # mm

PRELOAD_CONTROL = Control(
    "preload",
    "Cushion preload",
    "N",
    0.0,
    round(2.6 * PRELOAD, 2),
    0.01,
    round(PRELOAD, 2),
    "The force with which the cushion blade sits on its rivet: what you change when you bend or tap it.",
)
STIFFNESS_CONTROL = Control(
    "stiffness",
    "Cushion stiffness",
    "N/mm",
    round(0.3 * STIFFNESS, 2),
    round(3.0 * STIFFNESS, 2),
    0.01,
    round(STIFFNESS, 2),
    "How much harder it pushes for each millimetre: a thicker or shorter blade is stiffer.",
)
TRAVEL_CONTROL = Control(
    "travel",
    "Travel, bridge to rivet",
    "mm",
    0.02,
    0.5,
    0.005,
    round(TRAVEL, 3),
    "How far the upper contact can follow before its rivet stops it; set by the rivet and by wear.",
)

LADDER_PULSES = 16


def machine(values: Values) -> Machine:
    """Return the nominal machine with the cushion of `values` (N, N/mm, mm)."""
    return NOMINAL.but(
        cushion={"preload": values["preload"], "stiffness": 1e3 * values["stiffness"], "travel": 1e-3 * values["travel"]}
    )


def _run(values: Values, pulses: int, pulse: int = 0) -> Run:
    # The same first pulses in both pictures, so that the full one only adds the ladder and nothing jumps.
    return simulate(
        machine(values),
        MagnetoDrive(values["rpm"], values["drive"] / 100.0),
        pulses=pulses,
        warm_up=1,
        record=(pulse, pulse),
        rows_a_pulse=300,
    )


def _picture(run: Run, with_ladder: bool, pulse: int = 0) -> Picture:
    result = read(run)
    return Picture(
        sentence=in_words(run),
        alt=parts.describe(run),
        readings=parts.opening_readings(result),
        strips=(parts.current_strip(run, pulse), parts.position_strip(run, pulse, TRAVEL_CONTROL.high),
                parts.force_strip(run, pulse), parts.secondary_strip(run, pulse)),
        ladder=parts.ladder(run, pulse) if with_ladder else None,
        scene=parts.scene(run, pulse),
    )


def quick(values: Values) -> Picture:
    """Return the picture of one pulse, for while the slider moves."""
    return _picture(_run(values, 1), False)


def full(values: Values, pulse: int = 0) -> Picture:
    """Return the picture with the ladder of many pulses, and the strips of one `pulse` of them."""
    return _picture(_run(values, LADDER_PULSES, pulse), True, pulse)


PANEL = Panel(
    "cushion",
    "The cushion spring at work",
    "Before you touch anything: slacken the cushion spring, and what becomes of the spark, turned slowly and on the road?",
    (PRELOAD_CONTROL, STIFFNESS_CONTROL, TRAVEL_CONTROL, parts.speed_control(), parts.drive_control()),
    compute=full,
    quick=quick,
    one_pulse=full,
    sound=lambda values, slowed: sound_at(machine(values), MagnetoDrive(values["rpm"], values["drive"] / 100.0), slowed),
    presets=(
        Preset(
            "Well set",
            {},
            "One straight column on the ladder. The contacts travel together, the cushion meets its rivet, and they part fast.",
        ),
        Preset(
            "Too slack",
            {"preload": SLACK_PRELOAD},
            "The cushion is left behind: the contacts creep apart before the rivet, and most of the energy burns between them. "
            "The marks on the ladder are small and hollow: sparks too weak to light the charge.",
        ),
        Preset(
            "Slack, but hand-cranked",
            {"preload": SLACK_PRELOAD, "rpm": 200.0},
            "The same slack cushion at hand-crank speed: one full mark in every row. This is the test that hides it.",
        ),
        Preset(
            "Too stiff",
            {"preload": STIFF_PRELOAD},
            "It lets go too soon, at a low current, with a weaker spark, and comes back for more.",
        ),
        Preset(
            "Stiff, and hand-cranked",
            {"preload": STIFF_PRELOAD, "rpm": 200.0},
            "Turned slowly, the stiff one is at its worst: several sparks a pulse, and none strong enough. Such a coil is hard "
            "to start.",
        ),
        Preset(
            "No travel", {"travel": 0.02}, "With next to nothing to follow through, the contacts part as soon as the pull wins: "
            "too soon, and again and again."
        ),
    ),
)


# ------------------------------------------------------------------------------------------------------- statics
FAR = TRAVEL_CONTROL.high + TRAVEL  # mm below the bridge: the chart reaches past the rivet wherever that is set


def forces(values: Values) -> Picture:
    """Return the blades' forces on the way down from the bridge: what the core must overcome at each place."""
    preload, stiffness, travel = values["preload"], values["stiffness"], values["travel"]
    up, rate = values["vibrator_preload"], 1e-3 * NOMINAL.vibrator.stiffness
    ways = sorted([FAR * i / 80.0 for i in range(81)] + [travel, travel + 1e-6])  # the rivet takes over within nothing
    vibrator = [up + rate * (way - travel) for way in ways]
    cushion = [preload + stiffness * (travel - way) if way <= travel else 0.0 for way in ways]
    needed = [v - c for v, c in zip(vibrator, cushion, strict=True)]
    on_bridge, before_rivet = needed[0], up - preload
    chart = Chart(
        "forces",
        "Forces on the pair of contacts",
        Axis("way down from the bridge", "mm", 0.0, FAR),
        Axis("force", "N", -0.5, 4.5),
        (
            Line("vibrator pushes up", "position", ways, vibrator),
            Line("cushion pushes down", "cushion", ways, cushion, "dashed"),
            Line("left for the core to overcome", "force", ways, needed, "dotted"),
        ),
        (Mark(0.0, on_bridge, "bridge", "note", "force"), Mark(travel, up, "rivet", "note", "force")),
    )
    step = up - before_rivet
    if on_bridge <= 0.0:
        sentence = (
            f"At rest the cushion wins by {-on_bridge:.2f} N: the pair hangs below the bridge, and part of the travel is "
            "already spent."
        )
    else:
        sentence = (
            f"The core must pull {on_bridge:.2f} N to lift the pair off the bridge, {before_rivet:.2f} N as it reaches the "
            f"rivet, and {up:.2f} N beyond it: the rivet adds {step:.2f} N at once."
        )
    return Picture(
        sentence,
        f"Chart of force on the way down from the bridge, past the rivet. {sentence}",
        (
            Reading("Force on the bridge at rest", parts.number(max(on_bridge, 0.0), "N"), max(on_bridge, 0.0), "N"),
            Reading("Pull needed just before the rivet", parts.number(before_rivet, "N"), before_rivet, "N"),
            Reading("Pull needed to part", parts.number(up, "N"), up, "N"),
        ),
        charts=(chart,),
    )


FORCES = Panel(
    "cushion_force",
    "What the springs ask of the core",
    "Which blade decides when the pair starts to move, and which decides when it parts?",
    (
        PRELOAD_CONTROL,
        STIFFNESS_CONTROL,
        TRAVEL_CONTROL,
        Control(
            "vibrator_preload",
            "Vibrator preload",
            "N",
            round(0.5 * NOMINAL.vibrator.preload, 2),
            round(1.5 * NOMINAL.vibrator.preload, 2),
            0.01,
            round(NOMINAL.vibrator.preload, 2),
            "The vibrator's upward force at the rivet: it sets the opening current.",
        ),
    ),
    compute=lambda values: parts.with_curves(forces(values)),
    presets=(
        Preset("Well set", {}, "Little to start the pair, much to part it: that is follow-through."),
        Preset(
            "Stiff cushion", {"preload": STIFF_PRELOAD}, "Little holds the pair up: it starts to move at a low current."
        ),
        Preset(
            "Slack cushion",
            {"preload": SLACK_PRELOAD},
            "It takes more current to start the pair, and there is little behind the upper contact to make it follow.",
        ),
    ),
)

PANELS = (PANEL, FORCES)
