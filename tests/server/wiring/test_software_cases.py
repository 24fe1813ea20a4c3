"""Faults of the software board's own draws are told; its healthy motors have none."""

import pytest

from tests.server.wiring.software_cases import DUE, judged

_HOLDS = {"commutation_good", "commutation_timed", "hall_lines_good"}


@pytest.mark.parametrize("fault", DUE)
def test_each_draw_of_a_fault_is_told(fault: str) -> None:
    told = 0
    for seed in range(3):
        judgement, shows = judged(fault, seed)
        if not shows:
            continue
        told += 1
        said = {verdict.key for verdict in judgement.verdicts if verdict.key.startswith(("hall_", "lead_"))}
        assert said & set(DUE[fault]), (fault, seed, said)
        assert said <= {*DUE[fault], *_HOLDS}, (fault, seed, said)
    assert told


@pytest.mark.parametrize(("fault", "seed"), [("edges_doubled", 7010), ("edges_missed", 7022)])
def test_two_pulses_or_two_skipped_sectors_are_enough_to_be_told(fault: str, seed: int) -> None:
    judgement, _ = judged(fault, seed)
    (verdict,) = (each for each in judgement.verdicts if each.key in DUE[fault])
    assert any(text.startswith(("2 pulses", "2 of")) for text in (sign.text for sign in verdict.signs))


def test_healthy_motors_run_the_way_they_were_turned_and_have_no_fault() -> None:
    for seed in range(12):
        forward, _ = judged("", seed)
        assert {verdict.key for verdict in forward.verdicts} == _HOLDS
        assert forward.verdicts[0].key == "commutation_good"
        backward, _ = judged("", seed, "backward")
        assert backward.order.fraction == pytest.approx(-1.0, abs=0.06)
