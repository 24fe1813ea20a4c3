"""A receiver that answers and will not have a message: nothing waits behind it for ever, nothing is lost in silence."""

from collections.abc import Callable
from random import Random

import pytest

from server.notify import aside, worker
from server.notify.aside import AGAIN_S, ASIDE_MAX, GIVE_UP_S, Aside
from server.notify.delivery import Delivery
from server.notify.pauses import Pauses
from tests.server.notify.hooks import Hook, hooks, webhook
from tests.server.notify.mailbox import Mailbox, mail_server
from tests.server.notify.notices import notice, until


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Minutes become tenths of seconds."""
    monkeypatch.setattr(worker, "Pauses", lambda dice: Pauses(Random(1), 0.01, 0.05))
    monkeypatch.setattr(aside, "AGAIN_S", 0.05)
    monkeypatch.setattr(aside, "GIVE_UP_S", 0.5)


GIVEN_UP = "Message 3 was given up, as workshop takes others and not this one"


def alarms(hook: Hook) -> list[object]:
    return [word["alarm"] for word in hook.came if "alarm" in word]


def test_a_message_that_is_refused_holds_up_none_and_is_given_up_and_told(
    deliver: Callable[..., Delivery], caplog: pytest.LogCaptureFixture
) -> None:
    with hooks("400 of event-1") as hook:
        delivery = deliver(webhook(hook.port))
        for number in range(4):
            delivery.deliver(notice(f"event-{number}"))
        until(lambda: alarms(hook) == ["event-0", "event-2", "event-3"])
        assert "refuses this message (HTTP 400" in caplog.text
        until(lambda: GIVEN_UP in caplog.text)
        delivery.deliver(notice("event-4"))
        until(lambda: len(hook.came) == 6)
        assert alarms(hook) == ["event-0", "event-2", "event-3", "event-4"]
        until(lambda: delivery.standings()[0].queue.count == 0)
        (dropped,) = [word for word in hook.came if word["kind"] == "dropped"]
        assert dropped["count"] == 1
        assert str(dropped["title"]).startswith("1 message from ")
        assert (delivery.standings()[0].error, delivery.standings()[0].queue.dropped) == ("", 0)


def test_a_receiver_that_changes_its_words_at_each_attempt_writes_a_few_lines_of_log(
    deliver: Callable[..., Delivery], caplog: pytest.LogCaptureFixture
) -> None:
    codes = [str(code) for code in range(500, 520)]
    with hooks(*(["302", "307"] * 5), *codes, "take") as hook:
        deliver(webhook(hook.port))
        until(lambda: hook.came and "workshop is reached again" in caplog.text)
        assert hook.asked == 31
    assert caplog.text.count("Nothing reaches") == 8
    assert caplog.text.count("reached again") == 1
    assert [caplog.text.count(f"HTTP {code}") for code in (302, 307, 500)] == [1, 1, 1]


def test_a_mail_that_is_refused_for_its_text_holds_up_none(
    deliver: Callable[..., Delivery], caplog: pytest.LogCaptureFixture
) -> None:
    mailbox = Mailbox(spam="The belt")

    def texts() -> str:
        return "".join(mail.get_content() for mail in mailbox.mails)

    with mail_server(mailbox) as port:
        words = f'host = "127.0.0.1"\nport = {port}\nsecurity = "none"\nlocal = true\n'
        delivery = deliver(f'[mail.watch]\n{words}from = "a@example.org"\nto = "b@example.org"\n')
        for number in range(4):
            delivery.deliver(notice(f"event-{number}", act="The belt" if number == 1 else f"Act {number}"))
        until(lambda: all(f"Act {number}" in texts() for number in (0, 2, 3)))
        until(lambda: "Message 3 was given up, as watch takes others" in caplog.text)
        assert "The belt" not in texts()


def test_an_address_that_refuses_everything_loses_nothing(deliver: Callable[..., Delivery]) -> None:
    with hooks(*["404"] * 20, "take") as hook:
        delivery = deliver(webhook(hook.port))
        for number in range(5):
            delivery.deliver(notice(f"event-{number}"))
        until(lambda: hook.asked >= 12)
        assert delivery.standings()[0].queue.count == 6
        assert "HTTP 404" in delivery.standings()[0].error
        until(lambda: delivery.standings()[0].queue.count == 0)
        assert sorted(word["number"] for word in hook.came) == [1, 2, 3, 4, 5, 6]
        assert sorted(map(str, alarms(hook))) == [f"event-{number}" for number in range(5)]


def test_what_was_refused_waits_over_a_new_start_and_comes_once_it_is_taken(deliver: Callable[..., Delivery]) -> None:
    with hooks("400 of event-0") as hook:
        delivery = deliver(webhook(hook.port))
        delivery.deliver(notice("event-0"))
        delivery.deliver(notice("event-1"))
        until(lambda: alarms(hook) == ["event-1"])
        hook.answers = ["take"]
        deliver(None)
        until(lambda: "event-0" in alarms(hook))
        assert alarms(hook) == ["event-1", "event-0"]


def test_a_sign_of_life_that_is_refused_holds_up_no_alarm(deliver: Callable[..., Delivery]) -> None:
    with hooks("400 of sign_of_life") as hook:
        delivery = deliver(webhook(hook.port, more="sign_of_life_min = 1"))
        delivery.deliver(notice())
        until(lambda: alarms(hook) == ["bench-7"])


def test_it_is_given_up_only_after_a_while_in_which_another_was_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(aside, "AGAIN_S", AGAIN_S)
    monkeypatch.setattr(aside, "GIVE_UP_S", GIVE_UP_S)
    its = Aside[str]()
    assert not its.refused("a", "HTTP 400", 0.0)
    assert its.due(AGAIN_S - 1.0) is None
    assert its.due(AGAIN_S) == "a"
    assert not its.refused("a", "HTTP 400", 10 * GIVE_UP_S), "nothing else was taken: it may be the address"
    its.taken("b", 10 * GIVE_UP_S)
    assert its.refused("a", "HTTP 400", 11 * GIVE_UP_S)
    assert (its.messages(), its.why) == ([], "")
    assert not its.refused("c", "HTTP 404", 12 * GIVE_UP_S)
    its.taken("d", 12 * GIVE_UP_S + 1.0)
    assert not its.refused("c", "HTTP 404", 12 * GIVE_UP_S + 2.0), "a server may be put in place anew this moment"
    its.taken("c", 12 * GIVE_UP_S + 3.0)
    assert its.messages() == []


def test_so_many_refused_in_a_row_are_the_address_and_no_more_are_tried() -> None:
    its = Aside[int]()
    for number in range(ASIDE_MAX):
        assert not its.is_full
        its.refused(number, "HTTP 404", float(number))
    assert its.is_full
    assert its.due(1e6) == 0, "those that were refused go on being tried"
