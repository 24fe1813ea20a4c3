"""What the web server answers before the application is asked, by raw bytes."""

import socket
import subprocess
import sys
import time

import pytest

from server.web.guard import HEADERS_MAX
from tests.server.web.bench import BEARER, Service
from tests.server.web.carried import assert_protected, ours
from tests.server.web.raw import UPGRADE, answer, get, read


@pytest.mark.parametrize("surplus", [0, 1, 3000, 100_000])
def test_headers_beyond_eight_kilobytes_are_refused(service: Service, surplus: int) -> None:
    used = len("/api/rigs") + len("host") + len(ours(service)) + 4 + len("x-long") + 4
    used += len("".join(BEARER)) + 4
    request = get(ours(service), more=f"X-Long: {'a' * (HEADERS_MAX - used + surplus)}\r\n")
    status, headers, _ = answer(service.port, request)
    assert status == (431 if surplus else 200)
    assert_protected(headers)


def test_a_request_that_is_no_http_is_answered_with_protection_too(service: Service) -> None:
    status, headers, _ = answer(service.port, b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n")
    assert status == 400
    assert_protected(headers)


@pytest.mark.parametrize("broken", ["Sec-WebSocket-Version: 12\r\n", "Sec-WebSocket-Key: short\r\n"])
def test_a_handshake_that_is_none_is_answered_with_protection_too(service: Service, broken: str) -> None:
    name = broken.split(":", maxsplit=1)[0]
    lines = [line + "\r\n" for line in UPGRADE.split("\r\n") if line and not line.startswith(name)]
    request = get(ours(service), "/live", "".join(lines) + broken + f"Origin: {service.url}\r\n")
    status, headers, _ = answer(service.port, request)
    assert status in (400, 426)
    assert_protected(headers)


def dropped_after_s(connection: socket.socket, letters: bytes) -> float:
    """How long the service bears with a request that comes letter by letter, each in its own good time."""
    begin = time.monotonic()
    connection.settimeout(0.05)
    for letter in letters:
        try:
            connection.sendall(bytes((letter,)))
            if connection.recv(100) == b"":
                break
        except TimeoutError:
            continue
        except ConnectionError:
            break
    return time.monotonic() - begin


def test_a_refused_socket_is_nothing_to_tell_the_terminal(service: Service, caplog: pytest.LogCaptureFixture) -> None:
    for _ in range(3):
        status, headers, _ = answer(service.port, get(ours(service), "/live", f"{UPGRADE}Origin: http://evil\r\n"))
        assert status == 403
        assert_protected(headers)
    time.sleep(0.1)
    assert caplog.text == ""


def test_a_request_that_does_not_come_to_its_end_is_dropped(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("server.web.wire.HANDSHAKE_S", 0.3)
    for start in (b"", b"GET /api/rigs HTTP/1.1\r\nHost: ", b"GET /api/rigs HTTP/1.1\r\n"):
        with socket.create_connection(("127.0.0.1", service.port), timeout=5) as connection:
            connection.sendall(start)
            assert 0.2 < dropped_after_s(connection, b"a" * 20) < 0.9


def test_a_kept_connection_may_send_later_requests_in_pieces(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("server.web.wire.HANDSHAKE_S", 0.3)
    request = get(ours(service))
    with socket.create_connection(("127.0.0.1", service.port), timeout=5) as connection:
        for pause_s in (0.0, 0.5, 0.1, 0.5):  # the connection becomes older than the limit for one request
            time.sleep(pause_s)
            for at in range(0, len(request), 20):
                connection.sendall(request[at : at + 20])
                time.sleep(0.005)
            assert read(connection).startswith(b"HTTP/1.1 200 ")


def test_a_later_request_that_does_not_come_to_its_end_is_dropped_too(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.web.wire.HANDSHAKE_S", 0.3)
    with socket.create_connection(("127.0.0.1", service.port), timeout=5) as connection:
        connection.sendall(get(ours(service)))
        read(connection)
        time.sleep(0.5)
        assert 0.2 < dropped_after_s(connection, b"GET /api/rigs HTTP/1.1\r\nHost: and so on") < 0.9


def test_a_socket_that_asks_and_never_reads_is_dropped(service: Service) -> None:
    connection = socket.create_connection(("127.0.0.1", service.port))
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    connection.sendall(get(ours(service), "/live", f"{UPGRADE}Origin: {service.url}\r\n"))
    assert b" 101 " in read(connection)[:20]
    ping = bytes((0x89, 0x80 | 125)) + bytes(4) + bytes(125)  # RFC 6455, 5.5.2; masked with zeros
    connection.settimeout(10)
    with pytest.raises(ConnectionError):
        _send_all(connection, ping * 500, 1500)  # 98 MB
    connection.close()


def _send_all(connection: socket.socket, piece: bytes, times: int) -> None:
    for _ in range(times):
        connection.sendall(piece)


@pytest.mark.parametrize(("hard", "room"), [(4096, 640), (1024, 320), (64, 32)])
def test_connections_leave_files_for_rigs_and_recordings(hard: int, room: int) -> None:
    code = (
        f"import resource; resource.setrlimit(resource.RLIMIT_NOFILE, (60, {hard}));"
        "from server.web.wire import room_for_connections as room; print(room(), resource.getrlimit(7)[0])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == [str(room), str(min(hard, 1664))]
