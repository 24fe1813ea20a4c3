"""Permanent-magnet DC motor of a bilge pump. Equations and loop: series.py, with magnets and no series field.

    L di/dt = u - R (1 + d_R cos c theta) i - k_e (1 + d_E cos c theta) w - U_b tanh(i / 0.05 A)
    T = k_e (1 + d_E cos c theta) i
    J dw/dt = T - (T_0 + T_L) tanh(w / 0.5 rad/s) - (B + B_L) w - k_L w abs(w)

The set is invented. It is usually on a 12 V battery and drives its pump; `load_factor` 0 takes the pump off. Turned
by hand with its leads open it shows k_e w. With a poor contact in its lead (`lead_ohm`) its terminals sag.
"""

from simulator.motors.commutator import Parameters, model
from simulator.physics.warmth import Thermal

BILGE_PUMP = Parameters(
    winding_ohm=0.42,
    winding_h=0.00025,
    magnet_v_s=0.0259,
    brush_v=0.6,
    inertia_kg_m2=2.2e-5,
    dry_n_m=0.005,
    viscous_n_m_s=3e-6,
    fan_n_m_s2=7.127e-7,
    bars=12,
    poles=2,
    contact_ripple=0.10,
    emf_ripple=0.01,
    rated_a=4.1,
    worn_ohm=0.3,
    usual={"supply_kind": 1, "battery_v": 12, "mains_v": 12},
    thermal=Thermal(winding_j_k=45, case_j_k=160, winding_to_case_k_w=1.2, case_to_air_k_w=3.0),
)
MODEL = model({"bilge_pump": BILGE_PUMP}, longest_step_s=50e-6)
