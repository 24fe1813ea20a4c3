"""How the steps stand in which the motor is driven. Pure."""

from dataclasses import replace
from types import MappingProxyType

from server.procedures.hall_records import Observation, Ran, State, StepStands
from server.wiring.first_power import limit_a, limit_words
from server.wiring.torque import Runs, runs

AT_LIMIT = 0.9  # a current of so much of it is at the limit
DRIVEN_S, SECTORS = 0.5, 12
STANDS_S = 1.0  # driven for so long without a step, it stands
WINDOWS = 10  # of each direction: two seconds
DIFFERS = 0.05
STEADY = 0.03  # of the mean speed so far: what is farther from it begins the row of windows anew (ours)
BOTH_RPM = 1.0
_ENDS = {1: "A", 2: "B", 3: "C", 4: "A", 5: "B", 6: "C"}  # which input changes where such a sector begins


def power(state: State, seen: Observation) -> StepStands:
    """Two seconds under power: whether it turns, the right way, in order and below the limit."""
    grounds = None if seen.grounds is None else seen.grounds.under_power
    if grounds is None or grounds.driven_s < DRIVEN_S:
        return StepStands(False, "No current has flown yet.", "two seconds under power")
    course, amps, rated_a = grounds.course, seen.current_a, state.answers.rated_a
    read = "" if amps is None else f"{amps:z.2f} A, "
    if course.odd is None and grounds.edges.ticks.size < SECTORS:
        return _stands(read, grounds.driven_s)
    if abs(course.turned) < SECTORS:
        if course.edges >= SECTORS:
            says = f"{read}it trembles between neighbouring states: it is pulled back from both sides."
            return StepStands(False, says, "off, and the match again", odd=True)
        return _stands(read, grounds.driven_s)
    if amps is not None and amps >= AT_LIMIT * limit_a(rated_a):
        says = (
            f"{read}at the limit of {limit_words(rated_a)}, and turning: weak, the wrong order, or something holds it."
        )
        return StepStands(False, says, "off, and the match again", odd=True, offers="Go on at this current")
    if course.odd or course.edges > 1.2 * abs(course.turned) + 2:
        says = f"{read}{abs(course.turned)} sectors one way, but not all in order."
        return StepStands(False, says, "the six states in order", odd=True, offers="Go on all the same")
    speed = "" if seen.speed_rpm is None else f"{abs(seen.speed_rpm):.0f} r/min, "
    way = _way(state, course.turned)
    text = f"It turns {way}: {read}{speed}{abs(course.turned)} sectors in order."
    if rated_a is None:
        text += f" The limit was taken as {limit_words(rated_a)}."
    if state.forward and course.turned * state.forward < 0:
        missing = "the drive's own setting of direction; or exchange two Hall wires and the two leads that match them"
        return StepStands(False, text, missing, odd=True, offers="It may turn so")
    return StepStands(True, text)


def starts(state: State, seen: Observation) -> StepStands:
    """From which of the six sectors it has started, and from which it did not."""
    done = len(state.began)
    if state.refused - state.began:
        sector = min(state.refused - state.began)
        says = f"It does not start in sector {sector}: input {_ENDS[sector]} or {_ENDS[sector % 6 + 1]}."
        missing = "a start from there; current on, the level of that input"
        return StepStands(False, says, missing, done, 6, "Go on with this noted", odd=True)
    if done == 6:
        return StepStands(True, "It started from all six sectors.", done=6, of=6)
    left = ", ".join(str(sector) for sector in range(1, 7) if sector not in state.began)
    here = f"The shaft is in sector {seen.sector}. " if seen.sector else ""
    return StepStands(False, f"{here}Started from {done} of 6.", f"a start from sector {left}", done, 6)


def load(state: State, seen: Observation) -> StepStands:
    """Whether speed and current are alike forward and backward."""
    ahead, back = (state.ran.get(way, Ran()) for way in (1, -1))
    done = ahead.windows + back.windows
    said = [f"{way} {_run(each)}" for way, each in (("forward", ahead), ("backward", back)) if each.windows]
    says = f"{'; '.join(said)}." if said else "It has not run yet."
    if done < 2 * WINDOWS:
        lacks = [way for way, each in (("forward", ahead), ("backward", back)) if each.windows < WINDOWS]
        return StepStands(False, says, f"two steady seconds {' and '.join(lacks)}", done, 2 * WINDOWS)
    speed = abs(ahead.mean_rpm - back.mean_rpm) / max(ahead.mean_rpm, back.mean_rpm, BOTH_RPM)
    amps = abs(ahead.mean_a - back.mean_a) / max(ahead.mean_a, back.mean_a, 1e-6)
    says = f"{says} They differ by {100 * speed:.1f} % in speed and {100 * amps:.0f} % in current."
    if speed >= DIFFERS:
        missing = "a difference below 5 %: the step Timing, then this one once more"
        return StepStands(False, says, missing, done, 2 * WINDOWS, "Go on with this difference", odd=True)
    return StepStands(True, says, done=done, of=2 * WINDOWS)


def watched(state: State, seen: Observation) -> State:
    """What six starts and both ways gather from one more window."""
    if seen.run_state == "resting" and seen.sector:
        return replace(state, rest_sector=seen.sector)
    if seen.run_state in ("running", "starting") and state.rest_sector and seen.direction:
        return replace(state, began=state.began | {state.rest_sector}, rest_sector=0)
    if seen.run_state == "stalled" and state.rest_sector:
        return replace(state, refused=state.refused | {state.rest_sector}, rest_sector=0)
    return state


def ran(state: State, seen: Observation) -> State:
    """The same of running both ways: a row of windows at a steady speed. Once it is long enough it stays as it is: the
    motor must slow down before it can turn the other way."""
    if seen.run_state != "running" or seen.speed_rpm is None or seen.current_a is None or not seen.direction:
        return state
    before = state.ran.get(seen.direction, Ran())
    if before.windows >= WINDOWS:
        return state
    if before.windows and abs(abs(seen.speed_rpm) - before.mean_rpm) > STEADY * before.mean_rpm:
        before = Ran()
    after = Ran(before.windows + 1, before.rpm + abs(seen.speed_rpm), before.amps + abs(seen.current_a))
    return replace(state, ran=MappingProxyType({**state.ran, seen.direction: after}))


def _stands(read: str, driven_s: float) -> StepStands:
    if driven_s < STANDS_S:
        return StepStands(False, f"{read}no step yet.", "a second more")
    says = (
        f"{read}and it stands: wrong order, jammed, or on a dead spot. Off. Does it turn freely by hand without power?"
    )
    return StepStands(False, says, "off, and the match again", odd=True)


def _way(state: State, turned: int) -> str:
    if not state.forward:
        return "one way"
    return "the way you called forward" if turned * state.forward > 0 else "the other way round"


def _run(each: Ran) -> str:
    return f"{each.mean_rpm:.0f} r/min at {each.mean_a:.2f} A"


def predicted(state: State) -> str:
    """What the match said of it, for whoever is about to switch on."""
    judged = state.judged
    if judged is None or judged.fraction is None or not judged.mends:
        return ""
    fraction = judged.fraction if not state.moved else judged.mends[min(state.mend, len(judged.mends) - 1)].fraction
    if runs(fraction) is Runs.WELL:
        return f"It should turn {'the way you turned it' if fraction > 0 else 'the other way round'}."
    return "The match says that it would not run well as it is wired now."
