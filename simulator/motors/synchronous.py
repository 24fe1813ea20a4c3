"""Synchronous motor with magnets of a clock drive, 8 poles. Equations: synchronous_field.py, with magnets and no cage.

    L di_m/dt = u - R i_m + psi w_e sin theta_e
    L di_x/dt = s u - u_C - R i_x - psi w_e cos theta_e        du_C/dt = i_x / C
    T = p psi (i_x cos theta_e - i_m sin theta_e)

It has to be caught within about half a cycle: it starts, or it stands and buzzes. Load comes on once it is in step. The
set is invented, its thermal constants too.
"""

from simulator.motors.two_phase_synchronous import Parameters, for_120_v_60_hz, model
from simulator.physics.warmth import Thermal

CLOCK_DRIVE = Parameters(
    pole_pairs=4,
    winding_ohm=5000,
    axes_h=(25, 25),
    magnet_v_s=0.555,
    leakage_h=25,
    cage_ohm=(0, 0),
    cage_leakage_h=(0, 0),
    capacitor_f=1.2e-7,
    inertia_kg_m2=4e-6,
    dry_n_m=0.001,
    viscous_n_m_s=1e-6,
    thermal=Thermal(winding_j_k=15, case_j_k=60, winding_to_case_k_w=6, case_to_air_k_w=12),
)
CLOCK_DRIVE_60_HZ = for_120_v_60_hz(CLOCK_DRIVE)
MODEL = model({"clock_drive": CLOCK_DRIVE, "clock_drive_60_hz": CLOCK_DRIVE_60_HZ})
