"""The command line as a person types it: help, versions, mistypings, exit codes."""

import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from server import VERSION
from server.__main__ import main, make_parser

ROOT = Path(__file__).resolve().parent.parent.parent
COMMANDS = ("serve", "read", "follow", "ports", "token")
LINES_MAX, COLUMNS_MAX = 24, 80  # one screen of the plainest terminal


def typed(*arguments: str, **settings: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "server", *arguments]
    return subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=30, check=False)


def test_the_version_is_that_of_the_package(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["--version"])
    assert left.value.code == 0
    assert capsys.readouterr().out == f"slipring {VERSION}\n"
    assert tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"] == VERSION


def test_help_fits_one_screen_and_ends_with_two_examples(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", str(COLUMNS_MAX))
    with pytest.raises(SystemExit) as left:
        main(["--help"])
    assert left.value.code == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= LINES_MAX
    assert max(map(len, lines)) <= COLUMNS_MAX
    assert all(any(command in line for line in lines) for command in COMMANDS)
    assert sum(line.startswith("  slipring ") for line in lines) == 2


def test_the_examples_of_the_help_are_understood() -> None:
    parser, _ = make_parser()
    examples = [line.split("  ")[1] for line in (parser.epilog or "").splitlines() if line.startswith("  slipring ")]
    assert len(examples) == 2
    for example in examples:
        chosen = parser.parse_args(example.split()[1:])
        assert chosen.command == "serve"


@pytest.mark.parametrize("option", ["--help", "--version"])
def test_help_and_version_import_nothing_heavy(option: str) -> None:
    script = (
        "import sys; before = set(sys.modules); sys.argv = ['slipring', sys.argv[1]]\n"
        "from server.__main__ import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "print(*sorted({name.partition('.')[0] for name in set(sys.modules) - before}), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", script, option], capture_output=True, text=True, cwd=ROOT, check=True)
    heavy = {
        "numpy",
        "asyncio",
        "uvicorn",
        "fastapi",
        "starlette",
        "serial",
        "websockets",
        "http",
        "socket",
        "pydantic",
    }
    assert not heavy & set(done.stderr.split())
    assert done.stdout


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["srve"], "slipring: there is no command srve; did you mean serve?"),
        (["xyz"], "slipring: there is no command xyz; there are serve, read, follow, ports, token."),
        (["serve", "--prot", "80"], "slipring: serve does not know --prot; did you mean --port?"),
        (["follow", "--rgi", "x"], "slipring: follow does not know --rgi; did you mean --rig?"),
        (["serve", "--port", "http"], 'slipring: argument --port: "http" is no port; write a number such as 8420.'),
        (["serve", "--port", "99999"], 'slipring: argument --port: "99999" is no port; write a number such as 8420.'),
        (["serve", "extra"], "slipring: serve does not know extra; slipring serve --help tells what it knows."),
        ([], "slipring: which command? slipring --help lists them."),
    ],
)
def test_what_was_mistyped_gets_the_nearest_right_word(
    arguments: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        main(arguments)
    assert left.value.code == 2
    said = capsys.readouterr()
    assert said.err == sentence + "\n"
    assert said.out == ""


def test_the_token_command_prints_the_path_and_nothing_else(tmp_path: Path) -> None:
    done = typed("token", "--data", str(tmp_path))
    assert (done.returncode, done.stderr) == (0, "")
    path = Path(done.stdout.strip())
    assert path.parent.parent == tmp_path
    assert len(path.read_text()) >= 32
    assert path.read_text() not in done.stdout


def test_a_service_that_is_not_there_is_told_in_one_sentence() -> None:
    done = typed("follow", "--url", "http://127.0.0.1:1")
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr == "slipring: no service answers at http://127.0.0.1:1; start one with slipring serve.\n"


@pytest.mark.parametrize("url", ["127.0.0.1:8420", "ftp://x", "http://", "http://127.0.0.1:port"])
def test_an_address_that_is_none_is_told_with_an_example(url: str) -> None:
    done = typed("follow", "--url", url)
    assert done.returncode == 2
    assert done.stderr.startswith(f"slipring: {url} is not an address; write one such as http://127.0.0.1:8420")
