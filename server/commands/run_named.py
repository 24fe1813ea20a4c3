"""The run that a person means: its folder, or its name in the data folder."""

from pathlib import Path

from server.commands.asking import data_folder


def run_named(given: str, data: str | None) -> Path | None:
    """A folder that was given, or one of that name among the runs; None: there is none."""
    if Path(given).is_dir():
        return Path(given)
    named: Path = data_folder(data) / "runs" / given
    return named if len(Path(given).parts) == 1 and named.is_dir() else None
