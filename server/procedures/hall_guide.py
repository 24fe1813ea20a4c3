"""The steps of the guided check of Hall wires and phase leads: what is connected, what is asked, cautions first. Texts.

Voltages and currents of sensors are common practice, no published source. Slipring only watches: each step is done by
the person, and the check sees what came of it.
"""

from dataclasses import dataclass
from enum import StrEnum


class Key(StrEnum):
    """The steps, in their order; a person sees them counted from 1."""

    PLATE = "plate"
    SUPPLY = "supply"
    LEVELS = "levels"
    ORDER = "order"
    PAIRS = "pairs"
    MATCH = "match"
    TIMING = "timing"
    MOVE = "move"
    POWER = "power"
    STARTS = "starts"
    LOAD = "load"


STEPS: tuple[Key, ...] = tuple(Key)
SHORT: tuple[Key, ...] = (Key.LEVELS, Key.ORDER, Key.PAIRS, Key.MATCH, Key.TIMING)  # one turning answers them all


@dataclass(frozen=True, slots=True)
class Guide:
    """`asks`: the one thing to do; `connected`: what must be, at this step, `{limit}` for that of the current;
    `powered`: its cautions are seen anew each time, however often they were."""

    title: str
    connected: str
    asks: str
    cautions: tuple[str, ...] = ()
    powered: bool = False


BARE = "Take propeller, blade, belt and wheel off. Clamp the motor. Keep hair, sleeves and cables out of reach."
BY_HAND = "Drive and bridge off the motor. A shaft that is turned makes voltage: don't touch bare ends of the leads."
_LOW = (
    "12 V (or a third of the plate, under 60 V DC), the limit at most 1 A and never above a tenth of the rated current."
)
_WATCHES = "Slipring only watches: it can't switch anything off. One person stays at the switch."
_WRONG_ORDER = "Never on a large battery without a limit: a wrong order can draw tens of amperes at once."
_JUMPS = "A motor under power can jump by one resting place at once. Hands off before it is switched on."

GUIDES: dict[Key, Guide] = {
    Key.PLATE: Guide(
        "Plate and names",
        "Nothing is connected yet.",
        "Name the three Hall wires and the three leads as you see them, by colour or by mark.",
    ),
    Key.SUPPLY: Guide(
        "Supply of the sensors",
        "Sensor supply and ground, nothing else.",
        "Set the limit of the sensor supply to 50 mA, switch it on and read voltage and current.",
        (
            BARE,
            "Check supply and ground with a meter before they are plugged in: the wrong way round kills sensors.",
            "The board's side must be isolated; the bridge is not always. Follow the local rules for your bench.",
        ),
        powered=True,
    ),
    Key.LEVELS: Guide(
        "Levels",
        "Sensor supply, and the Hall wires on inputs A, B, C.",
        "Turn the shaft slowly by hand until each of the three has changed.",
        (BY_HAND,),
    ),
    Key.ORDER: Guide(
        "Order of the states",
        "As before.",
        "Turn the shaft the way that you want to call forward, two electrical turns or more.",
        (BY_HAND,),
    ),
    Key.PAIRS: Guide(
        "Pole pairs",
        "As before. Make a mark on shaft and housing.",
        "Turn the shaft exactly one turn, mark to mark, and press; then once more.",
        (BY_HAND,),
    ),
    Key.MATCH: Guide(
        "Do leads and Hall wires match?",
        "And the board's voltage leads on U, V, W. The bridge is off the motor.",
        "Turn briskly, forward, two electrical turns or more.",
        (BY_HAND,),
    ),
    Key.TIMING: Guide(
        "Timing",
        "As before.",
        "Turn briskly both ways, or spin the shaft and let it coast.",
        (BY_HAND,),
    ),
    Key.MOVE: Guide(
        "Move the plugs",
        "All off while plugs are moved.",
        "Move the plugs as drawn, press, and turn the shaft forward by hand as before.",
        (
            "Everything off and the drive's capacitors empty (below 1 V by a meter) before a plug is moved.",
            "Hold the shaft still: a motor that turns makes voltage.",
        ),
        powered=True,
    ),
    Key.POWER: Guide(
        "First power",
        "The bridge on the motor, the supply behind it at 12 V with the limit at {limit}.",
        "Hands off. Start for two seconds, and stop.",
        (BARE, _LOW, _JUMPS, _WRONG_ORDER, _WATCHES),
        powered=True,
    ),
    Key.STARTS: Guide(
        "Six starts",
        "As before.",
        "Start and stop six times, each time from another of the six places: power off, turn the shaft a little by"
        " hand, hands off, start.",
        (BARE, _LOW, _JUMPS, _WATCHES),
        powered=True,
    ),
    Key.LOAD: Guide(
        "Both ways",
        "As before; the limit may go up to what the plate allows.",
        "Run it forward for some seconds at a steady speed, then backward with the same setting.",
        (BARE, "Stay under 60 V DC and the plate's current. A stalled winding overheats in seconds.", _JUMPS, _WATCHES),
        powered=True,
    ),
}

TRYING = Guide(
    "Try the orders of the leads",
    "The Hall wires stay as they are. The bridge is on the motor, 12 V, the limit at {limit}.",
    "Plug the leads as drawn, start for two seconds, stop, and say what it did.",
    (
        BARE,
        "Everything off and the drive's capacitors empty (below 1 V by a meter) before a plug is moved.",
        _LOW,
        _JUMPS,
        _WRONG_ORDER,
        _WATCHES,
    ),
    powered=True,
)
SHORT_WAY = Guide(
    "The short way",
    "Sensors, Hall wires on A, B, C and the board's voltage leads on U, V, W. The bridge is off the motor.",
    "Turn the shaft exactly two turns the way you want to call forward, then two turns back, and let it rest.",
    (BARE, BY_HAND),
    powered=True,
)
