"""From thread to loop: everything once and in order, few wake-ups, a limit that makes the sender wait."""

import asyncio
import threading
import time
from collections.abc import Iterable

import pytest

from server.ingest import inbox
from server.ingest.inbox import Inbox


def put_all(box: Inbox[int], numbers: Iterable[int]) -> None:
    for number in numbers:
        box.put(number)


async def test_everything_comes_once_and_in_order_from_another_thread() -> None:
    got: list[int] = []
    box: Inbox[int] = Inbox(asyncio.get_running_loop(), got.append)
    await asyncio.to_thread(put_all, box, range(10_000))
    while len(got) < 10_000:
        await asyncio.sleep(0.001)
    assert got == list(range(10_000))


async def test_what_gathers_while_the_loop_is_busy_costs_one_wake_up(monkeypatch: pytest.MonkeyPatch) -> None:
    loop = asyncio.get_running_loop()
    box: Inbox[int] = Inbox(loop, lambda thing: None)
    wake_ups = 0
    real = loop.call_soon_threadsafe

    def counted(*arguments: object) -> object:
        nonlocal wake_ups
        wake_ups += 1
        return real(*arguments)  # type: ignore[arg-type]  # passed on as they came

    monkeypatch.setattr(loop, "call_soon_threadsafe", counted)
    for number in range(1000):
        box.put(number)
    assert wake_ups == 1
    await asyncio.sleep(0)
    box.put(0)
    assert wake_ups == 2


async def test_at_the_limit_the_sender_waits_until_the_loop_has_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(inbox, "BYTES_MAX", 1000)
    got: list[int] = []
    box: Inbox[int] = Inbox(asyncio.get_running_loop(), got.append)
    sent: list[int] = []

    def send() -> None:
        for number in range(10):
            box.put(number, 600)
            sent.append(number)

    thread = threading.Thread(target=send)
    thread.start()
    time.sleep(0.1)  # the loop is held up on purpose
    assert sent == [0, 1]
    while thread.is_alive():
        await asyncio.sleep(0.001)
    await asyncio.sleep(0)
    assert got == list(range(10))


async def test_a_closed_inbox_has_given_what_was_there_and_holds_nobody_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(inbox, "BYTES_MAX", 10)
    got: list[int] = []
    box: Inbox[int] = Inbox(asyncio.get_running_loop(), got.append)
    box.put(1, 100)
    box.close()
    box.put(2, 100)
    box.put(3, 100)
    await asyncio.sleep(0)
    assert got == [1]


async def test_what_takes_long_leaves_the_loop_free_in_between(monkeypatch: pytest.MonkeyPatch) -> None:
    got: list[int] = []

    def slow(thing: int) -> None:
        time.sleep(0.004)
        got.append(thing)

    box: Inbox[int] = Inbox(asyncio.get_running_loop(), slow)
    put_all(box, range(100))
    turns = 0
    while len(got) < 100:
        await asyncio.sleep(0)
        turns += 1
    assert turns >= 100 * 0.004 / (inbox.TURN_S + 0.01)
    assert got == list(range(100))
    await asyncio.sleep(0)
    assert box.behind_s == 0.0


async def test_an_inbox_that_is_closed_gives_back_what_costs_too_much(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(inbox, "CLOSING_S", 0.05)
    box: Inbox[int] = Inbox(asyncio.get_running_loop(), lambda thing: time.sleep(0.03))
    for number in range(100):
        box.put(number, 10)
    assert box.close() == list(range(2, 100))
    assert box.close() == []
