"""The bench grinder: a split-phase motor, its start winding switched off on the way up.

Equations: single_phase.py, with a wire behind the start device:   dpsi_x/dt = sign u - Rx i_x while it is closed.

The set is invented; relay, PTC and thermal figures are of no motor either.
"""

from simulator.motors.single_phase_motor import (
    AUXILIARY_CONTROLS,
    START_CONTROLS,
    Parameters,
    StartDevice,
    for_120_v_60_hz,
    model,
)
from simulator.physics.warmth import Thermal

BENCH_GRINDER = Parameters(
    pole_pairs=1,
    turns_ratio=0.58,
    auxiliary_angle_rad=-1.5708,
    main_ohm=8.95,
    auxiliary_ohm=22.3,
    rotor_ohm=10.9,
    main_leakage_h=0.039,
    auxiliary_leakage_h=0.013,
    rotor_leakage_h=0.039,
    magnetizing_h=0.62,
    core_ohm=1500,
    inertia_kg_m2=0.006,
    friction_n_m_s=0.00015,
    start=StartDevice(
        switch_opens_rpm=2250, switch_closes_rpm=1200, pick_up_a=6.8, drop_out_a=6.1, ptc_cold_ohm=4, ptc_j_k=3.5
    ),
    load={"load_torque_n_m": 0.1},
    thermal=Thermal(winding_j_k=400, case_j_k=2500, winding_to_case_k_w=0.2, case_to_air_k_w=0.35),
)
MODEL = model(
    {"bench_grinder": BENCH_GRINDER, "bench_grinder_60_hz": for_120_v_60_hz(BENCH_GRINDER)},
    START_CONTROLS,
    AUXILIARY_CONTROLS,
)
