"""Constants and state of one single-phase induction motor, as the loop in single_phase_run.py reads and changes."""

import numpy as np

from simulator.physics.load import LOAD
from simulator.physics.mains import MAINS
from simulator.physics.warmth import WARMTH

CONSTANTS = np.dtype(
    [
        ("mains", MAINS),
        ("load", LOAD),
        ("warmth", WARMTH),
        ("pole_pairs", "f8"),
        ("turns_cos", "f8"),  # a cos g
        ("turns_sin", "f8"),  # a sin g
        ("magnetizing_h", "f8"),
        ("rotor_h", "f8"),  # Llr + LM
        ("stator_h", "f8", 3),  # L': mm, mx, xx
        ("main_ohm", "f8"),
        ("auxiliary_ohm", "f8"),
        ("rotor_ohm", "f8"),
        ("core_ohm", "f8"),
        ("start_f", "f8"),  # 0: a wire
        ("start_ohm", "f8"),
        ("run_f", "f8"),
        ("run_ohm", "f8"),
        ("sign", "f8"),
        ("in_main", "i8"),
        ("wanted", "i8"),  # contacts, with the start device and the cut-out at rest
        ("starts", "i8"),  # what starts it: START, or RUN without a start branch
        ("across", "i8"),  # where the channel of the capacitor sits: START or RUN
        ("start_broken", "i8"),
        ("push_n_m", "f8"),
        ("device", "i8"),
        ("stuck", "i8"),  # 1 closed, -1 open
        ("worn", "i8"),
        ("opens_rad_s", "f8"),
        ("closes_rad_s", "f8"),
        ("pick_up_a", "f8"),
        ("drop_out_a", "f8"),
        ("ptc_cold_ohm", "f8"),
        ("ptc_hot_ohm", "f8"),
        ("ptc_c", "f8"),  # where its resistance is half way, in logarithms
        ("ptc_width_k", "f8"),
        ("ptc_j_k", "f8"),
        ("ptc_k_w", "f8"),
        ("aside_ohm", "f8"),  # a PTC above it counts as open
        ("cutout_fitted", "i8"),
        ("cutout_opens_c", "f8"),
        ("cutout_closes_c", "f8"),
    ]
)
STATE = np.dtype(
    [
        ("y", "f8", 6),  # i_m i_x psi_ra psi_rb u_Cs u_Cr
        ("speed_rad_s", "f8"),
        ("angle_rad", "f8"),
        ("slope_rad_s2", "f8"),  # dw/dt of the last step
        ("phase_rad", "f8"),
        ("flicker_rad", "f8"),
        ("swing_rad", "f8"),
        ("closed", "i8"),
        ("switched", "i8"),  # the line switch as it was last seen
        ("waited_s", "f8"),  # for a zero of a current
        ("sign", "f8"),
        ("in_main", "i8"),
        ("farads", "f8", 2),  # of both capacitors as they were last seen
        ("source_h", "f8"),  # the same of the supply
        ("winding_c", "f8"),
        ("case_c", "f8"),
        ("cutout", "i8"),
        ("device", "i8"),  # as it was last seen
        ("start_wanted", "i8"),  # the start contact is to be closed
        ("moved", "i8"),  # start device: it has opened (relay: it has closed)
        ("square_a2", "f8"),
        ("square_count", "i8"),
        ("draws", "f8", 16),  # 0 to 1: chatter of a worn contact
        ("drawn", "i8"),
        ("bounces", "i8"),
        ("pause_s", "f8"),
        ("ptc_c", "f8"),
        ("energy_j", "f8", 3),
    ]
)
