"""The service's clock does not step when the PC's is set, and that is told, once."""

import time

import pytest

from server.ingest.steady_clock import SteadyClock


def test_a_clock_that_is_set_moves_no_time_of_the_service_and_is_told_once(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    clock, real = SteadyClock(), time.time
    before_s = clock.utc_s()
    assert clock.trouble == ""
    monkeypatch.setattr("server.ingest.steady_clock.time.time", lambda: real() - 60.0)
    assert 0.0 <= clock.utc_s() - before_s < 10.0
    clock.look()
    clock.look()
    assert clock.trouble.startswith("the PC's clock is 60 s behind the service's")
    assert caplog.text.count("60 s behind") == 1
    monkeypatch.undo()
    assert clock.trouble == ""
