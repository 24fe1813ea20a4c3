"""The galley extractor: a shaded-pole motor with a fan; its ring is a short-circuited winding.

Equations: single_phase.py with sign 0:   dpsi_x/dt = -Rx i_x,   line current i_m + u/Rfe,   g = +50 degrees.

The field runs from the open to the shaded part of each pole, so its direction is fixed. Space harmonics are left out:
a real one has a dip of torque near a third of its speed. The set is invented, its thermal figures too.
"""

from simulator.motors.single_phase_motor import Parameters, for_120_v_60_hz, model
from simulator.physics.warmth import Thermal

GALLEY_EXTRACTOR = Parameters(
    pole_pairs=1,
    turns_ratio=1,
    auxiliary_angle_rad=0.87266,
    main_ohm=115,
    auxiliary_ohm=1240,
    rotor_ohm=306,
    main_leakage_h=1.04,
    auxiliary_leakage_h=0.02,
    rotor_leakage_h=0.4,
    magnetizing_h=4.33,
    core_ohm=20000,
    ring=True,
    inertia_kg_m2=8e-5,
    friction_n_m_s=4e-5,
    fan_n_m_s2=3.492e-7,
    thermal=Thermal(winding_j_k=80, case_j_k=400, winding_to_case_k_w=1.0, case_to_air_k_w=1.6),
)
MODEL = model({"galley_extractor": GALLEY_EXTRACTOR, "galley_extractor_60_hz": for_120_v_60_hz(GALLEY_EXTRACTOR)})
