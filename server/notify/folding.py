"""What was held until the quiet hours ended, folded: who reads it in the morning needs no word of each time. Pure."""

from collections.abc import Mapping, Sequence
from typing import Any

Held = tuple[str, Mapping[str, Any]]  # to whom, and the record of a word


def needed(held: Sequence[Held]) -> list[bool]:
    """For each word, in their order, whether it must be told. Of alarms that were folded into one: of the newest that
    it was raised, and what became of it last, which says how often it came and for how long in all."""
    newest, last = dict[tuple[str, str], str](), dict[tuple[str, str], int]()
    for place, (to, record) in enumerate(held):
        if alarm := record.get("alarm"):
            newest[to, record.get("first_alarm", alarm)] = alarm
            last[to, alarm] = place
    told = []
    for place, (to, record) in enumerate(held):
        alarm = record.get("alarm")
        is_newest = alarm is None or newest[to, record.get("first_alarm", alarm)] == alarm
        told.append(alarm is None or (is_newest and (record["kind"] == "raised" or last[to, alarm] == place)))
    return told
