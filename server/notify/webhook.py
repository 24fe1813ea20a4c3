"""A receiver that is asked over HTTP: one POST a message. No redirect is followed, no proxy is used."""

import http.client
import socket
import time
from collections.abc import Sequence
from urllib.parse import SplitResult, urlsplit

from server.notify.link import ALIVE_TITLE, TEST_TITLE, message_of, packed, word_of
from server.notify.outbox import Waiting
from server.notify.receivers import Webhook
from server.notify.settings import wrong_address
from server.notify.trouble import RefusedError, SendError, connect, read_secret, refusal, said, trust

_ANSWER_MAX = 2000  # bytes of an answer that are read
_PASSING = (408, 421, 425, 429)  # of 4xx those that speak of this moment, not of the message (RFC 9110, 8470, 6585)


class WebhookLink:
    """One POST at a time, each on a connection of its own: they are few."""

    at_once = 1

    def __init__(self, receiver: Webhook) -> None:
        self._receiver = receiver

    def deliver(self, origin: str, entries: Sequence[Waiting]) -> int:
        self._post(packed(message_of(origin, entries[0])), f"{origin}-{entries[0].number}")
        return entries[0].number

    def sign_of_life(self, utc_s: float) -> None:
        self._post(packed(word_of("sign_of_life", ALIVE_TITLE, utc_s)))

    def test(self, utc_s: float) -> str:
        start_s = time.monotonic()
        answer = self._post(packed(word_of("test", TEST_TITLE, utc_s)))
        return f"The receiver took it after {time.monotonic() - start_s:.3f} s ({answer})."

    def tend(self) -> bool:
        """Nothing is kept open."""
        return False

    def close(self) -> None:
        """Nothing is kept open."""

    def _post(self, body: bytes, key: str = "") -> str:
        url = read_secret(self._receiver.url)
        if wrong := wrong_address(url):
            raise SendError(f"{self._receiver.url.key}: {wrong}; write an address such as https://example.org/hook.")
        parts = urlsplit(url)
        host, port = parts.hostname or "", parts.port or (443 if parts.scheme == "https" else 80)
        headers = {"Content-Type": "application/json", "Host": parts.netloc, "User-Agent": "Slipring"}
        headers |= {"Connection": "close"} | ({"Idempotency-Key": f'"{key}"'} if key else {})
        if self._receiver.token is not None:
            headers["Authorization"] = f"Bearer {read_secret(self._receiver.token)}"
        reached = connect(host, port, self._receiver.local)
        try:
            with reached.socket, reached.deadline(), self._spoken(reached.socket, parts) as spoken:
                status, reason = _asked(spoken, parts, body, headers)
        except (OSError, http.client.HTTPException, ValueError) as error:
            raise SendError(_broken(host, port, error)) from None
        return _judged(host, status, reason)

    def _spoken(self, connected: socket.socket, parts: SplitResult) -> socket.socket:
        if parts.scheme != "https":
            return connected
        return trust(self._receiver.ca_file).wrap_socket(connected, server_hostname=parts.hostname)


def webhook_place(receiver: Webhook) -> str:
    """Its server; the rest of the address may be a secret."""
    try:
        parts = urlsplit(read_secret(receiver.url))
        return f"{parts.scheme}://{parts.hostname}{f':{parts.port}' if parts.port else ''}"
    except (SendError, ValueError):
        return f"an address in {receiver.url.key}"


def _asked(connected: socket.socket, parts: SplitResult, body: bytes, headers: dict[str, str]) -> tuple[int, str]:
    asking = http.client.HTTPConnection(parts.hostname or "")
    asking.sock = connected
    asking.request("POST", (parts.path or "/") + (f"?{parts.query}" if parts.query else ""), body, headers)
    answer = asking.getresponse()
    answer.read(_ANSWER_MAX)
    return answer.status, answer.reason


def _broken(host: str, port: int, error: Exception) -> str:
    if isinstance(error, OSError):
        return refusal(host, port, error)
    return f"{host}, port {port}, does not answer in HTTP; is the address right?"


def _judged(host: str, status: int, reason: str) -> str:
    answer = f"HTTP {status} {said(reason)}".strip()
    if 200 <= status < 300:
        return answer
    if 300 <= status < 400:
        raise SendError(f"{host} sends us elsewhere ({answer}), which is not followed; write the final address.")
    if status in (401, 403):
        what = f"{host} does not let us in ({answer}); is the address or the token right?"
        raise (SendError if status == 401 else RefusedError)(what, lasting=True)
    if status in (404, 405, 410):
        raise RefusedError(f"{host} has nothing at this address that takes messages ({answer}); is the address right?")
    if 400 <= status < 500 and status not in _PASSING:
        raise RefusedError(f"{host} refuses this message ({answer}); look into the log of the program behind it.")
    raise SendError(f"{host} did not take it ({answer}); it is sent again.")
