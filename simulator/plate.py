"""The plate of a motor as the TOML text that travels in a board's identity: `[motor]` and `[motor.plate]`."""

from collections.abc import Mapping

PLATE_KEYS = (
    "voltage_v",
    "frequency_hz",
    "current_a",
    "speed_rpm",
    "pole_pairs",
    "power_w",
    "run_capacitor_uf",
    "locked_rotor_current_a",
    "rotor_slots",
    "commutator_bars",
    "winding_resistance_ohm",
    "winding_resistance_c",
    "back_emf_constant",
    "brush_drop_v",
)

COUNTS = ("pole_pairs", "rotor_slots", "commutator_bars")  # whole numbers


def plate_text(name: str, motor_type: str, plate: Mapping[str, float]) -> str:
    """TOML of one motor, keys as in a rig's settings.

    >>> print(plate_text("bilge pump", "", {"voltage_v": 12.0}))
    [motor]
    name = "bilge pump"
    <BLANKLINE>
    [motor.plate]
    voltage_v = 12.0
    <BLANKLINE>
    """
    lines = ["[motor]", f"name = {_quoted(name)}"]
    if motor_type:
        lines.append(f"type = {_quoted(motor_type)}")
    lines += ["", "[motor.plate]", *(f"{key} = {value!r}" for key, value in plate.items())]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ") + '"'
