"""What was held until the quiet hours ended, folded: who reads it in the morning needs no word of each time. Pure."""

from collections.abc import Mapping, Sequence
from typing import Any

from server.notify.draft import late

Record = Mapping[str, Any]
Held = tuple[str, Record]  # to whom, and the record of a word


def folded(held: Sequence[Held], now: Mapping[str, Record], utc_s: float) -> list[Record | None]:
    """For each word, in their order, what is told of it, None: nothing. Of alarms that were folded into one: of the
    newest that it was raised, and what became of it last, both as it is now: which says how often it came and for how
    long in all. `now`: of alarms that stand, by their id; of others the last word holds."""
    newest, last = dict[tuple[str, str], str](), dict[tuple[str, str], int]()
    for place, (to, record) in enumerate(held):
        if alarm := record.get("alarm"):
            newest[to, record.get("first_alarm", alarm)] = alarm
            last[to, alarm] = place
    told = list[Record | None]()
    for place, (to, record) in enumerate(held):
        alarm = record.get("alarm")
        if alarm is None:
            told.append(record)
        elif newest[to, record.get("first_alarm", alarm)] != alarm:
            told.append(None)
        elif record["kind"] == "raised" or last[to, alarm] == place:
            told.append(late(record, now.get(alarm, held[last[to, alarm]][1]), utc_s))
        else:
            told.append(None)
    return told
