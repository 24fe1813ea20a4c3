"""What is wrong with a request, as a status and a sentence: the same words wherever it is found."""

from collections.abc import Mapping, Sequence
from typing import Any

from starlette.exceptions import HTTPException

from server.calibration.found import UnfitError
from server.config import ConfigError
from server.web.origin import Refusal

_NO_NUMBER = dict.fromkeys(("float_parsing", "float_type"), "this is not a number; write it without a unit.")
_NO_NUMBER |= dict.fromkeys(
    ("int_parsing", "int_type", "int_from_float"), "this is not a whole number; write it without a unit."
)


def of_invalid(first: Mapping[str, Any], place: Sequence[object]) -> Refusal:
    """A value that its type does not take: the first error of a validation, and where in the request it is."""
    where = ".".join(map(str, place))
    sentence = _NO_NUMBER.get(first["type"], f"{first['msg']}.")
    return Refusal(422, f"{where or 'the request'}: {sentence}", key=where)


def of_error(error: HTTPException | ConfigError | UnfitError) -> Refusal:
    """What a route raises instead of an answer."""
    if isinstance(error, HTTPException):
        return Refusal(error.status_code, error.detail)
    if isinstance(error, ConfigError):
        return Refusal(422, str(error), key=error.key)
    sentence = str(error)
    return Refusal(409, f"{sentence[0].upper()}{sentence[1:]}.")
