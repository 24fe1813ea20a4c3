"""The words that the service gives for what it doubts or leaves out, found in its source; and where tests have them."""

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("server/quantities", "server/hall", "server/run_state", "server/watch.py", "server/watched_state.py")
WORDS_MIN = 3  # a shorter one is a name or a unit
_SOURCES = {"Quantity", "Band", "Words", "_both", "_entries", "_Kind", "PredictedLine", "ValueError"}  # of other words


def reasons() -> dict[str, str]:
    """Longest fixed part of each sentence -> file and line."""
    found: dict[str, str] = {}
    for room in ROOMS:
        path = ROOT / room
        for file in sorted(path.glob("*.py")) if path.is_dir() else [path]:
            tree = ast.parse(file.read_text(encoding="utf-8"))
            for node in _sentences(tree):
                part = max(_fixed(node), key=len, default="").strip(" ;:,.")
                if len(part.split()) >= WORDS_MIN and part[:1].islower():
                    found.setdefault(part, f"{file.relative_to(ROOT)}:{node.lineno}")
    return found


def tested(parts: dict[str, str]) -> set[str]:
    """Those that stand in a test."""
    tests = "\n".join(file.read_text(encoding="utf-8") for file in sorted((ROOT / "tests").rglob("*.py")))
    return {part for part in parts if part in tests}


def _sentences(node: ast.AST) -> Iterator[ast.expr]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
            continue  # a docstring
        if isinstance(child, ast.Call) and isinstance(child.func, ast.Name) and child.func.id in _SOURCES:
            continue
        if isinstance(child, ast.JoinedStr) or (isinstance(child, ast.Constant) and isinstance(child.value, str)):
            yield child
        else:
            yield from _sentences(child)


def _fixed(node: ast.expr) -> list[str]:
    values = node.values if isinstance(node, ast.JoinedStr) else [node]
    words = [each.value for each in values if isinstance(each, ast.Constant) and isinstance(each.value, str)]
    return [part for each in words for part in each.split("{}")]
