"""Exports and a report of the run that is being recorded: the recorder loses no sample because of them."""

import json
import time
from pathlib import Path
from typing import Any
from urllib.request import Request, urlopen

import pytest

from tests.server.commands.services import Service

MADE_S = 240.0  # at low priority, beside whatever else runs


def changed(service: Service, path: str, body: object) -> Any:
    headers = {**service.bearer, "Content-Type": "application/json", "Slipring-Request": "1"}
    request = Request(f"http://127.0.0.1:{service.port}{path}", json.dumps(body).encode(), headers, method="POST")
    with urlopen(request, timeout=10) as answer:
        return json.load(answer)


@pytest.mark.long
def test_nothing_is_lost_of_a_run_that_is_exported_while_it_is_recorded(tmp_path: Path) -> None:
    with Service(tmp_path / "data", "--demo-motor", "cabin_ventilator") as service:
        service.until(lambda: any(each["recording"] for each in service.get("/api/runs")), 30.0)
        time.sleep(10.0)
        (run,) = (each["name"] for each in service.get("/api/runs"))
        for body in ({"as": "csv", "what": "waveforms"}, {"as": "parquet"}, {"as": "flac", "what": "waveforms"}):
            changed(service, "/api/exports", {"run": run, **body})
        changed(service, f"/api/runs/{run}/report", {"as": "pdf"})
        service.until(lambda: all(each["state"] in ("made", "failed") for each in service.get("/api/exports")), MADE_S)
        made = service.get("/api/exports")
        assert [(each["state"], each["trouble"]) for each in made] == [("made", "")] * 4
        assert all(each["bytes"] > 10_000 for each in made)
        changed(service, "/api/rigs/heron-1/run", {"action": "end"})
        service.until(lambda: service.get(f"/api/runs/{run}")["account"], MADE_S)
        account = service.get(f"/api/runs/{run}")["account"]
    assert sum(line["stored"] for line in account) > 200_000
    assert [(line["missing"], line["exact"]) for line in account] == [({}, True)] * len(account)
