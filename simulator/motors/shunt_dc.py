"""Shunt DC motor of a lathe. Equations and loop: shunt.py, with n_s = 0 and no series field.

The set is invented. It is usually on 180 V direct current with its field beside the armature; `starter_ohm` is a
starter, `field_rheostat_ohm` a field weakener, `field_separate` gives the field a supply of its own.
"""

from simulator.motors.wound_field import Parameters, model
from simulator.physics.warmth import Thermal

LATHE = Parameters(
    armature_ohm=3.2,
    armature_h=0.025,
    field_ohm=360,
    field_h=90,
    flux_v_s=1.571,
    saturation_a=0.4,
    residual_v_s=0.02,
    brush_v=2,
    inertia_kg_m2=0.03,
    dry_n_m=0.15,
    viscous_n_m_s=0.0005,
    bars=36,
    poles=2,
    contact_ripple=0.03,
    emf_ripple=2 / (36**2 - 1),
    rated_a=4.5,
    worn_ohm=1.0,
    usual={"supply_kind": 1, "battery_v": 180, "mains_v": 200, "load_torque_n_m": 1},
    thermal=Thermal(winding_j_k=1800, case_j_k=7000, winding_to_case_k_w=0.15, case_to_air_k_w=0.2),
)
MODEL = model({"lathe": LATHE})
