from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.server.web.bench import Service, running


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A built page with a file beside it that nobody may read."""
    root = tmp_path_factory.mktemp("built")
    static = root / "static"
    (static / "assets").mkdir(parents=True)
    (static / "index.html").write_text("<!doctype html><title>page</title>")
    (static / "assets" / "page.js").write_text("export {};")
    (static / "door.html").write_text("<!doctype html><title>door</title>")
    (static / "door").mkdir()
    (static / "door" / "door.js").write_text("export {};")
    (root / "static-secret").mkdir()
    (root / "static-secret" / "token").write_text("SECRET")
    (root / "token").write_text("SECRET")
    (static / "link").symlink_to(root / "token")
    return static


@pytest.fixture(scope="module")
def service(page: Path) -> Iterator[Service]:
    """One service for the tests of a file; each leaves the two rigs as they were."""
    with running(page, "heron-1", "heron-2") as started:
        yield started
