"""The run state row by row: what makes each state, and that a late beginner comes to the same one."""

from dataclasses import replace
from math import nan
from random import Random

import pytest

from server.config import Plate, RigSettings
from server.run_state import Levels, RunState
from server.run_state.machine import Machine
from server.run_state.row import Row, State
from tests.server.run_state.test_levels import levels

PLATE = Plate(voltage_v=230.0, frequency_hz=50.0, current_a=0.5, speed_rpm=1400.0, locked_rotor_current_a=1.5)
AC, DC = levels(PLATE), levels(PLATE, "brushless", True)
REST = Row(0.0, 0.0, 0.0, 0.0, 0, True, True)
RUN = Row(0.5, 230.0, 1400.0, 2000.0, 1, True, True)
HELD = Row(1.5, 230.0, 0.0, 20.0, 0, True, True)
COAST = Row(0.0, 5.0, 900.0, 1000.0, 1, True, True)
STANDING = replace(HELD, bound_rpm=4.0)
CREEPING = Row(0.0, 0.0, 20.0, 20.0, 0, True, True)  # at most: the last edge is 3 s ago
INRUSH = Row(1.5, 230.0, 300.0, 400.0, 1, True, True)


def after(*stretches: tuple[int, Row], levels: Levels = AC) -> Machine:
    machine = Machine(levels)
    for count, row in stretches:
        for _ in range(count):
            machine.take(row)
    return machine


RESTED = (60, REST)
STARTED = (RESTED, (20, INRUSH))
RUNNING = (*STARTED, (45, RUN))


WRONG = levels(replace(PLATE, current_a=1000.0, locked_rotor_current_a=None))  # of a motor of 0.5 A


def test_a_current_that_flows_at_the_supplys_voltage_is_neither_rest_nor_coasting_whatever_the_plate_says() -> None:
    """Such a plate makes 20 A the least current: also after 10 s without a sensor, where rest is told."""
    drawn = replace(RUN, amps=4.0)
    unseen = replace(drawn, rpm=nan, bound_rpm=None, edges=0)
    for row in (drawn, unseen, replace(drawn, volts=150.0)):
        machine = after((19, row), levels=WRONG)
        assert (machine.state, machine.reason) == (State.UNKNOWN, "not enough was seen yet")
        machine = after((1500, row), levels=WRONG)
        assert (machine.state, machine.reason) == (State.UNKNOWN, WRONG.plate_doubt)
    assert after((1500, drawn), RESTED, levels=WRONG).state is State.RESTING
    assert after((1500, replace(unseen, volts=0.0)), levels=WRONG).state is State.RESTING  # an offset, by what is known
    assert after((1500, replace(unseen, amps=0.04)), levels=WRONG).state is State.RESTING  # a leak
    assert after((1500, drawn), levels=AC).state is State.RUNNING


@pytest.mark.parametrize(
    ("stretches", "state"),
    [
        ([RESTED], State.RESTING),
        ([(4, REST)], State.STILL),  # 50 ms of rest
        ([*STARTED], State.STARTING),
        ([*STARTED, (39, RUN)], State.STARTING),  # not yet settled
        ([*RUNNING], State.RUNNING),
        ([*RUNNING, (500, replace(RUN, amps=0.9))], State.RUNNING),  # being loaded is not leaving
        ([*RUNNING, (49, HELD)], State.RUNNING),
        ([*RUNNING, (9, STANDING)], State.RUNNING),
        ([*RUNNING, (10, STANDING)], State.STALLED),  # known to stand
        ([*RUNNING, (1, replace(STANDING, amps=0.5))], State.UNKNOWN),  # stands, but not with the locked current
        ([*RUNNING, (50, HELD), (2, CREEPING)], State.RESTING),  # switched off while held
        ([*RUNNING, (50, HELD), (2, replace(CREEPING, volts=12.0))], State.RESTING),  # what dies away turned nothing
        ([*RUNNING, (50, HELD), (2, CREEPING), (40, COAST)], State.COASTING),  # turned by hand
        ([*RUNNING, (50, HELD), (2, CREEPING), (1, HELD)], State.STARTING),
        ([*RUNNING, (50, HELD)], State.STALLED),
        ([*RUNNING, (50, HELD), (1, INRUSH)], State.STARTING),  # came free
        ([*RUNNING, (50, HELD), (19, replace(HELD, amps=0.9))], State.STALLED),  # current fell: speed may come yet
        ([*RUNNING, (50, HELD), (20, replace(HELD, amps=0.9))], State.UNKNOWN),  # and did not
        ([*RUNNING, (50, HELD), (3, replace(HELD, amps=0.9)), (1, RUN)], State.STARTING),  # and came: it is free
        ([RESTED, (149, HELD)], State.STARTING),
        ([RESTED, (150, HELD)], State.STALLED),  # held from the start
        ([*RUNNING, (60, replace(HELD, amps=1.0))], State.UNKNOWN),  # no speed, not the locked current
        ([*RUNNING, (2, COAST)], State.COASTING),
        ([*RUNNING, (1, COAST)], State.RUNNING),  # one lost half cycle
        ([*RUNNING, (30, COAST), (60, REST)], State.RESTING),
        ([*RUNNING, (30, COAST), (1, INRUSH)], State.STARTING),  # power is back
        ([*RUNNING, (30, replace(COAST, rpm=0.0, volts=120.0))], State.COASTING),  # by its own EMF alone
        ([*RUNNING, (60, replace(REST, volts=230.0))], State.RESTING),  # a full voltage without current is no EMF
        ([RESTED, (30, replace(REST, amps=0.02, rpm=nan))], State.RESTING),  # between 2 and 5 percent
        ([RESTED, (499, replace(INRUSH, rpm=100.0))], State.STARTING),
        ([RESTED, (502, replace(INRUSH, rpm=100.0, amps=1.0))], State.UNKNOWN),  # the start did not end in 5 s
    ],
)
def test_states_of_an_alternating_motor(stretches: list[tuple[int, Row]], state: State) -> None:
    assert after(*stretches).state is state


def test_a_shaft_whose_next_edge_is_overdue_coasts_in_doubt() -> None:
    turns = (30, replace(COAST, edges=1))
    late = replace(COAST, rpm=20.0, bound_rpm=20.0, edges=0)
    assert after(*RUNNING, turns, (3, late)).reason == ""
    machine = after(*RUNNING, turns, (4, late))  # one row between the last edges
    assert (machine.state, machine.reason) == (
        State.COASTING,
        "the next edge is overdue: it was braked, or stands",
    )
    assert after(*RUNNING, turns, (4, late), (2, COAST)).reason == ""


def test_a_drive_is_settled_when_the_speed_is_too() -> None:
    ramp = [(1, replace(RUN, rpm=20.0 * k)) for k in range(1, 60)]
    assert after(RESTED, *ramp, levels=DC).state is State.STARTING
    assert after(RESTED, *ramp, (60, RUN), levels=DC).state is State.RUNNING


def test_a_motor_that_turns_the_other_way_starts_again() -> None:
    back = replace(RUN, rpm=-1400.0)
    assert after(*RUNNING, (1, back), levels=DC).state is State.STARTING
    assert after(*RUNNING, (60, back), levels=DC).state is State.RUNNING


def test_a_locked_current_goes_with_the_voltage() -> None:
    sagged = Row(1.05, 161.0, 0.0, 20.0, 0, True, True)  # 1.5 A at 230 V
    assert after(*RUNNING, (50, sagged)).state is State.STALLED
    assert after(*RUNNING, (50, replace(sagged, volts=230.0))).state is State.RUNNING


def test_without_a_speed_sensor_the_current_is_the_evidence_and_rest_takes_longer() -> None:
    def blind(row: Row) -> Row:
        return replace(row, rpm=nan, bound_rpm=None, edges=0)

    running = [(1100, blind(REST)), (20, blind(INRUSH)), (45, blind(RUN))]
    assert after((999, blind(REST))).state is State.STILL
    assert after((1000, blind(REST))).state is State.RESTING
    assert after(*running).state is State.RUNNING
    assert after(*running, (50, blind(HELD))).state is State.STALLED
    still = after(*running, (30, blind(REST)))
    assert (still.state, still.reason) == (
        State.STILL,
        "whether the shaft still turns is not known: there is no speed sensor",
    )


def test_a_stall_that_is_judged_by_the_typical_band_says_so() -> None:
    machine = after(*RUNNING, (60, HELD), levels=levels())
    assert machine.state is State.STALLED
    assert "typical band" in machine.reason


def test_a_motor_that_was_held_when_it_was_switched_off_rests_but_that_is_doubtful_until_it_is_proved() -> None:
    held = [*RUNNING, (50, HELD)]
    off = after(*held, (2, CREEPING))
    assert off.reason == "it was held until its current ended: no edge came since"
    assert after(*held, (2, CREEPING), (50, REST)).reason == ""
    blind = replace(CREEPING, rpm=nan, bound_rpm=None)
    assert after(*held, (2, blind)).reason == "it was held until its current ended: there is no speed sensor"


@pytest.mark.parametrize(
    ("stretches", "since"),  # number of the first row of the state that the last row told
    [
        ([RESTED], 1),
        ([RESTED, (1, INRUSH)], 61),
        ([RESTED, *[(1, replace(INRUSH, rpm=140.0 * k)) for k in range(10)], (45, RUN)], 71),  # 95 % of 1400 r/min
        ([*RUNNING, (1, COAST), (1, COAST)], 126),
        ([*RUNNING, (5, replace(HELD, bound_rpm=900.0)), (45, HELD)], 126),  # by the current, once it is known to stand
        ([RESTED, (150, HELD)], 61),  # never turned: a start is given its time, and then it was none
        ([*STARTED, (150, HELD)], 81),  # turned, and then was held
        ([*RUNNING, (50, HELD), (1, replace(HELD, edges=1)), (4, HELD), (1, INRUSH)], 176),  # since the first edge
        ([*RUNNING, (50, HELD), (2, CREEPING)], 176),
        ([*RUNNING, (20, COAST), (70, replace(COAST, edges=0, volts=0.0)), (60, REST)], 146),
    ],
)
def test_a_state_is_dated_where_it_began_not_where_it_was_told(stretches: list[tuple[int, Row]], since: int) -> None:
    machine = after(*stretches)
    told = after(*stretches[:-1], (stretches[-1][0] - 1, stretches[-1][1]))
    assert machine.since == since
    assert machine.state is not State.RUNNING or told.state in (State.RUNNING, State.STARTING)


def test_nothing_is_dated_before_a_gap() -> None:
    gap = replace(RUN, whole=False)
    assert after(*STARTED, (10, RUN), (1, gap), (45, RUN)).since == 92


def story(draw: Random) -> list[Row]:
    """Rows of a motor that does anything in any order."""
    kinds = [REST, RUN, HELD, COAST, INRUSH, replace(RUN, rpm=-1400.0), replace(HELD, amps=1.0)]
    kinds += [
        CREEPING,
        STANDING,
        replace(CREEPING, volts=9.0),
        replace(REST, amps=0.02),
        replace(COAST, rpm=7.0, bound_rpm=8.0, volts=0.0, edges=0),
    ]
    rows: list[Row] = []
    while len(rows) < 1500:
        rows += [draw.choice(kinds)] * draw.choice((1, 2, 5, 20, 60, 160))
    return rows


@pytest.mark.parametrize("levels", [AC, DC], ids=["AC", "DC"])
def test_a_machine_that_begins_in_the_middle_is_never_sure_of_another_state(levels: Levels) -> None:
    """Each gap of one row makes a fresh machine; once it is sure, it says what the one says that saw everything."""
    agreed = 0
    for seed in range(60):
        draw = Random(seed)
        rows = story(draw)
        gaps = {draw.randrange(len(rows)) for _ in range(draw.choice((1, 5, 30)))}
        whole, gapped = RunState(levels), RunState(levels)
        for k, row in enumerate(rows):
            one = whole.take(row)
            other = gapped.take(replace(row, whole=False) if k in gaps else row)
            if not other.doubt:
                assert (other.state, one.doubt) == (one.state, ""), (seed, k)
                agreed += 1
    assert agreed > 20_000


def test_rows_that_are_not_sure_confirm_nothing() -> None:
    state = RunState(AC)
    told = [state.take(replace(REST, sure=False)) for _ in range(80)]
    assert told[-1].state is State.RESTING
    assert told[-1].doubt
    assert not state.take(REST).doubt


def test_a_state_is_told_as_unknown_with_its_reason_before_anything_was_seen() -> None:
    reading = RunState(AC).take(RUN).reading
    assert reading.value == "unknown"
    assert "not enough was seen yet" in reading.reason


def test_settings_change_the_stopped_speed() -> None:
    from server.motors import motor_type
    from server.run_state import levels_of
    from tests.server.run_state.test_levels import LINE

    motor = motor_type("brushless")
    assert motor is not None
    slow = levels_of(motor, PLATE, RigSettings("r", stopped_rpm=50.0), LINE, True)
    assert isinstance(slow, Levels)
    creeping = Row(0.0, None, 30.0, 40.0, 1, True, True)
    assert after((60, creeping), levels=DC).state is State.COASTING
    assert after((60, creeping), levels=slow).state is State.RESTING


def test_without_a_speed_sensor_a_current_that_tells_nothing_is_neither_running_nor_stalled() -> None:
    def blind(row: Row) -> Row:
        return replace(row, rpm=nan, bound_rpm=None, edges=0)

    shaded = levels(Plate(voltage_v=230.0, frequency_hz=50.0, current_a=0.5), "shaded_pole")
    for row in (RUN, HELD):
        machine = after((1000, blind(REST)), (300, blind(row)), levels=shaded)
        assert (machine.state, machine.reason) == (
            State.UNKNOWN,
            "the current of this type is nearly the same running and held",
        )
