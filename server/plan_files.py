"""One test plan per rig in DATA/plans, and that its test has passed: written beside and renamed. Blocks on the disk.

One previous version of a plan is kept.
"""

import json
import os
from pathlib import Path

from server.config import ConfigError
from server.runs.beside import read_json
from server.settings.file import keep_previous, previous_file, settings_text
from server.settings.text import check_name
from server.test_plan.passed import passed_file, passed_record, passed_utc_s
from server.test_plan.plan import Plan, PlanText
from server.test_plan.text import parse_plan
from server.whole_file import replace_file, sync_folder

SUFFIX = ".toml"


class PlanFiles:
    """Files in `folder`, named for their rigs. All calls raise ConfigError, of a full disk too."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def file(self, rig: str) -> Path:
        check_name(rig)
        return self._folder / f"{rig}{SUFFIX}"

    def is_there(self, rig: str) -> bool:
        """Whether there is one, that can be used or not."""
        return os.path.lexists(self.file(rig))

    def read(self, rig: str) -> PlanText | None:
        """The plan of a rig; None where there is none."""
        file = self.file(rig)
        return parse_plan(settings_text(file), str(file)) if os.path.lexists(file) else None

    def text(self, rig: str) -> str | None:
        """What stands in the file, a plan or not; None: it is no text that can be read, or there is no file."""
        try:
            return settings_text(self.file(rig))
        except ConfigError:
            return None

    def write(self, rig: str, text: str) -> PlanText:
        """Keep this text, once it has been read as a plan; what stood there is kept as NAME.toml.previous."""
        file = self.file(rig)
        plan = parse_plan(text, str(file))
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            keep_previous(file)
            replace_file(file, text.encode())
        except OSError as error:
            raise _unusable(file, "written", error) from error
        return plan

    def remove(self, rig: str) -> bool:
        """Put the plan away, as NAME.toml.previous; whether there was one."""
        return self._moved(self.file(rig), previous_file(self.file(rig)))

    def rename(self, rig: str, name: str) -> bool:
        """The rig has another name from now on; whether it had a plan. A plan that has that name already stays."""
        if os.path.lexists(self.file(name)):
            return False
        return self._moved(self.file(rig), self.file(name))  # its runs, and that they have passed, keep their name

    def passed_utc_s(self, rig: str, plan: Plan) -> float | None:
        """When a test of this plan had passed on this rig; None: that was not kept."""
        return passed_utc_s(read_json(passed_file(self.file(rig))), plan)

    def keep_passed(self, rig: str, plan: Plan, utc_s: float) -> None:
        """It has passed by now. Raises OSError."""
        replace_file(passed_file(self.file(rig)), json.dumps(passed_record(plan, utc_s)).encode())

    def _moved(self, file: Path, to: Path) -> bool:
        if not os.path.lexists(file):
            return False
        try:
            os.replace(file, to)
            sync_folder(self._folder)
        except OSError as error:
            raise _unusable(file, "put away", error) from error
        return True


def _unusable(file: Path, done: str, error: OSError) -> ConfigError:
    what = f"the plan cannot be {done} ({error.strerror or error})"
    return ConfigError(str(file), None, what, "make room or make the folder writable")
