"""One test plan per rig in DATA/plans, and that its test has passed: written beside and renamed. Blocks on the disk.

One previous version of a plan is kept.
"""

import json
import os
from datetime import UTC, datetime
from pathlib import Path

from server.config import ConfigError
from server.runs.beside import read_json
from server.settings.file import keep_previous, previous_file, settings_text
from server.settings.text import check_name
from server.test_plan.passed import Passed, passed_file, passed_of, passed_record
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

    def judge(self, rig: str, text: str, now_utc_s: float) -> PlanText:
        """The plan of this text, where it can take the place of the one that is there."""
        file = self.file(rig)
        plan = parse_plan(text, str(file))
        self._check_specimen(file, plan.plan, now_utc_s)
        return plan

    def write(self, rig: str, text: str, now_utc_s: float) -> PlanText:
        """Keep this text, once it has been judged; what stood there is kept as NAME.toml.previous."""
        file, plan = self.file(rig), self.judge(rig, text, now_utc_s)
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            keep_previous(file)
            replace_file(file, text.encode())
        except OSError as error:
            raise _unusable(file, "written", error) from error
        return plan

    def _check_specimen(self, file: Path, plan: Plan, now_utc_s: float) -> None:
        """What ran with another specimen counts for this one where a person says so alone."""
        stood, before = (_plan_in(each) for each in (file, previous_file(file)))
        last = stood or before
        if last is not None and last.begins is not None and before is not None and _tested(last) == _tested(plan):
            last = before  # it was said from when on the runs of this one count, and is no more
        if last is None or plan.begins is not None or _tested(last) == _tested(plan):
            return
        if stood is not None and before == plan:  # a change is undone
            return
        now = datetime.fromtimestamp(now_utc_s, UTC)
        what = (
            f"{' '.join(_tested(last)).strip()} was tested on this rig, and its runs would count for this specimen too"
        )
        counts = f'"{now:%Y-%m-%dT%H:%M:%SZ}" to count from now on, or "1970-01-01T00:00:00Z" to count all runs'
        raise ConfigError("", None, what, f"write begins = {counts}", "test.begins")

    def remove(self, rig: str) -> bool:
        """Put the plan away, as NAME.toml.previous; whether there was one."""
        return self._moved(self.file(rig), previous_file(self.file(rig)))

    def rename(self, rig: str, name: str) -> bool:
        """The rig has another name from now on; whether it had a plan. A plan that has that name already stays."""
        if os.path.lexists(self.file(name)):
            return False
        return self._moved(self.file(rig), self.file(name))  # its runs, and that they have passed, keep their name

    def passed(self, rig: str, plan: Plan) -> Passed | None:
        """That a test of this plan had passed on this rig; None: that was not kept."""
        return passed_of(read_json(passed_file(self.file(rig))), plan)

    def keep_passed(self, rig: str, plan: Plan, it: Passed) -> None:
        """It has passed. Raises OSError."""
        replace_file(passed_file(self.file(rig)), json.dumps(passed_record(plan, it)).encode())

    def _moved(self, file: Path, to: Path) -> bool:
        if not os.path.lexists(file):
            return False
        try:
            os.replace(file, to)
            sync_folder(self._folder)
        except OSError as error:
            raise _unusable(file, "put away", error) from error
        return True


def _plan_in(file: Path) -> Plan | None:
    """The plan that stands in a file; None: there is none that can be read."""
    try:
        return parse_plan(settings_text(file), str(file)).plan if os.path.lexists(file) else None
    except ConfigError:
        return None


def _tested(plan: Plan) -> tuple[str, str]:
    return plan.specimen, plan.serial


def _unusable(file: Path, done: str, error: OSError) -> ConfigError:
    what = f"the plan cannot be {done} ({error.strerror or error})"
    return ConfigError(str(file), None, what, "make room or make the folder writable")
