"""The command line as a person types it: help, versions, mistypings, exit codes."""

import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from server import VERSION
from server.__main__ import COMMANDS, HELP, main
from server.commands.options import OPTIONS

ROOT = Path(__file__).resolve().parent.parent.parent
LINES_MAX, COLUMNS_MAX = 24, 80  # one screen of the plainest terminal


def typed(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "server", *arguments]
    return subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=30, check=False)


def test_the_version_is_that_of_the_package(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"slipring {VERSION}\n"
    assert tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"] == VERSION


def test_help_fits_one_screen_and_names_every_command_and_two_examples(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= LINES_MAX
    assert max(map(len, lines)) <= COLUMNS_MAX
    named = [word for line in lines if line.startswith("  ") for word in line[2:].split("  ")[0].split(", ")]
    assert [word for word in named if word.split()[0] in COMMANDS] == list(COMMANDS)
    assert sum(line.startswith("  slipring ") for line in lines) == 2


def test_the_examples_of_the_help_are_understood() -> None:
    examples = [line.strip().split("  ")[0] for line in HELP.splitlines() if line.startswith("  slipring ")]
    assert len(examples) == 2
    for example in examples:
        _, command, *options = example.split()
        OPTIONS[command]().parse_args(options)


@pytest.mark.parametrize("command", sorted(OPTIONS))
def test_each_commands_help_fits_one_screen(
    command: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", str(COLUMNS_MAX))
    with pytest.raises(SystemExit) as left:
        main([command, "--help"])
    assert left.value.code == 0
    assert len(capsys.readouterr().out.splitlines()) <= LINES_MAX


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
        "argparse",
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
        (
            ["xyz"],
            "slipring: there is no command xyz; there are serve, read, export, report, send, receive, repair, follow, "
            "ports, check-board, "
            "calibrate, demo-motors, notify, plan, link, sessions, token, unit, backup, restore.",
        ),
        (["--vers"], "slipring: there is no option --vers; did you mean --version?"),
        (["serve", "--prot", "80"], "slipring serve: there is no option --prot; did you mean --port?"),
        (["follow", "--rgi", "x"], "slipring follow: there is no option --rgi; did you mean --rig?"),
        (
            ["serve", "--port", "http"],
            'slipring serve: argument --port: "http" is no port; write a number such as 8420.',
        ),
        (
            ["serve", "--port", "99999"],
            'slipring serve: argument --port: "99999" is no port; write a number such as 8420.',
        ),
        (
            ["serve", "--rig", "bench"],
            'slipring serve: argument --rig: "bench" names no rig and port; write --rig bench=/dev/ttyACM0.',
        ),
        (
            ["serve", "--rig", "a/b=/dev/ttyACM0"],
            "slipring serve: argument --rig: a rig cannot be called 'a/b'; "
            "use a to z and digits, then - and _ too, 40 at most.",
        ),
        (["ports", "extra"], "slipring ports: there is no option extra; slipring ports --help tells what it knows."),
        ([], "slipring: which command? slipring --help lists them."),
    ],
)
def test_what_was_mistyped_gets_the_nearest_right_word(
    arguments: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    try:
        code: object = main(arguments)
    except SystemExit as left:  # argparse leaves by itself
        code = left.code
    assert code == 2
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
