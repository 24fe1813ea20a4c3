"""Values of controls as a person writes them: words, numbers, on and off; and what is said of any other."""

import pytest

from simulator.motors.brushless import CONTROLS
from simulator.motors.hall_lines import MASKS, ORDERS
from simulator.physics.control import Control

BY_NAME = {control.name: control for control in CONTROLS}


def test_each_order_is_written_as_the_letters_that_stand_on_the_places() -> None:
    for name, letters in (("hall_order", "ABC"), ("phase_order", "UVW"), ("lead_order", "UVW")):
        words = BY_NAME[name].words
        assert [tuple(letters.index(letter) for letter in word) for word in words] == list(ORDERS)
        assert [BY_NAME[name].of(word) for word in words] == [0, 1, 2, 3, 4, 5]


def test_each_mask_is_written_as_the_sum_of_its_letters() -> None:
    for name, letters in (("hall_inverted", "ABC"), ("upper_switch_dead", "UVW")):
        control = BY_NAME[name]
        for mask in range(8):
            word = "+".join(letter for bit, letter in enumerate(letters) if mask >> bit & 1) or "none"
            assert control.of(word) == mask
    assert len(MASKS) == 8


def test_numbers_and_switches_are_taken_as_before() -> None:
    assert BY_NAME["hall_order"].of("3") == BY_NAME["hall_order"].of(3) == 3
    assert (BY_NAME["supply_on"].of("on"), BY_NAME["supply_on"].of("Off")) == (1, 0)
    assert BY_NAME["hall_late_deg"].of("-12.5") == -12.5


@pytest.mark.parametrize(
    ("name", "said", "why"),
    [
        ("hall_order", "ACX", "'ACX' is no number; write one of ABC, ACB, BAC, BCA, CAB, CBA"),
        ("hall_order", 2.5, "2.5 lies between two; write one of ABC"),
        ("hall_order", 6, "6 is outside 0 to 5"),
        ("hall_late_deg", "late", "'late' is no number; write a number such as 12.5, or on or off"),
        ("duty", float("nan"), "nan is outside 0 to 1"),
    ],
)
def test_any_other_value_is_refused_with_what_to_write(name: str, said: str | float, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        BY_NAME[name].of(said)


@pytest.mark.parametrize("control", [control for control in CONTROLS if control.words], ids=lambda each: each.name)
def test_there_is_a_word_for_every_value(control: Control) -> None:
    assert (control.lowest, control.highest) == (0, len(control.words) - 1)
