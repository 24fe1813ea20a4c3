"""What strangers get, how one comes in by a link, and what sessions are worth: on a real web server."""

import contextlib
import http.client
import json
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import httpx2
import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect
from websockets.typing import Origin

from server.access.permission import Kind
from server.access.slowing import WRONG_MAX
from tests.server.web.bench import Service, running
from tests.server.web.carried import assert_protected, ours
from tests.server.web.raw import UPGRADE, answer, get


def page_asks(service: Service, cookie: str = "") -> httpx2.Client:
    """As our own page asks: with its origin, and the cookie of its session."""
    headers = {"Origin": service.url, "Slipring-Request": "1", "Content-Type": "application/json"}
    if cookie:
        headers["Cookie"] = cookie
    return httpx2.Client(base_url=service.url, trust_env=False, verify=False, headers=headers)


def session_cookie(service: Service) -> str:
    return "=".join(service.cookie())


SHOWN = {
    "/api/door": '{"come_in":false}',
    "/": "door",
    "/enter": "door",
    "/?rig=heron-1": "door",
    "/door/door.js": "export {};",
}
HIDDEN = ["/assets/page.js", "/index.html", "/door", "/door/", "/door/../assets/page.js", "/door.html", "/nothing"]
HIDDEN += [
    "/api",
    "/api/rigs",
    "/api/nothing",
    "/api/openapi.json",
    "/api/session",
    "/api/lines",
    "/live",
    "/door/x.js",
]


@pytest.mark.parametrize("path", SHOWN)
def test_a_stranger_sees_the_door(service: Service, path: str) -> None:
    status, headers, body = answer(service.port, get(ours(service), path, token=""))
    assert (status, SHOWN[path] in body.decode()) == (200, True)
    assert_protected(headers)


@pytest.mark.parametrize("path", HIDDEN)
def test_a_stranger_sees_nothing_else(service: Service, path: str) -> None:
    status, headers, body = answer(service.port, get(ours(service), path, token=""))
    assert status == 401
    assert_protected(headers)
    assert b"heron" not in body
    assert b"slipring link" in body


def test_a_stranger_gets_no_socket(service: Service) -> None:
    more = f"{UPGRADE}Origin: {service.url}\r\n"
    assert answer(service.port, get(ours(service), "/live", more, token=""))[0] == 401
    for cookie in (f"slipring-{service.port}=wrong", "slipring=1"):
        assert answer(service.port, get(ours(service), "/live", f"{more}Cookie: {cookie}\r\n", token=""))[0] == 401
    with_session = get(ours(service), "/live", f"{more}Cookie: {session_cookie(service)}\r\n", token="")
    assert answer(service.port, with_session)[0] == 101


def test_a_session_alone_is_not_enough_to_change_something_or_for_a_socket(service: Service) -> None:
    cookie = session_cookie(service)
    lines = f"POST /api/rigs HTTP/1.1\r\nHost: {ours(service)}\r\nCookie: {cookie}\r\nContent-Length: 2\r\n"
    json_kind, header = "Content-Type: application/json\r\n", "Slipring-Request: 1\r\n"
    origin = f"Origin: {service.url}\r\n"
    for more, status in (
        (json_kind + header, 401),  # no origin: no page of ours
        (origin + header, 415),
        (origin + json_kind, 403),
        (origin + json_kind + header, 422),  # as far as the route, which misses a name
    ):
        assert answer(service.port, f"{lines}{more}\r\n{{}}")[0] == status
    without_origin = get(ours(service), "/live", f"{UPGRADE}Cookie: {cookie}\r\n", token="")
    assert answer(service.port, without_origin)[0] == 401


def test_a_link_opens_the_door_once(service: Service) -> None:
    with service.client as script:
        link = script.post("/api/links", json={}, headers={"Slipring-Request": "1"}).json()["link"]
    before, _, secret = link.partition("#")
    assert before == f"{service.url}/enter"
    assert len(secret) >= 192 / 6  # six bits a letter
    with page_asks(service) as page:
        entered = page.post("/api/enter", json={"link": secret})
        assert (entered.status_code, entered.json()["kind"]) == (200, "browser")
        token = entered.headers["set-cookie"].partition("=")[2].partition(";")[0]
        assert len(token) >= 192 / 6
        assert page.get("/api/rigs").status_code == 200  # the client keeps the cookie, as a browser does
        assert page.get("/").text.count("page") == 1
    with page_asks(service) as another:
        again = another.post("/api/enter", json={"link": secret})
        assert (again.status_code, "set-cookie" in again.headers) == (403, False)
        assert secret not in again.text
        assert another.get("/api/rigs").status_code == 401


def test_a_link_is_no_foreign_pages_to_use(service: Service) -> None:
    secret = service.entrance.links.make(time.monotonic())
    with page_asks(service) as page:
        assert page.post("/api/enter", json={"link": secret}, headers={"Origin": "http://evil"}).status_code == 403
        assert page.post("/api/enter", content="{}", headers={"Content-Type": "text/plain"}).status_code == 415
        assert page.post("/api/enter", json={"link": secret}).status_code == 200


def test_wrong_links_are_slowed_down_and_the_right_one_waits_unused(page: Path) -> None:
    with running(page, "heron-1") as service, page_asks(service) as asking:
        secret = service.entrance.links.make(time.monotonic())
        statuses = [asking.post("/api/enter", json={"link": f"wrong-{k}"}).status_code for k in range(WRONG_MAX + 1)]
        assert statuses == [403] * WRONG_MAX + [429]
        slowed = asking.post("/api/enter", json={"link": secret})
        assert slowed.status_code == 429
        assert 0 < int(slowed.headers["retry-after"]) <= 61
        with service.client as script:  # scripts have a count of their own
            assert script.get("/api/rigs").status_code == 200
        assert service.entrance.links.take(secret, time.monotonic())


def test_who_comes_in_is_listed_and_ended(service: Service) -> None:
    cookie = session_cookie(service)
    with page_asks(service, cookie) as page:
        own = page.get("/api/session").json()
        assert own["may"] == ["look", "mark", "change", "pc"]
        assert own["number"] in {each["number"] for each in page.get("/api/sessions").json()}
        assert page.request("DELETE", f"/api/sessions/{own['number']}", json={}).status_code == 200
        assert page.get("/api/rigs").status_code == 401
        assert page.request("DELETE", "/api/rigs/heron-1", json={}).status_code == 401
    with service.client as script:
        listed = script.get("/api/sessions").text
        assert cookie.partition("=")[2] not in listed
        gone = script.request("DELETE", "/api/sessions/999", json={}, headers={"Slipring-Request": "1"})
        assert (gone.status_code, gone.json()["detail"]) == (404, "There is no session 999.")
        assert script.request("DELETE", "/api/session", json={}, headers={"Slipring-Request": "1"}).status_code == 404


def test_leaving_takes_the_cookie_away(service: Service) -> None:
    with page_asks(service, session_cookie(service)) as page:
        left = page.request("DELETE", "/api/session", json={})
        assert left.status_code == 200
        assert "Max-Age=0" in left.headers["set-cookie"]
        assert page.get("/api/rigs").status_code == 401


def end_session(service: Service, number: int) -> None:
    """As the PC does it, where the service works."""

    def end() -> None:
        assert service.entrance.sessions.end(number)

    service.on_loop(end)


@contextlib.contextmanager
def watching(service: Service) -> Iterator[tuple[int, float]]:
    """Code and seconds after which the socket of a session closes once the session has ended."""
    name, value = service.cookie()
    number = next(iter(service.entrance.sessions)).number
    with connect(
        f"ws://127.0.0.1:{service.port}/live",
        origin=Origin(service.url),
        additional_headers=[("Cookie", f"{name}={value}")],
        compression=None,
        max_size=None,
    ) as opened:
        opened.recv(timeout=5)
        begin_s = time.monotonic()
        end_session(service, number)
        code = 0
        try:
            while True:
                opened.recv(timeout=5)
        except ConnectionClosed as closed:
            code = closed.rcvd.code if closed.rcvd else 0
        yield code, time.monotonic() - begin_s


def test_a_socket_closes_within_a_second_after_its_session_ended(service: Service) -> None:
    with watching(service) as (code, took_s):
        assert code == 1008
        assert took_s < 1.0


def test_a_socket_that_does_not_say_goodbye_is_dropped_after_its_session_ended(service: Service) -> None:
    name, value = service.cookie()
    number = next(iter(service.entrance.sessions)).number
    request = get(ours(service), "/live", f"{UPGRADE}Origin: {service.url}\r\nCookie: {name}={value}\r\n", token="")
    with socket.create_connection(("127.0.0.1", service.port), timeout=5) as rude:
        rude.sendall(request)
        assert b" 101 " in rude.recv(30)
        begin_s = time.monotonic()
        end_session(service, number)
        with contextlib.suppress(ConnectionResetError):
            while rude.recv(1 << 16):
                pass
        assert time.monotonic() - begin_s < 1.5


def test_lines_end_with_their_session_too(service: Service) -> None:
    name, value = service.cookie()
    number = next(iter(service.entrance.sessions)).number
    with contextlib.closing(http.client.HTTPConnection("127.0.0.1", service.port, timeout=5)) as connection:
        connection.request("GET", "/api/lines", headers={"Cookie": f"{name}={value}"})
        lines = connection.getresponse()
        assert lines.status == 200
        begin_s = time.monotonic()
        end_session(service, number)
        lines.read()
        assert time.monotonic() - begin_s < 1.5


def test_no_handshake_of_a_session_that_has_ended(service: Service) -> None:
    name, value = service.cookie()
    end_session(service, next(iter(service.entrance.sessions)).number)
    with (
        pytest.raises(InvalidStatus) as refused,
        connect(
            f"ws://127.0.0.1:{service.port}/live",
            origin=Origin(service.url),
            additional_headers=[("Cookie", f"{name}={value}")],
        ),
    ):
        pass
    assert refused.value.response.status_code == 401


def test_the_session_of_a_device_is_worth_nothing_on_the_pc_itself(service: Service) -> None:
    _, token = service.entrance.sessions.open(Kind.DEVICE, "phone", "192.168.10.7")
    with page_asks(service, f"slipring-{service.port}={token}") as page:
        assert page.get("/api/rigs").status_code == 401


def test_no_secret_stands_in_an_answer_or_in_what_is_told_of_a_mistake(
    service: Service, caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
) -> None:
    secret, cookie = service.entrance.links.make(time.monotonic()), session_cookie(service)
    token = cookie.partition("=")[2]
    told = []
    with page_asks(service, cookie) as page:
        for path in ("/api/rigs", "/api/session", "/api/sessions", "/api/pairing", "/api/nothing"):
            told.append(page.get(path, headers={"Authorization": f"Bearer {secret}"}).text)
            told.append(page.get(path).text)
        told.append(page.post("/api/enter", json={"link": secret, "more": 1}).text)
        told.append(page.post("/api/pair", json={"code": secret}).text)
        told.append(page.post("/api/enter", content=json.dumps({"link": secret})[:-1]).text)
    everything = "\n".join([*told, caplog.text, *capfd.readouterr()])
    assert secret not in everything
    assert token not in everything
    assert service.entrance.token not in everything
