"""What is watched, in words."""

import pytest

from server.alarms.rule import rules_of
from server.alarms.shown import when_words
from server.config import AlarmSettings


@pytest.mark.parametrize(
    ("its", "words"),
    [
        (
            AlarmSettings("a", act="x", reading="current_rms_a", high=6.5, return_gap=0.5, state="running"),
            "Current, RMS above 6.5\u00a0A for 2\u00a0s, over when back inside by 0.5\u00a0A, while running",
        ),
        (
            AlarmSettings("a", act="x", reading="current_rms_a", low=1.0, high=2.0, hold_s=0.0),
            "Current, RMS above 2\u00a0A or below 1\u00a0A",
        ),
        (AlarmSettings("a", act="x", event="gap"), "samples are missing"),
        (AlarmSettings("a", act="x", no_samples_s=30.0, state="running"), "no samples for 30\u00a0s, while running"),
        (AlarmSettings("a", act="x", drift="speed_rpm"), "Speed drifted by 1\u00a0% or more"),
        (AlarmSettings("overloaded"), "trip class 10, set to the plate's current"),
        (AlarmSettings("stalled"), "must last for 0.5\u00a0s, 2\u00a0s where it is doubtful"),
    ],
)
def test_what_was_set_is_told_with_its_limits_and_times(its: AlarmSettings, words: str) -> None:
    assert next(when_words(rule) for rule in rules_of([its]) if rule.name == its.name) == words
