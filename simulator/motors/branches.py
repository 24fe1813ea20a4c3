"""Armature and field of a shunt or compound motor as two branches: their currents over one step.

The equations stand in shunt.py; a case is a record of its CONSTANTS. The field goes first, then the armature with
what the field is in the middle of the step.
"""

from typing import Any, TypeAlias

from simulator.physics.brush import brush_drop
from simulator.physics.stepping import inlined

FIELD_ARC_S = 0.01
_Branches: TypeAlias = tuple[float, float, float, float, float, float, float, float]
"""i_a, i_f; their means over the step; s_a kphi and brush drop; the line's mean current; share of the step."""


@inlined
def linked_flux(case: Any, armature_a: float, field_a: float) -> tuple[float, float]:
    """s_a kphi, and its slope by i_eff."""
    i = case.field_way * field_a + case.series_turns * armature_a
    whole = abs(i) + case.saturation_a
    slope = case.flux_v_s * case.saturation_a / (whole * whole)
    return case.armature_way * (case.flux_v_s * i / whole + case.residual_v_s), case.armature_way * slope


@inlined
def loop_change(
    case: Any, i: float, w: float, ohm: float, emf: float, field_ohm: float, h: float
) -> tuple[float, float]:
    """Armature and field as one loop, `i` the field's: its change in a step, and the voltage across both."""
    flux, slope = linked_flux(case, -i, i)
    drop, stiff = brush_drop(case, i)
    slope *= case.field_way - case.series_turns
    push = emf * w * flux - drop - (ohm + field_ohm) * i
    inductance = case.armature_h + case.field_h
    change = h * push / (inductance + 0.5 * h * (ohm + field_ohm + stiff - emf * w * slope))
    return change, field_ohm * i + case.field_h * push / inductance


@inlined
def beside(case: Any) -> float:
    """1 where the field's current comes out of the armature's line."""
    return 0.0 if case.field_separate or not case.field_closed else 1.0


@inlined
def open_v(case: Any, field_a: float, w: float, ohm: float, emf: float, field_ohm: float) -> float:
    """What stands at the terminals while the line carries nothing."""
    if beside(case) == 0.0:
        return float(emf * w * linked_flux(case, 0.0, field_a)[0])
    return float(loop_change(case, field_a, w, ohm, emf, field_ohm, 0.0)[1])


@inlined
def field_change(case: Any, i: float, u: float, field_ohm: float, h: float) -> float:
    """Change of the field's current in a step, with this voltage across it."""
    if not case.field_closed:
        return -i * h / (FIELD_ARC_S + 0.5 * h)
    return float(h * (u - field_ohm * i) / (case.field_h + 0.5 * h * field_ohm))


@inlined
def fed(
    case: Any, ia: float, jf: float, w: float, v: float, way: float, ohm: float, line_ohm: float, emf: float,
    field_ohm: float, h: float,
) -> _Branches:  # fmt: skip
    """A step with the line carrying; it ends inside the step where the line's current may not turn round."""
    with_field = beside(case)
    line = ia + with_field * jf
    df = field_change(case, jf, case.field_v if case.field_separate else v - line_ohm * line, field_ohm, h)
    flux, slope = linked_flux(case, ia, jf + 0.5 * df)
    drop, stiff = brush_drop(case, ia)
    whole_ohm, slope = ohm + line_ohm, slope * case.series_turns
    da = h * (v - line_ohm * with_field * (jf + 0.5 * df) - whole_ohm * ia - emf * w * flux - drop)
    da /= case.armature_h + case.supply.series_h + 0.5 * h * (whole_ohm + emf * w * slope + stiff)
    after, share = line + da + with_field * df, 1.0
    if way != 0.0 and way * after <= 0.0:
        share = line / (line - after) if line != after else 0.0
        da *= share
        if with_field > 0.0:
            df *= share
    ma, mf, drop, flux = ia + 0.5 * da, jf + 0.5 * df, drop + 0.5 * stiff * da, flux + 0.5 * slope * da
    ia, jf = ia + da, jf + df
    if share < 1.0:
        ia = -with_field * jf
    return ia, jf, ma, mf, flux, drop, ma + with_field * mf, share


@inlined
def unfed(case: Any, jf: float, w: float, ohm: float, emf: float, field_ohm: float, h: float) -> _Branches:
    """A step with the line carrying nothing: the loop, or the field alone."""
    if beside(case) == 0.0:
        df = field_change(case, jf, case.field_v, field_ohm, h)
        return 0.0, jf + df, 0.0, jf + 0.5 * df, 0.0, 0.0, 0.0, 1.0
    df, _ = loop_change(case, jf, w, ohm, emf, field_ohm, h)
    drop, stiff = brush_drop(case, -jf)
    mf = jf + 0.5 * df
    return -jf - df, jf + df, -mf, mf, linked_flux(case, -mf, mf)[0], drop - 0.5 * stiff * df, 0.0, 1.0


@inlined
def carries(way: float, line: float, v: float, open_v: float) -> bool:
    """Whether the line carries in this step: it is closed, and a rectifier in it does not block."""
    return bool(way == 0.0 or (way != 2.0 and (line != 0.0 or way * (v - open_v) > 0.0)))
