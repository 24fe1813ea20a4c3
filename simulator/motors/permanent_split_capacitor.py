"""The cabin ventilator: a single-phase induction motor with a run capacitor, a fan on its shaft.

Equations: single_phase.py, with a run branch alone behind the auxiliary:

    dpsi_x/dt = sign u - u_C - (Rx + Resr) i_x,   du_C/dt = i_x / C

The set is invented; its thermal figures are of no motor either.
"""

from simulator.motors.single_phase_motor import (
    AUXILIARY_CONTROLS,
    MAIN_LEAD_CONTROLS,
    RUN_CONTROLS,
    Parameters,
    for_120_v_60_hz,
    model,
)
from simulator.physics.warmth import Thermal

CABIN_VENTILATOR = Parameters(
    pole_pairs=2,
    turns_ratio=0.76,
    auxiliary_angle_rad=-1.5708,
    main_ohm=102,
    auxiliary_ohm=90,
    rotor_ohm=72,
    main_leakage_h=0.1,
    auxiliary_leakage_h=0.058,
    rotor_leakage_h=0.1,
    magnetizing_h=1.74,
    core_ohm=9000,
    run_capacitor_uf=4,
    run_capacitor_ohm=5,
    inertia_kg_m2=0.0012,
    friction_n_m_s=0.0001,
    fan_n_m_s2=2.179e-5,
    thermal=Thermal(winding_j_k=180, case_j_k=900, winding_to_case_k_w=0.5, case_to_air_k_w=0.8),
)
MODEL = model(
    {"cabin_ventilator": CABIN_VENTILATOR, "cabin_ventilator_60_hz": for_120_v_60_hz(CABIN_VENTILATOR)},
    RUN_CONTROLS,
    MAIN_LEAD_CONTROLS,
    AUXILIARY_CONTROLS,
)
