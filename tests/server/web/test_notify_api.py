"""Receivers over HTTP and by the command line, of a real service that sends to a real server."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from server.__main__ import main
from server.notify.delivery import Delivery
from tests.server.commands.services import Service
from tests.server.notify.hooks import hooks
from tests.server.notify.notices import until
from tests.server.web import bench
from tests.server.web.devices import device
from tests.server.web.test_alarms_api import see

SETTINGS = '[webhook.workshop]\nurl = "http://127.0.0.1:{port}/hook/S3cret"\nlocal = true\ntoken = "S3cret-too"\n'
RIG = '[rig]\nname = "bench"\nport = "/dev/ttyNONE"\n\n[calling]\ncaution = "{whom}"\n'

Typed = Callable[..., tuple[int, str, str]]


@pytest.fixture
def typed(capfd: pytest.CaptureFixture[str]) -> Typed:
    """What a person types behind `slipring notify`: exit code, data, talk."""

    def type_it(data: Path, *words: str) -> tuple[int, str, str]:
        capfd.readouterr()
        code = main(["notify", *words, "--data", str(data)])
        return (code, *capfd.readouterr())

    return type_it


def test_a_person_sees_where_alarms_go_tests_it_and_is_told_of_a_file_that_cannot_be_used(
    tmp_path: Path, typed: Typed
) -> None:
    data = tmp_path / "data"
    data.mkdir()
    (data / "notify.toml").write_text("[webhook.workshop]\ntoken = 'S3cret'\n")
    bench_rig = data / "rigs" / "bench.toml"
    bench_rig.parent.mkdir()
    bench_rig.write_text(RIG.format(whom="workshp"))
    with hooks() as hook, Service(data) as service:
        refused = typed(data, "list")
        assert (refused[0], service.get("/api/receivers")["receivers"]) == (1, [])
        assert service.get("/api/receivers")["file"] == str(data / "notify.toml")
        assert f"{data / 'notify.toml'}, line 1: url is missing; write url" in refused[2]
        assert "line 1: url is missing" in typed(data, "test", "workshop")[2]

        (data / "notify.toml").write_text(SETTINGS.format(port=hook.port))
        until(lambda: hook.came)
        assert hook.came[0]["kind"] == "service_started"
        until(lambda: service.get("/api/receivers")["receivers"][0]["waiting"] == 0)
        (shown,) = service.get("/api/receivers")["receivers"]
        assert (shown["name"], shown["kind"], shown["error"]) == ("workshop", "webhook", "")
        assert shown["place"] == f"http://127.0.0.1:{hook.port}"
        listed, tested = typed(data, "list"), typed(data, "test", "workshop")
        assert listed[1].startswith(f"workshop          webhook, http://127.0.0.1:{hook.port}, reached ")
        assert (tested[0], tested[1][:28]) == (0, "The receiver took it after 0")
        assert [word["kind"] for word in hook.came[1:]] == ["test"]
        nobody = (
            'slipring: cautions of bench go to nobody; write caution = "workshop" under [calling] in its settings.\n'
        )
        assert (listed[2], tested[2]) == (nobody, nobody)
        service.until(lambda: "bench calls receivers that notify.toml does not have: workshp" in service.said)
        bench_rig.write_text(RIG.format(whom="workshop"))
        service.until(lambda: "bench calls no receivers any more that notify.toml does not have" in service.said)
        assert typed(data, "list")[2] == ""
        hook.answers = ["403"]
        failed = typed(data, "test", "workshop")
        assert (failed[0], failed[2][:57]) == (1, "slipring: 127.0.0.1 does not let us in (HTTP 403 (secret)")
        assert "There is no receiver workshp" in typed(data, "test", "workshp")[2]
        hook.answers = ["take"]
        code, took_s = service.end()
        assert (code, hook.came[-1]["kind"]) == (0, "service_stopped")
        assert took_s < 5.0
        told = [json.dumps(shown), *map(str, (refused, listed, tested, failed)), service.said]
        assert not [text for text in told if "S3cret" in text]


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
        assert hook.came[1]["title"] == "Alarm on heron-2: Switch off. The motor is stalled"
        with service.client as client:
            assert {alarm["rig"] for alarm in client.get("/api/alarms").json()["standing"]} == {"heron-1", "heron-2"}
        service.rigs.delivery.stop()
        assert [word["kind"] for word in hook.came] == ["service_started", "raised", "service_stopped"]
