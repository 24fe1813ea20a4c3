"""Cases of Hall wiring by the hundred, quick enough for proofs of thousands: motors, faults, what a board sees."""

from simulator.hall_cases.case import HallMotor, HallRun, driven, hand_turn, healthy_motor
from simulator.hall_cases.draws import HALL_FAULTS, draw_fault
from simulator.hall_cases.motion import Way

__all__ = ["HALL_FAULTS", "HallMotor", "HallRun", "Way", "draw_fault", "driven", "hand_turn", "healthy_motor"]
