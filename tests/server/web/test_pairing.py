"""A device of the bench network: how it is paired, what it may do, and how the PC answers. On a real web server."""

import contextlib
import select
import socket
import time
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx2
import pytest
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import ClientConnection, connect
from websockets.typing import Origin

from server.access.pairing import ALPHABET, CODE_S
from server.access.sessions import DEVICES_MAX
from server.access.slowing import WRONG_MAX
from tests.server.live.unpack import unpack
from tests.server.web.bench import BEARER, BENCH, Service, running
from tests.server.web.devices import at_pc, bench_url, device, new_code, stranger_at_bench


@pytest.fixture(scope="module")
def bench(page: Path) -> Iterator[Service]:
    with running(page, "heron-1", "heron-2", bench=True) as started:
        yield started


def test_an_unpaired_device_gets_the_door_and_nothing_else(bench: Service) -> None:
    with stranger_at_bench(bench) as phone:
        assert "door" in phone.get("/").text
        for path in ("/api/rigs", "/api/session", "/api/openapi.json", "/assets/page.js", "/api/lines", "/index.html"):
            refused = phone.get(path)
            assert (refused.status_code, "paired" in refused.text) == (401, True)
        assert phone.get("/api/rigs", headers=dict([BEARER])).status_code == 401  # the scripts' token neither
        secret = bench.entrance.links.make(time.monotonic())
        assert phone.post("/api/enter", json={"link": secret}).status_code == 403
        assert bench.entrance.links.take(secret, time.monotonic())  # it was not used up


def test_the_code_pairs_one_device_once(bench: Service) -> None:
    code = new_code(bench)
    assert len(code) == 9
    assert set(code) - {"-"} <= set(ALPHABET)
    with stranger_at_bench(bench) as phone, stranger_at_bench(bench) as other:
        typed = code.replace("-", " ").lower()  # as a person may type it
        paired = phone.post("/api/pair", json={"code": typed, "name": "  Anna's \u001b[2J phone\n"})
        assert paired.status_code == 200
        assert paired.json() == {
            "kind": "device",
            "name": "Anna's [2J phone",
            "number": paired.json()["number"],
            "may": ["look", "mark"],
            "bench": True,
            "encrypted": False,
        }
        assert phone.get("/api/rigs").status_code == 200
        again = other.post("/api/pair", json={"code": code, "name": "other"})
        assert (again.status_code, code in again.text) == (403, False)
        assert other.get("/api/rigs").status_code == 401


def test_a_code_ends_after_five_minutes_and_when_another_is_shown(bench: Service) -> None:
    first, second = new_code(bench), new_code(bench)
    with stranger_at_bench(bench) as phone:
        assert phone.post("/api/pair", json={"code": first}).status_code == 403
        assert not bench.entrance.pairing.take(second, time.monotonic() + CODE_S)
        assert 0 < at_pc(bench, "GET", "/api/pairing", {})["open_s"] <= CODE_S
        at_pc(bench, "DELETE", "/api/pairing", {})
        assert phone.post("/api/pair", json={"code": second}).status_code == 403


def test_wrong_codes_are_slowed_down(page: Path) -> None:
    with running(page, "heron-1", bench=True) as service, stranger_at_bench(service) as phone:
        code = new_code(service)
        statuses = [phone.post("/api/pair", json={"code": "AAAA-AAAA"}).status_code for _ in range(WRONG_MAX + 1)]
        assert statuses == [403] * WRONG_MAX + [429]
        slowed = phone.post("/api/pair", json={"code": code})
        assert slowed.status_code == 429
        assert 0 < int(slowed.headers["retry-after"]) <= 61
        assert service.entrance.pairing.take(code, time.monotonic())  # it waits for the right device


def test_on_the_pc_itself_nothing_is_paired(bench: Service) -> None:
    with bench.client as pc:
        answer = pc.post("/api/pair", json={"code": new_code(bench)}, headers={"Slipring-Request": "1"})
    assert answer.status_code == 409


def test_without_a_bench_network_there_is_no_code(service: Service) -> None:
    with service.client as pc:
        refused = pc.post("/api/pairing", json={}, headers={"Slipring-Request": "1"})
        assert (refused.status_code, "--bench-network" in refused.text) == (409, True)
        assert pc.get("/api/pairing").json() == {"url": "", "fingerprint": "", "open_s": 0.0}


def test_the_square_is_the_address_with_the_code_as_its_fragment(bench: Service) -> None:
    """Held against a second making of the square by hand of the same text: a code that is not in it would differ."""
    import segno

    shown = at_pc(bench, "POST", "/api/pairing", {})
    text = f"{bench_url(bench)}/enter#{shown['code']}"
    square = [[int(one) for one in row] for row in shown["square"]]
    assert square == [list(row) for row in segno.make(text, error="m", micro=False).matrix]
    assert len(square) == len(square[0]) >= 21  # the least that ISO/IEC 18004 knows (from memory)
    assert shown["url"] == f"{bench_url(bench)}/"


def test_the_last_device_that_fits_is_told_what_to_do(page: Path) -> None:
    with running(page, bench=True) as service, contextlib.ExitStack() as stack:
        for _ in range(DEVICES_MAX):
            stack.enter_context(device(service))
        with stranger_at_bench(service) as late:
            full = late.post("/api/pair", json={"code": new_code(service)})
        assert (full.status_code, "remove one" in full.text) == (409, True)


@contextlib.contextmanager
def live(service: Service, cookie: str = "") -> Iterator[ClientConnection]:
    """The socket of a device with this cookie, or of the PC."""
    host = f"{BENCH if cookie else '127.0.0.1'}:{service.port}"
    header = ("Cookie", cookie) if cookie else BEARER
    with connect(
        f"ws://{host}/live", origin=Origin(f"http://{host}"), additional_headers=[header], max_size=None
    ) as opened:
        yield opened


def asked(opened: ClientConnection) -> list[dict[str, Any]]:
    """The next that the socket is told of questions."""
    while True:
        message = opened.recv(timeout=10)
        assert isinstance(message, bytes)
        told = unpack(message)
        if told["kind"] == "asked":
            return list(told["questions"])
        if told["kind"] == "picture":
            opened.send(f'{{"drawn": {told["number"]}}}')


def why_closed(opened: ClientConnection) -> str:
    try:
        while True:
            opened.recv(timeout=5)
    except ConnectionClosed as closed:
        return closed.rcvd.reason if closed.rcvd else ""


def cookie_of(phone: httpx2.Client) -> str:
    return "; ".join(f"{cookie.name}={cookie.value}" for cookie in phone.cookies.jar)


@contextlib.contextmanager
def asking(phone: httpx2.Client, method: str, path: str, body: object) -> Iterator[Future[httpx2.Response]]:
    with ThreadPoolExecutor() as pool:
        yield pool.submit(phone.request, method, path, json=body)


def test_what_a_device_asks_for_is_done_once_the_pc_agrees(bench: Service) -> None:
    with device(bench, "Anna's phone") as phone, live(bench) as pc, live(bench, cookie_of(phone)) as own:
        with asking(phone, "PUT", "/api/rigs/heron-1", {"stopped_rpm": 7}) as answer:
            (question,) = asked(pc)
            assert (question["device"], question["act"]) == (
                "Anna's phone",
                "change settings of the rig heron-1: stopped rpm",
            )
            assert 50 < question["left_s"] <= 60
            assert [each["number"] for each in asked(own)] == [question["number"]]
            assert bench.rigs.rigs["heron-1"].settings.stopped_rpm != 7
            at_pc(bench, "POST", f"/api/consents/{question['number']}", {"accept": True})
            assert answer.result(10).status_code == 200
        assert bench.rigs.rigs["heron-1"].settings.stopped_rpm == 7
        assert asked(pc) == []
        assert asked(own) == []


def test_what_the_pc_refuses_is_not_done(bench: Service) -> None:
    with device(bench) as phone, live(bench) as pc, asking(phone, "DELETE", "/api/rigs/heron-1", {}) as answer:
        (question,) = asked(pc)
        assert question["act"] == "remove the rig heron-1"
        at_pc(bench, "POST", f"/api/consents/{question['number']}", {"accept": False})
        refused = answer.result(10)
        assert (refused.status_code, refused.json()["detail"]) == (403, "The PC did not agree; nothing was changed.")
    assert set(bench.rigs.rigs) == {"heron-1", "heron-2"}


def test_what_nobody_answers_is_not_done(bench: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("server.access.consent.ASK_S", 0.3)
    with device(bench) as phone:
        begin_s = time.monotonic()
        late = phone.request("DELETE", "/api/rigs/heron-1", json={})
        assert 0.25 < time.monotonic() - begin_s < 5
    assert (late.status_code, "Nobody at the PC agreed" in late.text) == (403, True)
    assert set(bench.rigs.rigs) == {"heron-1", "heron-2"}


def test_a_device_does_not_answer_its_own_question(bench: Service) -> None:
    with device(bench) as phone, live(bench) as pc, asking(phone, "DELETE", "/api/rigs/heron-1", {}) as answer:
        (question,) = asked(pc)
        own = phone.post(f"/api/consents/{question['number']}", json={"accept": True})
        assert own.status_code == 403
        at_pc(bench, "POST", f"/api/consents/{question['number']}", {"accept": False})
        assert answer.result(10).status_code == 403
    assert "heron-1" in bench.rigs.rigs


def test_a_device_that_left_is_not_answered_and_nobody_is_asked_in_its_name(bench: Service) -> None:
    with device(bench) as phone, live(bench) as pc:
        with contextlib.suppress(httpx2.TimeoutException):
            phone.request("DELETE", "/api/rigs/heron-1", json={}, timeout=0.3)
        questions = asked(pc)
        while questions:
            questions = asked(pc)  # it is withdrawn
    assert set(bench.rigs.rigs) == {"heron-1", "heron-2"}


def test_more_than_two_questions_of_a_device_are_not_put_to_the_pc(bench: Service) -> None:
    with device(bench) as phone, live(bench) as pc, ThreadPoolExecutor() as pool:
        first = [pool.submit(phone.request, "DELETE", f"/api/rigs/heron-{k}", json={}) for k in (1, 2)]
        while len(waiting := asked(pc)) < 2:
            pass
        third = phone.request("DELETE", "/api/rigs/heron-1", json={})
        assert third.status_code == 429
        for each in waiting:
            at_pc(bench, "POST", f"/api/consents/{each['number']}", {"accept": False})
        assert [each.result(10).status_code for each in first] == [403, 403]


def test_a_removed_device_is_cut_off_within_a_second_with_all_that_it_asked_for(bench: Service) -> None:
    with device(bench) as phone, live(bench) as pc, live(bench, cookie_of(phone)) as own:
        number = phone.get("/api/session").json()["number"]
        with asking(phone, "DELETE", "/api/rigs/heron-1", {}) as answer:
            assert asked(pc)
            begin_s = time.monotonic()
            at_pc(bench, "DELETE", f"/api/sessions/{number}", {})
            assert why_closed(own) == "the session of this page has ended"
            assert time.monotonic() - begin_s < 1.0
            assert (answer.result(5).status_code, "paired no more" in answer.result().text) == (403, True)
        assert phone.get("/api/rigs").status_code == 401
    assert set(bench.rigs.rigs) == {"heron-1", "heron-2"}


def test_a_question_that_waits_no_more_is_not_answered(bench: Service) -> None:
    with bench.client as pc:
        gone = pc.post("/api/consents/9999", json={"accept": True}, headers={"Slipring-Request": "1"})
    assert gone.status_code == 404


def test_a_crowd_on_the_bench_network_does_not_keep_the_pc_out(page: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with running(page, bench=True) as service, contextlib.ExitStack() as crowd:
        monkeypatch.setattr("server.web.wire.Http.connections_max", 8)
        opened = [socket.create_connection((BENCH, service.port), timeout=5) for _ in range(20)]
        for one in opened:
            crowd.callback(one.close)
        time.sleep(0.3)
        dropped = [one for one in opened if select.select([one], [], [], 0)[0]]
        assert len(dropped) == 16
        with service.client as pc:
            assert pc.get("/api/rigs").status_code == 200


def test_each_address_is_asked_by_its_own_name(bench: Service) -> None:
    with stranger_at_bench(bench) as phone:
        for host in (f"127.0.0.1:{bench.port}", f"localhost:{bench.port}", "evil"):
            assert phone.get("/", headers={"Host": host}).status_code == 421
        foreign = phone.post("/api/pair", json={"code": "x"}, headers={"Origin": bench.url})
        assert foreign.status_code == 403
    with bench.client as pc:
        assert pc.get("/api/rigs", headers={"Host": f"{BENCH}:{bench.port}"}).status_code == 421
