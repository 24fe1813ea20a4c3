"""Changes of an alarm's life, each with its notice. Pure; one teller makes the notices of one step, numbered."""

from dataclasses import replace

from server.alarms.life import Acknowledged, Life, Shelf, Watching
from server.alarms.notice import Notice, Told
from server.alarms.rule import LATCHED, Cause, Rule

QUICK_S, QUICK = 1800.0, 3  # a rule that comes so often in such a time chatters (after ISA-18.2, from memory),
QUIET_S = 600.0  # and ends only when it has been over for so long
AGAIN_S = 600.0  # that it keeps coming is told once, and then at most so often: six in an hour can be read


class Teller:
    """`number`: of the next notice. Notices say neither whom to call nor which run is recorded: who sends them does."""

    def __init__(self, rig: str, number: int, at_utc_s: float) -> None:
        self.rig, self.number, self.at_utc_s = rig, number, at_utc_s
        self.notices: list[Notice] = []

    def tell(self, life: Life, kind: Told, note: str = "", by: str = "", more: int | None = None) -> None:
        """One notice of this alarm."""
        self.notices.append(
            Notice(
                number=self.number,
                id=life.id,
                rig=self.rig,
                kind=kind,
                rank=life.rank,
                at_utc_s=self.at_utc_s,
                act=life.first,
                why=life.said,
                reading=life.reading,
                value=life.value,
                limit=life.limit,
                note=note,
                by=by,
                more=life.more if more is None else more,
                first_utc_s=life.first_utc_s,
                so_s=round(life.so_s, 1),
                first_id=life.first_id,
                name=life.name,
            )
        )
        self.number += 1

    def begun(self, rule: Rule, its: Watching) -> Life:
        """A new alarm of this rule, not told yet."""
        _, value, limit = its.why
        why, was = reasons(rule, its)
        reading = rule.its.reading or rule.its.drift
        alarm_id = f"{self.rig}-{self.number}"
        life = Life(
            *(alarm_id, rule.rank, rule.its.act, self.at_utc_s, why, reading, value, limit),
            was=was,
            so_s=its.so_s,
            name=rule.its.name,
        )
        if its.life is None:
            return life
        before = its.life
        first_utc_s = before.raised_utc_s if before.first_utc_s is None else before.first_utc_s
        return replace(life, more=before.more + 1, first_utc_s=first_utc_s, first_id=before.first_id or before.id)


def reasons(rule: Rule, its: Watching) -> tuple[str, str]:
    """Why it is so, and why it was, with what stands behind a ready rule."""

    def full(why: str) -> str:
        return f"{why.rstrip('.')}; {rule.why}." if why and rule.why else why or f"{rule.why}."

    return full(its.why[0]), full(its.was) if its.was else ""


def came(rule: Rule, its: Watching, teller: Teller, awake_s: float, times: int = 1) -> Watching:
    """It is so from now on (of an event: it happened). Folded into the one that stands, if one does."""
    its = replace(its, active=rule.cause not in LATCHED, since_s=None, came_s=recent(its, awake_s), again_s=None)
    life, shelf = its.life, its.shelf
    if shelf is not None:
        return replace(its, shelf=replace(shelf, missed=shelf.missed + times))
    if life is not None and life.ended_utc_s is None:  # an event again, or one that chatters
        return replace(its, life=replace(life, more=life.more + times))
    life = teller.begun(rule, its)  # where one ended and nobody has acknowledged it: one stands for all
    life = replace(life, more=life.more + times - 1)
    teller.tell(life, Told.RAISED)
    return replace(its, life=life)


def recent(its: Watching, awake_s: float) -> tuple[float, ...]:
    """When it came of late, this time with it; QUICK of them: it keeps coming."""
    return (*(each for each in its.came_s if awake_s - each < QUICK_S), awake_s)[-QUICK:]


def came_back(its: Watching, teller: Teller, awake_s: float) -> Watching:
    """It keeps coming, was not so for a while, and is so again: counted, and told now and then."""
    its = replace(its, came_s=recent(its, awake_s))
    if its.life is None:
        return its
    life = replace(its.life, more=its.life.more + 1)
    if its.shelf is None and (its.again_s is None or awake_s - its.again_s >= AGAIN_S):
        teller.tell(life, Told.AGAIN)
        its = replace(its, again_s=awake_s)
    return replace(its, life=life)


def over(its: Watching, teller: Teller, why: str = "") -> Watching:
    """It is not so any more; the alarm stands, outlined, until it is acknowledged. `why`: a sentence, where it is over
    for another reason than that it was seen not to be so."""
    its = replace(its, active=False, since_s=None)
    life = its.life
    if life is None or life.ended_utc_s is not None:
        return its
    life = replace(life, ended_utc_s=teller.at_utc_s, unknown="", held_until_utc_s=None)
    if why:
        what = (life.was or life.why).partition(";")[0].rstrip(".")
        life = replace(life, why=f"{what}. {why}", was="")
    teller.tell(life, Told.ENDED)
    return replace(its, life=None if life.acknowledged else life)


def acknowledged(rule: Rule | None, its: Watching, teller: Teller, note: str, by: str) -> Watching:
    """A person has seen it. What has no end of its own ends with it."""
    life = its.life
    if life is None or life.acknowledged is not None:
        return its
    life = replace(life, acknowledged=Acknowledged(teller.at_utc_s, note, by))
    teller.tell(life, Told.ACKNOWLEDGED, note, by)
    if life.ended_utc_s is not None:
        return replace(its, life=None)
    its = replace(its, life=life)
    if rule is not None and rule.cause is Cause.PLAN:  # so for good: it would stand for ever
        return replace(over(its, teller), active=its.active)
    return over(its, teller) if rule is None or rule.cause in LATCHED else its


def shelved(rule: Rule, its: Watching, teller: Teller, shelf: Shelf) -> Watching:
    """Not told of until then; again: until another moment."""
    life = its.life or teller.begun(rule, its)
    teller.tell(life, Told.SHELVED, shelf.reason, shelf.by)
    missed = 0 if its.shelf is None else its.shelf.missed
    return replace(its, shelf=replace(shelf, id=life.id, missed=missed))


def unshelved(rule: Rule, its: Watching, teller: Teller, by: str) -> Watching:
    """Told of again; what is so now and has no alarm yet raises one."""
    shelf = its.shelf
    if shelf is None:
        return its
    life = its.life or replace(teller.begun(rule, its), id=shelf.id)
    teller.tell(life, Told.UNSHELVED, shelf.reason, by, shelf.missed)
    its = replace(its, shelf=None)
    if its.active and (its.life is None or its.life.ended_utc_s is not None):
        life = teller.begun(rule, its)
        teller.tell(life, Told.RAISED)
        return replace(its, life=life)
    return its
