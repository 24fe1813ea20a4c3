"""A few words for what happened: the worst first, then what is odd, starts where there was nothing else."""

from server.runs.happened import happened


def events(*kinds: str) -> list[dict[str, object]]:
    return [{"kind": kind, "text": f"What is {kind}"} for kind in kinds]


def test_a_run_in_which_nothing_odd_happened_tells_its_starts() -> None:
    assert happened(events("power_on", "running", "power_off")) == ["one start"]
    assert happened(events("power_on", "power_off", "power_on")) == ["2 starts"]
    assert happened([]) == []


def test_what_is_odd_stands_first_and_is_counted() -> None:
    told = events("power_on", "load_step", "load_step", "stalled", "load_step", "voltage_dip")
    assert happened(told) == ["stalled", "what is voltage_dip", "load changed 3 times"]
    assert happened(events("load_step", "load_step")) == ["load changed twice"]
    assert happened(events("voltage_dip", "voltage_dip")) == ["voltage dipped twice"]
    assert happened(events("auxiliary", "auxiliary")) == ["what is auxiliary, twice"]


def test_two_of_a_kind_that_say_different_things_are_two_and_alarms_are_told_as_they_were_kept() -> None:
    told = [{"kind": "auxiliary", "text": text} for text in ("It fell to zero", "It came back", "It came back")]
    assert happened(told) == ["it fell to zero", "it came back, twice"]
    assert happened(told, of_all={"auxiliary": 9}) == ["it fell to zero, at least once", "it came back, at least twice"]
    alarms = events("alarm_raised", "alarm_ended", "stalled")
    raised = {"alarm raised: The motor is stalled": 2, "caution raised: Current, RMS is high": 1}
    assert happened(alarms, raised=raised) == [
        "stalled",
        "alarm raised: The motor is stalled, twice",
        "caution raised: Current, RMS is high",
    ]


def test_where_not_all_events_are_kept_all_are_counted() -> None:
    assert happened(events("power_on", "power_off"), of_all={"power_on": 5000, "power_off": 5000}) == ["5000 starts"]
    assert happened(events("load_step"), of_all={"stalled": 12, "load_step": 40, "running": 3, "odd": 2}) == [
        "stalled 12 times",
        "load changed 40 times",
    ]
    assert happened([], of_all={"voltage_dip": 1}) == ["voltage dipped once"]


def test_a_stall_stands_first_however_often_it_came_then_alarms_then_time_without_samples() -> None:
    told = events(*["stalled"] * 21, "board_reset", "reversed", "reversed")
    alarm = {"alarm raised: The motor is stalled": 4}
    assert happened(told, 49.2, raised=alarm) == [
        "stalled 21 times",
        "alarm raised: The motor is stalled, 4 times",
        "49 s without samples",
    ]
    assert happened(told, 3600.0) == ["stalled 21 times", "3600 s without samples", "board started anew"]
    assert happened(events("power_on"), 7.04) == ["7.0 s without samples"]
    assert happened(events("gap"), 0.01) == []


def test_a_text_keeps_its_capital_where_it_is_a_name_and_its_braces_mean_nothing() -> None:
    assert happened([{"kind": "odd", "text": "L1 was lost"}]) == ["L1 was lost"]
    assert happened([{"kind": "odd", "text": "It {said} so"}] * 2) == ["it said so, twice"]
