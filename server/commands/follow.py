"""`slipring follow`: the service's stream of JSON lines, printed as it comes."""

import http.client
import json
from argparse import Namespace
from urllib.parse import quote, urlsplit

from server.commands.asking import AskError, Asking, service_url
from server.commands.streams import flush, say, write

CONNECT_S = 10.0  # until the first answer
_REASON_MAX = 10_000  # bytes


def run(chosen: Namespace) -> int:
    url = service_url(chosen)
    connection = _connection(url)
    if connection is None:
        return _fail(f"{url} is not an address; write one such as http://127.0.0.1:8420.", 2)
    rig = quote(chosen.rig, errors="replace")
    try:
        asking = Asking(url, chosen.data)
        connection.request("GET", f"/api/lines?rig={rig}" if rig else "/api/lines", headers=asking.authorization())
        answer = connection.getresponse()
        refusal = "" if answer.status == 200 else (answer.status == 401 and asking.missing()) or _reason(answer)
    except AskError as error:
        return _fail(str(error))
    except http.client.HTTPException:
        return _fail(f"what answers at {url} does not speak HTTP; is it Slipring that listens there?")
    except (OSError, UnicodeError):  # no name of a computer has letters of that kind, or so many
        return _fail(f"no service answers at {url}; start one with slipring serve.")
    if refusal:
        return _fail(refusal)
    if connection.sock is not None:
        connection.sock.settimeout(None)  # a rig may be silent for as long as it likes
    return _print_lines(answer)


def _connection(url: str) -> http.client.HTTPConnection | None:
    """Not opened yet; None if there is no such address."""
    try:
        parts = urlsplit(url)
        if parts.scheme != "http" or not parts.hostname:
            return None
        return http.client.HTTPConnection(parts.hostname, parts.port or 80, timeout=CONNECT_S)
    except (ValueError, http.client.InvalidURL):
        return None


def _print_lines(answer: http.client.HTTPResponse) -> int:
    while line := _line(answer):
        write(line)
        flush()
    return _fail("the service has ended the stream; start it again with slipring serve.")


def _line(answer: http.client.HTTPResponse) -> bytes:
    """The next line; empty at the end, whatever it was."""
    try:
        return answer.readline()
    except (OSError, http.client.HTTPException):
        return b""


def _reason(answer: http.client.HTTPResponse) -> str:
    try:
        return str(json.loads(answer.read(_REASON_MAX))["detail"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return f"the service answered {answer.status} {answer.reason}; is it Slipring that listens there?"


def _fail(sentence: str, code: int = 1) -> int:
    say(f"slipring: {sentence}")
    return code
