"""What would be refused whatever the PC says is refused before the PC is asked: by the types of path and body, and by
the route's own judge. In here nothing is done, so that asking later is no way around asking."""

import json
import logging
from collections.abc import Awaitable, Callable, Mapping
from typing import Any, TypeVar, get_type_hints

from pydantic import BaseModel, TypeAdapter, ValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request

from server.calibration.found import UnfitError
from server.config import ConfigError
from server.web.origin import Refusal
from server.web.refusals import of_error, of_invalid

log = logging.getLogger(__name__)
_JUDGE = "slipring_judge"
_OURS = Refusal(500, "Slipring made a mistake; what went wrong stands in its terminal.")
_NO_JSON = Refusal(422, "the request: this is not JSON.")
Endpoint = TypeVar("Endpoint", bound=Callable[..., Any])


def judged(judge: Callable[..., Awaitable[object]]) -> Callable[[Endpoint], Endpoint]:
    """Marks an endpoint, below its route. `judge` takes the same, changes nothing, and raises what the endpoint would
    raise (HTTPException, ConfigError, UnfitError); what it cannot know beforehand it lets pass."""

    def mark(endpoint: Endpoint) -> Endpoint:
        setattr(endpoint, _JUDGE, judge)
        return endpoint

    return mark


class Judge:
    """Of one endpoint."""

    def __init__(self, endpoint: Callable[..., Any]) -> None:
        hints = {key: hint for key, hint in get_type_hints(endpoint, include_extras=True).items() if key != "return"}
        self._body = next((key for key, hint in hints.items() if _is_model(hint)), "")
        self._types = {key: TypeAdapter[Any](hint) for key, hint in hints.items() if hint is not Request}
        self._judge: Callable[..., Awaitable[object]] | None = getattr(endpoint, _JUDGE, None)

    async def refusal(self, parts: Mapping[str, str], body: bytes) -> Refusal | None:
        """Why a request with these parts of its path and this body would be refused; None where nothing is known
        against it."""
        given: dict[str, Any] = {key: part for key, part in parts.items() if key in self._types}
        if self._body:
            try:
                given[self._body] = json.loads(body)
            except (ValueError, RecursionError):
                return _NO_JSON
        for key, value in given.items():
            try:
                given[key] = self._types[key].validate_python(value)
            except ValidationError as error:
                first = error.errors()[0]
                return of_invalid(first, first["loc"] if key == self._body else (key,))
        return None if self._judge is None else await self._judged(given)

    async def _judged(self, given: dict[str, Any]) -> Refusal | None:
        assert self._judge is not None
        try:
            await self._judge(**given)
        except (HTTPException, ConfigError, UnfitError) as error:
            return of_error(error)
        except Exception:  # ours: what could not be judged is not asked for
            log.exception("Judging a request failed")
            return _OURS
        return None


def _is_model(hint: object) -> bool:
    return isinstance(hint, type) and issubclass(hint, BaseModel)
