"""What stands between us and a receiver, in words that hold no secret: addresses, certificates, secrets, deadlines."""

import base64
import contextlib
import os
import socket
import ssl
import threading
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address
from urllib.parse import quote

from server.notify.receivers import Secret
from server.settings.plain import escaped

CONNECT_S = 5.0  # to be connected, at all addresses of a name together
WHOLE_S = 12.0  # of one attempt, to the end of the answer; behind the look-up of a name, which cannot be cut short
_LEAST_S = 0.05  # for an address, where those before it took the time of all
_SECRET_MAX = 8192  # bytes of a file with a secret
_SAID_MAX = 200  # characters of what the other side says
_MASKED_MIN = 4  # characters: shorter ones stand in words by chance


class SendError(Exception):
    """It was not sent; the sentence says why and what to do. `lasting`: it will not pass by itself."""

    def __init__(self, sentence: str, lasting: bool = False) -> None:
        super().__init__(sentence)
        self.lasting = lasting


class RefusedError(SendError):
    """The receiver has read it and will not have it: another message may be taken all the same."""


def read_secret(secret: Secret) -> str:
    """The secret itself. Raises SendError, without the name of file or variable: it may be the secret, misplaced."""
    if secret.value:
        return secret.value
    if secret.variable:
        found = os.environ.get(secret.variable, "")
        if not found:
            raise SendError(
                f"{secret.key}: the service's environment has no variable of this name; set it and start again."
            )
        return found
    try:
        with open(secret.file, "rb") as file:
            text = file.read(_SECRET_MAX + 1).decode("utf-8").strip()
    except OSError as error:
        said = error.strerror or "unknown"
        raise SendError(f"{secret.key}: this file cannot be read ({said}); make it readable for Slipring.") from None
    except ValueError:
        raise SendError(f"{secret.key}: this file is no text; put the secret alone into it.") from None
    if not text or len(text) > _SECRET_MAX or not text.isprintable():
        raise SendError(f"{secret.key}: this file holds no secret of one line; put the secret alone into it.")
    return text


def masked(text: str, secrets: Iterable[Secret]) -> str:
    """The text without these secrets, also as an answer of the other side may give them back."""
    for secret in secrets:
        with contextlib.suppress(SendError):
            value = read_secret(secret)
            coded = base64.b64encode(value.encode()).decode().rstrip("=")
            path = "/" + value.partition("://")[2].partition("/")[2]  # of an address
            for spelling in (value, path, quote(value, safe=""), quote(value), coded):
                if len(spelling) >= _MASKED_MIN:
                    text = text.replace(spelling, "(secret)")
    return text


def said(answer: object) -> str:
    """What the other side said, as it may stand in a sentence."""
    text = answer.decode("utf-8", "replace") if isinstance(answer, bytes) else str(answer)
    text = escaped(" ".join(text.split()))
    return text if len(text) <= _SAID_MAX else text[: _SAID_MAX - 3] + "..."


def addresses_of(host: str, port: int, local: bool) -> list[str]:
    """The addresses behind a name, all of them judged. Raises SendError."""
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        why = getattr(error, "strerror", None) or error
        raise SendError(f"{host} is not found ({said(why)}); is the network there, and is the name right?") from None
    addresses = list(dict.fromkeys(str(each[4][0]) for each in found))
    for address in addresses:
        if not local and _is_near(ip_address(address.partition("%")[0])):
            where = address if host == address else f"{host} is at {address}, which"
            what = f"{where} is this PC itself or a link-local address"
            raise SendError(f"{what}; write local = true in notify.toml where that is meant.")
    return addresses


def _is_near(address: IPv4Address | IPv6Address) -> bool:
    mapped = address.ipv4_mapped if isinstance(address, IPv6Address) else None
    its = mapped or address
    return its.is_loopback or its.is_link_local or its.is_unspecified or its.is_multicast


@dataclass(frozen=True, slots=True)
class Connection:
    """One attempt: connected since `since_s`, and cut at `until_s`, however slowly the other side drips (monotonic)."""

    host: str
    port: int
    socket: socket.socket
    since_s: float
    until_s: float

    @contextlib.contextmanager
    def deadline(self) -> Iterator[None]:
        """At its end the connection is cut from outside: timeouts of a socket begin anew with every byte.

        Raises SendError then, as half an answer may look like a whole one.
        """
        is_late = threading.Event()

        def end() -> None:
            is_late.set()
            with contextlib.suppress(OSError):  # it was closed at the same moment
                twin.shutdown(socket.SHUT_RDWR)

        with self.socket.dup() as twin:  # of the one connection, whatever TLS makes of the socket
            timer = threading.Timer(max(0.0, self.until_s - time.monotonic()), end)
            timer.daemon = True
            timer.start()
            try:
                yield
            except Exception:  # a connection that was cut fails in any way: it is late then, and else what it was
                if is_late.is_set():
                    raise SendError(self._late()) from None
                raise
            finally:
                timer.cancel()
        if is_late.is_set():
            raise SendError(self._late())

    def _late(self) -> str:
        waited = f"{self.host}, port {self.port}, is connected but gave no answer within "
        return f"{waited}{time.monotonic() - self.since_s:.0f} s; it is too slow or hangs, look at the program there."


def connect(host: str, port: int, local: bool) -> Connection:
    """Connected to an address that was judged, and not to what the name means a moment later. Raises SendError."""
    addresses = addresses_of(host, port, local)
    begun_s = time.monotonic()
    failed: OSError | None = None
    for tried, address in enumerate(addresses):
        left_s = begun_s + CONNECT_S - time.monotonic()
        try:
            made = socket.create_connection((address, port), max(_LEAST_S, left_s / (len(addresses) - tried)))
        except OSError as error:
            failed = error
        else:
            made.settimeout(2 * WHOLE_S)  # the deadline is sooner, on a busy PC too
            return Connection(host, port, made, time.monotonic(), begun_s + WHOLE_S)
    raise SendError(refusal(host, port, failed))


def refusal(host: str, port: int, error: BaseException | None) -> str:
    """Why a connection did not come about or broke, as a sentence."""
    place = f"{host}, port {port},"
    if isinstance(error, ssl.SSLCertVerificationError):
        why = said(error.verify_message)
        return f"{place} has no certificate that this PC trusts ({why}); name who signed it with ca_file."
    if isinstance(error, ssl.SSLError):
        return f"{place} does not speak TLS as it should ({said(error.reason)}); is it the right port?"
    if isinstance(error, TimeoutError):
        return f"{place} does not answer; is it on?"
    why = said((getattr(error, "strerror", None) or error) if error else "no address")
    return f"{place} cannot be reached ({why}); is it on?"


def trust(ca_file: str) -> ssl.SSLContext:
    """Whom we trust to sign for a server; its name is always checked. Raises SendError."""
    try:
        return ssl.create_default_context(cafile=ca_file or None)
    except (OSError, ValueError) as error:
        why = said(getattr(error, "strerror", None) or error)
        raise SendError(f"ca_file {ca_file} cannot be used ({why}); write the path of a PEM file.") from None
