"""A running service asked over HTTP, with the scripts' token. Every trouble is a sentence."""

import http.client
import json
from argparse import Namespace
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from server.data_folder import DataFolderError, default_data_folder, held_address, token_file

ANSWER_S = 54.0  # a test of a receiver takes up to 50 s
LOCAL = ("127.0.0.1", "localhost", "::1")
_ANSWER_MAX = 4_000_000  # bytes


class AskError(Exception):
    """What went wrong, as a person reads it."""


def data_folder(given: str | None) -> Path:
    """The data folder that a person means."""
    return Path(given).absolute() if given else default_data_folder()


def service_url(chosen: Namespace) -> str:
    """Where the service is: at the address or port that was given, or where the one says that holds the data folder."""
    if given := getattr(chosen, "url", None):  # of another PC too, which not every command can ask
        return str(given)
    if chosen.port is not None:
        return f"http://127.0.0.1:{chosen.port}"
    return held_address(data_folder(chosen.data)) or "http://127.0.0.1:8420"


class Asking:
    """`data`: the service's data folder, where the token is; None: the usual one."""

    def __init__(self, url: str, data: str | None) -> None:
        parts = urlsplit(url)
        if parts.scheme != "http" or not parts.hostname:
            raise AskError(f"{url} is not an address; write one such as http://127.0.0.1:8420.")
        self._url, self._host = url, parts.hostname
        self._port, self._data = parts.port or 80, data

    def get(self, path: str) -> Any:
        """Raises AskError."""
        return self._asked("GET", path, None, self.authorization())

    def post(self, path: str, body: object) -> Any:
        """What changes something. Raises AskError."""
        return self._changed("POST", path, body)

    def put(self, path: str, body: object) -> Any:
        """What takes the place of something. Raises AskError."""
        return self._changed("PUT", path, body)

    def delete(self, path: str) -> Any:
        """What ends something. Raises AskError."""
        return self._changed("DELETE", path, {})

    def _changed(self, method: str, path: str, body: object) -> Any:
        if why := self.missing():
            raise AskError(why)
        headers = {"Content-Type": "application/json", "Slipring-Request": "1", **self.authorization()}
        return self._asked(method, path, json.dumps(body), headers)

    def authorization(self) -> dict[str, str]:
        """The header with the token; it leaves this PC never. Raises AskError."""
        if self._host not in LOCAL or self.missing():
            return {}
        return {"Authorization": f"Bearer {self._token()}"}

    def missing(self) -> str:
        """Why there is no token to give; empty: there is one."""
        data = data_folder(self._data)
        if data.is_dir():
            return ""
        return f"there is no folder {data}; give the service's data folder with --data DIR."

    def _token(self) -> str:
        data = data_folder(self._data)
        try:
            return token_file(data).read_text(encoding="ascii").strip()
        except DataFolderError as error:
            raise AskError(str(error)) from None

    def _asked(self, method: str, path: str, body: str | None, headers: dict[str, str]) -> Any:
        connection = http.client.HTTPConnection(self._host, self._port, timeout=ANSWER_S)
        try:
            connection.request(method, path, body, headers)
            answer = connection.getresponse()
            text = answer.read(_ANSWER_MAX)
        except http.client.HTTPException:
            raise AskError(
                f"what answers at {self._url} does not speak HTTP; is it Slipring that listens there?"
            ) from None
        except (OSError, UnicodeError):
            raise AskError(f"no service answers at {self._url}; start one with slipring serve.") from None
        finally:
            connection.close()
        try:
            said = json.loads(text)
            if answer.status < 400:
                return said
            raise AskError((answer.status == 401 and self.missing()) or str(said["detail"]))
        except (ValueError, KeyError, TypeError, RecursionError):
            what = f"the service answered {answer.status} {answer.reason}"
            raise AskError(f"{what}; is it Slipring that listens there?") from None
