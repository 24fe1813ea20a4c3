"""Every row of the PC's table in SPEC.md, section 7, tried on a rig with a board on a real pty."""

import asyncio
from collections.abc import AsyncIterator, Callable
from dataclasses import replace
from fractions import Fraction

import pytest

from firmware_protocol import ClockRequest, Describe, Message, Samples, Start, Status, Stop
from server.config import RigSettings
from server.ingest import line, port
from server.live.records import ConnectionState
from server.rig import Rig
from tests.firmware_protocol.by_the_book import TEXT, tables
from tests.server.ingest.boards import DESCRIPTION, IDENTITY, PtyBoard, channel, frames
from tests.server.until import until

(ROWS,) = (table for table in tables(TEXT) if "the PC is" in table[0])
OTHER = frames(replace(IDENTITY, major=IDENTITY.major + 1))
TOO_FAST = frames(IDENTITY, channel(Fraction(2)))  # half a million samples a second
HAPPENS = {
    "a second passes": b"",
    "a complete description that fits comes": DESCRIPTION,
    "a complete description comes that the line cannot carry": TOO_FAST,
    "an `Identity` of another version comes": OTHER,
    "samples, singles, edges, counters or a status come": frames(
        Samples(0, 1, 0, 0, b"\x80\x80" * 50), Status(50_001, True, 0), first=50
    ),
    "a `Status` comes that says it waits": frames(Status(50_001, False, 0), first=50),
    "a frame comes that is damaged or of an unknown type": b"\x05\x10\x01\x02\x03\x00",
    "the board starts anew": frames(Status(10, True, 0), boot=2),
}
LEADS_TO = {"asking": b"", "reading": DESCRIPTION, "refusing": OTHER}
SENDS: dict[str, list[type]] = {
    "nothing": [],
    "`Describe`": [Describe],
    "`Start`": [Start],
    "`Stop`": [Stop],
    "nothing, or `Describe`": [],
    "`Describe` and `Start`": [Describe, Start],
    "`Describe` and `Start`, at most twice a second": [Describe, Start],
}


def state(rig: Rig) -> str:
    """In the words of the table."""
    if rig.view.connection.state is ConnectionState.REFUSED:
        return "refusing"
    recording = rig.recording
    pipeline = None if recording is None else recording.pipeline
    return "asking" if pipeline is None or pipeline.description is None else "reading"


def silent(_: Message) -> bytes:
    return b""


@pytest.fixture
async def talk(make_rig: Callable[..., Rig], monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[tuple[Rig, PtyBoard]]:
    monkeypatch.setattr(port, "DESCRIBE_EVERY_S", 0.25)  # a second, four times as fast
    monkeypatch.setattr(port, "ASK_EVERY_S", 30.0)  # once is enough here
    monkeypatch.setattr(line, "carried_bytes_per_s", lambda *_: 100_000.0)  # nothing limits a pty
    board = PtyBoard(answer=silent)
    rig = make_rig(RigSettings("bench", port=board.url))
    await rig.start()
    await until(lambda: Describe in map(type, board.heard))
    yield rig, board
    board.pull()


def sent(board: PtyBoard) -> list[type]:
    return [type(each) for each in board.heard if not isinstance(each, ClockRequest)]


def test_the_table_names_each_event_in_each_state_once() -> None:
    named = [(row["the PC is"], row["what happens"]) for row in ROWS]
    assert sorted(named) == sorted((state, event) for state in LEADS_TO for event in HAPPENS)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['the PC is']}: {row['what happens']}")
async def test_a_row_holds(talk: tuple[Rig, PtyBoard], row: dict[str, str]) -> None:
    rig, board = talk
    board.say(LEADS_TO[row["the PC is"]])
    await until(lambda: state(rig) == row["the PC is"])
    if row["the PC is"] == "reading":
        await until(lambda: Start in sent(board))
    board.heard.clear()
    board.say(HAPPENS[row["what happens"]])
    says = row["it sends"].split("; ")[0].split(", and ")[0]
    await until(lambda: state(rig) == row["and is then"] and set(SENDS[says]) <= set(sent(board)))
    await asyncio.sleep(0.3)
    assert state(rig) == row["and is then"]
    a_second_passed = {Describe} if row["and is then"] != "reading" else set()
    assert set(sent(board)) - a_second_passed <= set(SENDS[says])
    assert (rig.view._sample_s is not None) is ("and reads it" in row["it sends"])
    damage = rig.view.health.damage(True)
    if "and tells it" in row["it sends"]:
        assert damage["last_text"]
