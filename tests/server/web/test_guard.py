"""The guard on a real web server, asked by raw bytes: what gets in, what does not, and what every answer carries."""

import socket
import time
from pathlib import Path

import pytest

from server.web.guard import BODY_MAX
from tests.server.web.bench import Service, running
from tests.server.web.carried import assert_protected, at, ours
from tests.server.web.raw import TOKEN, UPGRADE, answer, get, upgrade
from tests.server.web.test_origin import FOREIGN, OURS

AUTHORIZED = {"Authorization": f"Bearer {TOKEN}", "Slipring-Request": "1"}


@pytest.mark.parametrize("host", OURS)
def test_our_own_names_get_in_by_http_and_by_socket(service: Service, host: str) -> None:
    assert answer(service.port, get(at(service, host)))[0] == 200
    origin = f"http://127.0.0.1:{service.port}"
    assert answer(service.port, upgrade(at(service, host), origin))[0] == 101


# White space around a value is no part of it (RFC 9110, 5.5): on the wire these four are our own name.
ON_THE_WIRE = [host for host in FOREIGN if host.strip(" \t\n") not in OURS]


@pytest.mark.parametrize("host", ON_THE_WIRE)
def test_no_other_spelling_gets_in_by_http_or_by_socket(service: Service, host: str) -> None:
    status, headers, body = answer(service.port, get(at(service, host)))
    assert status in (400, 421)  # 400: no header at all by RFC 9110
    assert_protected(headers)
    assert b"heron" not in body
    origin = f"http://127.0.0.1:{service.port}"
    assert answer(service.port, upgrade(at(service, host), origin))[0] in (400, 421)


@pytest.mark.parametrize(
    "request_line_and_hosts",
    [
        "GET http://evil/api/rigs HTTP/1.1\r\nHost: {ours}\r\n",
        "GET http://{ours}/api/rigs HTTP/1.1\r\nHost: evil\r\n",
        "GET //evil/api/rigs HTTP/1.1\r\nHost: evil\r\n",
        "GET /api/rigs HTTP/1.1\r\nHost: {ours}\r\nHost: {ours}\r\n",
        "GET /api/rigs HTTP/1.1\r\nHost: {ours}\r\nHost: evil\r\n",
        "GET /api/rigs HTTP/1.1\r\nHost: evil\r\nHost: {ours}\r\n",
        "GET /api/rigs HTTP/1.1\r\n",
        "GET /api/rigs HTTP/1.0\r\n",
        "GET /api/rigs HTTP/1.1\r\nHost: evil\r\nX-Forwarded-Host: {ours}\r\nForwarded: host={ours}\r\n",
        "OPTIONS * HTTP/1.1\r\nHost: {ours}\r\n",
        "CONNECT {ours} HTTP/1.1\r\nHost: {ours}\r\n",
    ],
)
def test_no_trick_of_the_request_line_gets_in(service: Service, request_line_and_hosts: str) -> None:
    request = request_line_and_hosts.replace("{ours}", ours(service)) + f"Authorization: Bearer {TOKEN}\r\n\r\n"
    status, headers, body = answer(service.port, request)
    assert status in (400, 421)
    assert_protected(headers)
    assert b"heron" not in body


@pytest.mark.parametrize(
    "origin", ["http://evil", "null", "", "http://127.0.0.1:1", "https://{ours}", "http://{ours}.evil"]
)
@pytest.mark.parametrize("token", ["", TOKEN])
def test_a_foreign_origin_gets_no_socket_not_even_with_the_token(service: Service, origin: str, token: str) -> None:
    origin = origin.replace("{ours}", ours(service))
    status, headers, body = answer(service.port, upgrade(ours(service), origin, token=token))
    assert status == 403
    assert_protected(headers)
    assert b"only Slipring's own page may" in body


def test_a_socket_without_an_origin_needs_the_token(service: Service) -> None:
    assert answer(service.port, upgrade(ours(service), None, token=""))[0] == 401
    assert answer(service.port, upgrade(ours(service), None))[0] == 101
    in_address = get(ours(service), f"/live?token={TOKEN}", UPGRADE, token="")
    assert answer(service.port, in_address)[0] == 401


METHODS = ("POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND", "INVENTED", "get")


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("path", ["/api/rigs", "/api/rigs/heron-1", "/api/demo/start", "/", "/nothing"])
def test_no_method_but_get_and_head_works_for_a_foreign_page(service: Service, method: str, path: str) -> None:
    body = '{"name": "evil"}'
    for origin in ("Origin: http://evil\r\n", "Sec-Fetch-Site: cross-site\r\n", ""):
        lines = f"{method} {path} HTTP/1.1\r\nHost: {ours(service)}\r\n{origin}Content-Type: application/json\r\n"
        status, headers, _ = answer(
            service.port, f"{lines}Slipring-Request: 1\r\nContent-Length: {len(body)}\r\n\r\n{body}"
        )
        assert status == (403 if origin else 401)
        assert_protected(headers)
    assert set(service.rigs.rigs) == {"heron-1", "heron-2"}


@pytest.mark.parametrize(
    ("kind", "header", "status"),
    [
        ("application/json", "1", 422),  # gets as far as the route, which misses a name
        ("application/json; charset=utf-8", "1", 422),
        ("text/plain", "1", 415),
        ("application/x-www-form-urlencoded", "1", 415),
        ("multipart/form-data; boundary=x", "1", 415),
        ("application/jsonp", "1", 415),
        (None, "1", 415),
        ("application/json", None, 403),
        ("application/json", "0", 403),
    ],
)
def test_what_changes_something_needs_json_and_our_header(
    service: Service, kind: str | None, header: str | None, status: int
) -> None:
    headers = {"Origin": service.url, "Content-Type": kind, "Slipring-Request": header}
    with service.client as client:
        got = client.post("/api/rigs", content=b"{}", headers={k: v for k, v in headers.items() if v is not None})
    assert got.status_code == status
    assert isinstance(got.json()["detail"], str)


def test_every_answer_carries_the_protection_whatever_its_status(service: Service) -> None:
    class Broken:
        def __getattr__(self, name: str) -> object:
            raise ZeroDivisionError

    seen = {}
    with service.client as client:
        for path in ("/", "/assets/page.js", "/nothing", "/api/nothing", "/api/rigs/nobody", "/api/openapi.json"):
            seen[path] = client.get(path)
        for path in ("/docs", "/redoc", "/docs/oauth2-redirect", "/openapi.json"):
            assert client.get(path).status_code == 404
        seen["HEAD"] = client.head("/api/rigs")
        seen["405"] = client.delete("/api/rigs", headers={**AUTHORIZED, "Content-Type": "application/json"})
        seen["422"] = client.post("/api/rigs", json={"nme": 1}, headers=AUTHORIZED)
        seen["429?"] = client.post("/api/rigs", json={}, headers={"Authorization": "Bearer wrong"})
        service.rigs.rigs["broken"] = Broken()  # type: ignore[assignment]  # the fault of ours that is to be survived
        try:
            seen["500"] = client.get("/api/rigs/broken")
        finally:
            del service.rigs.rigs["broken"]
    statuses = {name: got.status_code for name, got in seen.items()}
    assert statuses == {
        "/": 200,
        "/assets/page.js": 200,
        "/nothing": 404,
        "/api/nothing": 404,
        "/api/rigs/nobody": 404,
        "/api/openapi.json": 200,
        "HEAD": 200,
        "405": 405,
        "422": 422,
        "429?": 401,
        "500": 500,
    }
    for name, got in seen.items():
        assert_protected({key.lower(): value for key, value in got.headers.items()})
        if got.status_code >= 400 and name != "HEAD":
            assert got.json()["detail"].endswith(".")


def test_the_largest_body_passes_and_one_byte_more_does_not(service: Service) -> None:
    for surplus, expected in ((0, 422), (1, 413), (BODY_MAX // 2, 413)):
        body = b'{"name":"' + b"x" * (BODY_MAX - 11 + surplus) + b'"}'
        with service.client as client:
            got = client.post("/api/rigs", content=body, headers={**AUTHORIZED, "Content-Type": "application/json"})
        assert (len(body) - BODY_MAX, got.status_code) == (surplus, expected)


def test_a_body_in_pieces_is_counted_as_it_comes(service: Service) -> None:
    head = f"POST /api/rigs HTTP/1.1\r\nHost: {ours(service)}\r\nContent-Type: application/json\r\n"
    head += f"Slipring-Request: 1\r\nAuthorization: Bearer {TOKEN}\r\nTransfer-Encoding: chunked\r\n\r\n"
    piece = b"10000\r\n" + b" " * 65_536 + b"\r\n"
    status, headers, _ = answer(service.port, head.encode() + piece * 17 + b"0\r\n\r\n")
    assert status == 413
    assert_protected(headers)


def test_forwarded_headers_change_nothing_and_cannot_hide_who_guesses(page: Path) -> None:
    with running(page, "heron-1") as service, service.client as client:
        for k in range(10):
            forwarded = {"X-Forwarded-For": f"10.0.0.{k}", "X-Forwarded-Proto": "https", "Forwarded": f"for=10.1.1.{k}"}
            got = client.post("/api/rigs", json={}, headers={**forwarded, "Authorization": "Bearer wrong"})
            assert got.status_code == 401
        got = client.post("/api/rigs", json={}, headers={"X-Forwarded-For": "10.9.9.9", **AUTHORIZED})
        assert got.status_code == 429
        assert 0 < int(got.headers["retry-after"]) <= 61
        assert_protected(dict(got.headers))
        name, value = service.cookie()  # the page goes on meanwhile
        with service.stranger as page_of_ours:
            assert page_of_ours.get("/api/rigs", headers={"Cookie": f"{name}={value}"}).status_code == 200


def test_what_was_sent_in_part_before_its_sender_left_is_not_done(service: Service) -> None:
    body = '{"name": "half"}'
    head = f"POST /api/rigs HTTP/1.1\r\nHost: {ours(service)}\r\nContent-Type: application/json\r\n"
    head += f"Slipring-Request: 1\r\nAuthorization: Bearer {TOKEN}\r\nContent-Length: {len(body) + 1}\r\n\r\n"
    with socket.create_connection(("127.0.0.1", service.port), timeout=5) as left:
        left.sendall(f"{head}{body}".encode())
        time.sleep(0.2)
    time.sleep(0.2)
    assert set(service.rigs.rigs) == {"heron-1", "heron-2"}
