"""Series DC motor of an anchor windlass. Equations and loop: series.py.

    L di/dt = u - R i - k w - U_b tanh(i / 0.05 A);   k = K_max i / (|i| + I_s) + K_res tanh(i / 0.05 A);   T = k i

The set is invented. It is usually on a 24 V battery with 5 N.m on its shaft. Without load it runs away.
"""

from simulator.motors.commutator import Parameters, model
from simulator.physics.warmth import Thermal

ANCHOR_WINDLASS = Parameters(
    winding_ohm=0.048,
    winding_h=0.00035,
    field_v_s=0.1864,
    saturation_a=60,
    residual_v_s=0.001,
    brush_v=1.6,
    inertia_kg_m2=0.02,
    dry_n_m=0.25,
    own_fan_n_m_s2=1.5e-7,
    bars=23,
    poles=4,
    contact_ripple=0.05,
    emf_ripple=2 / (92**2 - 1),
    rated_a=60,
    worn_ohm=0.03,
    usual={"supply_kind": 1, "battery_v": 24, "mains_v": 24, "load_torque_n_m": 5.35},
    thermal=Thermal(winding_j_k=1500, case_j_k=6000, winding_to_case_k_w=0.1, case_to_air_k_w=0.15),
)
MODEL = model({"anchor_windlass": ANCHOR_WINDLASS}, longest_step_s=50e-6)
