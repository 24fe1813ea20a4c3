"""A reading that is opened: definition, source, window, and what adds to its uncertainty."""

import pytest

from server.pipeline import Output
from server.readings import Instant, Reading, Uncertainty
from tests.server.live.blocks import Sync
from tests.server.web.bench import BenchRig, Service


@pytest.fixture
def bench(service: Service) -> Service:
    """A rig with one reading whose uncertainty is known."""
    rig = BenchRig("heron-1")
    parts = (("noise of I line", 0.001), ("gain of I line", 0.003))
    current = Reading("current_rms_a", 0.55, uncertainty=Uncertainty(0.5438, 0.5562, 1.96, parts))
    factor = Reading("power_factor", 0.999, uncertainty=Uncertainty(0.99, 1.0, 1.96, (("noise", 0.0046),)))
    rig.view.take(Output(instants=(Instant(0, 0, 0.0, 0.2, (current, factor)),)), Sync(service.rigs.utc_s()))
    service.rigs.rigs = {"heron-1": rig}
    return service


def test_it_says_what_it_is_and_what_it_may_be_off_by_the_largest_first(bench: Service) -> None:
    with bench.client as client:
        opened = client.get("/api/rigs/heron-1/readings/current_rms_a").json()
    assert opened["quantity"]["definition"].startswith("root of the mean square")
    assert opened["quantity"]["source"].startswith("IEC 61000-4-30")
    assert opened["window_s"] == 0.2
    assert opened["parts"] == [
        {"source": "gain of I line", "standard": 0.003},
        {"source": "noise of I line", "standard": 0.001},
    ]
    assert opened["coverage_factor"] == 1.96
    assert opened["why_not"] == ""


def test_a_reading_without_a_budget_says_why(bench: Service) -> None:
    state = Instant(0, 0, 0.0, 0.2, (Reading("run_state", "running"),))
    bench.rigs.rigs["heron-1"].view.take(Output(instants=(state,)), Sync(bench.rigs.utc_s()))
    with bench.client as client:
        opened = client.get("/api/rigs/heron-1/readings/run_state").json()
    assert (opened["parts"], opened["coverage_factor"]) == ([], None)
    assert opened["why_not"] == "it is a word, not a figure"


def test_the_interval_stands_beside_the_value_with_both_ends_where_a_bound_cuts_it(bench: Service) -> None:
    with bench.client as client:
        readings = client.get("/api/rigs/heron-1/readings").json()["readings"]
    assert readings["current_rms_a"]["u95"] == pytest.approx(0.0062)
    assert "low95" not in readings["current_rms_a"]
    assert (readings["power_factor"]["low95"], readings["power_factor"]["high95"]) == (0.99, 1.0)


def test_a_reading_that_is_not_there_is_said(bench: Service) -> None:
    with bench.client as client:
        answer = client.get("/api/rigs/heron-1/readings/torque")
    assert (answer.status_code, answer.json()["detail"]) == (404, "The rig heron-1 has no reading torque.")
