"""A YAML document whose every part knows its line, so that whatever is wrong with it is said with the place.

Words are not guessed at: what is a number, a yes or a text is decided by who reads it.
"""

from collections.abc import Iterable
from pathlib import Path

import yaml

from simulator.nearest import nearest
from simulator.story_error import StoryError

_LOADER: type[yaml.SafeLoader | yaml.CSafeLoader] = getattr(yaml, "CSafeLoader", yaml.SafeLoader)  # ten times as fast
_YES, _NO = ("on", "yes", "true"), ("off", "no", "false")


class Entry:
    """One part of a document: a text, a list or a table of entries."""

    def __init__(self, file: str, node: yaml.Node) -> None:
        self.file, self.line = file, node.start_mark.line + 1
        self._node = node

    def fail(self, what: str) -> StoryError:
        """To be raised: what is wrong here and what to write."""
        return StoryError(f"{self.file}, line {self.line}: {what}")

    def table(self, known: Iterable[str] | None = None) -> dict[str, "Entry"]:
        """Entries by key; StoryError for what is no table, a key twice, or one that is not in `known`."""
        if not isinstance(self._node, yaml.MappingNode):
            raise self.fail("write `key: value` here")
        entries: dict[str, Entry] = {}
        names = None if known is None else list(known)
        for key_node, value_node in self._node.value:
            key = Entry(self.file, key_node)
            name = key.text()
            if names is not None and name not in names:
                raise key.fail(f"there is no {name!r} here; the nearest is {nearest(name, names)!r}")
            if name in entries:
                raise key.fail(f"{name} stands here twice; leave one")
            entries[name] = Entry(self.file, value_node)
        return entries

    def items(self) -> list["Entry"]:
        """The entries of a list."""
        if not isinstance(self._node, yaml.SequenceNode):
            raise self.fail("write a list here: [a, b], or one `- ` a line")
        return [Entry(self.file, node) for node in self._node.value]

    def text(self) -> str:
        if not isinstance(self._node, yaml.ScalarNode):
            raise self.fail("write a text here")
        return str(self._node.value)

    def one_of(self, names: Iterable[str]) -> str:
        text, known = self.text(), list(names)
        if text not in known:
            raise self.fail(f"there is no {text!r}; the nearest is {nearest(text, known)!r}, of {', '.join(known)}")
        return text

    def number(self, low: float = float("-inf"), high: float = float("inf")) -> float:
        """A number within its range; on and yes are 1, off and no are 0."""
        text = self.text().lower()
        try:
            value = 1.0 if text in _YES else 0.0 if text in _NO else float(text)
        except ValueError:
            raise self.fail(f"{text!r} is no number; write one such as 12.5, or on or off") from None
        if not low <= value <= high:
            raise self.fail(f"{value:g} is outside {low:g} to {high:g}")
        return value

    def whole(self, low: int, high: int) -> int:
        value = self.number(low, high)
        if value != int(value):
            raise self.fail(f"{value:g} must be a whole number")
        return int(value)


def required(table: dict[str, Entry], key: str, of: Entry) -> Entry:
    """The entry of that key; StoryError where it is missing."""
    if key not in table:
        raise of.fail(f"{key} is missing; write `{key}: ...`")
    return table[key]


def read_document(file: Path) -> Entry:
    """The document of a file. StoryError: it cannot be read, or is no YAML."""
    try:
        node = yaml.compose(file.read_text(encoding="utf-8"), Loader=_LOADER)
    except OSError as error:
        raise StoryError(f"{file}: cannot be read ({error.strerror}); give the path of a story file") from None
    except UnicodeDecodeError:
        raise StoryError(f"{file}: is no text in UTF-8; save it as such") from None
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = "" if mark is None else f", line {mark.line + 1}"
        raise StoryError(f"{file}{line}: {getattr(error, 'problem', None) or 'is no YAML'}") from None
    if node is None:
        raise StoryError(f"{file}: is empty; write a `stories:` list")
    return Entry(str(file), node)
