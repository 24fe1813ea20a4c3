"""Motors that cannot be: each number that the equations divide by is refused by name, with its range."""

from dataclasses import replace

import pytest

from simulator.motors import MOTORS
from simulator.motors.split_phase import BENCH_GRINDER
from simulator.physics.warmth import Thermal

COMMUTATOR = ("winding_ohm", "winding_h", "saturation_a", "inertia_kg_m2", "bars", "poles", "rated_a")
WOUND = ("armature_ohm", "armature_h", "field_h", "saturation_a", "inertia_kg_m2", "bars", "poles", "rated_a")
LEAKAGES = ("magnetizing_h", "rotor_leakage_h", "core_ohm", "inertia_kg_m2", "pole_pairs")
TWO_PHASE = ("pole_pairs", "axes_h", "leakage_h", "capacitor_f", "inertia_kg_m2")
DIVISORS = {
    **dict.fromkeys(("universal", "series_dc", "permanent_magnet_dc"), COMMUTATOR),
    **dict.fromkeys(("shunt_dc", "compound_dc"), WOUND),
    **dict.fromkeys(
        ("permanent_split_capacitor", "split_phase", "capacitor_start", "shaded_pole"),
        (*LEAKAGES, "turns_ratio", "main_leakage_h", "auxiliary_leakage_h"),
    ),
    "three_phase_induction": (*LEAKAGES, "stator_leakage_h"),
    **dict.fromkeys(
        ("synchronous", "synchronous_reluctance"), ("pole_pairs", "axes_h", "capacitor_f", "inertia_kg_m2")
    ),
    "stepper": ("teeth", "henry", "inertia_kg_m2"),
    "servo": ("counts", "henry", "speed_s", "inertia_kg_m2"),
    "brushless": ("pole_pairs", "phase_h", "inertia_kg_m2", "link_f", "bleed_ohm", "diode_v"),
}
ENDLESS = ("inertia_kg_m2", "saturation_a", "winding_ohm", "armature_ohm")
CASES = [(key, name) for key in MOTORS for name in DIVISORS[key]]


@pytest.mark.parametrize(("key", "name"), CASES)
@pytest.mark.parametrize("value", [0, -1, float("nan")])
def test_a_motor_that_cannot_be_is_refused_with_the_range(key: str, name: str, value: float) -> None:
    motor = next(iter(MOTORS[key].parameter_sets.values()))
    number = (value, value) if name == "axes_h" else value
    with pytest.raises(ValueError, match=rf"{name} = {value:g} is outside \S+ to \S+"):
        replace(motor, **{name: number})


@pytest.mark.parametrize(("key", "name"), [case for case in CASES if case[1] in ENDLESS])
def test_nor_may_it_be_endless_where_nothing_would_be_a_number_then(key: str, name: str) -> None:
    motor = next(iter(MOTORS[key].parameter_sets.values()))
    with pytest.raises(ValueError, match=rf"{name} = inf is outside \S+ to \S+"):
        replace(motor, **{name: float("inf")})


def test_a_cage_that_no_field_reaches_is_refused() -> None:
    motor = MOTORS["synchronous_reluctance"].parameter_sets["clock_drive_reluctance"]
    with pytest.raises(ValueError, match=r"axes_h = 12 is outside 12\.012 to 10000"):
        replace(motor, leakage_h=12)


@pytest.mark.parametrize("name", ["ptc_cold_ohm", "ptc_hot_ohm", "ptc_width_k", "ptc_j_k", "ptc_k_w"])
def test_a_start_device_that_cannot_be_is_refused(name: str) -> None:
    assert BENCH_GRINDER.start is not None
    with pytest.raises(ValueError, match=f"{name} = 0 is outside 1e-06 to inf"):
        replace(BENCH_GRINDER.start, **{name: 0.0})


@pytest.mark.parametrize("name", Thermal.__slots__)
def test_a_part_without_heat_or_a_way_out_for_it_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match=f"{name} = 0 is outside 1e-06 to inf"):
        replace(BENCH_GRINDER.thermal, **{name: 0.0})
