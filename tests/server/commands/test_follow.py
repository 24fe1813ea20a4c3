"""`slipring follow` against a small server of the test: what it prints, and how it ends."""

import json
import os
import shutil
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from server.commands import options
from server.commands.asking import Asking, service_url
from tests.server.commands.services import ROOT

LINES = [b'{"kind": "state", "state": "running"}\n', b'{"kind": "readings", "speed_rpm": 1380.5}\n']
DATA = Path(tempfile.gettempdir()) / f"slipring-follow-{os.getpid()}"  # its token is made when it is asked for
Answer = Callable[[BaseHTTPRequestHandler], None]


@pytest.fixture(scope="module", autouse=True)
def data() -> Iterator[None]:
    """The data folder of the service that is followed."""
    DATA.mkdir(exist_ok=True)
    yield
    shutil.rmtree(DATA)


def stream(handler: BaseHTTPRequestHandler) -> None:
    handler.send_response(200)
    handler.send_header("Transfer-Encoding", "chunked")
    handler.end_headers()
    for line in LINES:
        handler.wfile.write(f"{len(line):x}\r\n".encode() + line + b"\r\n")
    handler.wfile.write(b"0\r\n\r\n")


def refuse(handler: BaseHTTPRequestHandler) -> None:
    body = json.dumps({"detail": 'There is no rig "bnech"; did you mean bench?'}).encode()
    handler.send_response(404)
    handler.send_header("Content-Length", str(len(body)))
    handler.end_headers()
    handler.wfile.write(body)


def something_else(handler: BaseHTTPRequestHandler) -> None:
    handler.send_response(500)
    handler.send_header("Content-Length", "4")
    handler.end_headers()
    handler.wfile.write(b"oops")


def cut_off(handler: BaseHTTPRequestHandler) -> None:
    handler.send_response(200)
    handler.send_header("Content-Length", "100000")
    handler.end_headers()
    handler.wfile.write(LINES[0])


@pytest.fixture
def serve() -> Iterator[Callable[[Answer], tuple[str, list[str]]]]:
    servers: list[ThreadingHTTPServer] = []

    def start(answer: Answer) -> tuple[str, list[str]]:
        paths: list[str] = []

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_GET(self) -> None:  # the name that http.server calls
                paths.append(self.path)
                answer(self)
                self.close_connection = True

            def log_message(self, format: str, *arguments: object) -> None:
                pass

        server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        servers.append(server)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        return f"http://127.0.0.1:{server.server_address[1]}", paths

    yield start
    for server in servers:
        server.shutdown()
        server.server_close()


def follow(url: str, *options: str) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "server", "follow", "--url", url, "--data", str(DATA), *options]
    return subprocess.run(command, cwd=ROOT, capture_output=True, timeout=20, check=False)


def test_lines_are_data_on_standard_output_and_the_end_is_talk(
    serve: Callable[[Answer], tuple[str, list[str]]],
) -> None:
    url, paths = serve(stream)
    done = follow(url, "--rig", "heron 1")
    assert done.stdout == b"".join(LINES)
    assert done.stderr == b"slipring: the service has ended the stream; start it again with slipring serve.\n"
    assert done.returncode == 1
    assert paths == ["/api/lines?rig=heron%201"]


def test_without_a_name_the_service_chooses_the_rig(serve: Callable[[Answer], tuple[str, list[str]]]) -> None:
    url, paths = serve(stream)
    follow(url)
    assert paths == ["/api/lines"]


def test_a_port_names_a_service_on_this_computer(serve: Callable[[Answer], tuple[str, list[str]]]) -> None:
    url, _ = serve(stream)
    command = [sys.executable, "-m", "server", "follow", "--port", url.rpartition(":")[2], "--data", str(DATA)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, timeout=20, check=False)
    assert done.stdout == b"".join(LINES)
    assert follow(url, "--port", "8420").returncode == 2  # one or the other


def test_without_an_address_it_is_the_service_that_holds_the_data_folder(tmp_path: Path) -> None:
    (tmp_path / "in-use").write_text("by process 7 at http://127.0.0.1:8733/ since 2026-11-25T14:02:00Z\n")
    for parser in (options.follow(), options.calibrate()):
        assert service_url(parser.parse_args(["--data", str(tmp_path)])) == "http://127.0.0.1:8733"


def test_the_services_own_sentence_is_passed_on(serve: Callable[[Answer], tuple[str, list[str]]]) -> None:
    done = follow(serve(refuse)[0], "--rig", "bnech")
    assert (done.returncode, done.stdout) == (1, b"")
    assert done.stderr == b'slipring: There is no rig "bnech"; did you mean bench?\n'


def test_another_server_there_is_told_in_words(serve: Callable[[Answer], tuple[str, list[str]]]) -> None:
    done = follow(serve(something_else)[0])
    assert done.returncode == 1
    assert done.stderr.startswith(b"slipring: the service answered 500 ")


def no_http(handler: BaseHTTPRequestHandler) -> None:
    handler.wfile.write(b"220 mail.example ready\r\n")


def deep(handler: BaseHTTPRequestHandler) -> None:
    handler.send_response(404)
    handler.end_headers()
    handler.wfile.write(b"[" * 9000)


def test_a_server_that_speaks_no_http_is_told_in_words(serve: Callable[[Answer], tuple[str, list[str]]]) -> None:
    url = serve(no_http)[0]
    done = follow(url)
    sentence = f"slipring: what answers at {url} does not speak HTTP; is it Slipring that listens there?\n"
    assert (done.returncode, done.stderr.decode()) == (1, sentence)
    done = follow(serve(deep)[0])
    assert (done.returncode, done.stderr[:32]) == (1, b"slipring: the service answered 4")


@pytest.mark.parametrize(
    "url", ["http://[::1", "http://a b/", "http://a:b/", "http://", "ftp://a/", "a", "http://a:99999"]
)
def test_what_is_no_address_is_told_so(url: str) -> None:
    done = follow(url)
    sentence = f"slipring: {url} is not an address; write one such as http://127.0.0.1:8420.\n"
    assert (done.returncode, done.stderr.decode()) == (2, sentence)


def test_where_nobody_answers_is_told_so() -> None:
    for url in (f"http://{'a' * 300}/", "http://127.0.0.1:1"):
        done = follow(url)
        sentence = f"slipring: no service answers at {url}; start one with slipring serve.\n"
        assert (done.returncode, done.stderr.decode()) == (1, sentence)


def test_a_full_disk_is_not_blamed_on_the_service(serve: Callable[[Answer], tuple[str, list[str]]]) -> None:
    command = [sys.executable, "-m", "server", "follow", "--url", serve(stream)[0], "--data", str(DATA)]
    with open("/dev/full", "wb") as full:
        done = subprocess.run(command, cwd=ROOT, stdout=full, stderr=subprocess.PIPE, timeout=20, check=False)
    assert done.returncode == 1
    assert done.stderr.startswith(b"slipring: standard output cannot be written (No space left on device)")


def test_a_stream_that_is_cut_off_keeps_what_came(serve: Callable[[Answer], tuple[str, list[str]]]) -> None:
    done = follow(serve(cut_off)[0])
    assert done.stdout == LINES[0]
    assert done.returncode == 1
    assert b"Traceback" not in done.stderr


def test_a_reader_that_has_had_enough_ends_it_without_a_word(serve: Callable[[Answer], tuple[str, list[str]]]) -> None:
    ending = threading.Event()

    def endless(handler: BaseHTTPRequestHandler) -> None:
        handler.send_response(200)
        handler.end_headers()
        while not ending.wait(0.01):
            try:
                handler.wfile.write(LINES[0])
            except OSError:
                return

    url, _ = serve(endless)
    command = [sys.executable, "-m", "server", "follow", "--url", url, "--data", str(DATA)]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None
    assert process.stderr is not None
    assert process.stdout.readline() == LINES[0]
    process.stdout.close()
    assert process.wait(10) == 0
    assert process.stderr.read() == b""
    process.stderr.close()
    ending.set()


def test_the_token_is_sent_to_this_pc_and_to_no_other(serve: Callable[[Answer], tuple[str, list[str]]]) -> None:
    told: list[str] = []

    def listen(handler: BaseHTTPRequestHandler) -> None:
        told.append(handler.headers.get("Authorization", ""))
        stream(handler)

    follow(serve(listen)[0])
    assert told == [f"Bearer {(DATA / 'secret' / 'token').read_text()}"]
    assert Asking("http://192.168.10.7:8420", str(DATA)).authorization() == {}
    assert Asking("http://localhost.evil:8420", str(DATA)).authorization() == {}
