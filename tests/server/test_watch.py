"""What fails while a window is looked at is left out with its reason, and the rest goes on."""

from typing import Any

import pytest

from server import watch, watched_state
from server.config import RigSettings
from server.events import DETECTORS, Detector
from server.pipeline import Output, Pipeline
from server.quantities import window
from server.quantities.power import power_readings
from server.readings import Confidence, Reading
from server.run_state import rows_of
from server.wiring.following import Following
from tests.server.tiny_board import PLATE, STORY, TinyBoard
from tests.server.worlds_of_shafts import BRUSHLESS, FAN, HALLS

HALLS_BOARD = TinyBoard(inputs=HALLS, plate=PLATE.replace(FAN, BRUSHLESS))


def run() -> Output:
    return Pipeline(RigSettings("r")).push(TinyBoard().wire(STORY), 0.0)


def readings(output: Output, key: str) -> list[Reading]:
    return [each for instant in output.instants for each in instant.readings if each.id == key]


def raising_at(call: int, original: Any) -> Any:
    """The function, raising from its call number `call` on."""
    calls = [0]

    def wrapped(*arguments: Any) -> Any:
        calls[0] += 1
        if calls[0] >= call:
            raise ZeroDivisionError("sample n")
        return original(*arguments)

    return wrapped


def test_a_family_of_quantities_that_raises_is_absent_and_the_others_are_as_before(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fails(a: Any) -> list[Reading]:
        if not a.partial:
            raise ZeroDivisionError("sample n")
        return power_readings(a)

    before = run()
    monkeypatch.setattr(window, "power_readings", fails)
    after = run()
    for each in readings(after, "active_power_w"):
        assert each.confidence is Confidence.ABSENT
        assert each.reason == "our own fault: computing it failed (ZeroDivisionError: sample n)"
    for key in ("current_rms_a", "frequency_hz", "run_state", "speed_rpm"):
        assert readings(after, key) == readings(before, key)
    assert after.events == before.events


@pytest.mark.parametrize(
    ("name", "key", "what"),
    [
        ("readings_of", "current_rms_a", "readings of group 0"),
        ("shaft_readings", "speed_rpm", "readings of the shaft"),
    ],
)
def test_what_raises_is_absent_from_then_on_and_reported_once(
    monkeypatch: pytest.MonkeyPatch, name: str, key: str, what: str
) -> None:
    before = run()
    monkeypatch.setattr(watch, name, raising_at(20, getattr(watch, name)))
    after = run()
    assert [each.text for each in after.damage if each.kind == "fault"] == [
        f"Our own fault: computing the {what} failed (ZeroDivisionError: sample n)"
    ]
    assert readings(after, key)[:18] == readings(before, key)[:18]
    assert {each.confidence for each in readings(after, key)[20:]} == {Confidence.ABSENT}
    assert readings(after, "run_state") == readings(before, "run_state")


def test_a_run_state_that_raises_is_unknown(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(watched_state, "rows_of", raising_at(20, rows_of))
    after = run()
    state = readings(after, "run_state")[-1]
    assert state.value == "unknown"
    assert state.reason.startswith("our own fault")
    assert readings(after, "current_rms_a")[-1].confidence is Confidence.GOOD


def test_a_detector_that_raises_is_asked_no_more_and_the_others_tell_what_they_saw(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    before = run()
    broken = Detector("broken", raising_at(3, lambda state, block: (state, [])))
    monkeypatch.setattr(watch, "DETECTORS", (broken, *DETECTORS))
    after = run()
    assert after.events == before.events
    assert [each.text for each in after.damage] == [
        "Our own fault: computing the events of the kind broken failed (ZeroDivisionError: sample n)"
    ]


def test_a_clipped_current_makes_the_state_of_that_window_doubtful() -> None:
    output = Pipeline(RigSettings("r")).push(TinyBoard().wire((*STORY[:3], (1.0, 230.0, 9.0, 1400.0))), 0.0)
    assert "the current was clipped" in readings(output, "run_state")[-1].reason
    assert [each.kind for each in output.events].count("clipping") == 1


def test_visits_of_hall_states_that_raise_end_alone_and_are_reported_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The readings, those of the Hall inputs too, are as they were."""
    data = HALLS_BOARD.wire(((1.0, 230.0, 0.5, 300.0),))
    before = Pipeline(RigSettings("r")).push(data, 0.0)
    monkeypatch.setattr(Following, "step", raising_at(2, Following.step))
    after = Pipeline(RigSettings("r")).push(data, 0.0)
    assert [each.text for each in after.damage if each.kind == "fault"] == [
        "Our own fault: computing the visits of the Hall states failed (ZeroDivisionError: sample n)"
    ]
    assert after.instants == before.instants
