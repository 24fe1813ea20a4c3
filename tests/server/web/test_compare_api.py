"""Two recorded runs laid on each other over HTTP: rows, what differs, and refusals that say what to do."""

import time
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import httpx2
import pytest

from server import comparing
from server.recorded import Recorded
from server.runs.beside import write_digest
from server.runs.sum_up import summed_up
from tests.server.notify.notices import until
from tests.server.runs.recordings import OPENED_UTC_S, Story, recorded_run
from tests.server.web.test_runs_api import AUTHORIZED, SHORT, Runs, runs, whole

__all__ = ["runs"]

STORY: Story = ((1.0, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 0.0), (6.0, 230.0, 0.5, 1400.0), (1.0, 0.0, 0.0, 0.0))
HEAVIER: Story = ((1.0, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 0.0), (6.0, 230.0, 0.7, 1300.0), (1.0, 0.0, 0.0, 0.0))


def asked(runs: Runs, query: str) -> tuple[int, Any]:
    """Both are played by programs of low priority, which a busy PC lets wait."""
    with runs.service.client as client:
        answer = client.get(f"/api/compare?{query}", headers=AUTHORIZED, timeout=60.0)
    return answer.status_code, answer.json()


def test_two_runs_are_laid_on_each_other_at_power_on_and_only_what_differs_is_told_as_that(runs: Runs) -> None:
    older = whole(runs.library, rig="a", story=STORY)
    newer = whole(runs.library, rig="b", story=HEAVIER, opened_utc_s=OPENED_UTC_S + 86_400.0)
    status, told = asked(runs, f"run={newer}&run={older}")
    assert (status, told["older"]["run"], told["newer"]["run"], told["older"]["motor"]) == (
        200,
        older,
        newer,
        "test fan",
    )
    assert told["kinds"][0] == {"kind": "power_on", "text": "Power came on"}
    assert [told[side]["current_a"][100] for side in ("older", "newer")] == pytest.approx([0.5, 0.7], rel=0.03)
    outcomes = {each["key"]: each for each in told["differences"]}
    speed = outcomes["steady_speed_rpm"]
    assert (speed["outcome"], speed["share"]) == ("differs", pytest.approx(-100.0 / 14.0, abs=1.0))
    assert speed["change_u95"] == pytest.approx((speed["older"]["u95"] ** 2 + speed["newer"]["u95"] ** 2) ** 0.5)
    assert outcomes["on_time_s"]["outcome"] == "alike"
    current = outcomes["steady_current_a"]  # the tiny board does not say how far its current may be off
    assert (current["outcome"], current["why"], current["share"]) == ("unknown", "its ± is not known", None)
    status, told = asked(runs, f"run={newer}&run={older}&at=power_off")
    assert (status, told["kind"], told["newer"]["from_s"]) == (200, "power_off", -1.0)
    assert told["newer"]["current_a"][50] == pytest.approx(0.7, rel=0.03)


def test_what_cannot_be_compared_is_refused_with_what_to_do(runs: Runs) -> None:
    started, still = whole(runs.library, rig="a", story=STORY), whole(runs.library, rig="b", story=SHORT)
    fresh = recorded_run(runs.library, rig="c", story=SHORT)
    for query, said in (
        (f"run={started}", "Two runs are compared at a time, not 1; choose two."),
        (f"run={started}&run={started}", "Two runs are compared at a time, not 1; choose two."),
        (f"run={started}&run={still}&run={fresh}", "Two runs are compared at a time, not 3; choose two."),
        (f"run={started}&run={still}", f"{still} cannot be laid on the other: no start was seen in it; choose another"),
    ):
        status, answer = asked(runs, query)
        assert (status, said in answer["detail"][0].upper() + answer["detail"][1:]) == (409, True), answer
    status, answer = asked(runs, f"run={started}&run={fresh}")
    assert (status, answer["detail"]) == (
        503,
        f"{fresh} has ended and is not summed up yet; it can be compared in a moment.",
    )
    assert asked(runs, f"run={started}&run=no-such-run")[0] == 404
    assert asked(runs, f"run={started}&run={still}&at=stalled")[0] == 409
    for name in (started, still):
        found = summed_up(runs.library.folder / name)
        mark = {"kind": "mark", "text": "the cable is out", "detail": "", "decisive": True, "utc_s": OPENED_UTC_S}
        write_digest(runs.library.folder / name, {**found, "events": [mark, *found["events"]]})
    status, answer = asked(runs, f"run={started}&run={still}&at=mark")
    assert (status, answer["detail"]) == (409, "Runs are not laid on each other at mark; choose other runs.")


def test_a_run_that_began_while_the_motor_ran_is_laid_at_what_both_have_and_not_at_a_start(runs: Runs) -> None:
    started = whole(runs.library, rig="a", story=STORY)
    running = whole(runs.library, rig="b", story=((6.0, 230.0, 0.5, 1400.0), (1.0, 0.0, 0.0, 0.0)))
    status, told = asked(runs, f"run={started}&run={running}")
    assert (status, told["kind"]) == (200, "power_off")
    assert "power_on" not in [each["kind"] for each in told["kinds"]]
    status, told = asked(runs, f"run={started}&run={running}&at=power_on")
    assert (status, "no start was seen in it" in told["detail"]) == (409, True)


def test_comparisons_are_few_bounded_in_time_and_given_up_with_their_askers(
    runs: Runs, monkeypatch: pytest.MonkeyPatch
) -> None:
    older = whole(runs.library, rig="a", story=STORY)
    newer = whole(runs.library, rig="b", story=HEAVIER, opened_utc_s=OPENED_UTC_S + 86_400.0)
    query = f"run={newer}&run={older}"
    assert isinstance(runs.service.rigs.recorded, Recorded)
    made_by = runs.service.rigs.recorded.comparing
    monkeypatch.setattr(comparing, "PROGRAM", "json.tool")  # which waits for the end of what it reads: never answers

    def leaves() -> None:
        with pytest.raises(httpx2.ReadTimeout), runs.service.client as client:
            client.get(f"/api/compare?{query}", headers=AUTHORIZED, timeout=1.5)

    with ThreadPoolExecutor() as pool:
        leaving = [pool.submit(leaves) for _ in range(comparing.COMPARED_MAX)]
        until(lambda: made_by._askers == comparing.COMPARED_MAX)
        for each in leaving:
            each.result()
    until(lambda: not made_by._askers)
    monkeypatch.setattr(comparing, "ANSWER_S", 1.5)
    start_s = time.monotonic()
    with ThreadPoolExecutor() as pool:
        waiting = [pool.submit(asked, runs, query) for _ in range(comparing.COMPARED_MAX)]
        until(lambda: made_by._askers == comparing.COMPARED_MAX == 4)
        status, answer = asked(runs, query)
        assert status == 503
        assert answer["detail"] == "4 comparisons are being made already; it can be compared in a moment."
        answers = [each.result() for each in waiting]
    assert {(status, "too busy to compare" in answer["detail"]) for status, answer in answers} == {(409, True)}
    assert time.monotonic() - start_s < 2 * comparing.ANSWER_S  # not one after another
    assert not made_by._askers
