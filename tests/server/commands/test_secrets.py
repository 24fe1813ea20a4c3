"""Secrets of receivers stand in nothing that a service gives or keeps: tried with servers that give them back."""

import base64
import contextlib
import io
import json
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.parse import quote
from urllib.request import Request, urlopen

import pytest
from pypdf import PdfReader
from websockets.sync.client import connect
from websockets.typing import Origin

from server.__main__ import main
from tests.server.commands.services import Service
from tests.server.export.runs import OPENED_UTC_S, run_of
from tests.server.notify.broker import free_port
from tests.server.notify.hooks import certificate, hooks
from tests.server.notify.mailbox import Mailbox, mail_server

pytestmark = pytest.mark.long  # its small twins look at the receivers alone (tests/server/notify, test_notify_api.py)
PATH, TOKEN, MAIL, MQTT = ("S3cret-of-the-path", "S3cret-of-the-token", "S3cret-of-the-mail", "S3cret of the broker")
RECEIVERS = f"""
[webhook.workshop]
url = "http://127.0.0.1:{{hook}}/{PATH}?key={PATH}"
token = "{TOKEN}"
local = true
sign_of_life_min = 1
[mail.watch]
host = "127.0.0.1"
port = {{mail}}
security = "starttls"
ca_file = "{{ca}}"
user = "slipring"
password_file = "{{password}}"
from = "slipring@example.org"
to = "watch@example.org"
local = true
[mqtt.archive]
host = "127.0.0.1"
port = {{mqtt}}
security = "none"
user = "slipring"
password_env = "SLIPRING_TEST_BROKER"
topic = "slipring"
local = true
"""
FORMS = ("csv", "parquet", "npz", "flac", "html", "pdf")
_STREAMS = ("/api/lines",)  # they never end
_LISTEN_S = 2.0  # to what never ends


def asked(service: Service, path: str, body: object = None) -> tuple[int, bytes]:
    """Status, and all that came: head and body."""
    data = None if body is None else json.dumps(body).encode()
    headers = {**service.bearer, "Content-Type": "application/json", "Slipring-Request": "1"}
    request = Request(f"http://127.0.0.1:{service.port}{path}", data, headers)
    try:
        with urlopen(request, timeout=60) as answer:
            return answer.status, str(answer.headers).encode() + answer.read()
    except HTTPError as refused:
        return refused.code, str(refused.headers).encode() + refused.read()


def all_answers(service: Service, run: str) -> Iterator[tuple[str, tuple[int, bytes]]]:
    """Of every route that is only looked at: status and what came."""
    described = json.loads(asked(service, "/api/openapi.json")[1].partition(b"\n\n")[2])
    from_s = f"{OPENED_UTC_S}"
    more = f"action=end&motor=x&what=zero&channel=0&one_s=0&one={run}&other_s=1&other={run}&from_s={from_s}"
    for path, methods in described["paths"].items():
        if "get" in methods and not path.startswith(_STREAMS):
            name = "bench" if path.startswith("/api/rigs") else run
            there = path.replace("{name}", name).replace("{type}", "servo").replace("{number}", "1")
            yield path, asked(service, f"{there.replace('{reading_id}', 'speed_rpm')}?{more}")


def streamed(service: Service) -> Iterator[tuple[str, bytes]]:
    """What pages and scripts are sent while they only listen."""
    address = f"http://127.0.0.1:{service.port}"
    with (
        connect(
            f"ws{address[4:]}/live?rig=bench",
            origin=Origin(address),
            additional_headers=service.bearer,
            compression=None,
            max_size=None,
        ) as page,
        urlopen(Request(f"{address}/api/lines?rig=bench", headers=service.bearer), timeout=_LISTEN_S) as lines,
    ):
        heard, ends_s = list[bytes](), time.monotonic() + _LISTEN_S
        while time.monotonic() < ends_s:
            with contextlib.suppress(TimeoutError):
                message = page.recv(timeout=0.2)
                heard.append(message if isinstance(message, bytes) else message.encode())
        yield "live", b"".join(heard)
        said = b""
        with contextlib.suppress(TimeoutError):
            while line := lines.readline():
                said += line
        yield "lines", str(lines.headers).encode() + said


def made(service: Service, run: str) -> Iterator[tuple[str, bytes]]:
    """The run as every export, and its report on paper and as a page."""
    numbers: dict[int, str] = {}
    for form in FORMS:
        is_report = form in ("html", "pdf")
        path = f"/api/runs/{run}/report" if is_report else "/api/exports"
        what = "waveforms" if form in ("npz", "flac") else "readings"
        status, answer = asked(service, path, {"as": form} if is_report else {"run": run, "as": form, "what": what})
        assert status == 201, answer
        numbers[json.loads(answer.partition(b"\n\n")[2])["number"]] = form

    def states() -> list[Any]:
        return [each["state"] for each in service.get("/api/exports")]

    service.until(lambda: set(states()) <= {"made", "failed"}, 120.0)
    assert states() == ["made"] * len(FORMS)
    for number, form in numbers.items():
        content = asked(service, f"/api/exports/{number}/file")[1]
        yield form, content
        if form == "pdf":
            pages = PdfReader(io.BytesIO(content[content.index(b"%PDF") :])).pages
            yield "words of the pdf", "".join(page.extract_text() for page in pages).encode()


def holding(told: dict[str, bytes]) -> list[str]:
    """What of it holds a secret, as it is, in a URL, or in base64."""
    spelled = [MAIL.encode(), MQTT.encode(), TOKEN.encode(), PATH.encode(), quote(MQTT).encode()]
    spelled += [base64.b64encode(each)[:-4] for each in spelled[:4]]
    spelled += [base64.b64encode(b"\0slipring\0" + MAIL.encode())[:-4]]
    return [name for name, content in told.items() if any(each in content for each in spelled)]


def test_no_answer_report_export_log_or_backup_holds_a_secret_of_a_receiver(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    data, password = tmp_path / "data", tmp_path / "password"
    run = run_of(data / "runs").name
    (data / "rigs").mkdir()
    (data / "rigs" / "bench.toml").write_text('[rig]\nport = "/dev/ttyNONE"\n[calling]\nalarm = "workshop"\n')
    password.write_text(MAIL)
    monkeypatch.setenv("SLIPRING_TEST_BROKER", MQTT)
    ca, context = certificate(tmp_path)
    mailbox = Mailbox(password="another")
    # Taken is a sign of life alone: the word of the start ("has started") and a test ("has happened") are refused.
    with hooks("404 of has ") as hook, mail_server(mailbox, context) as mail:
        text = RECEIVERS.format(hook=hook.port, mail=mail, ca=ca, password=password, mqtt=free_port())
        (data / "notify.toml").write_text(text)
        with Service(data) as service:
            service.until(lambda: all(each["error"] for each in service.get("/api/receivers")["receivers"]), 60.0)
            answers = dict(all_answers(service, run))
            refused = sorted(path for path, (status, _) in answers.items() if status != 200)
            assert len(refused) < len(answers) / 3, refused
            told = {path: answer for path, (_, answer) in answers.items()}
            for name in ("workshop", "watch", "archive"):
                status, told[f"test of {name}"] = asked(service, f"/api/receivers/{name}/test", {})
                assert status == 502, told[f"test of {name}"]
            told |= made(service, run)
            told |= streamed(service)
            assert service.end()[0] == 0
            told["standard error"] = service.said.encode()
    assert hook.headers[0]["Authorization"] == f"Bearer {TOKEN}", "the secrets were in use"
    assert b"HTTP 404 (secret) is refused for Bearer (secret)" in told["/api/receivers"]
    assert b"refuses user and password (535)" in told["test of watch"]
    assert main(["backup", str(tmp_path / "kept.zip"), "--data", str(data)]) == 0
    told["what the backup said"] = "".join(capfd.readouterr()).encode()
    with zipfile.ZipFile(tmp_path / "kept.zip") as archive:
        told |= {f"backup of {name}": archive.read(name) for name in archive.namelist()}
    assert set(archive.namelist()) == {"slipring-backup.json", "rigs/bench.toml"}
    kept = [path for path in data.rglob("*") if path.is_file() and path.name != "notify.toml"]
    told |= {str(path.relative_to(data)): path.read_bytes() for path in kept}
    assert b'"kind":"hello"' in told["live"]
    assert b'"kind":"mark"' in told["lines"]
    assert {"log/slipring.jsonl", "outbox.db", "/metrics", "/api/health", "words of the pdf", "flac"} <= set(told)
    assert holding({"notify.toml": (data / "notify.toml").read_bytes()}), "a secret that is there is found"
    assert holding(told) == []
