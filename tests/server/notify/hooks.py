"""A real HTTP server that takes messages, or does what receivers do that are in trouble; and a certificate for it."""

import contextlib
import datetime
import json
import ssl
import threading
import time
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from ipaddress import IPv4Address
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

SECRET = "S3cret-of-the-path"
SLOW_S = 0.4  # a receiver that is slow takes a message after this
METADATA = "http://169.254.169.254/latest/meta-data/"  # where clouds tell secrets to whoever asks from inside


class Hook:
    """`answers`: what it does with one request after the other; the last one it goes on doing. "400 of WORD": with
    requests that hold the word, others are taken."""

    def __init__(self, *answers: str, context: ssl.SSLContext | None = None) -> None:
        self.answers = list(answers or ["take"])
        self.came: list[dict[str, Any]] = []
        self.headers: list[dict[str, str]] = []
        self.asked = 0  # requests, those that were not taken too
        self.over = threading.Event()
        hook = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                hook._take(self)

            def log_message(self, *said: object) -> None:
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        if context is not None:
            self._server.socket = context.wrap_socket(self._server.socket, server_side=True)
        self.port = self._server.server_port
        threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True).start()

    def stop(self) -> None:
        self.over.set()
        self._server.shutdown()
        self._server.server_close()

    def _take(self, request: BaseHTTPRequestHandler) -> None:
        self.asked += 1
        body = request.rfile.read(int(request.headers["Content-Length"]))
        act = self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]
        act, _, word = act.partition(" of ")
        if word and word.encode() not in body:
            act = "take"
        if act == "slow":
            time.sleep(SLOW_S)
        with contextlib.suppress(OSError):  # it may have been left meanwhile
            if act == "hang":
                self.over.wait(20)
            elif act == "drip":
                for byte in b"HTTP/1.1 200 OK\r\n" + b"X: y\r\n" * 1000:
                    request.wfile.write(bytes([byte]))
                    time.sleep(0.02)
            elif act == "rubbish":
                request.wfile.write(b"\x00\xff rubbish\r\n\r\n")
            elif act == "redirect":
                request.send_response(307)
                request.send_header("Location", METADATA)
                request.end_headers()
            elif act.isdecimal():
                request.send_response(int(act), f"{request.path} is refused for {request.headers['Authorization']}")
                request.end_headers()
            else:
                self.headers.append(dict(request.headers))
                self.came.append(json.loads(body))
                request.send_response(204)
                request.end_headers()


def certificate(folder: Path) -> tuple[Path, ssl.SSLContext]:
    """A certificate for 127.0.0.1 that nobody knows, and a server's context with it."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "a bench")])
    now = datetime.datetime.now(datetime.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(hours=1))
        .not_valid_after(now + datetime.timedelta(hours=1))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(IPv4Address("127.0.0.1"))]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    form = serialization.PrivateFormat.PKCS8
    pem = key.private_bytes(serialization.Encoding.PEM, form, serialization.NoEncryption())
    (folder / "cert.pem").write_bytes(made.public_bytes(serialization.Encoding.PEM))
    (folder / "key.pem").write_bytes(pem)
    (folder / "both.pem").write_bytes(pem + made.public_bytes(serialization.Encoding.PEM))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(folder / "both.pem")
    return folder / "cert.pem", context


@contextlib.contextmanager
def hooks(*answers: str, context: ssl.SSLContext | None = None) -> Iterator[Hook]:
    made = Hook(*answers, context=context)
    try:
        yield made
    finally:
        made.stop()


def webhook(port: int, name: str = "workshop", more: str = "") -> str:
    return f'[webhook.{name}]\nurl = "http://127.0.0.1:{port}/{SECRET}"\nlocal = true\n{more}\n'


def write(folder: Path, settings: str) -> None:
    """The settings of receivers."""
    file = folder / "notify.toml"
    file.write_text(settings)
    file.chmod(0o600)
