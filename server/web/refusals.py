"""What is wrong with a request, as a status and a sentence: the same words wherever it is found."""

from collections.abc import Mapping, Sequence
from math import isnan
from typing import Any

from starlette.exceptions import HTTPException

from server.access.sessions import plain_name
from server.calibration.found import UnfitError
from server.config import ConfigError
from server.web.origin import Refusal

_NO_NUMBER = dict.fromkeys(("float_parsing", "float_type"), "this is not a number; write it without a unit.")
_NO_NUMBER |= dict.fromkeys(
    ("int_parsing", "int_type", "int_from_float"), "this is not a whole number; write it without a unit."
)
_TEXT, _LIST = "write it as text.", "write it as a list."
_OTHERWISE = {  # by what pydantic calls the error; in braces what it says of the limit, and what was given
    **_NO_NUMBER,
    "missing": "this is missing; write it.",
    "extra_forbidden": "there is nothing of this name here; leave it out or mend its name.",
    "string_too_long": "these are too many characters ({given}); write {max_length} at most.",
    "string_too_short": "these are too few characters ({given}); write {min_length} or more.",
    "empty": "this is empty; write something.",
    "too_long": "{actual_length} are too many; write {max_length} at most.",
    "too_short": "{actual_length} are too few; write {min_length} or more.",
    "greater_than": "{given} is too little; write more than {gt}.",
    "greater_than_equal": "{given} is too little; write {ge} or more.",
    "less_than": "{given} is too much; write less than {lt}.",
    "less_than_equal": "{given} is too much; write {le} or less.",
    "finite_number": "this is no number to reckon with; write a finite one.",
    "literal_error": "{given} is none of what this can be; write {expected}.",
    "enum": "{given} is none of what this can be; write {expected}.",
    "string_type": f"this is no text; {_TEXT}",
    "string_unicode": f"there are characters in it that are none; {_TEXT}",
    "bool_type": "this is neither true nor false; write one of them.",
    "bool_parsing": "this is neither true nor false; write one of them.",
    "list_type": f"this is no list; {_LIST}",
    "tuple_type": f"this is no list; {_LIST}",
    "dict_type": "this is no object; write keys with their values.",
    "model_type": "this is no object; write keys with their values.",
    "model_attributes_type": "this is no object; write keys with their values.",
    "json_invalid": "this is not JSON; write an object of JSON.",
    "json_unfit": "this is nested too deep, or a number in it is too long; write a plain object of JSON.",
}
_GIVEN_MAX = 40  # characters of what was given that are said again


def of_invalid(first: Mapping[str, Any], place: Sequence[object]) -> Refusal:
    """A value that its type does not take: the first error of a validation, and where in the request it is."""
    where = "" if first["type"] == "json_invalid" else ".".join(map(str, place))  # that would be the character
    words = _OTHERWISE.get("finite_number" if _is_nan(first) else "empty" if _is_empty(first) else first["type"])
    sentence = (
        f"{first['msg']}." if words is None else words.format_map({**first.get("ctx", {}), "given": _given(first)})
    )
    return Refusal(422, f"{where or 'the request'}: {sentence}", key=where)


def _is_nan(first: Mapping[str, Any]) -> bool:
    """What passes a limit as it is no number: it is neither more nor less than any."""
    return first["type"].startswith(("less_than", "greater_than")) and isnan(float(first["input"]))


def _is_empty(first: Mapping[str, Any]) -> bool:
    return first["type"] in ("string_too_short", "too_short") and not first["input"]


def _given(first: Mapping[str, Any]) -> str:
    """What was written there; of a text whose length is wrong its length."""
    given = first.get("input")
    if isinstance(given, str):
        return str(len(given)) if first["type"].startswith("string_too") else f'"{plain_name(given[:_GIVEN_MAX])}"'
    return str(given)[:_GIVEN_MAX]


def of_error(error: HTTPException | ConfigError | UnfitError) -> Refusal:
    """What a route raises instead of an answer."""
    if isinstance(error, HTTPException):
        return Refusal(error.status_code, error.detail)
    if isinstance(error, ConfigError):
        return Refusal(422, str(error), key=error.key)
    sentence = str(error)
    return Refusal(409, f"{sentence[0].upper()}{sentence[1:]}.")
