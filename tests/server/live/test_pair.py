import numpy as np
import pytest

from firmware_protocol import Role, SampleKind
from server.live.pair import LINES_MAX, Line, drawn_lines
from server.live.ring import Ring
from server.motors import motor_type
from server.samples import Channel
from tests.server.live.blocks import block, channel

V, I = Role.VOLTAGE, Role.CURRENT  # noqa: E741  # the letters of the quantities


def ring(*channels: Channel) -> Ring:
    return Ring(block(np.zeros((len(channels), 1)), channels=channels))


def board(*places: tuple[Role, str]) -> Ring:
    return ring(*(channel(k, role, place, 10.0) for k, (role, place) in enumerate(places)))


def place_of(line: Line | None) -> str | None:
    return None if line is None else line.channel.place


VENTILATOR = ((V, "capacitor"), (V, "supply"), (I, "auxiliary"), (I, "line"))
THRUSTER = ((V, "U"), (V, "V"), (V, "W"), (V, "dc link"), (I, "U"), (I, "V"), (I, "dc link"))
PUMP = ((V, "L1"), (V, "L2"), (V, "L3"), (I, "L1"), (I, "L2"), (I, "L3"))


@pytest.mark.parametrize(
    ("places", "motor", "main", "others"),
    [
        (VENTILATOR, "permanent_split_capacitor", ("supply", "line"), []),
        (VENTILATOR, "", ("supply", "line"), []),
        (THRUSTER, "brushless", ("dc link", "dc link"), ["U", "V"]),
        (THRUSTER, "", ("dc link", "dc link"), ["U", "V"]),
        (PUMP, "three_phase_induction", ("L1", "L1"), ["L2", "L3", "L2", "L3"]),
        (((I, "somewhere"),), "brushless", (None, "somewhere"), []),
        (((V, "by the door"), (V, "L1")), "", ("L1", None), []),
        (((Role.TEMPERATURE, "winding"),), "", (None, None), []),
    ],
)
def test_the_main_pair_comes_first_and_the_phases_after_it(
    places: tuple[tuple[Role, str], ...], motor: str, main: tuple[str | None, str | None], others: list[str]
) -> None:
    lines = drawn_lines([board(*places)], motor_type(motor))
    assert (place_of(lines.voltage), place_of(lines.current)) == main
    drawn = [line for line in (lines.voltage, lines.current) if line is not None]
    assert list(lines.all[: len(drawn)]) == drawn
    assert [place_of(line) for line in lines.all[len(drawn) :]] == others


def test_the_third_phase_current_is_minus_the_two_others_where_it_has_no_channel() -> None:
    third = drawn_lines([board(*THRUSTER)], motor_type("brushless")).third
    assert third is not None
    assert (third.place, place_of(third.one), place_of(third.other)) == ("W", "U", "V")
    assert drawn_lines([board(*PUMP)], motor_type("three_phase_induction")).third is None  # all three are measured
    assert drawn_lines([board(*THRUSTER)], None).third is None  # a motor that is not known may have a neutral
    apart = [board((I, "U")), board((I, "V"))]  # of two rates no sum is made
    assert drawn_lines(apart, motor_type("brushless")).third is None


def test_what_is_no_wave_is_not_drawn_as_one() -> None:
    rms = Channel(0, V, "U", "supply", "V", 0, 400, group=0, rate_hz=10.0, kind=SampleKind.RMS)
    lines = drawn_lines([ring(rms)], None)
    assert lines.voltage is None


def test_channels_of_several_groups_stand_side_by_side_and_their_number_is_bounded() -> None:
    many = [ring(channel(k, I, "L2", 5.0, group=k)) for k in range(20)]
    lines = drawn_lines([board((V, "supply")), *many], None)
    assert len(lines.all) == LINES_MAX
    assert place_of(lines.voltage) == "supply"
