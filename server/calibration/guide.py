"""What a person does for each calibration, and the cautions that come first. Words, for page and terminal."""

from dataclasses import dataclass

from server.calibration.entry import What

ALWAYS = (
    "Slipring only watches: it switches nothing off and protects nobody.",
    "Local codes and licensed practice come first. Leave mains wiring to somebody whose trade it is.",
)


@dataclass(frozen=True, slots=True)
class Guide:
    """`about`: what comes of it; `cautions`: before the steps; `steps`: in turn, the last one is to read off."""

    about: str
    cautions: tuple[str, ...]
    steps: tuple[str, ...]


_OFF = (
    "Switch the supply off, pull the plug and wait until the board reads nothing before you touch a wire: "
    "capacitors stay charged after the plug is out."
)
GUIDES = {
    What.ZERO: Guide(
        "What this channel reads at nothing is taken away from what it reads.",
        (_OFF, "A sensor that was magnetised by a large current keeps an offset: let it rest first."),
        (
            "Let the board warm up for a quarter of an hour.",
            "Voltage: take both probes off and clip them together. Current: take the wire out of the sensor.",
            "Wait until three seconds have been seen.",
        ),
    ),
    What.GAIN: Guide(
        "What this channel reads is multiplied so that it agrees with a better instrument.",
        (
            _OFF,
            "Then leads and load are live: connect the meter first, keep your hands off and switch on from a distance.",
            "Use the meter's socket, range and leads that are made for this voltage and current.",
            "Heaters and resistors become hot enough to burn, and stay so.",
        ),
        (
            "Calibrate the zero first.",
            "Connect the meter in parallel with a voltage channel, in line with a current channel.",
            "Set a steady voltage or current: at least a tenth of the channel's range, better half of it.",
            "Alternating: the meter must read true RMS. Read meter and channel at the same time.",
        ),
    ),
    What.ANGLE: Guide(
        "The angle that the sensors put between voltage and current is taken out of phase, power and power factor.",
        (
            _OFF,
            "Put a resistor or heater in the motor's place, made for this voltage and power.",
            "It becomes hot enough to burn, and stays so after it is off. Do not leave it alone.",
        ),
        (
            "Choose a load without motor, coil or electronics: a heater or a kettle with water in it.",
            "Take about the current that the motor takes: a clamp turns small currents further than large ones.",
            "Switch on and wait until three seconds have been seen.",
        ),
    ),
}
