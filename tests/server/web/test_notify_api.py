"""Receivers over HTTP and by the command line, of a real service that sends to a real server."""

import json
import subprocess
import sys
from pathlib import Path
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest

from server.notify.delivery import Delivery
from tests.server.commands.services import ROOT, Service
from tests.server.notify.hooks import hooks
from tests.server.notify.notices import until
from tests.server.web import bench
from tests.server.web.devices import device
from tests.server.web.test_alarms_api import see

SETTINGS = '[webhook.workshop]\nurl = "http://127.0.0.1:{port}/hook/S3cret"\nlocal = true\ntoken = "S3cret-too"\n'


def typed(data: Path, *words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "server", "notify", *words, "--data", str(data)]
    return subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=30, check=False)


def test_a_person_sees_where_alarms_go_and_tests_it(tmp_path: Path) -> None:
    data = tmp_path / "data"
    data.mkdir()
    with hooks() as hook:
        (data / "notify.toml").write_text(SETTINGS.format(port=hook.port))
        with Service(data) as service:
            until(lambda: hook.came)
            assert hook.came[0]["kind"] == "service_started"
            until(lambda: service.get("/api/receivers")["receivers"][0]["waiting"] == 0)
            (shown,) = service.get("/api/receivers")["receivers"]
            assert (shown["name"], shown["kind"], shown["error"]) == ("workshop", "webhook", "")
            assert shown["place"] == f"http://127.0.0.1:{hook.port}"
            listed = typed(data, "list")
            assert listed.stdout.startswith(f"workshop          webhook, http://127.0.0.1:{hook.port}, reached ")
            tested = typed(data, "test", "workshop")
            assert (tested.returncode, tested.stdout[:30]) == (0, "The receiver took it after 0.0")
            assert [word["kind"] for word in hook.came[1:]] == ["test"]
            hook.answers = ["403"]
            failed = typed(data, "test", "workshop")
            assert failed.returncode == 1
            assert failed.stderr.startswith("slipring: 127.0.0.1 does not let us in (HTTP 403 ")
            unknown = typed(data, "test", "workshp")
            assert "There is no receiver workshp" in unknown.stderr
            hook.answers = ["take"]
            code, took_s = service.end()
            assert (code, hook.came[-1]["kind"]) == (0, "service_stopped")
            assert took_s < 5.0
            told = [json.dumps(shown), listed.stdout, tested.stdout, failed.stderr, service.said]
            assert not [text for text in told if "S3cret" in text]


def test_a_file_that_cannot_be_used_is_told_and_the_service_starts(tmp_path: Path) -> None:
    data = tmp_path / "data"
    data.mkdir()
    (data / "notify.toml").write_text("[webhook.workshop]\ntoken = 'S3cret'\n")
    with Service(data) as service:
        assert service.get("/api/receivers")["receivers"] == []
        listed = typed(data, "list")
        assert listed.returncode == 1
        assert f"{data / 'notify.toml'}, line 1: url is missing; write url" in listed.stderr
        assert "S3cret" not in service.said + listed.stderr
        with pytest.raises(HTTPError) as refused:
            urlopen(
                Request(
                    f"http://127.0.0.1:{service.port}/api/receivers/workshop/test",
                    b"{}",
                    {"Content-Type": "application/json", "Slipring-Request": "1", **service.bearer},
                )
            )
        assert "line 1: url is missing" in refused.value.read().decode()
        refused.value.close()


def test_another_device_sees_receivers_and_does_not_test_them(page: Path) -> None:
    with bench.running(page, "heron-1", bench=True) as service, device(service) as phone:
        assert phone.get("/api/receivers").status_code == 200
        answer = phone.post("/api/receivers/workshop/test", json={})
        assert (answer.status_code, answer.json()["detail"]) == (403, "This is done at the PC only.")


def test_an_alarm_of_a_rig_is_sent_and_that_of_a_demo_motor_is_not(page: Path, tmp_path: Path) -> None:
    with hooks() as hook, bench.running(page, "heron-1", "heron-2") as service:
        (tmp_path / "notify.toml").write_text(SETTINGS.format(port=hook.port))
        service.rigs.delivery = Delivery(tmp_path, service.rigs.utc_s)
        service.rigs.delivery.start()
        service.rigs.rigs["heron-1"].demo = True
        see(service, "stalled", 1.0, "heron-1")
        see(service, "stalled", 1.0, "heron-2")
        until(lambda: len(hook.came) == 2)
        assert hook.came[1]["title"] == "Alarm on heron-2: Switch off"
        with service.client as client:
            assert {alarm["rig"] for alarm in client.get("/api/alarms").json()["standing"]} == {"heron-1", "heron-2"}
        service.rigs.delivery.stop()
        assert [word["kind"] for word in hook.came] == ["service_started", "raised", "service_stopped"]
