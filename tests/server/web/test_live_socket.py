"""The live socket on a real web server, with a real client of another make than the page."""

import contextlib
import json
import socket
import struct
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection, connect
from websockets.typing import Origin

from server.live.hub import VIEWERS_MAX
from server.live.records import Shown
from server.quantities import QUANTITIES
from server.web.live_socket import MESSAGES_MAX
from tests.server.live.unpack import unpack
from tests.server.web.bench import BEARER, Service, running
from tests.server.web.raw import upgrade


@contextlib.contextmanager
def viewer(service: Service, rig: str = "") -> Iterator[ClientConnection]:
    address = f"ws://127.0.0.1:{service.port}/live" + (f"?rig={rig}" if rig else "")
    with connect(
        address, origin=Origin(service.url), additional_headers=[BEARER], compression=None, max_size=None
    ) as opened:
        yield opened


def message(opened: ClientConnection) -> dict[str, Any]:
    packed = opened.recv(timeout=5)
    assert isinstance(packed, bytes)
    return unpack(packed)


def closing(opened: ClientConnection) -> tuple[int, str]:
    for _ in range(10):
        try:
            opened.recv(timeout=5)
        except ConnectionClosed as closed:
            return (closed.rcvd.code, closed.rcvd.reason) if closed.rcvd else (0, "")
    raise AssertionError("the socket stayed open")


def test_hello_comes_first_and_names_every_quantity(service: Service) -> None:
    with viewer(service) as opened:
        hello = message(opened)
    assert hello["kind"] == "hello"
    assert [one["key"] for one in hello["quantities"]] == [one.key for one in QUANTITIES]
    assert set(hello["quantities"][0]) == {"key", "symbol", "label", "unit", "digits"}


def test_pictures_follow_as_long_as_they_are_drawn(service: Service) -> None:
    with viewer(service, "heron-2") as opened:
        message(opened)
        numbers = []
        for _ in range(5):
            picture = message(opened)
            assert picture["rig"] == "heron-2"
            numbers.append(picture["number"])
            opened.send(json.dumps({"drawn": picture["number"]}))
        assert numbers == sorted(set(numbers))


def test_without_an_answer_two_pictures_are_on_the_way_and_no_more(service: Service) -> None:
    with viewer(service) as opened:
        message(opened)
        first, _ = message(opened), message(opened)
        with pytest.raises(TimeoutError):
            opened.recv(timeout=0.3)
        opened.send(json.dumps({"drawn": first["number"]}))
        late = message(opened)
        assert late["number"] > first["number"] + 5  # the newest, not the one that was next


def test_another_rig_is_shown_from_the_next_picture_on(service: Service) -> None:
    with viewer(service, "heron-1") as opened:
        message(opened)
        opened.send('{"rig": "heron-2"}')
        names = []
        for _ in range(4):
            picture = message(opened)
            names.append(picture["rig"])
            opened.send(json.dumps({"drawn": picture["number"]}))
        assert names[-1] == "heron-2"


def received_until_cut(connection: socket.socket) -> int:
    """Bytes that the kernel had taken when the service cut the connection."""
    connection.settimeout(5)
    count = 0
    with contextlib.suppress(ConnectionResetError):
        while piece := connection.recv(1 << 20):
            count += len(piece)
    return count


RUBBISH: list[str | bytes] = [
    "",
    "x",
    "[]",
    "1",
    "null",
    "{}",
    '{"drawn": "1"}',
    '{"drawn": 1.5}',
    '{"drawn": true}',
    '{"drawn": 999999999}',
    '{"drawn": -1}',
    '{"cycles": 4}',
    '{"cycles": true}',
    '{"cycles": "3"}',
    '{"drawn": NaN}',
    '{"drawn": 1, "rig": "heron-1"}',
    '{"rig": 5}',
    '{"rig": ["heron-1"]}',
    '{"motor": "start"}',
    "[" * 30_000,
    '{"drawn": ' + "9" * 5000 + "}",
    b'{"drawn": 1}',
    b"\0" * 100,
]


@pytest.mark.parametrize("said", RUBBISH)
def test_rubbish_closes_that_socket_only(service: Service, said: str | bytes) -> None:
    with viewer(service) as other, viewer(service) as rude:
        message(other), message(other)
        rude.send(said)
        code, reason = closing(rude)
        assert code == 1008
        assert reason
        number = message(other)["number"]
        other.send(json.dumps({"drawn": number}))
        assert message(other)["number"] > number


@pytest.mark.parametrize(("length", "code"), [(65_536, 1008), (65_537, 1009)])
def test_the_longest_message_is_64_kilobytes(service: Service, length: int, code: int) -> None:
    with viewer(service) as opened:
        opened.send('{"rig": "' + "x" * (length - 12) + '", ')  # no JSON, so that both are refused, each for its reason
        assert closing(opened)[0] == code


def test_more_messages_than_a_page_ever_says_are_rubbish(service: Service) -> None:
    with viewer(service, "heron-1") as opened:
        message(opened)
        for _ in range(MESSAGES_MAX):
            opened.send('{"rig": "heron-2"}')
        opened.send(json.dumps({"drawn": message(opened)["number"]}))
        assert closing(opened) == (1008, f"more than {MESSAGES_MAX} messages came in a second")


def test_a_message_in_many_fragments_is_understood(service: Service) -> None:
    with viewer(service, "heron-1") as opened:
        message(opened)
        opened.send(['{"rig": ', '"heron', '-2"}'])
        for _ in range(5):
            picture = message(opened)
            opened.send(json.dumps({"drawn": picture["number"]}))
        assert picture["rig"] == "heron-2"


def test_the_viewer_after_the_last_one_is_told_so(page: Path) -> None:
    with running(page, "heron-1") as service:
        opened = []
        for _ in range(VIEWERS_MAX):
            one = socket.create_connection(("127.0.0.1", service.port), timeout=5)
            one.sendall(upgrade(f"127.0.0.1:{service.port}", service.url))
            assert b" 101 " in one.recv(30)
            opened.append(one)
        with pytest.raises(InvalidStatus) as refused, viewer(service):
            pass
        assert refused.value.response.status_code == 503
        assert b"128 viewers are watching already" in refused.value.response.body
        opened.pop().close()
        time.sleep(0.2)
        with viewer(service) as again:
            assert message(again)["kind"] == "hello"
        for one in opened:
            one.close()


def stuck_viewer(service: Service) -> socket.socket:
    """Reads nothing after the handshake."""
    stuck = socket.socket()
    stuck.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
    stuck.settimeout(5)
    stuck.connect(("127.0.0.1", service.port))
    stuck.sendall(upgrade(f"127.0.0.1:{service.port}", service.url))
    assert b" 101 " in stuck.recv(30)
    return stuck


def test_beside_a_viewer_that_reads_nothing_the_others_miss_nothing(service: Service) -> None:
    with stuck_viewer(service), viewer(service) as opened:
        message(opened)
        numbers = []
        for _ in range(30):
            numbers.append(message(opened)["number"])
            opened.send(json.dumps({"drawn": numbers[-1]}))
        assert numbers[-1] - numbers[0] <= len(numbers)  # one late tick of a busy machine is forgiven


def test_a_viewer_that_reads_nothing_is_dropped_with_what_waits_for_it(
    page: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.live.viewer.DEAD_S", 0.5)
    with running(page, "heron-1") as service:
        # Pictures larger than all the buffers on the way, so that the service cannot get rid of them.
        service.rigs.rigs["heron-1"].view.motor = Shown("x" * 3_000_000)  # it stands in the picture twice
        with stuck_viewer(service) as stuck:
            time.sleep(0.8)
            assert received_until_cut(stuck) < 6_000_000  # less than the first picture


def test_an_interrupted_connection_frees_its_place(service: Service) -> None:
    for _ in range(5):
        one = socket.create_connection(("127.0.0.1", service.port), timeout=5)
        one.sendall(upgrade(f"127.0.0.1:{service.port}", service.url))
        assert b" 101 " in one.recv(30)
        one.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))  # closes with a reset
        one.close()
    with viewer(service) as opened:
        assert message(opened)["kind"] == "hello"
