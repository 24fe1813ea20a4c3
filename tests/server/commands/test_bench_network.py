"""`serve --bench-network` on real sockets: TLS, what is listened at, what is refused."""

import hashlib
import http.client
import json
import socket
import ssl
import subprocess
import sys
import time
import warnings
from argparse import Namespace
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from websockets.sync.client import connect
from websockets.typing import Origin

from server.commands.bench_network import BenchNetworkError, address_of, check_options
from server.web.tls_door import OPENING_MAX
from tests.server.commands.services import ROOT, Service
from tests.server.live.unpack import unpack

STANDS_IN = "127.0.0.2"  # every system that these tests run on has it without asking; serve itself refuses it


@pytest.fixture(scope="module")
def encrypted(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A service whose bench network is this PC's second loopback address."""
    with bench_service(tmp_path_factory.mktemp("bench") / "data") as service:
        yield service


def bench_service(data: Path, *options: str) -> Service:
    """`slipring serve` that takes the address that stands in."""
    start = (
        "import sys; from ipaddress import ip_address; from server.commands import bench_network;"
        "bench_network.address_of = ip_address; from server.__main__ import main; sys.exit(main(sys.argv[1:]))"
    )
    return Service(data, "--bench-network", STANDS_IN, *options, program=["-c", start])


def trusting(service: Service) -> ssl.SSLContext:
    """Trusts the service's certificate and nothing else, as a person does who has compared the fingerprint."""
    return ssl.create_default_context(cafile=service.data / "secret" / "bench-certificate.pem")


def asked(service: Service, method: str, path: str, body: object = None, **headers: str) -> tuple[int, str, str]:
    """Status, body and cookie of one request of a page of the bench network."""
    context = trusting(service)
    with closing(http.client.HTTPSConnection(STANDS_IN, service.port, timeout=10, context=context)) as connection:
        own = {"Origin": f"https://{STANDS_IN}:{service.port}", "Slipring-Request": "1"}
        connection.request(method, path, json.dumps(body), {**own, "Content-Type": "application/json", **headers})
        answer = connection.getresponse()
        return answer.status, answer.read().decode(), answer.headers.get("Set-Cookie", "")


def script(service: Service, method: str, path: str, body: object) -> dict[str, str]:
    """What the PC asks for."""
    with closing(http.client.HTTPConnection("127.0.0.1", service.port, timeout=10)) as connection:
        headers = {"Content-Type": "application/json", "Slipring-Request": "1", **service.bearer}
        connection.request(method, path, json.dumps(body), headers)
        said: dict[str, str] = json.load(connection.getresponse())
        return said


def paired(service: Service) -> str:
    """The cookie of a device that was paired just now."""
    code = script(service, "POST", "/api/pairing", {})["code"]
    status, _, cookie = asked(service, "POST", "/api/pair", {"code": code, "name": "phone"})
    assert status == 200
    return cookie


def test_the_certificate_that_is_made_is_the_one_whose_fingerprint_is_told(encrypted: Service) -> None:
    with (
        socket.create_connection((STANDS_IN, encrypted.port), timeout=10) as plain,
        trusting(encrypted).wrap_socket(plain, server_hostname=STANDS_IN) as secure,
    ):
        der = secure.getpeercert(binary_form=True)
        assert secure.version() in ("TLSv1.2", "TLSv1.3")
    assert der is not None
    fingerprint = hashlib.sha256(der).hexdigest()
    told = script(encrypted, "GET", "/api/pairing", {})
    assert told["fingerprint"].replace(":", "").lower() == fingerprint
    assert told["fingerprint"] in encrypted.said
    assert told["url"] == f"https://{STANDS_IN}:{encrypted.port}/"


def test_a_device_comes_in_encrypted_with_a_cookie_that_leaves_no_other_way(encrypted: Service) -> None:
    assert asked(encrypted, "GET", "/api/rigs")[0] == 401
    cookie = paired(encrypted)
    name, _, rest = cookie.partition("=")
    assert name == f"__Host-slipring-{encrypted.port}"
    assert {"Secure", "HttpOnly", "SameSite=Strict", "Path=/"} <= set(rest.split("; "))
    status, body, _ = asked(encrypted, "GET", "/api/session", Cookie=cookie.partition(";")[0])
    assert (status, json.loads(body)["encrypted"], json.loads(body)["bench"]) == (200, True, True)


def test_the_live_socket_speaks_tls_too(encrypted: Service) -> None:
    cookie = paired(encrypted).partition(";")[0]
    url = f"wss://{STANDS_IN}:{encrypted.port}/live"
    own = Origin(f"https://{STANDS_IN}:{encrypted.port}")
    with connect(url, origin=own, additional_headers={"Cookie": cookie}, ssl=trusting(encrypted)) as page:
        numbers = []
        for _ in range(6):
            message = page.recv(timeout=10)
            assert isinstance(message, bytes)
            if (told := unpack(message))["kind"] == "picture":
                numbers.append(told["number"])
                page.send(json.dumps({"drawn": told["number"]}))
        assert len(numbers) == 5


def test_without_encryption_nothing_is_answered_there(encrypted: Service) -> None:
    with socket.create_connection((STANDS_IN, encrypted.port), timeout=10) as plain:
        plain.sendall(f"GET / HTTP/1.1\r\nHost: {STANDS_IN}:{encrypted.port}\r\n\r\n".encode())
        assert b"HTTP" not in plain.recv(4096)
    with closing(http.client.HTTPConnection("127.0.0.1", encrypted.port, timeout=10)) as connection:
        connection.request("GET", "/")
        assert connection.getresponse().status == 200  # this PC itself stays as it is


def test_old_versions_of_tls_are_refused(encrypted: Service) -> None:
    newer, old = trusting(encrypted), trusting(encrypted)
    newer.maximum_version = ssl.TLSVersion.TLSv1_2
    assert _speaks(encrypted, newer)
    with warnings.catch_warnings(action="ignore", category=DeprecationWarning):  # that they are old is the point
        old.minimum_version, old.maximum_version = ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1
    assert not _speaks(encrypted, old)


def _speaks(service: Service, context: ssl.SSLContext) -> bool:
    with socket.create_connection((STANDS_IN, service.port), timeout=10) as plain:
        try:
            context.wrap_socket(plain, server_hostname=STANDS_IN).close()
        except (ssl.SSLError, ConnectionError):
            return False
        return True


def test_many_that_say_nothing_hold_few_files_and_do_not_keep_the_pc_out(encrypted: Service) -> None:
    silent = [socket.create_connection((STANDS_IN, encrypted.port), timeout=10) for _ in range(OPENING_MAX + 40)]
    try:
        time.sleep(0.5)
        dropped = sum(_is_dropped(one) for one in silent)
        assert dropped >= 40
        assert encrypted.get("/api/rigs") == []
    finally:
        for one in silent:
            one.close()
    encrypted.until(lambda: _speaks(encrypted, trusting(encrypted)))


def _is_dropped(one: socket.socket) -> bool:
    one.settimeout(0.001)
    try:
        return one.recv(1) == b""
    except TimeoutError:
        return False
    except ConnectionError:
        return True


def test_rubbish_instead_of_tls_is_nothing_to_tell_the_terminal(encrypted: Service) -> None:
    before = encrypted.said
    for rubbish in (b"", b"\0" * 1000, b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03", b"GET / HTTP/1.1\r\n\r\n"):
        with socket.create_connection((STANDS_IN, encrypted.port), timeout=10) as one:
            one.sendall(rubbish)
            one.shutdown(socket.SHUT_WR)
            while one.recv(4096):
                pass
    time.sleep(0.2)
    assert encrypted.said == before


def test_it_ends_in_order_with_somebody_connected(tmp_path: Path) -> None:
    with bench_service(tmp_path / "data") as service:
        with socket.create_connection((STANDS_IN, service.port), timeout=10):
            cookie = paired(service).partition(";")[0]
            url = f"wss://{STANDS_IN}:{service.port}/live"
            own = Origin(f"https://{STANDS_IN}:{service.port}")
            with connect(url, origin=own, additional_headers={"Cookie": cookie}, ssl=trusting(service)) as page:
                page.recv(timeout=10)
                code, took_s = service.end()
        assert code == 0
        assert took_s < 4.0
        assert "Traceback" not in service.said


@pytest.mark.long
def test_a_device_stays_paired_when_the_service_starts_anew(tmp_path: Path) -> None:
    with bench_service(tmp_path / "data") as service:
        cookie, port = paired(service).partition(";")[0], service.port
        service.end()
    with bench_service(tmp_path / "data") as again:
        value = cookie.partition("=")[2]
        status, _, _ = asked(again, "GET", "/api/rigs", Cookie=f"__Host-slipring-{again.port}={value}")
        assert status == 200
        assert cookie.startswith(f"__Host-slipring-{port}=")


def test_not_encrypted_is_said_at_the_terminal(tmp_path: Path) -> None:
    with bench_service(tmp_path / "data", "--not-encrypted") as service:
        assert "NOT ENCRYPTED: whoever is on that network can read along" in service.said
        assert f"http://{STANDS_IN}:{service.port}/" in service.said
        told = script(service, "GET", "/api/pairing", {})
        assert told["fingerprint"] == ""
        assert not list((tmp_path / "data" / "secret").glob("bench*"))


def test_without_the_option_only_loopback_is_listened_at(tmp_path: Path) -> None:
    with Service(tmp_path / "data") as service, pytest.raises(ConnectionRefusedError):
        socket.create_connection((STANDS_IN, service.port), timeout=5)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("bench", "is no address; write the one that this PC has on the bench network, such as 192.168.10.2"),
        ("192.168.10.2:8420", "is no address"),
        ("0.0.0.0", "is every network of this PC"),
        ("::", "is every network of this PC"),
        ("127.0.0.1", "is this PC itself"),
        ("::1", "is this PC itself"),
        ("224.0.0.1", "is no address that a browser can open"),
        ("fe80::1", "is no address that a browser can open"),
    ],
)
def test_what_is_no_address_of_a_bench_network_is_refused(text: str, sentence: str) -> None:
    with pytest.raises(BenchNetworkError, match=sentence):
        address_of(text)


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"not_encrypted": True}, "--not-encrypted says how; give --bench-network ADDRESS with it"),
        ({"certificate": "a.pem"}, "--certificate says how"),
        ({"bench_network": "192.168.10.2", "key": "a.key"}, "belong together"),
        (
            {"bench_network": "192.168.10.2", "certificate": "a", "key": "b", "not_encrypted": True},
            "uses no certificate",
        ),
    ],
)
def test_options_that_contradict_each_other_are_refused(options: dict[str, object], sentence: str) -> None:
    usual: dict[str, object] = {"bench_network": None, "certificate": None, "key": None, "not_encrypted": False}
    with pytest.raises(BenchNetworkError, match=sentence):
        check_options(Namespace(**{**usual, **options}))


def test_an_address_that_this_pc_does_not_have_is_told(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "server", "serve", "--port", "0", "--data", str(tmp_path / "data")]
    command += ["--bench-network", "203.0.113.77"]  # of a block for documents (RFC 5737)
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=30, check=False)
    assert done.returncode == 1
    assert done.stderr.startswith("slipring serve: this PC has no address 203.0.113.77 that it can listen at (")
    assert done.stderr.count("\n") == 1


def test_the_link_command_finds_the_service_and_each_link_is_new(encrypted: Service) -> None:
    def typed(*words: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "server", *words, "--data", str(encrypted.data)]
        return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=30, check=False)

    links = [typed("link") for _ in range(2)]
    assert [each.returncode for each in links] == [0, 0]
    assert len({each.stdout for each in links}) == 2
    assert links[0].stdout.startswith(f"http://127.0.0.1:{encrypted.port}/enter#")
    paired(encrypted)
    listed = typed("sessions", "--json")
    newest = json.loads(listed.stdout.splitlines()[0])
    assert newest["kind"] == "device"
    assert newest["name"].startswith("phone")
    assert f"{newest['number']:4}  {newest['name']}, paired device, 127.0.0.1, used 20" in typed("sessions").stdout
    ended = typed("sessions", "--end", str(newest["number"]))
    assert (ended.returncode, ended.stderr) == (0, f"slipring: session {newest['number']} has ended.\n")
    assert typed("sessions", "--end", "9999").stderr == "slipring: There is no session 9999.\n"


@pytest.mark.long
def test_in_a_journal_no_link_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JOURNAL_STREAM", "8:12345")
    with Service(tmp_path / "data", ready="slipring link") as service:
        assert "#" not in service.said
        assert "slipring link prints a link that opens it" in service.said
