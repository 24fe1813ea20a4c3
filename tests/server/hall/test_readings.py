"""Readings of the shaft: speed, direction, state, sector, order; and that damage touches only what it must."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.config import Plate
from server.hall import EdgeReadings, edge_readings
from server.readings import Confidence, Reading
from server.samples import EdgeTrain
from tests.server.hall.shafts import HALLS, pulse_input, pulses, train, turning

S = 1_000_000  # ticks in a second
FOUR = Plate(pole_pairs=4)


def at(edges: EdgeTrain, end_s: float, plate: Plate = FOUR, window_s: float = 0.2) -> dict[str, Reading]:
    return {each.key: each for each in told(edges, end_s, plate, window_s).readings}


def good(key: str, value: float, rel: float = 1e-4) -> Reading:
    return Reading(key, pytest.approx(value, rel=rel))  # type: ignore[arg-type]  # compares as the number it stands for


def told(edges: EdgeTrain, end_s: float, plate: Plate = FOUR, window_s: float = 0.2) -> EdgeReadings:
    return edge_readings(edges, round((end_s - window_s) * S), round(end_s * S), plate, 5.0)


# 4 pole pairs, 3000 r/min: 200 Hz electrical, 24 edges a turn, 1200 edges a second. The relation (six sectors of 60
# electrical degrees, one electrical turn for each pole pair) is as in a maker's application note on six-step drives.
def test_four_pole_pairs_at_3000_turns_give_200_hz_and_1200_edges_a_second() -> None:
    edges = turning(3000, 4, 1200)
    assert edges[-1][0] == pytest.approx(S, abs=S / 1200 + 1)
    found = at(train(HALLS, edges, before=4), 0.9)
    assert found["speed_rpm"] == good("speed_rpm", 3000.0)
    assert found["electrical_frequency_hz"].value == pytest.approx(200.0, rel=1e-4)
    assert found["direction"] == Reading("direction", "forward")
    assert found["commutation_valid"] == Reading("commutation_valid", "right")


@pytest.mark.parametrize("rpm", [40.0, 333.0, 2690.0, -1200.0])
@pytest.mark.parametrize("pole_pairs", [1, 7])
def test_speed_is_signed_and_within_a_tick_of_the_truth(rpm: float, pole_pairs: int) -> None:
    edges = turning(rpm, pole_pairs, 400, start=17)
    end_s = edges[-1][0] / S
    found = at(train(HALLS, edges, before=4 if rpm > 0 else 1), end_s, Plate(pole_pairs=pole_pairs))
    turn_s = 60.0 / abs(rpm) / pole_pairs
    assert found["speed_rpm"].confidence is Confidence.GOOD
    assert found["speed_rpm"].value == pytest.approx(rpm, rel=1e-6 / turn_s)  # one tick of 1 us in an electrical turn
    assert found["direction"].value == ("forward" if rpm > 0 else "backward")


def test_sectors_of_unequal_length_do_not_move_the_speed() -> None:
    # Sensor B sits 10 degrees late: sectors of 70 and 50 degrees. One electrical turn is blind to it.
    late = {1: 0, 3: 1, 2: 0, 6: 0, 4: 1, 5: 0}  # B falls on entering 4, rises on entering 3
    exact = turning(1000, 1, 60, start=100)
    edges = [(tick + round(late[state] * 10_000 / 6), state) for tick, state in exact]
    found = at(train(HALLS, edges, before=4), edges[-1][0] / S, Plate(pole_pairs=1))
    assert found["speed_rpm"] == good("speed_rpm", 1000.0)


def test_a_mechanical_turn_is_blind_to_magnets_of_unequal_width() -> None:
    # Electrical turns of 9.9, 10.2, 9.95 and 9.95 ms, 40 ms together: 1500 r/min with 4 pole pairs.
    turns = np.array([9.9, 10.2, 9.95, 9.95])
    times = np.concatenate(([0.0], np.cumsum(np.repeat(np.tile(turns, 8), 6) / 6000.0)))
    states = [(5, 1, 3, 2, 6, 4)[k % 6] for k in range(len(times))]
    edges = [(round(time * S), state) for time, state in zip(times, states, strict=True)]
    for end in (150, 152, 157, 160):
        found = at(train(HALLS, edges, before=4), edges[end][0] / S)
        assert found["speed_rpm"] == good("speed_rpm", 1500.0)


@pytest.mark.parametrize(("sector", "state"), list(enumerate((5, 1, 3, 2, 6, 4), start=1)))
def test_sector_and_angle_follow_the_six_step_table(sector: int, state: int) -> None:
    edges = turning(1000, 1, 60 + sector)  # 10 ms a sector; the last edge enters `sector`
    assert edges[-1][1] == state
    found = at(train(HALLS, edges, before=4), (edges[-1][0] + 2500) / S, Plate(pole_pairs=1))
    assert found["hall_state"] == Reading("hall_state", state)
    assert found["sector"] == Reading("sector", sector)
    assert found["electrical_deg"].value == pytest.approx((30 + 60 * (sector - 1) + 15) % 360)  # a quarter of it later


def test_turning_backward_the_angle_runs_down_from_the_upper_boundary() -> None:
    edges = turning(-1000, 1, 61)
    found = at(train(HALLS, edges, before=1), (edges[-1][0] + 2500) / S, Plate(pole_pairs=1))
    assert found["sector"].value == 1
    assert found["electrical_deg"].value == pytest.approx(75.0)


def test_sixty_degree_sensors_have_their_own_order() -> None:
    edges = turning(1000, 1, 60, states=(1, 3, 7, 6, 4, 0))
    found = at(train(HALLS, edges, before=0), edges[-1][0] / S, Plate(pole_pairs=1, hall_spacing_deg=60))
    assert found["commutation_valid"].value == "right"
    assert found["speed_rpm"].value == pytest.approx(1000.0)
    wrong = at(train(HALLS, edges, before=0), edges[-1][0] / S, Plate(pole_pairs=1))
    assert wrong["commutation_valid"] == Reading("commutation_valid", "wrong")


def test_a_signal_turned_over_makes_the_order_wrong_but_the_speed_can_still_be_told() -> None:
    edges = [(tick, state ^ 1) for tick, state in turning(1000, 2, 100)]
    found = at(train(HALLS, edges, before=5), edges[-1][0] / S, Plate(pole_pairs=2))
    assert found["commutation_valid"] == Reading("commutation_valid", "wrong")
    assert found["speed_rpm"].confidence is Confidence.DOUBTFUL
    assert found["speed_rpm"].value == pytest.approx(1000.0)
    assert "order" in found["speed_rpm"].reason


def test_two_wires_exchanged_look_like_turning_backward() -> None:
    swapped = [(tick, (state & 1) << 1 | (state & 2) >> 1 | state & 4) for tick, state in turning(1000, 2, 100)]
    found = at(train(HALLS, swapped, before=4), swapped[-1][0] / S, Plate(pole_pairs=2))
    assert found["direction"].value == "backward"
    assert found["commutation_valid"].value == "right"


def test_a_dead_sensor_makes_the_order_wrong() -> None:
    stuck: list[tuple[int, int]] = []
    for tick, state in turning(1000, 2, 100):
        if not stuck or stuck[-1][1] != state & 6:
            stuck.append((tick, state & 6))
    found = at(train(HALLS, stuck, before=4), stuck[-1][0] / S, Plate(pole_pairs=2))
    assert found["commutation_valid"].value == "wrong"
    assert found["speed_rpm"].confidence is not Confidence.GOOD


def test_an_illegal_state_has_no_sector() -> None:
    edges = [*turning(1000, 1, 30), (300_000, 7)]
    found = at(train(HALLS, edges, before=4), 0.301, Plate(pole_pairs=1))
    assert found["hall_state"].value == 7
    assert found["sector"].confidence is Confidence.ABSENT
    assert "7" in found["sector"].reason


def test_before_the_first_edge_only_the_level_is_known() -> None:
    found = at(train(HALLS, [], before=5), 0.2)
    assert found["hall_state"].value == 5
    assert found["sector"].value == 1
    assert found["electrical_deg"] == Reading("electrical_deg", 60.0, Confidence.DOUBTFUL, "somewhere in this sector")
    for key in ("speed_rpm", "direction", "commutation_valid", "state_order", "electrical_frequency_hz"):
        assert found[key].confidence is Confidence.ABSENT, key


def test_an_unknown_level_is_not_invented() -> None:
    found = at(train(HALLS, [], before=None), 0.2)
    assert {each.confidence for each in found.values()} == {Confidence.ABSENT}


def test_without_pole_pairs_the_electrical_frequency_is_still_known() -> None:
    edges = turning(1000, 1, 100)
    found = at(train(HALLS, edges, before=4), edges[-1][0] / S, Plate())
    assert found["speed_rpm"] == Reading("speed_rpm", None, Confidence.ABSENT, "pole pairs are not known")
    assert found["electrical_frequency_hz"].value == pytest.approx(1000 / 60)


def speeds_after(edges: Sequence[tuple[int, int]], plate: Plate, times_s: Sequence[float]) -> list[float]:
    values = [at(train(HALLS, edges, before=4), time_s, plate)["speed_rpm"].value for time_s in times_s]
    return [value for value in values if isinstance(value, float)]


def test_after_the_last_edge_the_speed_falls_by_itself() -> None:
    # At most one sector in the time since: 10 / (p age), so 2 s with one pole pair and 0.29 s with seven to 5 r/min.
    edges = turning(1000, 1, 100)
    last_s = edges[-1][0] / S
    ages = [0.001, 0.01, 0.0126, 0.02, 0.05, 0.1, 0.5, 1.0, 2.0, 3.0, 3.99, 4.01, 9.0]
    speeds = speeds_after(edges, Plate(pole_pairs=1), [last_s + age for age in ages])
    assert len(speeds) == len(ages)
    assert all(later <= earlier for earlier, later in pairwise(speeds))
    assert speeds[1] == pytest.approx(1000.0)
    assert speeds[3:8] == pytest.approx([10.0 / age for age in ages[3:8]])
    assert speeds[8:] == [0.0] * 5  # from 2 s on it is under 5 r/min, which counts as standing


def test_the_falling_bound_is_doubtful_until_the_shaft_stands() -> None:
    edges = turning(1000, 7, 400)
    last_s = edges[-1][0] / S
    falling = at(train(HALLS, edges, before=4), last_s + 0.1, Plate(pole_pairs=7))["speed_rpm"]
    assert falling.confidence is Confidence.DOUBTFUL
    assert falling.value == pytest.approx(10 / 0.7)
    assert "at most" in falling.reason
    still = at(train(HALLS, edges, before=4), last_s + 0.3, Plate(pole_pairs=7))
    assert still["speed_rpm"].confidence is Confidence.GOOD
    assert still["direction"] == Reading("direction", "standing")


def test_a_board_that_joins_a_resting_shaft_says_so_once_it_is_sure() -> None:
    resting = train(HALLS, [], before=5)
    assert at(resting, 1.9, Plate(pole_pairs=1))["speed_rpm"].confidence is Confidence.ABSENT
    assert at(resting, 2.1, Plate(pole_pairs=1))["speed_rpm"] == Reading("speed_rpm", 0.0)


def test_trembling_on_an_edge_is_not_speed() -> None:
    edges = [*turning(100, 1, 8), *((800_000 + 2000 * k, (5, 1)[k % 2]) for k in range(20))]
    found = at(train(HALLS, edges, before=4), 0.85, Plate(pole_pairs=1))
    assert found["speed_rpm"] == Reading("speed_rpm", 0.0, Confidence.DOUBTFUL, "trembles on an edge")


def test_a_reversal_is_confirmed_by_the_second_step() -> None:
    forward = turning(500, 1, 31)  # sector 1 entered last
    back = [(forward[-1][0] + 20_000 * k, (4, 6, 2, 3)[k - 1]) for k in (1, 2, 3, 4)]
    one = at(train(HALLS, [*forward, back[0]], before=4), back[0][0] / S, Plate(pole_pairs=1))
    assert one["direction"] == Reading("direction", "standing", Confidence.DOUBTFUL, "turned back at the last edge")
    two = at(train(HALLS, forward + back, before=4), back[-1][0] / S, Plate(pole_pairs=1))
    assert two["direction"] == Reading("direction", "backward")
    assert two["speed_rpm"].value == pytest.approx(-500.0)
    assert two["speed_rpm"].confidence is Confidence.DOUBTFUL  # less than an electrical turn since
    assert two["commutation_valid"].value == "right"


def test_a_lost_edge_makes_the_order_wrong_until_it_has_left_the_window() -> None:
    edges = turning(1000, 1, 100)
    del edges[60]
    found = at(train(HALLS, edges, before=4), 0.65, Plate(pole_pairs=1))
    assert found["commutation_valid"].value == "wrong"
    found = at(train(HALLS, edges, before=4), 0.95, Plate(pole_pairs=1))
    assert found["commutation_valid"] == Reading("commutation_valid", "right")


def test_one_pulse_a_turn_over_whole_pulses() -> None:
    # n = 60 N / (m t): pulses 42.25 ms apart are 1420 r/min.
    found = at(train(pulse_input(), pulses(np.arange(40) * 60 / 1420)), 1.5, Plate())
    assert found["speed_rpm"] == good("speed_rpm", 1420.0, 1e-5)


def test_one_interval_that_may_hold_a_rest_is_not_believed() -> None:
    only = at(train(pulse_input(), pulses([1.0, 2.0])), 2.1, Plate())["speed_rpm"]
    assert only.value == 60.0
    assert only.confidence is Confidence.DOUBTFUL
    assert "may have stood" in only.reason
    freed = train(pulse_input(), pulses([0.0, 0.05, 0.1, 5.0, 5.3, 5.55, 5.78]))  # held for five seconds
    found = at(freed, 5.1, Plate())["speed_rpm"]
    assert found.value == pytest.approx(60 / 4.9)
    assert found.confidence is Confidence.DOUBTFUL
    assert "slowed or stood" in found.reason
    found = at(freed, 5.4, Plate())["speed_rpm"]
    assert "speed rose" in found.reason
    assert at(freed, 5.56, Plate())["speed_rpm"] == good("speed_rpm", 240.0)  # like the interval before


def test_an_interval_in_which_the_shaft_was_proven_to_stand_is_no_speed() -> None:
    again = train(pulse_input(), pulses([1.0, 2.0, 20.0]))
    assert at(again, 20.1, Plate())["speed_rpm"].reason == "it had stood: one more pulse is needed"
    assert at(again, 20.1, Plate())["speed_rpm"].confidence is Confidence.ABSENT


def test_a_slow_shaft_is_read_from_the_last_pulse_interval() -> None:
    found = at(train(pulse_input(), pulses([1.0, 2.0, 3.0])), 3.5, Plate())
    assert found["speed_rpm"] == good("speed_rpm", 60.0)
    found = at(train(pulse_input(), pulses([1.0, 2.0, 3.0])), 4.5, Plate())
    assert found["speed_rpm"].value == pytest.approx(40.0)
    assert found["speed_rpm"].confidence is Confidence.DOUBTFUL


def test_a_pulse_shaft_stands_after_12_seconds_without_a_pulse() -> None:
    turned = train(pulse_input(), pulses([1.0, 2.0]))
    assert at(turned, 13.9, Plate())["speed_rpm"].value == pytest.approx(60 / 11.9)
    assert at(turned, 13.9, Plate())["speed_rpm"].confidence is Confidence.DOUBTFUL
    assert at(turned, 14.1, Plate())["speed_rpm"] == Reading("speed_rpm", 0.0)


def test_chatter_of_a_pulse_sensor_adds_no_turns() -> None:
    times = np.arange(40) * 0.04
    chatter = [(round(time * S) + late, state) for time in times for late, state in ((20, 0), (50, 1))]
    edges = sorted([*pulses(times), *chatter])
    found = at(train(pulse_input(), edges), 1.5, Plate())
    assert found["speed_rpm"].value == pytest.approx(1500.0, rel=1e-4)


def test_short_pulses_are_pulses() -> None:
    found = at(train(pulse_input(), pulses(np.arange(40) * 0.04, width_s=30e-6)), 1.5, Plate())
    assert found["speed_rpm"].value == pytest.approx(1500.0, rel=1e-4)


def test_a_single_hall_sensor_gives_a_pulse_for_each_pole_pair() -> None:
    edges = pulses(np.arange(200) * 0.01, width_s=0.005)
    found = at(train(HALLS[:1], edges), 1.5, Plate(pole_pairs=4))
    assert found["speed_rpm"].value == pytest.approx(1500.0)


def test_no_input_no_reading() -> None:
    assert edge_readings(train((), []), 0, 200_000, Plate()) == EdgeReadings([], 0, [])


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 9), st.floats(30, 6000), st.integers(0, 5), st.integers(8, 300), st.booleans())
def test_older_edges_change_nothing(pole_pairs: int, rpm: float, phase: int, cut: int, forward: bool) -> None:
    plate = Plate(pole_pairs=pole_pairs)
    edges = turning(rpm if forward else -rpm, pole_pairs, 1200, at=phase)
    end_tick = edges[-1][0] + 40
    first_tick = end_tick - 200_000
    whole = edge_readings(train(HALLS, edges, before=4), first_tick, end_tick, plate)
    needed = sum(tick > first_tick for tick, _ in edges) + min(48 * pole_pairs, 360) + 10
    first = max(0, len(edges) - needed - cut)
    before = edges[first - 1][1] if first else 4
    shorter = train(HALLS, edges[first:], before=before, known_from=edges[first][0])
    assert edge_readings(shorter, first_tick, end_tick, plate) == whole
