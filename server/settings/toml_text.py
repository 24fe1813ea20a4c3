"""TOML text of a person -> its tables, refused with file and line. Pure."""

import re
import tomllib
from typing import Any

from server.config import ConfigError

_DOTS_MAX = 200  # in one line: the parser takes a minute for a key of 30 000 parts
_NAMES = re.compile(r"\(.*\)|key '")  # in the parser's words: parts of a name, as a tuple or one alone
_PLACE = re.compile(r"^(.*) \(at (?:line (\d+), column \d+|end of document)\)$", re.DOTALL)


def toml_tables(text: str, file: str, text_max: int, such_as: str, *, tell: bool = True) -> dict[str, Any]:
    """What stands in it. `such_as`: lines as a person would write them; `tell`: a refusal may repeat names that stand
    there. Raises ConfigError."""
    if len(text) > text_max:
        raise ConfigError(file, None, f"{len(text)} characters are too many", f"keep it under {text_max}")
    for number, written in enumerate(text.split("\n"), 1):
        if (dots := written.count(".")) > _DOTS_MAX:
            raise ConfigError(file, number, f"{dots} dots in one line are too many", "leave them out")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        place = _PLACE.search(str(error))
        line = int(place[2]) if place and place[2] else text.count("\n") + 1
        why = place[1] if place else str(error)
        what = f"this is not TOML ({why})" if tell or not _NAMES.search(why) else "a name stands here twice"
        raise ConfigError(file, line, what, f"write lines such as {such_as}") from None
    except (RecursionError, ValueError):  # brackets in brackets, or a number of thousands of digits
        what = "values in it are nested too deeply or too long"
        raise ConfigError(file, None, what, "write plain text and numbers") from None
