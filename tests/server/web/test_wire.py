"""What the web server answers before the application is asked, by raw bytes."""

import socket
import time

import pytest

from server.web.guard import HEADERS_MAX
from tests.server.web.bench import Service
from tests.server.web.carried import assert_protected, ours
from tests.server.web.raw import UPGRADE, answer, get


@pytest.mark.parametrize("surplus", [0, 1, 3000, 100_000])
def test_headers_beyond_eight_kilobytes_are_refused(service: Service, surplus: int) -> None:
    used = len("/api/rigs") + len("host") + len(ours(service)) + 4 + len("x-long") + 4
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


def test_a_request_that_does_not_come_to_its_end_is_dropped(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("server.web.wire.HANDSHAKE_S", 0.3)
    for start in (b"", b"GET /api/rigs HTTP/1.1\r\nHost: ", b"GET /api/rigs HTTP/1.1\r\n"):
        with socket.create_connection(("127.0.0.1", service.port), timeout=5) as connection:
            begin = time.monotonic()
            connection.sendall(start)
            for _ in range(20):  # a byte now and then does not buy time
                try:
                    connection.sendall(b"a")
                    connection.settimeout(0.05)
                    if connection.recv(100) == b"":
                        break
                except TimeoutError:
                    continue
                except ConnectionError:
                    break
            assert 0.2 < time.monotonic() - begin < 0.9
