"""The service while its system gives it no more files, and at its end while somebody keeps it waiting."""

import contextlib
import os
import resource
import socket
import sys
from http.client import HTTPConnection
from pathlib import Path

import pytest

from tests.server.commands.services import Service

pytestmark = pytest.mark.alone


@pytest.mark.skipif(sys.platform != "linux", reason="limits of another process can be set on Linux only")
def test_connections_that_the_system_refuses_are_told_in_one_line_and_what_is_connected_goes_on(tmp_path: Path) -> None:
    with Service(tmp_path / "data") as service, contextlib.ExitStack() as opened:
        address = ("127.0.0.1", service.port)
        first = opened.enter_context(contextlib.closing(HTTPConnection(*address, timeout=5)))
        _ask(first, service)
        limit = len(os.listdir(f"/proc/{service.process.pid}/fd")) + 8
        resource.prlimit(service.process.pid, resource.RLIMIT_NOFILE, (limit, limit))
        crowd = [opened.enter_context(socket.create_connection(address, timeout=5)) for _ in range(11)]
        service.until(lambda: "Pages cannot connect" in service.said)
        _ask(first, service)
        for one in crowd:
            one.close()
        assert service.get("/api/rigs") == []
        assert service.end()[0] == 0
        words = service.said.partition("Settings and recordings: ")[2].splitlines()[1:]
        assert words == ["Pages cannot connect at the moment (Too many open files); what is connected goes on"]


def test_a_request_that_never_ends_does_not_hold_up_the_orderly_stop_nor_makes_it_loud(tmp_path: Path) -> None:
    with Service(tmp_path / "data") as service:
        with socket.create_connection(("127.0.0.1", service.port), timeout=5) as half:
            host = f"127.0.0.1:{service.port}"
            half.sendall(
                f"POST /api/rigs HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nSlipring-Request: 1\r\n"
                f"Authorization: {service.bearer['Authorization']}\r\n"
                "Content-Type: application/json\r\nContent-Length: 100\r\n\r\n{".encode()
            )
            assert service.get("/api/rigs") == []
            code, took_s = service.end()
        assert code == 0
        assert took_s < 3.0
        assert len(service.said.splitlines()) == 3  # link, how to get another, folder


def _ask(connection: HTTPConnection, service: Service) -> None:
    connection.request("GET", "/api/rigs", headers=service.bearer)
    assert connection.getresponse().read() == b"[]"
