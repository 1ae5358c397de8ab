"""One valid call of every public function of the geometry modules: what their tests of bad input start from."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

from coilmodel import checks, closed_forms, condenser, springs, timing, winding

LEAF = springs.Leaf(0.04, 0.01, 0.0006)
PRIMARY = winding.layer_winding(230, 0.9e-3, 0.115, 0.0145)
SECONDARY = winding.layer_winding(17_250, 0.1e-3, 0.1, 0.0213, 0.01e-3, 0.05e-3)
BREAK = {"current": 4.0, "primary_inductance": 4e-3, "capacity": 0.47e-6, "ratio": 75.0, "secondary_capacitance": 50e-12}
TOWNSEND = {"a": 15.0, "b": 365.0, "gamma": 0.01}

# One valid call of every public function. A function that is not here fails the first test, so none is forgotten.
GOOD: dict[Any, dict[str, Any]] = {
    checks.checked: {},
    checks.checked_count: {},
    winding.awg_diameter: {"gauge": 19},
    winding.copper_resistivity: {"temperature": 20.0, "conductivity": 100.0},
    winding.wire_resistance: {"length": 100.0, "diameter": 1e-3, "temperature": 20.0, "conductivity": 100.0},
    winding.layer_winding: {"turns": 230, "wire_diameter": 0.9e-3, "length": 0.115, "inner_diameter": 0.0145, "enamel": 1e-5,
                            "layer_insulation": 5e-5, "temperature": 20.0, "conductivity": 100.0},
    winding.elliptic_integrals: {"modulus": 0.6, "complement": 0.8},
    winding.nagaoka: {"diameter_over_length": 1.0},
    winding.nagaoka_lundin: {"diameter_over_length": 1.0},
    winding.solenoid_inductance: {"turns": 100.0, "diameter": 0.05, "length": 0.05},
    winding.wheeler_single_layer: {"turns": 100.0, "diameter": 0.05, "length": 0.05},
    winding.wheeler_multilayer: {"turns": 100.0, "mean_diameter": 0.05, "length": 0.025, "build": 0.025},
    winding.brooks_inductance: {"turns": 100.0, "build": 0.02},
    winding.rod_demagnetising_factor: {"length_over_diameter": 10.0},
    winding.ellipsoid_demagnetising_factor: {"length_over_diameter": 10.0},
    winding.uniform_rod_demagnetising_factor: {"length_over_diameter": 10.0},
    winding.rod_permeability: {"material_permeability": 500.0, "demagnetising_factor": 0.0153},
    winding.open_core_inductance: {"turns": 230.0, "coil_diameter": 0.016, "coil_length": 0.1, "core_diameter": 0.013,
                                   "core_length": 0.13, "iron_permeability": 500.0, "iron_fill": 0.8},
    winding.leakage_inductance: {"primary": PRIMARY, "secondary": SECONDARY},
    winding.coupling_from_leakage: {"primary_inductance": 2.6e-3, "leakage": 0.35e-3},
    winding.turns_ratio: {"primary_turns": 230.0, "secondary_turns": 17_250.0},
    winding.layer_capacitance: {"mean_diameter": 0.025, "length": 0.1, "spacing": 7e-5, "layers": 21, "permittivity": 3.0,
                                "sections": 2},
    winding.shorted_turns: {"inductance": 2.6e-3, "coupling": 0.9, "loop_inductance": 1e-6, "loop_resistance": 1e-3,
                            "frequency": 1000.0},
    winding.coil_from_winding: {"core_diameter": 0.0135, "core_length": 0.135, "primary_turns": 230, "primary_wire": 0.912e-3,
                                "primary_length": 0.115, "secondary_turns": 17_250, "secondary_wire": 0.101e-3,
                                "secondary_length": 0.1,
                                "former_wall": 0.5e-3, "insulation_between": 1.5e-3, "enamel": 0.01e-3,
                                "layer_insulation": 0.05e-3,
                                "secondary_sections": 2, "permittivity": 3.0, "stray_capacitance": 30e-12,
                                "iron_permeability": 500.0, "iron_fill": 0.8, "temperature": 20.0, "conductivity": 100.0},
    springs.root_stress: {"leaf": LEAF, "deflection": 1e-3},
    springs.preload: {"stiffness": 346.0, "deflection": 9e-3},
    springs.deflection_for_preload: {"stiffness": 346.0, "force": 3.14},
    springs.effective_tip_mass: {"leaf_mass": 1.9e-3, "tip_mass": 0.5e-3},
    springs.spring_frequency: {"stiffness": 346.0, "mass": 1e-3},
    springs.beam_root: {"mass_ratio": 1.0, "mode": 1},
    springs.tip_frequency: {"leaf": LEAF, "tip_mass": 1e-3, "mode": 1},
    springs.damping_ratio: {"mass": 1e-3, "stiffness": 1e6, "damping": 5.4},
    springs.restitution: {"ratio": 0.1},
    springs.restitution_at_return: {"ratio": 0.1},
    springs.damping_for_restitution: {"wanted": 0.6, "mass": 1e-3, "stiffness": 1e6},
    springs.contact_time: {"mass": 1e-3, "stiffness": 1e6, "damping": 5.4},
    springs.gap_pull: {"flux_density": 1.0, "area": 1e-4},
    springs.pull_constant: {"turns": 75.0, "area": 1e-4},
    springs.coil_pull: {"constant": 1.16e-7, "current": 5.1, "gap": 0.9e-3},
    springs.current_for_pull: {"constant": 1.16e-7, "force": 3.7, "gap": 0.9e-3},
    condenser.self_discharge: {"first_voltage": 9.0, "last_voltage": 4.0, "seconds": 3.0, "capacity": 0.47e-6,
                               "meter_resistance": 10e6,
                               "voltage_uncertainty": 0.01, "seconds_uncertainty": 0.1, "capacity_uncertainty": 5e-9},
    condenser.voltage_left: {"first_voltage": 9.0, "seconds": 3.0, "capacity": 0.47e-6, "leakage_resistance": 10e6},
    condenser.half_time: {"capacity": 0.47e-6, "leakage_resistance": 10e6},
    condenser.parallel: {"first": 1e6, "second": 2e6},
    condenser.preferred_value: {"value": 0.45, "series": "E6"},
    condenser.insulation_resistance: {"capacity": 0.47e-6, "dielectric": "polyester", "temperature": 25.0},
    condenser.apparent_capacity: {"capacity": 0.47e-6, "leakage_resistance": 1e6, "frequency": 1000.0,
                                  "series_inductance": 2.6e-3, "series_resistance": 0.42},
    condenser.meter_with_contacts: {"capacity": 0.47e-6, "leakage_resistance": 1e6, "frequency": 1000.0, "contacts_open": False,
                                    "contact_resistance": 0.03},
    condenser.stored_energy: {"capacity": 0.47e-6, "voltage": 300.0},
    condenser.arc_free_speed: {"current": 5.1, "capacity": 0.45e-6},
    condenser.arc_margin: {"current": 5.1, "capacity": 0.45e-6, "speed": 0.4},
    condenser.ring_peak: {"current": 4.0, "inductance": 4e-3, "capacity": 0.47e-6},
    condenser.ring_frequency: {"inductance": 4e-3, "capacity": 0.47e-6},
    condenser.available_voltage: BREAK,
    condenser.two_modes: {**BREAK, "coupling": 0.93},
    condenser.two_winding_peak: {**BREAK, "coupling": 0.93, "seconds": 1e-3},
    timing.electrical_frequency: {"rpm": 750.0, "pole_pairs": 8},
    timing.pulse_angle: {"pole_pairs": 8},
    timing.pulse_duration: {"rpm": 750.0, "pole_pairs": 8},
    timing.angle_of_time: {"seconds": 2e-3, "rpm": 450.0},
    timing.time_of_angle: {"degrees": 11.0, "rpm": 450.0},
    timing.pulse_number: {"degrees": 100.0, "pole_pairs": 8},
    timing.angle_in_pulse: {"degrees": 100.0, "pole_pairs": 8},
    timing.timer_to_crank: {"timer_degrees": 45.0},
    timing.crank_to_timer: {"crank_degrees": 90.0},
    timing.timer_windows: {"start": 10.0, "width": 40.0, "cylinders": 4},
    timing.spark_angles: {"start": 10.0, "width": 40.0, "opening_angle": 11.0, "pole_pairs": 8},
    timing.firing_angle: {"start": 10.0, "opening_angle": 11.0, "pole_pairs": 8},
    timing.firing_jump: {"pole_pairs": 8},
    timing.crank_scatter: {"time_scatter": 1e-4, "rpm": 450.0},
    timing.mean_and_scatter: {"angles": [1.0, 2.0]},
    closed_forms.rl_rise: {"voltage": 12.0, "resistance": 6.0, "inductance": 0.03, "time": 2e-3},
    closed_forms.rl_decay: {"current": 10.0, "resistance": 3.0, "inductance": 7.5e-3, "time": 5e-3},
    closed_forms.rc_charge: {"voltage": 12.0, "resistance": 8e5, "capacity": 5e-6, "time": 4.0},
    closed_forms.time_to_fraction: {"fraction": 0.5},
    closed_forms.series_impedance: {"resistance": 40.0, "inductance": 3e-3, "capacity": 5e-6, "frequency": 60.0},
    closed_forms.resonance: {"inductance": 3e-3, "capacity": 5e-6},
    closed_forms.magneto_current: {"flux_linkage": 0.03, "resistance": 0.7, "inductance": 4.3e-3, "frequency": 60.0},
    closed_forms.air_density: {"pressure": 101_325.0, "temperature": 20.0},
    closed_forms.uniform_field_breakdown: {"gap": 1e-3, "pressure": 101_325.0, "temperature": 20.0},
    closed_forms.paschen: {"product": 76.0, **TOWNSEND},
    closed_forms.paschen_minimum: TOWNSEND,
    closed_forms.melting_voltage: {"melting_point": 1000.0, "ambient": 20.0},
    closed_forms.ayrton_arc: {"current": 10.0, "length": 2e-3, "a": 38.88, "b": 2.074, "c": 11.66, "d": 10.54},
    closed_forms.rectifier_reading: {"rectified_mean": 1.8},
    closed_forms.bounce_time: {"drop_time": 0.5, "restitution": 0.7},
    closed_forms.nth_bounce_time: {"drop_time": 0.5, "restitution": 0.7, "bounce": 3},
}
MODULES = (checks, winding, springs, condenser, timing, closed_forms)
# Values that mean something where they stand: an infinite meter, a missing span.
ALLOWED = {(condenser.self_discharge, "meter_resistance", math.inf), (condenser.parallel, "first", math.inf),
           (condenser.parallel, "second", math.inf), (closed_forms.series_impedance, "capacity", math.inf),
           (condenser.two_winding_peak, "seconds", None)}
NUMBERS = [(function, name) for function, good in GOOD.items() for name, value in good.items() if type(value) in (int, float)]
NUMBER_NAMES = [f"{function.__name__}-{name}" for function, name in NUMBERS]


def flat(result) -> list[float]:
    if isinstance(result, bool):
        return []
    if isinstance(result, (int, float)):
        return [float(result)]
    if isinstance(result, (list, tuple)):
        return [number for part in result for number in flat(part)]
    assert dataclasses.is_dataclass(result)
    return flat([getattr(result, item.name) for item in dataclasses.fields(result)])
