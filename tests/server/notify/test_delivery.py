import logging
import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from server.alarms.notice import Rank
from server.notify import delivery as module
from server.notify.delivery import Delivery
from server.notify.trouble import SendError
from tests.server.notify.hooks import hooks
from tests.server.notify.notices import notice, until

SECRET = "S3cret-of-the-path"


def webhook(port: int, name: str = "workshop", more: str = "") -> str:
    return f'[webhook.{name}]\nurl = "http://127.0.0.1:{port}/{SECRET}"\nlocal = true\n{more}\n'


@pytest.fixture
def deliver(tmp_path: Path) -> Iterator[Callable[..., Delivery]]:
    """Starts a delivery with these settings; each is a service that was started anew on the same folder."""
    made: list[Delivery] = []

    def begin(settings: str | None, clock: Callable[[], float] = time.time, stop: bool = True) -> Delivery:
        for before in made if stop else []:
            before.stop()
        if settings is not None:
            write(tmp_path, settings)
        started = Delivery(tmp_path, clock)
        made.append(started)
        started.start()
        until(lambda: started.standings() or started.refusal or not (tmp_path / "notify.toml").exists())
        return started

    yield begin
    for each in made:
        each.stop()


def write(folder: Path, settings: str) -> None:
    file = folder / "notify.toml"
    file.write_text(settings)
    file.chmod(0o600)


def test_a_receiver_that_hangs_holds_up_no_other_and_not_the_stop(deliver: Callable[..., Delivery]) -> None:
    with hooks("hang") as hung, hooks() as well:
        delivery = deliver(webhook(hung.port, "hung") + webhook(well.port, "well"))
        delivery.deliver(notice("one"))
        until(lambda: len(well.came) == 2)
        assert [word["kind"] for word in well.came] == ["service_started", "raised"]
        start_s = time.monotonic()
        delivery.stop()
        assert time.monotonic() - start_s < 4.0  # of the five in which the service ends
        assert well.came[-1]["kind"] == "service_stopped"


def test_what_is_refused_is_sent_again_in_order_until_it_is_taken(deliver: Callable[..., Delivery]) -> None:
    with hooks("500", "hang up", "503", "take") as hook:
        delivery = deliver(webhook(hook.port))
        for number in range(4):
            delivery.deliver(notice(f"event-{number}"))
        until(lambda: len(hook.came) >= 5)
        ids = [word["id"] for word in hook.came]
        assert len(ids) == len(set(ids))
        assert [word["number"] for word in hook.came] == [1, 2, 3, 4, 5]
        until(lambda: delivery.standings()[0].queue.count == 0)
        standing = delivery.standings()[0]
        assert (standing.error, standing.place) == ("", f"http://127.0.0.1:{hook.port}")
        assert standing.sent_utc_s is not None


def test_a_notice_goes_to_whom_it_names_and_an_alarm_that_names_nobody_to_all(deliver: Callable[..., Delivery]) -> None:
    with hooks() as phone, hooks() as office, hooks() as archive:
        settings = webhook(phone.port, "phone") + webhook(office.port, "office")
        delivery = deliver(settings + webhook(archive.port, "archive", "everything = true"))
        delivery.deliver(notice("to all"))
        delivery.deliver(notice("to office", receivers=("office",), rank=Rank.CAUTION))
        delivery.deliver(notice("to nobody", rank=Rank.CAUTION))
        delivery.deliver(notice("to strangers", receivers=("offfice",)))
        until(lambda: len(archive.came) == 5 and len(office.came) == 4 and len(phone.came) == 3)

        def alarms(came: list[dict[str, object]]) -> list[object]:
            return [word["alarm"] for word in came if "alarm" in word]

        assert alarms(phone.came) == ["to all", "to strangers"]
        assert alarms(office.came) == ["to all", "to office", "to strangers"]
        assert alarms(archive.came) == ["to all", "to office", "to nobody", "to strangers"]


def test_what_came_in_the_quiet_hours_waits_for_their_end_over_a_new_start_too(
    deliver: Callable[..., Delivery],
) -> None:
    now = [1_000.0]
    with hooks() as office, hooks() as archive:
        settings = webhook(office.port, "office") + webhook(archive.port, "archive", "everything = true")
        delivery = deliver(settings, lambda: now[0])
        delivery.deliver(notice("later", receivers=("office",), rank=Rank.CAUTION, not_before_utc_s=2_000.0))
        delivery.deliver(notice("now"))
        until(lambda: len(archive.came) == 3 and len(office.came) == 2)
        assert office.came[-1]["alarm"] == "now"
        deliver(None, lambda: now[0])
        until(lambda: office.came[-1]["kind"] == "service_started")
        now[0] = 2_000.0
        until(lambda: office.came[-1].get("alarm") == "later")


def test_a_sign_of_life_comes_as_often_as_the_settings_say(
    deliver: Callable[..., Delivery], monkeypatch: pytest.MonkeyPatch
) -> None:
    with hooks() as hook:
        delivery = deliver(webhook(hook.port, more="sign_of_life_min = 1"))
        until(lambda: len(hook.came) == 2)
        assert sorted(word["kind"] for word in hook.came) == ["service_started", "sign_of_life"]
        worker = delivery._workers["workshop"]
        worker._alive_s -= 59.0
        time.sleep(0.05)
        assert len(hook.came) == 2
        worker._alive_s -= 1.0
        until(lambda: len(hook.came) == 3)
        assert hook.came[-1]["kind"] == "sign_of_life"
        assert "number" not in hook.came[-1]


def test_a_service_that_ended_without_a_word_says_so_at_the_next_start(deliver: Callable[..., Delivery]) -> None:
    with hooks() as hook:
        deliver(webhook(hook.port))
        until(lambda: hook.came)
        deliver(None, stop=False)  # the first one stands for a process that was killed
        until(lambda: len(hook.came) == 2)
        assert hook.came[-1]["title"] == "Slipring has started again; before that it ended without a word"


def test_settings_hold_when_they_are_written_and_a_bad_file_takes_nothing_away(
    tmp_path: Path, deliver: Callable[..., Delivery], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "LOOK_S", 0.02)
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


def test_a_bad_file_at_the_start_keeps_what_waits_for_those_who_were_there(
    tmp_path: Path, deliver: Callable[..., Delivery], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "LOOK_S", 0.02)
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


def test_without_settings_nothing_is_made(tmp_path: Path, deliver: Callable[..., Delivery]) -> None:
    delivery = deliver(None)
    delivery.deliver(notice())
    delivery.stop()
    assert list(tmp_path.iterdir()) == []


def test_settings_that_others_could_read_are_made_private(
    tmp_path: Path, deliver: Callable[..., Delivery], caplog: pytest.LogCaptureFixture
) -> None:
    with hooks() as hook:
        (tmp_path / "notify.toml").write_text(webhook(hook.port))
        (tmp_path / "notify.toml").chmod(0o644)
        deliver(None)
    assert os.stat(tmp_path / "notify.toml").st_mode & 0o777 == 0o600
    assert "could be read by others; now its owner alone can" in caplog.text


def test_no_secret_stands_in_log_outbox_or_standing(
    tmp_path: Path, deliver: Callable[..., Delivery], caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    with hooks("401") as hook:
        delivery = deliver(webhook(hook.port, more='token = "S3cret-of-the-token"'))
        until(lambda: delivery.standings()[0].error)
        with pytest.raises(SendError) as found:
            delivery.test("workshop")
        told = [caplog.text, str(found.value), repr(delivery.standings()), repr(delivery._workers["workshop"].receiver)]
        delivery.stop()
    told += [file.read_bytes().decode("latin-1") for file in tmp_path.iterdir() if file.name.startswith("outbox.db")]
    assert len(told) >= 5
    assert "HTTP 401" in told[1]
    assert not [text for text in told if "S3cret" in text]


def test_a_mistake_of_ours_with_one_receiver_is_told_and_it_goes_on(
    deliver: Callable[..., Delivery], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    with hooks() as hook:
        delivery = deliver(webhook(hook.port))
        until(lambda: hook.came)
        link = delivery._workers["workshop"]._link
        real, broken = link.deliver, [True]

        def deliver_once_broken(*given: object) -> int:
            if broken:
                broken.clear()
                raise ZeroDivisionError
            return real(*given)  # type: ignore[arg-type]

        monkeypatch.setattr(link, "deliver", deliver_once_broken)
        delivery.deliver(notice())
        until(lambda: len(hook.came) == 2)
        assert "Slipring made a mistake while sending (ZeroDivisionError)" in caplog.text
