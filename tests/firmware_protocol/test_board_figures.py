"""BOARD.md: each figure that stands in a sentence of it, once more from its formula.

Ohm's law, first-order filters and aliasing are textbook. What BOARD.md marks as from memory is not proved here.
"""

import re
from math import hypot, pi

import pytest

from tests.firmware_protocol.test_board_guide import GUIDE, OPEN_V, at_the_node, corner, left, parallel

DIODE_V = 0.6
CLAMP_V = 5 + DIODE_V
SENSOR_LOW_V = 0.4
LAMP_A = 40 / 230
SENTENCES = " ".join(GUIDE.split())
MOST_EDGES = {  # with a tenth of the line left free
    "250": (0.9 * 25000 - 15180 - 14 * 125) / 7,
    "115": (0.9 * 11520 - 7680 - 14 * 62.5) / 7,
}


@pytest.mark.parametrize(
    ("said", "value", "within"),
    [
        (r"the chain takes (\d+) mW", 1e3 * 230**2 / 1.561e6, 0.5),
        (r"2500 V each of four bears (\d+) V", 2500 / 4, 0.5),
        (r"1 kohm loses ([\d.]+) %", 100 * (1 - parallel(1, 500)), 0.001),
        (r"1 kohm would lose ([\d.]+) %", 100 * (1 - parallel(1, 20)), 0.05),
        (r"which makes (\d+) ohm", 1e3 * parallel(1.05, 20), 0.5),
        (r"moves the gain by ([\d.]+) %", 100 * (1 - parallel(1.05, 16) / parallel(1.05, 20)), 0.05),
        (r"gives them ([\d.]+) mA at 390", 390 / 1560, 1e-9),
        (r"at 390 V and ([\d.]+) mA", 2500 / 1560, 0.05),
        (r"0.25 V make (\d) V between", 8 * 0.25, 1e-9),
        (r"about 2.5 V makes 0 V to (\d) V", 2 * 8 * 0.25 * 1.25, 1e-9),
        (r"with (\d+) % of the codes", 100 * 8 * 0.25 / 2.5, 1e-9),
        (r"a step is then ([\d.]+) mV", 1e3 * 780 / 65536 / 0.8, 0.05),
        (r"and ([\d.]+) mV between lines", 1e3 * 1560 / 65536 / 0.8, 0.06),
        (r"298 V RMS at 230 V are (\d+) V", 298 * 253 / 230, 0.5),
        (r"carries less than (\d+ \d+) B/s", 1.5e6 / 8, 1e-9),
        (r"That is (\d+) mA, and", 4 * 45 + 2 * 15 + 40 + 100, 1e-9),
        (r"and (\d+) mA from the PC", 350 / 0.8, 0.6),
        (r"less than 1.6 V at R2; ([\d.]+) V if", 5 / 2, 1e-9),
        (r"0.17 A, ([\d.]+) A, within", 5 * LAMP_A, 0.005),
        (r"five times 40 W, (\d+) W", 5 * 40, 1e-9),
        (r"One turn of 0.17 A would show up to ([\d.]+) A", hypot(LAMP_A, 0.1), 0.005),
        (r"five turns up to ([\d.]+) A", hypot(5 * LAMP_A, 0.1), 0.005),
        (r"the same 1 % is ([\d.]+) A", 50 * 0.01, 1e-9),
        (r"0.87 A would show up to ([\d.]+) A", hypot(5 * LAMP_A, 0.5), 0.005),
        (r"390 V of range is (\d+) V RMS", 390 / 2**0.5, 0.5),
        (r"780 V is (\d+) V RMS", 780 / 2**0.5, 0.6),
        (r"1 V is (\d+) steps of the high range", 1024 / 70, 0.5),
        (r"high range and (\d+) of the low", 1024 / 15, 0.5),
        (r"open lead, ([\d.]+) V in both", OPEN_V, 0.005),
        (r"low one ([\d.]+) V downwards", OPEN_V + 5, 0.05),
        (r"downwards and ([\d.]+) V upwards", 10 - OPEN_V, 0.05),
        (r"open contact with ([\d.]+) V", at_the_node(60, 22, 22, 22), 0.05),
        (r"V and gives ([\d.]+) mA to 5 V", (at_the_node(60, 22, 22, 22) - 5) / 22, 0.005),
        (r"off by ([\d.]+) codes where", 2.5 * 0.01 / (5 / 1024), 0.05),
        (r"that half, warm too: ([\d.]+) codes", 0.010 / (5 / 1024), 0.06),
        (r"like ([\d.]+) V in both ranges", OPEN_V, 0.005),
        (r"both ranges, within ([\d.]+) V", OPEN_V * 0.02 + 4 * 70 / 1024, 0.005),
        (r"within 0.31 V \(low range ([\d.]+) V", OPEN_V * 0.02 + 4 * 15 / 1024, 0.005),
        (r"22 kohm = ([\d.]+) mA", (60 - CLAMP_V) / 22, 6e-3),
        (r"of which ([\d.]+) mA go", (60 - CLAMP_V) / 22 - CLAMP_V / 22 - (CLAMP_V - 5) / 22, 6e-3),
        (r"to 5 V, ([\d.]+) mA in all", 3 * 2.19, 0.04),
        (r"R1 takes (\d+) mW: a", (60 - CLAMP_V) ** 2 / 22, 0.6),
        (r"R1 takes (\d+) mW and may burn", (100 - CLAMP_V) ** 2 / 22, 0.6),
        (r"40 mV an ampere: ([\d.]+) A either way", 2.5 / 0.040, 1e-9),
        (r"either way in steps of (\d+) mA", 1e3 * 5 / 0.040 / 1024, 0.5),
        (r"1 mohm with a difference amplifier of 40 .*? is (\d+) mV", 1e3 * 0.001 * 40, 1e-9),
        (r"185 mV an ampere: ([\d.]+) A either way", 2.5 / 0.185, 0.05),
        (r"13.5 A either way in steps of ([\d.]+) mA", 1e3 * 5 / 0.185 / 1024, 0.05),
        (r"write ([\d.]+) A / 1024", 5 / 0.185, 0.01),
        (r"[Ss]o 20 mA make (\d+) V", 0.020 * 1 * 50, 1e-9),
        (r"four conversions take (\d+) us", 4 * 13.5 * 128 / 16, 1e-9),
        (r"us of the (\d+) us between", 1e6 / 2000, 1e-9),
        (r"2\.2 kohm, ([\d.]+) mA each", (5 - DIODE_V) / 2.2, 0.05),
        (r"High is ([\d.]+) V", 5 - DIODE_V, 1e-9),
        (r"High is 4.4 V, and ([\d.]+) V are asked", 0.6 * 5, 1e-9),
        (r"Low is ([\d.]+) V with", SENSOR_LOW_V + (5 - SENSOR_LOW_V) * 4.7 / 24.7, 0.006),
        (r"of 20 kohm, and ([\d.]+) V are allowed", 0.3 * 5, 1e-9),
        (r"60 V drives ([\d.]+) mA through 4.7", (60 - CLAMP_V) / 4.7, 0.05),
        (r"4.7 kohm, which take ([\d.]+) W", (60 - CLAMP_V) ** 2 / 4700, 0.005),
        (r"W, and ([\d.]+) mA in all three", 3 * (60 - CLAMP_V) / 4.7, 0.05),
        (r"the Zener bears ([\d.]+) W", 5.6 * 3 * (60 - CLAMP_V) / 4700, 0.005),
        (r"1 kohm would let (\d+) mA", 60 - CLAMP_V, 0.5),
        (r"no pull-up at all, ([\d.]+) V with one", 12 * 10 / 35, 0.005),
        (r"more than (\d+) kohm it is less", 12 * 10 / 3.0 - 25, 1e-9),
        (r"50 mA of it are (\d+) mA", 12 * 50 / 0.8 / 5, 1e-9),
        (r"converter gives (\d+) mA; base", 150 + 12 * 50 / 0.8 / 5, 1e-9),
        (r"memory\): (\d+) to 58 mA", 1e3 * 0.55 / 12, 0.5),
        (r"memory\): 46 to (\d+) mA", 1e3 * 0.70 / 12, 0.5),
        (r"V; (\d+) to 58 mA \|", 1e3 * 0.55 / 12, 0.5),
        (r"sensors get ([\d.]+) V less", 0.015 * (12 + 1), 0.006),
        (r"Hall 58 mA: (\d+) mA", 15 + 15 + 5 + 58, 1e-9),
        (r"A bit lasts (\d) us", 1e6 / 250e3, 1e-9),
        (r"less than 0.2 us, (\d) %", 100 * 0.2 / 4, 1e-9),
        (r"takes at most ([\d.]+) mA", (60 - CLAMP_V) / 22 + (60 - at_the_node(60, 120, 10, 120)) / 120, 0.05),
        (r"time constant of ([\d.]+) us", 6900 * 47e-12 * 1e6, 0.005),
        (r"before it add ([\d.]+) us", 2200 * 300e-12 * 1e6, 1e-6),
        (r"18 kohm to minus: ([\d.]+) V", 5 * 18 / 28, 0.005),
        (r"still ([\d.]+) V behind", 5 * 18 / 30.2, 0.005),
        (r"gives only ([\d.]+) V", 5 * 3.3 / (4.7 + 1.8 + 3.3), 0.005),
        (r"That makes ([\d.]+) V", 12 * 10 / 25, 1e-9),
        (r"(\d+) ohm \+ 1000 ohm, 7333", parallel(120e3, 10e3, 120e3), 1),
        (r"(\d+) ohm \+ 1000 ohm\. The", parallel(22e3, 22e3, 22e3), 1),
        (r"at most ([\d.]+) V of amplitude", 2 * 36 / pi, 0.05),
        (r"filter leaves ([\d.]+) V", 2 * 36 / pi * left(16e3, corner(9571, 1e-7)), 0.005),
        (r"of it, ([\d.]+) steps", 2 * 36 / pi * left(16e3, corner(9571, 1e-7)) / (70 / 1024), 0.05),
        (r"reads (\d) % low at 50", 100 * (1 - left(50, corner(9571, 1e-7))), 0.5),
        (r"10 Hz, ([\d.]+) % low", 100 * (1 - left(10, corner(9571, 1e-7))), 0.05),
        (r"by R C: (\d+) us", 1e6 * 9571 * 1e-7, 0.5),
        (r"would be ([\d.]+) degrees", 360 * 10 * 957e-6, 0.06),
        (r"a tick is (\d) us", 1e6 * 64 / 16e6, 1e-9),
        (r"frequency are ([\d.]+) degrees", 360 * 350 * 4e-6, 0.05),
        (r"waiting are ([\d.]+) degrees", 360 * 350 * 10e-6, 0.05),
        (r"room for (\d+) and", MOST_EDGES["250"], 1),
        (r"room for \d+ and (\d+) edges", MOST_EDGES["115"], 1),
        (r"may turn at (\d+) and", MOST_EDGES["250"] * 10 / 7, 1),
        (r"at \d+ and (\d+) r/min", MOST_EDGES["115"] * 10 / 7, 1),
        (r"whose rate is ([\d.]+) % high", 100 * (16e6 / 8 / 17 / 115200 - 1), 0.05),
        (r"such a drive has (\d+) V", 230 * 2**0.5, 1),
        (r"each phase pin ([\d.]+) V", 5 / 14, 0.005),
        (r"low range ([\d.]+) V\) \|", 5 / 3, 0.005),
        (r"30 V within ([\d.]+) V", 30 * 0.02 + 4 * 70 / 1024, 0.03),
        (r"V; pin ([\d.]+) V", (30 + 5) / 14, 1e-9),
        (r"0 V within ([\d.]+) V", 4 * 70 / 1024, 0.01),
        (r"low range ([\d.]+) V\); `current_mean_a` 0 A", 4 * 15 / 1024, 0.005),
        (r"0 A within ([\d.]+) A", 4 * 125 / 1024, 0.005),
        (r"2 A within ([\d.]+) A", 2 * 0.02 + 4 * 125 / 1024, 0.005),
        (r"supply gives ([\d.]+) mA to", (30 - CLAMP_V) / 22 + (30 - at_the_node(30, 120, 10, 120)) / 120, 0.05),
        (r"resistor of (\d+) ohm, 25 W", 12 / 1.0, 1e-9),
        (r"`active_power_w` (\d+) W, `phase", 12 * 1.0, 1e-9),
        (r"five times ([\d.]+) A, 0.87", LAMP_A, 0.005),
    ],
)
def test_a_figure_in_the_text(said: str, value: float, within: float) -> None:
    found = re.findall(said, SENTENCES)
    assert found, said
    assert float(found[0].replace(" ", "")) == pytest.approx(value, abs=within)
