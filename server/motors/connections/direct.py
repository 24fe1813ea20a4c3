"""Where sensors go on motors of direct supply, and on those that an electronic drive feeds."""

from server.motors.connections.point import DIRECT, Connections, Point, Sensor, current, pulse, voltage

_RIPPLE = pulse("speed, and by it the number of commutator bars from the ripple; the motor's constants")
_MOTOR_V = voltage(
    "motor",
    "across the motor's two terminals, as close to the brushes as can be",
    "plus end on the terminal that is positive when the motor turns forward",
    "voltage, power, back-EMF",
    needed=True,
)
_MOTOR_A = current(
    "motor",
    "in or round the lead of that positive terminal; it must pass direct current (a Hall-effect sensor or a shunt)",
    "current, power, commutator ripple, run state",
    needed=True,
)
_SUPPLY_V = voltage(
    "supply",
    "across the supply, at the battery's or power supply's own terminals",
    "plus end on plus",
    "what leads, switch and contacts lose between supply and motor",
)

SERIES = Connections(
    (_MOTOR_V, _MOTOR_A, _SUPPLY_V, _RIPPLE),
    ("A series motor without load runs away and can burst: keep it coupled, guarded.", *DIRECT),
)

PERMANENT_MAGNET = Connections((_MOTOR_V, _MOTOR_A, _SUPPLY_V, _RIPPLE), DIRECT)

_ARMATURE = (
    voltage(
        "armature",
        "across the armature alone, A1 to A2",
        "plus end on A1, where the supply's plus comes in",
        "armature voltage, power, back-EMF",
        needed=True,
    ),
    current(
        "armature",
        "in or round the lead to A1, behind the branch to the field; it must pass direct current",
        "armature current, power, run state",
        needed=True,
        arrow="arrow towards A1",
    ),
)
_NEVER_OPEN = "Never open the field circuit while the armature is fed: without field the motor runs away and can burst."
_FIELD = (
    voltage(
        "field",
        "across the shunt field",
        "plus end where the supply's plus comes in",
        "with the field current: resistance and so temperature of the field, field loss",
    ),
    current(
        "field",
        "in or round the lead of the shunt field; it must pass direct current",
        "field current: the motor's constant at each field, and a field that is lost",
        arrow="arrow towards the field",
    ),
)

SHUNT = Connections((*_ARMATURE, *_FIELD, _RIPPLE), (_NEVER_OPEN, *DIRECT))
COMPOUND = Connections((*_ARMATURE, *_FIELD, _RIPPLE), (_NEVER_OPEN, *DIRECT))


def _coil(number: int, *, needed: bool) -> tuple[Point, Point]:
    place = f"coil {number}"
    volts = "voltage, step rate" if needed else "voltage of the other coil: a driver that feeds one alone"
    amps = "current, power" if needed else "the way it steps, and whether both coils carry the same"
    return (
        voltage(place, f"across the two leads of {place}", "plus end on its first lead", volts, needed=needed),
        current(place, f"in or round the first lead of {place}", amps, needed=needed, arrow="arrow towards the motor"),
    )


STEPPER = Connections(
    (
        *(each[0] for each in (_coil(1, needed=True), _coil(2, needed=False))),
        *(each[1] for each in (_coil(1, needed=True), _coil(2, needed=False))),
        pulse(
            "missed steps: what the shaft did against what was commanded", "an index mark or an encoder on the shaft"
        ),
    ),
    ("Never pull a motor lead off while the driver is on: the coil drives its current into an arc.", *DIRECT),
)

SERVO = Connections(
    (
        voltage(
            "bridge",
            "across the motor's two leads, between bridge and motor; the channel's filter makes it a mean",
            "plus end on the lead that is positive when the shaft turns forward",
            "voltage, power, torque constant",
            needed=True,
        ),
        current(
            "motor",
            "in or round that same lead, between bridge and motor; it must pass direct current",
            "current, power, run state",
            needed=True,
        ),
        voltage(
            "supply", "across the bridge's supply", "plus end on plus", "a supply that sags or is pumped up by braking"
        ),
        pulse("speed: friction, torque constant, whether the shaft follows", "the encoder's pulses, or an index mark"),
    ),
    ("A servo moves without warning, and runs away when its encoder is off: limit its current and its way.", *DIRECT),
)


def _phase(place: str) -> Point:
    return voltage(
        place,
        f"from phase lead {place} to minus of the DC link",
        f"plus end on {place}",
        "back-EMF, and by it which Hall signal belongs to which phase",
    )


def _phase_current(place: str, makes: str) -> Point:
    return current(place, f"round phase lead {place}, between drive and motor", makes)


def _hall(letter: str) -> Point:
    where = f"on the wire of Hall {letter}, beside the drive; ground of the sensors to ground of the input"
    makes = "with the two others: sector, speed, direction, whether the order is right"
    return Point(Sensor.HALL, letter, True, where, "only listens: the drive goes on feeding the sensors", makes)


BRUSHLESS = Connections(
    (
        voltage(
            "dc link",
            "across the supply of the drive, at its own terminals",
            "plus end on plus",
            "voltage, power taken from the supply",
            needed=True,
        ),
        current(
            "dc link",
            "in or round plus of the drive's supply; it must pass direct current",
            "current, power, run state",
            needed=True,
            arrow="arrow towards the drive",
        ),
        *(_hall(letter) for letter in "ABC"),
        *(_phase(place) for place in "UVW"),
        _phase_current("U", "torque, a stall that the link does not show"),
        _phase_current("V", "with U also the third current, as there is no neutral; phase order"),
        _phase_current("W", "the sum of three, which must be nothing: a check of all sensors"),
    ),
    (
        "Supply off and the DC link below 1 V before a wire is moved: capacitors of the drive hold it up, and a motor "
        "that is turned feeds it.",
        "Halls from the board or from the drive, never both: two supplies on one wire damage the sensors.",
        *DIRECT,
    ),
)
