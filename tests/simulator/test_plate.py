"""The plate as TOML, read back by the standard library's reader."""

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from simulator.nearest import nearest
from simulator.plate import plate_text


@given(
    name=st.text(st.characters(exclude_categories=["Cs", "Cc"])), volts=st.floats(1e-6, 1e6), pairs=st.integers(1, 99)
)
def test_any_name_and_any_number_come_back_as_they_were(name: str, volts: float, pairs: int) -> None:
    told = tomllib.loads(plate_text(name, "brushless", {"voltage_v": volts, "pole_pairs": pairs}))["motor"]
    assert told == {"name": name, "type": "brushless", "plate": {"voltage_v": volts, "pole_pairs": pairs}}


def test_a_motor_without_a_type_has_none_in_its_plate() -> None:
    assert tomllib.loads(plate_text("bilge pump", "", {}))["motor"] == {"name": "bilge pump", "plate": {}}


def test_the_nearest_name_is_found_whatever_its_case() -> None:
    assert nearest("TENDER", ["cabin_ventilator", "tender_thruster"]) == "tender_thruster"
    assert nearest("zzz", ["only"]) == "only"
