import itertools
import json
import logging
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from random import Random
from unittest.mock import Mock

import pytest

from server.alarming import Alarming
from server.alarms.notice import Rank, Told
from server.alarms.quiet import waits_until_utc_s
from server.config import AlarmSettings, Calling, RigSettings
from server.notify import delivery as room
from server.notify.delivery import Delivery
from server.notify.pauses import Pauses
from server.notify.trouble import SendError
from server.pipeline import Output
from server.readings import Instant, Reading
from tests.server.live.blocks import Sync
from tests.server.notify.hooks import hooks, webhook, write
from tests.server.notify.notices import notice, older, until

ZERO = 1_795_600_000.0
ROOT = Path(__file__).resolve().parents[3]


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
        for k in range(9):  # it came nine times, and was folded into one
            fold = {"first_id": "later-0", "more": k} if k else {}
            for kind in (Told.RAISED, Told.ENDED):
                its = notice(f"later-{k}", receivers=("office",), rank=Rank.CAUTION, kind=kind, **fold)
                delivery.deliver(replace(its, not_before_utc_s=2_000.0))
        delivery.deliver(notice("now"))
        until(lambda: len(archive.came) == 20 and len(office.came) == 2)
        assert office.came[-1]["alarm"] == "now"
        deliver(None, lambda: now[0])
        until(lambda: office.came[-1]["kind"] == "service_started")
        now[0] = 2_000.0
        until(lambda: office.came[-1]["kind"] == "ended")
        assert [word["kind"] for word in office.came if word.get("alarm") == "later-8"] == ["raised", "ended"]
        assert re.search(r" ended at 2026-11-25 \d\d:\d\d \S+, it came 9 times: ", office.came[-1]["title"])
        assert not [word for word in office.came if word.get("alarm") == "later-7"]


def test_what_is_told_late_says_when_it_came_and_how_it_stands_by_then(deliver: Callable[..., Delivery]) -> None:
    now = [ZERO]

    def clock(utc_s: float) -> str:
        return f"{datetime.fromtimestamp(utc_s).astimezone():%H:%M}"

    slow = AlarmSettings("slow", "caution", "Feel the bearing", "speed_rpm", low=1385.0, return_gap=5.0, hold_s=1.0)
    calling = Calling("", "office", clock(ZERO - 600.0), clock(ZERO + 600.0))
    settings = RigSettings("bench", alarms=(slow,), calling=calling)
    with hooks() as office:
        delivery = deliver(webhook(office.port, "office"), lambda: now[0])
        alarming = Alarming(settings, None, lambda: now[0], delivery.deliver)
        delivery.standing = alarming.as_now

        def see(speed_rpm: float, seconds: float) -> None:
            for _ in range(round(seconds / 0.2)):
                now[0] += 0.2
                instant = Instant(0, 0, now[0] - ZERO, 0.2, (Reading("speed_rpm", speed_rpm),))
                alarming.take(Output(instants=(instant,), clock=Sync()))  # type: ignore[arg-type]  # as much of a clock as it asks

        for speed_rpm, seconds in [(1380.0, 4.0), (1420.0, 8.0)] * 11 + [(1380.0, 4.0)]:
            see(speed_rpm, seconds)
        last_utc_s = now[0]
        alarming.change(replace(settings, alarms=(replace(slow, low=1300.0),)))
        see(1380.0, 60.0)
        until(delivery._held.empty)
        delivery.called = looks = Mock(return_value={})
        until(lambda: looks.called)  # all is written by the clock of the quiet hours
        now[0] = waits_until_utc_s(calling, Rank.CAUTION, ZERO) or 0.0
        until(lambda: len(office.came) == 3)
    raised, again = office.came[1:]
    assert [raised["kind"], again["kind"], again["more"]] == ["raised", "again", 11]
    zone = f"{datetime.fromtimestamp(ZERO).astimezone():%Z}"
    why = "Look why it came. Speed was below 1385\u00a0r/min"
    assert raised["title"] == f"Caution on bench, came at {clock(raised['at_utc_s'])} {zone}: {why}"
    assert again["title"] == f"Caution on bench came 12 times, last at {clock(last_utc_s)} {zone}: {why}"
    assert again["at_utc_s"] == pytest.approx(last_utc_s, abs=0.3)
    assert again["so_s"] == pytest.approx(12 * 4.0, abs=12 * 0.3)


def test_a_sign_of_life_comes_as_often_as_the_settings_say(
    deliver: Callable[..., Delivery], monkeypatch: pytest.MonkeyPatch
) -> None:
    with hooks() as hook:
        delivery = deliver(webhook(hook.port, more="sign_of_life_min = 1"))
        until(lambda: len(hook.came) == 2)
        assert [word["kind"] for word in hook.came] == ["service_started", "sign_of_life"]
        worker = delivery._workers["workshop"]
        older(worker, 59.0)
        time.sleep(0.05)
        assert len(hook.came) == 2
        worker._alive_s -= 1.0
        until(lambda: len(hook.came) == 3)
        assert hook.came[-1]["kind"] == "sign_of_life"
        assert "number" not in hook.came[-1]


def test_a_sign_of_life_goes_behind_all_messages_and_holds_up_none(deliver: Callable[..., Delivery]) -> None:
    def kinds() -> list[object]:
        return [word["kind"] for word in hook.came]

    with hooks() as hook:
        delivery = deliver(webhook(hook.port, more="sign_of_life_min = 1"))
        until(lambda: len(hook.came) == 2)
        hook.answers = ["503 of raised"]
        delivery.deliver(notice())
        worker = delivery._workers["workshop"]
        older(worker, 60.0)
        asked = hook.asked
        until(lambda: hook.asked >= asked + 3)
        assert kinds() == ["service_started", "sign_of_life"], "none while alarms wait and fail: silence is noticed"
        hook.answers = ["take"]
        until(lambda: len(hook.came) == 4)
        assert kinds()[2:] == ["raised", "sign_of_life"]
        hook.answers = ["503 of sign_of_life"]
        worker._pauses = Pauses(Random(1), 60.0)
        older(worker, 60.0)
        until(lambda: worker.standing().error)
        delivery.deliver(notice("bench-8"))
        until(lambda: len(hook.came) == 5, 2.0)
        assert kinds()[4] == "raised"


def test_a_rig_that_calls_a_receiver_that_is_not_there_is_told_once_and_once_when_that_is_right(
    deliver: Callable[..., Delivery], caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(room, "LOOK_S", 0.05)
    wrong = "bench calls receivers that notify.toml does not have: offfice"
    right = "bench calls no receivers any more that notify.toml does not have"
    with hooks() as hook:
        delivery = deliver(webhook(hook.port, "office"))
        called = {"bench": ["offfice", "office"], "fan": ["office"]}
        delivery.called = lambda: called
        until(lambda: wrong in caplog.text)
        called["bench"] = ["office"]
        until(lambda: right in caplog.text)
        time.sleep(0.15)
    assert (caplog.text.count(wrong), caplog.text.count(right)) == (1, 1)
    assert "fan calls" not in caplog.text


def test_a_service_that_ended_without_a_word_says_so_at_the_next_start(deliver: Callable[..., Delivery]) -> None:
    with hooks() as hook:
        first = deliver(webhook(hook.port))
        until(lambda: hook.came and first.standings()[0].queue.count == 0)
        deliver(None, stop=False)  # the first one stands for a process that was killed
        until(lambda: len(hook.came) == 2)
        assert hook.came[-1]["title"] == "Slipring has started again; before that it ended without a word"


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


OUTSIDE = (
    '[webhook.a]\nurl = "https://hooks.example/x"\n[mqtt.b]\nhost = "broker.example"\n'
    '[mail.c]\nhost = "mail.example"\nfrom = "a@example.org"\nto = "b@example.org"\n'
)
ALONE = """
import json, sys, time
from pathlib import Path
from server.notify.delivery import Delivery
from tests.server.notify.notices import notice, older, until
delivery = Delivery(Path(sys.argv[1]), time.time)
delivery.start()
start_s = time.monotonic()
for number in range(3):
    delivery.deliver(notice(f"event-{number}"))
took_s = time.monotonic() - start_s
until(lambda: [its.queue.count for its in delivery.standings() if its.error] == [4, 4, 4])
print(json.dumps([took_s, *(its.error for its in delivery.standings())]))
delivery.stop()
"""


def test_without_network_and_name_service_notices_wait_and_the_service_does_not(tmp_path: Path) -> None:
    write(tmp_path, OUTSIDE)
    apart = ["unshare", "--map-root-user", "--net"]
    if not shutil.which("unshare") or subprocess.run([*apart, "true"], capture_output=True, check=False).returncode:
        pytest.skip("this system gives no network namespace of its own")
    command = [*apart, sys.executable, "-c", ALONE, str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=30, check=False)
    assert done.returncode == 0, done.stderr
    took_s, *errors = json.loads(done.stdout)
    assert took_s < 0.1
    assert [error.partition(" (")[0] for error in errors] == [
        "hooks.example is not found",
        "broker.example is not found",
        "mail.example is not found",
    ]


def test_a_clock_that_steps_changes_neither_order_nor_pauses(deliver: Callable[..., Delivery]) -> None:
    steps = itertools.cycle((0.0, -3600.0, 3600.0, 7200.0))
    with hooks("500", "500", "take") as hook:
        delivery = deliver(webhook(hook.port), lambda: 1_795_600_000.0 + next(steps))
        for number in range(5):
            delivery.deliver(notice(f"event-{number}"))
        until(lambda: len(hook.came) == 6, 4.0)
        assert [word["number"] for word in hook.came] == [1, 2, 3, 4, 5, 6]
        assert [word.get("alarm") for word in hook.came[1:]] == [f"event-{number}" for number in range(5)]
