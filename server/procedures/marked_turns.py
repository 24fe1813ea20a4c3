"""How the step stands that counts pole pairs: marked turns of the shaft by hand. Pure."""

from server.procedures.hall_records import Observation, State, StepStands
from server.wiring.kinds import KINDS
from server.wiring.pairs import PAIRS_MAX, counted


def pairs(state: State, seen: Observation) -> StepStands:
    """Pole pairs, by two marked turns that agree."""
    counts = state.counts[-2:]
    now = 0 if seen.grounds is None else abs(seen.grounds.course.turned)
    counting = f"{now} sectors in this turn so far"
    if not counts:
        return StepStands(False, f"{counting}.", "one turn, mark to mark", 0, 2)
    found = counted(1, counts[-1])
    if found is None and counts[-1] < KINDS:
        return StepStands(False, f"{counts[-1]} sectors: less than an electrical turn.", "a whole turn", 0, 2, odd=True)
    if found is None:
        says = f"{counts[-1]} sectors are no whole electrical turns; {counting}."
        return StepStands(False, says, "one exact turn; once more", 0, 2, odd=True)
    said = state.answers.pole_pairs
    twice = len(counts) == 2 and counted(1, counts[0]) == found
    if doubt := _no_one_turn(found, said):
        offers = f"Go on with {found} pole pairs" if twice else ""
        return StepStands(
            False, f"{counts[-1]} sectors: {doubt}; {counting}.", "one turn; count again", 0, 2, offers, True
        )
    off = counts[-1] - KINDS * found
    if not twice:
        stopped = f" if you stopped {'short' if off < 0 else 'late'} by one" if off else ""
        says = f"{counts[-1]} sectors: {found} pole pairs{stopped}; {counting}."
        return StepStands(False, says, "the same once more", 1, 2)
    differs = (
        "" if said in (None, found) else f" The plate says {said}: speeds by it would be {found / said:.3g} times."
    )
    return StepStands(
        True, f"Two turns of {counts[0]} and {counts[1]} sectors: {found} pole pairs.{differs}", done=2, of=2
    )


def _no_one_turn(found: int, said: int | None) -> str:
    """Why so many pole pairs are rather another number of turns than one, or empty."""
    if said and found > said and found % said == 0:
        return f"{found} pole pairs, and the plate says {said}: was it {found // said} turns, not one?"
    if said and found < said and said % found == 0:
        return f"{found} pole pairs, and the plate says {said}: was it 1/{said // found} of a turn?"
    return f"{found} pole pairs, more than motors have: was it more than one turn?" if found > PAIRS_MAX else ""
