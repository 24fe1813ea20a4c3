"""Compound DC motor of a lathe, cumulative or differential. Equations and loop: shunt.py.

The sets are invented: the shunt motor's, and a series field of 0.35 ohm whose turns are 0.012 of the shunt field's.
Started direct on line a differential one turns backwards; `series_shorted` bridges its series field for the start.
"""

from dataclasses import replace

from simulator.motors.shunt_dc import LATHE
from simulator.motors.wound_field import model

CUMULATIVE = replace(LATHE, series_ohm=0.35, series_turns=0.012)
DIFFERENTIAL = replace(CUMULATIVE, series_turns=-0.012)
MODEL = model({"lathe_cumulative": CUMULATIVE, "lathe_differential": DIFFERENTIAL})
