import itertools
import json
import logging
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from server.alarms.notice import Rank, Told
from server.notify.delivery import Delivery
from server.notify.trouble import SendError
from tests.server.notify.hooks import hooks, webhook, write
from tests.server.notify.notices import notice, until

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
        assert "ended, it came 9 times: " in office.came[-1]["title"]
        assert not [word for word in office.came if word.get("alarm") == "later-7"]


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
from tests.server.notify.notices import notice, until
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
