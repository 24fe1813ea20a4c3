"""Universal motor of a hand planer, on alternating, direct or rectified supply. Equations and loop: series.py.

    L di/dt = u - R i - kphi(i) w sgn(i) - U_b tanh(i / 0.05 A);   kphi(i) = K_max |i| / (|i| + I_s);   T = kphi(i) |i|

The set is invented; ripple of contacts and of the EMF (2 / (c c - 1), the first order of rectified sines) stand beside
it. It is usually on 230 V, 50 Hz. Its supply leads never reverse it; the ends of its field do.
"""

from simulator.motors.commutator import Parameters, model
from simulator.physics.warmth import Thermal

HAND_PLANER = Parameters(
    winding_ohm=9.5,
    winding_h=0.06,
    field_v_s=0.42,
    saturation_a=5.5,
    brush_v=2.5,
    inertia_kg_m2=0.00025,
    dry_n_m=0.02,
    own_fan_n_m_s2=2.2e-8,
    bars=24,
    poles=2,
    contact_ripple=0.05,
    emf_ripple=2 / (24**2 - 1),
    rated_a=3.1,
    worn_ohm=4.0,
    usual={"supply_kind": 0, "mains_v": 230, "mains_hz": 50, "battery_v": 230, "load_torque_n_m": 0.25},
    thermal=Thermal(winding_j_k=250, case_j_k=700, winding_to_case_k_w=0.25, case_to_air_k_w=0.35),
)
MODEL = model({"hand_planer": HAND_PLANER}, longest_step_s=25e-6)
