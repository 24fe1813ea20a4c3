"""The page's files: what is served, and that nothing else is."""

from pathlib import Path

import pytest

from tests.server.web.bench import Service, running
from tests.server.web.carried import assert_protected, ours
from tests.server.web.raw import answer, get


def test_data_is_not_stored_and_the_page_is_asked_for_again(service: Service) -> None:
    with service.client as client:
        assert client.get("/api/rigs").headers["cache-control"] == "no-store"
        assert client.get("/").headers["cache-control"] == "no-cache"


TRAVERSALS = [
    "/../token",
    "/..%2ftoken",
    "/%2e%2e/token",
    "/%2e%2e%2ftoken",
    "/..%5ctoken",
    "/assets/../../token",
    "/assets/..%2f..%2ftoken",
    "/./../token",
    "/....//token",
    "/../static-secret/token",
    "/%2e%2e/static-secret/token",
    "/-secret/token",
    "/link",
    "/%00",
    "/index.html%00.js",
    "/index.html/../../token",
    "//token",
    "/\\..\\token",
    "/CON",
    "/%252e%252e%252ftoken",
    "/..;/token",
    "/%c0%ae%c0%ae/token",
    "/etc/passwd",
    "/%2fetc%2fpasswd",
    "/" + "a" * 5000,
]


@pytest.mark.parametrize("path", TRAVERSALS)
def test_no_path_leads_out_of_the_page(service: Service, path: str) -> None:
    status, headers, body = answer(service.port, get(ours(service), path))
    assert status in (400, 404)
    assert_protected(headers)
    assert b"SECRET" not in body
    assert b"root:" not in body


def test_without_a_built_page_the_rest_works_and_says_what_to_do(tmp_path: Path) -> None:
    with running(tmp_path, "heron-1") as service, service.client as client:
        answer = client.get("/")
        assert answer.status_code == 503
        assert "run.py demo" in answer.json()["detail"]
        assert client.get("/api/rigs").status_code == 200
