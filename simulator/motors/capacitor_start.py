"""The air compressor: a capacitor-start motor, with a variant that keeps a smaller run capacitor in.

Equations: single_phase.py, with a capacitor behind the start device and, in the variant, a second one beside it:

    u_b = u_Cs + R_s i_s = u_Cr + R_r (i_x - i_s),   du_Cs/dt = i_s / C_s,   du_Cr/dt = (i_x - i_s) / C_r

The set is invented; relay, PTC and thermal figures are of no motor either. Its start capacitor keeps its charge when
the contact parts at the zero of its current: no bleeder is fitted.
"""

from dataclasses import replace

from simulator.motors.single_phase_motor import (
    AUXILIARY_CONTROLS,
    RUN_CONTROLS,
    START_CAPACITOR_CONTROLS,
    START_CONTROLS,
    Parameters,
    StartDevice,
    for_120_v_60_hz,
    model,
)
from simulator.physics.warmth import Thermal

AIR_COMPRESSOR = Parameters(
    pole_pairs=2,
    turns_ratio=1.5,
    auxiliary_angle_rad=-1.5708,
    main_ohm=2.5,
    auxiliary_ohm=4.5,
    rotor_ohm=3.58,
    main_leakage_h=0.0058,
    auxiliary_leakage_h=0.0131,
    rotor_leakage_h=0.0058,
    magnetizing_h=0.267,
    core_ohm=600,
    start_capacitor_uf=80,
    start_capacitor_ohm=2,
    inertia_kg_m2=0.03,
    friction_n_m_s=0.0008,
    start=StartDevice(
        switch_opens_rpm=1125, switch_closes_rpm=600, pick_up_a=25, drop_out_a=20, ptc_cold_ohm=3, ptc_j_k=2
    ),
    load={"load_torque_n_m": 1.0},
    thermal=Thermal(winding_j_k=1200, case_j_k=6000, winding_to_case_k_w=0.06, case_to_air_k_w=0.12),
)
AIR_COMPRESSOR_START_RUN = replace(AIR_COMPRESSOR, run_capacitor_uf=16, run_capacitor_ohm=1)
MODEL = model(
    {
        "air_compressor": AIR_COMPRESSOR,
        "air_compressor_start_run": AIR_COMPRESSOR_START_RUN,
        "air_compressor_60_hz": for_120_v_60_hz(AIR_COMPRESSOR),
        "air_compressor_start_run_60_hz": for_120_v_60_hz(AIR_COMPRESSOR_START_RUN),
    },
    START_CONTROLS,
    START_CAPACITOR_CONTROLS,
    RUN_CONTROLS,
    AUXILIARY_CONTROLS,
)
