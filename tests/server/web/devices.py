"""Devices of a bench network, as tests need them: paired by the code that the PC shows, asking as their page does."""

import contextlib
from collections.abc import Iterator
from typing import Any

import httpx2

from tests.server.web.bench import BENCH, Service


def bench_url(service: Service) -> str:
    return f"http://{BENCH}:{service.port}"


@contextlib.contextmanager
def stranger_at_bench(service: Service) -> Iterator[httpx2.Client]:
    """The page of a device that is not paired."""
    headers = {"Origin": bench_url(service), "Slipring-Request": "1", "Content-Type": "application/json"}
    with httpx2.Client(
        base_url=bench_url(service), trust_env=False, verify=False, headers=headers, timeout=20
    ) as client:
        yield client


@contextlib.contextmanager
def device(service: Service, name: str = "phone") -> Iterator[httpx2.Client]:
    """The page of a device that is paired."""
    with stranger_at_bench(service) as client:
        paired = client.post("/api/pair", json={"code": new_code(service), "name": name})
        assert paired.status_code == 200, paired.text
        yield client


def at_pc(service: Service, method: str, path: str, body: object) -> Any:
    """What the PC's page asks for."""
    with service.client as client:
        answer = client.request(method, path, json=body, headers={"Slipring-Request": "1"})
    assert answer.status_code < 400, answer.text
    return answer.json()


def new_code(service: Service) -> str:
    code: str = at_pc(service, "POST", "/api/pairing", {})["code"]
    return code
