"""Synchronous reluctance motor of a clock drive, 8 poles, with a starting cage.

Equations: synchronous_field.py, without magnets.

    psi_d = L_d i_d + L_md i_kd,  psi_kd = (L_md + L_lkd) i_kd + L_md i_d,  q alike;  L_md = L_d - L_ls
    T = p (psi_d i_q - psi_q i_d)

The cage brings it near its speed, the poles pull it in. The set is invented, its thermal constants too.
"""

from simulator.motors.two_phase_synchronous import Parameters, for_120_v_60_hz, model
from simulator.physics.warmth import Thermal

CLOCK_DRIVE_RELUCTANCE = Parameters(
    pole_pairs=4,
    winding_ohm=1200,
    axes_h=(30, 12),
    magnet_v_s=0,
    leakage_h=3,
    cage_ohm=(1800, 1800),
    cage_leakage_h=(3, 3),
    capacitor_f=3.4e-7,
    inertia_kg_m2=2e-5,
    dry_n_m=0.0015,
    viscous_n_m_s=2e-6,
    thermal=Thermal(winding_j_k=25, case_j_k=110, winding_to_case_k_w=4, case_to_air_k_w=8),
)
CLOCK_DRIVE_RELUCTANCE_60_HZ = for_120_v_60_hz(CLOCK_DRIVE_RELUCTANCE)
MODEL = model(
    {
        "clock_drive_reluctance": CLOCK_DRIVE_RELUCTANCE,
        "clock_drive_reluctance_60_hz": CLOCK_DRIVE_RELUCTANCE_60_HZ,
    }
)
