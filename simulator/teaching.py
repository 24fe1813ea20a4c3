"""A person changes wiring, faults and drive of a brushless motor while its board runs; the model shows what follows.

One JSON object a line, and one in answer, in any order of:

    {"ask": true}                                           what holds, and what can be set
    {"set": {"hall_order": "BCA", "drive": "drive_1_a"}}    from now on; the stories stop
    {"stories": true}                                       the stories go on from their beginning

An answer has `teaching`, `settings` and `choices`, or `error` with the sentence and, where one is to blame, the `key`;
an `id` comes back as it is. Nothing of a line that is refused is done. Only a software board can do this: a board in
hardware has no such line, and nothing that is sent over the wire drives a motor.
"""

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from math import pi, sin
from random import Random
from typing import Any

from simulator.nearest import nearest
from simulator.physics.control import Control
from simulator.stories import Step, Story
from simulator.stories.hand import STEP_S, strokes

HAND_RPM = (60.0, 150.0)
TURN_STEPS = 50  # of 20 ms: one turn a second
SPIN_RPM, SPIN_UP_S, SPIN_S = 900.0, 0.8, 0.5
BENCH_V = 12.0
STORY = Story("changed by hand", "a person changes wiring, faults and drive", (), float("inf"))
_NOT_TAUGHT = ("supply_on", "source_", "duty", "current_limit_a", "bridge_off", "turned_by_hand", "hand_rpm")
_NOR = ("load_pulsation", "load_swing", "load_friction", "load_factor", "load_inertia", "resistance_follows", "ambient")
Moves = Iterator[tuple[float, Mapping[str, float]]]


def _off(begin_s: float, draw: Random) -> Moves:
    yield begin_s, {"turned_by_hand": 1.0, "hand_rpm": 0.0}


def _free(begin_s: float, draw: Random) -> Moves:
    yield begin_s, {}


def _hand(way: str) -> Callable[[float, Random], Moves]:
    def moves(begin_s: float, draw: Random) -> Moves:
        yield begin_s, {"turned_by_hand": 1.0, "hand_rpm": 0.0}
        for at_s, rpm in strokes(way, begin_s, float("inf"), *HAND_RPM, draw):
            yield at_s, {"hand_rpm": rpm}

    return moves


def _turns(*ways: int) -> Callable[[float, Random], Moves]:
    """Exactly one turn of the shaft for each way (+1, -1), each a squared sine, whose mean is half its peak."""

    def moves(begin_s: float, draw: Random) -> Moves:
        yield begin_s, {"turned_by_hand": 1.0, "hand_rpm": 0.0}
        peak_rpm = 120.0 / (TURN_STEPS * STEP_S)
        for count, way in enumerate(ways):
            for k in range(1, TURN_STEPS + 1):
                rpm = way * peak_rpm * sin(pi * k / TURN_STEPS) ** 2
                yield begin_s + (count * TURN_STEPS + k) * STEP_S, {"hand_rpm": rpm}

    return moves


def _spun(begin_s: float, draw: Random) -> Moves:
    for k in range(round(SPIN_UP_S / STEP_S) + 1):
        yield begin_s + k * STEP_S, {"turned_by_hand": 1.0, "hand_rpm": SPIN_RPM * k * STEP_S / SPIN_UP_S}
    yield begin_s + SPIN_UP_S + SPIN_S, {"turned_by_hand": 0.0, "hand_rpm": 0.0}


@dataclass(frozen=True, slots=True)
class Drive:
    """What moves the shaft: controls that hold meanwhile, and what a hand does from the moment it was chosen."""

    says: str
    moves: Callable[[float, Random], Moves]
    source_limit_a: float = 0.0  # 0: the motor is off the bridge

    def controls(self) -> dict[str, float]:
        on = self.source_limit_a > 0
        controls = {"bridge_off": float(not on), "supply_on": float(on), "duty": float(on)}
        controls |= {"turned_by_hand": 0.0, "hand_rpm": 0.0, "source_v": BENCH_V}
        return controls | ({"source_limit_a": self.source_limit_a} if on else {})


DRIVES: Mapping[str, Drive] = {
    "off": Drive("no power; a hand holds the shaft still", _off),
    "hand_forward": Drive("off the bridge; a hand turns it forward", _hand("forward")),
    "hand_backward": Drive("off the bridge; a hand turns it backward", _hand("backward")),
    "hand_back_and_forth": Drive("off the bridge; a hand turns it back and forth", _hand("back and forth")),
    "hand_one_turn": Drive("off the bridge; a hand turns it forward by exactly one turn", _turns(1)),
    "hand_two_turns_each_way": Drive(
        "off the bridge; a hand turns it forward by exactly two turns and back again", _turns(1, 1, -1, -1)
    ),
    "spin": Drive("off the bridge; a driver spins it forward to 900 r/min and lets go", _spun),
    "coast": Drive("power off, nothing holds it", _free),
    "drive_1_a": Drive("the bridge runs it from 12 V, 1 A at most", _free, 1.0),
    "drive_3_a": Drive("the bridge runs it from 12 V, 3 A at most", _free, 3.0),
}


class RefusedError(ValueError):
    """A line that nothing is done of: the sentence, and the key that is to blame or nothing."""

    def __init__(self, sentence: str, key: str = "") -> None:
        super().__init__(sentence)
        self.key = key


@dataclass(frozen=True, slots=True)
class _Told:
    """All that holds, swapped as one: lines come in another thread than the board lives in."""

    on: bool
    drive: str
    chosen: int  # how often a drive was chosen: the same again begins anew
    controls: Mapping[str, float]


class Teaching:
    """What a person has told one motor until now. `at_rest` has a value for every control of it."""

    def __init__(self, name: str, controls: tuple[Control, ...], at_rest: Mapping[str, float]) -> None:
        self._name, self._at_rest = name, dict(at_rest)
        fits = "hall_order" in self._at_rest
        self._known = {one.name: one for one in controls if fits and not one.name.startswith((*_NOT_TAUGHT, *_NOR))}
        self._told = self._healthy(on=False)

    def _healthy(self, *, on: bool) -> _Told:
        return _Told(on, "off", 0, {name: self._at_rest[name] for name in self._known})

    @property
    def on(self) -> bool:
        """Whether a person decides what happens, not the stories."""
        return self._told.on

    def tell(self, line: str) -> str:
        """Do what one line says; returns the line of the answer."""
        answer: dict[str, Any] = {}
        try:
            order = json.loads(line)
            if not isinstance(order, dict):
                raise ValueError
            answer |= {"id": order.pop("id")} if "id" in order else {}
            self._do(order)
            answer |= self._state()
        except RefusedError as refused:
            answer |= {"error": str(refused), **({"key": refused.key} if refused.key else {})}
        except (ValueError, RecursionError):
            answer |= {"error": 'Write one JSON object a line, such as {"set": {"hall_order": "BCA"}}.'}
        return json.dumps(answer)

    def _do(self, order: dict[str, Any]) -> None:
        if not self._known:
            raise RefusedError(f"The {self._name} has no Hall wiring that could be changed; its stories can be played.")
        if order.keys() == {"set"} and isinstance(order["set"], dict):
            self._told = self._changed(order["set"])
        elif order == {"stories": True}:
            self._told = self._healthy(on=False)
        elif order != {"ask": True}:
            raise RefusedError('Write {"ask": true}, {"set": {KEY: VALUE, ...}} or {"stories": true}.')

    def _changed(self, wanted: dict[str, Any]) -> _Told:
        told = self._told if self._told.on else self._healthy(on=True)
        drive, chosen, controls = told.drive, told.chosen, dict(told.controls)
        for key, said in wanted.items():
            if key == "drive":
                if not isinstance(said, str) or said not in DRIVES:
                    raise RefusedError(f"There is no drive {_short(said)}; there are {', '.join(DRIVES)}.", key)
                drive, chosen = said, chosen + 1
            else:
                controls[key] = self._value(key, said)
        return _Told(True, drive, chosen, controls)

    def _value(self, key: str, said: Any) -> float:
        if key not in self._known:
            known = ("drive", *self._known)
            raise RefusedError(f"There is no setting {_short(key)}; the nearest is {nearest(key, known)}.", key)
        if not isinstance(said, str | int | float):
            raise RefusedError(f"{key}: write a word or a number.", key)
        try:
            return self._known[key].of(said)
        except (ValueError, OverflowError) as error:
            raise RefusedError(f"{key}: {error}.", key) from None

    def _state(self) -> dict[str, Any]:
        told = self._told
        settings = {name: _said(self._known[name], value) for name, value in told.controls.items()}
        return {
            "teaching": told.on,
            "settings": {"drive": told.drive, **settings},
            "choices": [_drives(), *(_choice(control) for control in self._known.values())],
        }

    def steps(self, seed: int) -> Iterator[Step]:
        """What the model is told, for ever, every 20 ms from the moment the person began; each asks what holds now."""
        now: dict[str, float] = {}
        draw, chosen, count = Random(f"{seed} teaching"), -1, 0
        moves: Moves = iter(())
        ahead: tuple[float, Mapping[str, float]] | None = None
        by_hand: dict[str, float] = {}
        while True:
            at_s, told = count * STEP_S, self._told
            if told.chosen != chosen:
                chosen, moves, by_hand = told.chosen, DRIVES[told.drive].moves(at_s, draw), {}
                ahead = next(moves, None)
            while ahead is not None and ahead[0] <= at_s + 1e-9:
                by_hand |= ahead[1]
                ahead = next(moves, None)
            wanted = {**self._at_rest, **told.controls, **DRIVES[told.drive].controls(), **by_hand}
            changes = {name: value for name, value in wanted.items() if now.get(name) != value}
            now |= changes
            yield Step(at_s, changes, () if count == 0 else None)
            count += 1


def _short(said: object) -> str:
    return json.dumps(said)[:60]


def _said(control: Control, value: float) -> str | float:
    return control.words[round(value)] if control.words else value


def _drives() -> dict[str, Any]:
    values = [{"value": key, "says": drive.says} for key, drive in DRIVES.items()]
    return {"key": "drive", "says": "what moves the shaft", "values": values}


def _choice(control: Control) -> dict[str, Any]:
    choice: dict[str, Any] = {"key": control.name, "says": control.meaning}
    if control.words:
        return choice | {"values": [{"value": word, "says": ""} for word in control.words]}
    return choice | {"low": control.lowest, "high": control.highest}
