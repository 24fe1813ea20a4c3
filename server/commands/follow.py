"""`slipring follow`: the service's stream of JSON lines, printed as it comes."""

import http.client
import json
import os
import sys
from argparse import Namespace
from urllib.parse import quote, urlsplit

CONNECT_S = 10.0  # until the first answer


def run(chosen: Namespace) -> int:
    url = chosen.url if chosen.port is None else f"http://127.0.0.1:{chosen.port}"
    parts = urlsplit(url)
    try:
        host, port = parts.hostname, parts.port
    except ValueError:
        host, port = None, None
    if parts.scheme != "http" or not host:
        return _fail(f"{url} is not an address; write one such as http://127.0.0.1:8420.", 2)
    connection = http.client.HTTPConnection(host, port or 80, timeout=CONNECT_S)
    try:
        connection.request("GET", f"/api/lines?rig={quote(chosen.rig)}" if chosen.rig else "/api/lines")
        answer = connection.getresponse()
    except OSError:
        return _fail(f"no service answers at {url}; start one with slipring serve.")
    if answer.status != 200:
        return _fail(_reason(answer))
    if connection.sock is not None:
        connection.sock.settimeout(None)  # a rig may be silent for as long as it likes
    return _print_lines(answer)


def _print_lines(answer: http.client.HTTPResponse) -> int:
    out = sys.stdout.buffer
    try:
        while line := answer.readline():
            out.write(line)
            out.flush()
    except BrokenPipeError:  # the reader has had enough: `slipring follow | head`
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except (OSError, http.client.HTTPException):
        pass
    return _fail("the service has ended the stream; start it again with slipring serve.")


def _reason(answer: http.client.HTTPResponse) -> str:
    try:
        return str(json.loads(answer.read(10_000))["detail"])
    except (ValueError, KeyError, TypeError):
        return f"the service answered {answer.status} {answer.reason}; is it Slipring that listens there?"


def _fail(sentence: str, code: int = 1) -> int:
    print(f"slipring: {sentence}", file=sys.stderr)
    return code
