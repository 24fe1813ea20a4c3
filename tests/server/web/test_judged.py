"""What is judged before the PC is asked does nothing, and what a judge of ours fails at is asked of nobody."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from fastapi import APIRouter, HTTPException
from pydantic import BaseModel

from server.web.judged import judged
from server.web.origin import Refusal
from server.web.permissions import Need, Needs, change
from tests.server.web.bench import Service, running
from tests.server.web.devices import at_pc, device


@pytest.fixture(scope="module")
def bench(page: Path) -> Iterator[Service]:
    with running(page, "heron-1", bench=True) as started:
        yield started


class Wanted(BaseModel):
    """A body."""

    amps: float


def need_of(fails: Exception | None) -> tuple[Need, list[str]]:
    """A route whose judge fails so, and what was done by it."""
    routes, done = APIRouter(prefix="/api"), list[str]()

    async def judge(name: str, wanted: Wanted) -> None:
        if fails is not None:
            raise fails

    @routes.put("/rigs/{name}", openapi_extra=change("change {name}"))
    @judged(judge)
    async def act(name: str, wanted: Wanted) -> None:
        done.append(name)

    return Needs(routes.routes).of("PUT", "/api/rigs/bench"), done


@pytest.mark.parametrize(
    ("body", "fails", "refusal"),
    [
        (b'{"amps": 3}', None, None),
        (b'{"amps": "x"}', None, Refusal(422, "amps: this is not a number; write it without a unit.", key="amps")),
        (b"{}", None, Refusal(422, "amps: this is missing; write it.", key="amps")),
        (b'{"amps": 3}', HTTPException(409, "It is open."), Refusal(409, "It is open.")),
        (
            b'{"amps": 3}',
            ZeroDivisionError("told by the test"),
            Refusal(500, "Slipring made a mistake; what went wrong stands in its terminal."),
        ),
    ],
)
async def test_a_request_is_judged_and_nothing_is_done(
    body: bytes, fails: Exception | None, refusal: Refusal | None
) -> None:
    need, done = need_of(fails)
    assert await need.refusal(body) == refusal
    assert done == []


ANYWAY: tuple[tuple[str, str, object, int, str, str], ...] = (
    ("PUT", "/api/rigs/heron-1", {"baud": "fast"}, 422, "baud: this is not a whole number", "baud"),
    (
        "PUT",
        "/api/rigs/heron-1",
        {"boud": 3},
        422,
        "boud: there is nothing of this name here; leave it out or mend its name.",
        "boud",
    ),
    ("PUT", "/api/rigs/heron-1", {"stopped_rpm": -1}, 422, "stopped_rpm = -1: this is not poss", "rig.stopped_rpm"),
    ("PUT", "/api/rigs/heron-9", {}, 404, 'There is no rig "heron-9"', ""),
    ("POST", "/api/rigs", {"name": "heron-1", "port": "x"}, 409, 'There is a rig "heron-1" already', ""),
    ("POST", "/api/demo/start", {"motor": "kettle"}, 422, "there is no demo motor kettle", ""),
    ("DELETE", "/api/rigs/heron-1/kept/some", {}, 422, "number: this is not a whole number", "number"),
    ("DELETE", "/api/rigs/heron-1/kept/7", {}, 404, "The picture 7 is kept no more.", ""),
)


def test_what_would_be_refused_anyway_is_refused_as_it_would_be_at_the_pc_and_nobody_is_asked(bench: Service) -> None:
    with device(bench) as phone, bench.client as own, ThreadPoolExecutor() as pool:
        phone.timeout = 5.0
        for method, path, body, status, sentence, key in ANYWAY:
            answer = phone.request(method, path, json=body)
            assert (answer.status_code, answer.json().get("key", "")) == (status, key)
            assert answer.json()["detail"].startswith(sentence)
            told = own.request(method, path, json=body, headers={"Slipring-Request": "1"})
            assert (told.status_code, told.json()["detail"]) == (status, answer.json()["detail"])
        for no_json in (b"", b"{", b"[" * 5000, b"\xff"):
            headers = {"Content-Type": "application/json", "Slipring-Request": "1"}
            assert phone.request("PUT", "/api/rigs/heron-1", content=no_json, headers=headers).status_code == 422
        removing = pool.submit(phone.request, "DELETE", "/api/rigs/heron-1", json={})
        while not (questions := at_pc(bench, "GET", "/api/consents", {})):
            assert not removing.done()
        assert [each["act"] for each in questions] == ["remove the rig heron-1"]  # the first that the PC hears of
        at_pc(bench, "POST", f"/api/consents/{questions[0]['number']}", {"accept": False})
        assert removing.result(10).status_code == 403
