"""The wheel holds what a person needs and runs from anywhere."""

import os
import subprocess
import sys
import urllib.request
import zipfile
from pathlib import Path

import pytest

from tests.journeys.bench import wait_for

ROOT = Path(__file__).resolve().parent.parent.parent


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(ROOT)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder / "unpacked")
    return folder / "unpacked"


def test_the_wheel_holds_the_packages_and_the_page_and_nothing_else(unpacked: Path) -> None:
    top = {path.name for path in unpacked.iterdir() if not path.name.endswith(".dist-info")}
    assert top == {"server", "firmware_protocol", "simulator"}
    assert (unpacked / "server" / "static" / "index.html").exists()
    assert (unpacked / "firmware_protocol" / "SPEC.md").exists()


@pytest.mark.long
def test_the_service_of_the_wheel_shows_its_page_from_another_folder(unpacked: Path, tmp_path: Path) -> None:
    said = tmp_path / "said.txt"
    environment = {**os.environ, "PYTHONPATH": str(unpacked), "PYTHONSAFEPATH": "1"}
    where = [sys.executable, "-c", "import server; print(server.__file__)"]
    found = subprocess.run(where, cwd=tmp_path, env=environment, capture_output=True, text=True, check=True)
    assert found.stdout.startswith(str(unpacked))
    command = [sys.executable, "-m", "server", "serve", "--data", str(tmp_path / "data"), "--port", "0"]
    with said.open("wb") as file:
        process = subprocess.Popen(command, cwd=tmp_path, env=environment, stdout=file, stderr=subprocess.STDOUT)
    try:
        line = wait_for(lambda: "http://" in said.read_text() and said.read_text(), "the address")
        address = next(word for word in line.split() if word.startswith("http://"))
        with urllib.request.urlopen(address, timeout=10) as answer:
            assert "<title>" in answer.read().decode()
    finally:
        process.terminate()
        assert process.wait(10) == 0
