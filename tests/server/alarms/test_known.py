"""What alarms can be set on is what the service tells."""

import re
from pathlib import Path

import server
from server.alarms.known import EVENT_KINDS, VERDICT_KEYS
from server.alarms.notice import Rank
from server.alarms.ready import OUTCOMES, READY
from server.alarms.rule import rules_of
from server.alarms.watched import FIGURES

ROOT = Path(server.__file__).parent
HERE = "run_commutation_"  # late or early, by the sign


def literals(folder: str, pattern: str) -> set[str]:
    text = "\n".join(path.read_text() for path in sorted((ROOT / folder).glob("*.py")))
    return set(re.findall(pattern, text))


def test_kinds_of_events_are_those_of_the_detectors_and_of_the_board() -> None:
    told = literals("events", r'Event\(\s*"(\w+)"') | literals("verdicts", r'Event\("(\w+)"') | {"board_reset"}
    table = literals("events", r'\("\w*", "\w+"\): \("(\w+)"')
    swings = literals("events", r'\("(voltage_\w+)", "rose"\)') | literals("events", r'else \("(voltage_\w+)"')
    assert set(EVENT_KINDS) == told | table | swings


def test_keys_of_verdicts_are_those_of_a_run() -> None:
    told = literals("verdicts", r'Verdict\(\s*\*?\(?"(\w+)"')
    assert set(VERDICT_KEYS) == told | {f"{HERE}late", f"{HERE}early"}
    assert literals("verdicts", r'f"(run_commutation_)\{side\}"') == {HERE}


def test_ready_alarms_that_nobody_asked_for_are_few_and_each_says_an_act() -> None:
    usual = rules_of(())
    of_the_motor = {"stalled", "board_gone", "phase_open", "bridge_leg_dead"}
    assert {rule.name for rule in usual} == of_the_motor | {"recording_failed", "disk_nearly_full"}
    asked = [rule for rule in rules_of((), planned=True) if rule not in usual]
    assert [rule.name for rule in asked] == list(OUTCOMES), "who makes a plan asks for these"
    assert all(len(rule.its.act) > 5 and rule.why for rule in usual)
    assert {rule.name for rule in usual if rule.rank is Rank.CAUTION} == {"recording_failed", "disk_nearly_full"}
    assert {name for name, ready in READY.items() if ready.cause == "drift"} == set(FIGURES)


def test_the_ready_limit_of_a_winding_is_that_of_class_b_and_settings_name_those_of_f_and_h() -> None:
    """Rises by resistance over air of 40 degrees: 80, 105 and 125 K (IEC 60034-1, from memory), each below the hottest
    place that the class stands: 130, 155, 180 degrees (IEC 60085, as a published table of thermal classes has them)."""
    rises_k, hottest_c = {"B": 80.0, "F": 105.0, "H": 125.0}, {"B": 130.0, "F": 155.0, "H": 180.0}
    limits_c = {letter: 40.0 + rise_k for letter, rise_k in rises_k.items()}
    assert all(limits_c[letter] < hottest_c[letter] for letter in limits_c)
    assert READY["winding_temperature"].usual.high == limits_c["B"]
    told = (ROOT / "settings" / "SETTINGS.md").read_text()
    assert f"`high = {limits_c['F']}` for F, `{limits_c['H']}` for H" in told
