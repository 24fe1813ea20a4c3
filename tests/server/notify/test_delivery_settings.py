"""The settings of receivers while the service runs: read again, refused, half written, taken away."""

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from server.notify import delivery as module
from server.notify.delivery import Delivery
from tests.server.notify.hooks import hooks, webhook, write
from tests.server.notify.notices import notice, until


def test_settings_hold_when_they_are_written_and_a_bad_file_takes_nothing_away(
    tmp_path: Path, deliver: Callable[..., Delivery], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "LOOK_S", 0.1)
    with hooks() as first, hooks() as second:
        delivery = deliver(webhook(first.port))
        until(lambda: first.came)
        write(tmp_path, webhook(second.port) + "[webhook.b]\n")
        until(lambda: delivery.refusal)
        assert delivery.refusal.startswith(f"{tmp_path}/notify.toml, line 5: url is missing")
        delivery.deliver(notice("still"))
        until(lambda: len(first.came) == 2)
        write(tmp_path, webhook(second.port))
        until(lambda: not delivery.refusal)
        delivery.deliver(notice("moved"))
        until(lambda: second.came)
        assert second.came[0]["alarm"] == "moved"
        write(tmp_path, "")
        until(lambda: not delivery.standings())


def test_a_file_that_is_empty_for_a_moment_while_it_is_written_takes_nothing_away(
    tmp_path: Path, deliver: Callable[..., Delivery], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "LOOK_S", 0.1)
    with hooks("500") as hook:
        delivery = deliver(webhook(hook.port))
        until(lambda: hook.asked)
        write(tmp_path, "")
        time.sleep(0.05)
        write(tmp_path, webhook(hook.port) + "# a remark\n")
        time.sleep(0.5)
        assert delivery.standings()[0].queue.count == 1
        hook.answers = ["take"]
        until(lambda: hook.came)


def test_a_file_that_cannot_be_looked_at_takes_nothing_away(
    tmp_path: Path, deliver: Callable[..., Delivery], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "LOOK_S", 0.1)
    with hooks("500") as hook:
        delivery, settings = deliver(webhook(hook.port)), tmp_path / "notify.toml"
        until(lambda: hook.asked)
        settings.rename(tmp_path / "aside")
        settings.symlink_to(settings)  # each look at it fails, as on a disk that breaks
        until(lambda: delivery.refusal)
        assert "it cannot be read" in delivery.refusal
        assert delivery.standings()[0].queue.count == 1
        settings.unlink()
        (tmp_path / "aside").rename(settings)
        until(lambda: not delivery.refusal)
        hook.answers = ["take"]
        until(lambda: hook.came)


def test_a_bad_file_at_the_start_keeps_what_waits_for_those_who_were_there(
    tmp_path: Path, deliver: Callable[..., Delivery], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "LOOK_S", 0.1)
    with hooks("500") as hook:
        deliver(webhook(hook.port)).deliver(notice("before"))
        until(lambda: hook.asked)
        delivery = deliver("this is no TOML")
        assert "line 1: this is not TOML" in delivery.refusal
        assert delivery.standings() == []
        hook.answers = ["take"]
        write(tmp_path, webhook(hook.port))
        until(lambda: len(hook.came) >= 4)
        assert [word.get("alarm", word["kind"]) for word in hook.came] == [
            "service_started",
            "before",
            "service_stopped",
            "service_started",
        ]


def test_settings_that_others_could_read_are_made_private(
    tmp_path: Path, deliver: Callable[..., Delivery], caplog: pytest.LogCaptureFixture
) -> None:
    with hooks() as hook:
        (tmp_path / "notify.toml").write_text(webhook(hook.port))
        (tmp_path / "notify.toml").chmod(0o644)
        deliver(None)
    assert os.stat(tmp_path / "notify.toml").st_mode & 0o777 == 0o600
    assert "could be read by others; now its owner alone can" in caplog.text


def test_without_settings_nothing_is_made(tmp_path: Path, deliver: Callable[..., Delivery]) -> None:
    delivery = deliver(None)
    delivery.deliver(notice())
    delivery.stop()
    assert list(tmp_path.iterdir()) == []


def test_a_first_receiver_that_is_added_while_it_runs_is_not_told_that_slipring_starts(
    tmp_path: Path, deliver: Callable[..., Delivery], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "LOOK_S", 0.1)
    with hooks() as hook:
        delivery = deliver(None)
        until(lambda: delivery._looked)
        write(tmp_path, webhook(hook.port))
        until(lambda: hook.came)
    assert hook.came[0]["kind"] == "receiver_added"
    assert hook.came[0]["title"].startswith("Slipring tells you of alarms from now on; it has been running since 20")
