"""Each route says what it needs: `openapi_extra=LOOK`, `MARK`, `PC`, `OPEN`, or `change("delete the run {name}")`.

The guard looks it up before the application is asked. A route that says nothing keeps the service from starting.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from re import Pattern
from typing import Any

from fastapi.routing import APIRoute
from starlette.routing import BaseRoute

from server.access.permission import Permission
from server.access.sessions import NAME_MAX, plain_name
from server.web.judged import Judge
from server.web.origin import Refusal

KEY = "x-slipring-permission"
ACT = "x-slipring-act"
_WORD_MAX = 60
_KEYS_MAX = 6

LOOK: dict[str, Any] = {KEY: Permission.LOOK.value}
MARK: dict[str, Any] = {KEY: Permission.MARK.value}
PC: dict[str, Any] = {KEY: Permission.PC.value}
OPEN: dict[str, Any] = {KEY: Permission.OPEN.value}


def change(act: str) -> dict[str, Any]:
    """What changes something. `act` follows "asks to"; in braces stand parts of the path, or words of the body, and
    {keys}: which words the body has. Of an object in the body its keys are said with their values."""
    return {KEY: Permission.CHANGE.value, ACT: act}


class UndeclaredRouteError(Exception):
    """A route does not say what it needs."""


@dataclass(frozen=True, slots=True)
class Need:
    """What one route needs, and what it does in words."""

    permission: Permission
    act: str = ""
    parts: tuple[tuple[str, str], ...] = ()
    judge: Judge | None = None

    async def refusal(self, body: bytes) -> Refusal | None:
        """Why it would be refused whatever anybody agrees to; None where nothing is known against it."""
        return None if self.judge is None else await self.judge.refusal(dict(self.parts), body)

    def words(self, body: bytes) -> str:
        """What would be done, with the names that were given."""
        said = _object(body)
        keys = ", ".join(plain_name(key.replace("_", " ")) for key in list(said)[:_KEYS_MAX])
        given = {key: value for key, value in said.items() if isinstance(value, str | int | float)}
        given |= {key: _pairs(value) for key, value in said.items() if isinstance(value, dict)}
        return self.act.format_map(_Words({**given, "keys": keys, **dict(self.parts)}))


class Needs:
    """What every route needs, in the order in which the application looks for them."""

    def __init__(self, routes: Sequence[BaseRoute]) -> None:
        self._needs = [_need(route) for route in routes if isinstance(route, APIRoute)]

    def of(self, method: str, path: str) -> Need:
        """Of a request. Where there is no such route the application says so, to those who may look."""
        for methods, pattern, need in self._needs:
            if method in methods and (found := pattern.match(path)):
                return replace(need, parts=tuple(found.groupdict().items()))
        return Need(Permission.LOOK if method == "GET" else Permission.PC)


def _need(route: APIRoute) -> tuple[frozenset[str], Pattern[str], Need]:
    said = route.openapi_extra or {}
    methods = frozenset(route.methods or ())
    try:
        need = Need(Permission(said[KEY]), said.get(ACT, ""))
    except (KeyError, ValueError):
        what = f"{', '.join(methods)} {route.path} does not say what it needs"
        raise UndeclaredRouteError(f"{what}; write openapi_extra=LOOK, MARK, PC or change(...)") from None
    if need.permission is Permission.CHANGE and not need.act:
        raise UndeclaredRouteError(f"{', '.join(methods)} {route.path} changes something and does not say what")
    if need.permission in (Permission.MARK, Permission.CHANGE) and "GET" in methods:
        raise UndeclaredRouteError(f"GET {route.path} must change nothing")
    if need.permission is Permission.CHANGE:
        need = replace(need, judge=Judge(route.endpoint))
    return methods, route.path_regex, need


def _pairs(values: dict[str, object]) -> str:
    """`hall order BCA, drive off`: as many as there is room for, and how many more there are."""
    said, room = list[str](), NAME_MAX - len(" and 99 more")
    for key, value in values.items():
        said.append(plain_name(f"{key.replace('_', ' ')} {str(value).replace('_', ' ')}"))
        if len(", ".join(said)) > room:
            said.pop()
            break
    left = len(values) - len(said)
    return f"{', '.join(said)}{f' and {left} more' if said and left else f'{left} settings' if left else ''}"


class _Words(dict[str, object]):
    """Whatever was not given is a question mark; names are those of strangers."""

    def __getitem__(self, key: str) -> str:
        return plain_name(str(self.get(key, "?"))[:_WORD_MAX]) or "?"


def _object(body: bytes) -> dict[str, object]:
    try:
        said = json.loads(body or b"{}")
    except (ValueError, RecursionError):
        return {}
    return said if isinstance(said, dict) else {}
