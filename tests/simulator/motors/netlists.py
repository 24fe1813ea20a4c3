"""Motors as circuits for ngspice, an independent integrator from Debian: netlists, the run, what it wrote.

Windings are coupled coils; what a turning rotor induces and the air-gap torque are behavioural sources; the shaft is a
capacitor (its charge is the momentum) with resistors for viscous friction. Nothing here knows the project's models.
"""

import subprocess
from math import sqrt
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def solved(folder: Path, netlist: str, seconds: float, step_s: float, *seen: str) -> Floats:
    """Time and the vectors `seen`, shape (1 + seen, points), equally spaced."""
    out = folder / "seen.txt"
    control = f"""
.options method=trap reltol=1e-5
.tran {step_s:g} {seconds:g} 0 {step_s:g} uic
.control
set wr_singlescale
run
linearize {" ".join(seen)}
wrdata {out} {" ".join(seen)}
.endc
.end
"""
    file = folder / "motor.cir"
    file.write_text(netlist + control)
    done = subprocess.run(
        ["ngspice", "-b", str(file)], capture_output=True, text=True, timeout=120, check=False, cwd=folder
    )
    assert out.exists(), done.stdout + done.stderr
    return np.loadtxt(out).T


def shaft(inertia: float, torque: str, viscous: float, dry: float, start_rad_s: float = 0.0) -> str:
    """Node `w` carries the speed in V = rad/s; currents into it are torques in A = N.m."""
    return f"""
Cj w 0 {inertia:g} ic={start_rad_s:.9g}
Bt 0 w i={torque}
Bf w 0 i={dry:g}*tanh(v(w)/0.5)+{viscous:g}*v(w)
"""


def three_phase(volts: float, dry: float) -> str:
    """The slipway pump's numbers. Two equivalent axes, amplitude-invariant; alpha is line 1."""
    p, Rs, Rr, Ls, Lr, LM, J, B = 2, 6.3, 4.25, 0.0124, 0.0124, 0.337, 0.012, 0.0013
    k = LM / sqrt((Ls + LM) * (Lr + LM))
    peak = volts * sqrt(2 / 3)

    def axis(name: str, lag_deg: float, other: str, sign: str) -> str:
        return f"""
V{name} u{name} 0 sin(0 {peak:.9g} 50 0 0 {lag_deg})
R{name} u{name} s{name} {Rs}
L{name} s{name} 0 {Ls + LM} ic=0
Lr{name} r{name} 0 {Lr + LM} ic=0
K{name} L{name} Lr{name} {k:.12g}
Bpsi{name} psi{name} 0 v={LM}*i(L{name})+{Lr + LM}*i(Lr{name})
Rr{name} r{name} e{name} {Rr}
Be{name} e{name} 0 v={sign}{p}*v(w)*v(psi{other})
"""

    torque = f"1.5*{p}*{LM / (Lr + LM):.12g}*(v(psia)*i(Lb)-v(psib)*i(La))"
    return "* three-phase\n" + axis("a", 0, "b", "-") + axis("b", -90, "a", "") + shaft(J, torque, B, dry)


def capacitor_start(dry: float, start: tuple[float, float, float, float] | None = None, phase_deg: float = 0) -> str:
    """The compressor's numbers. Without `start` from rest with both windings, the switch kept closed.

    With `start` (i_m, i_ra, i_rb, speed) the main winding alone, beginning at this phase of the supply.
    The auxiliary is minus 90 degrees from the main axis, so its coil and the cage's couple with opposite ends.
    """
    p, a, Rm, Rx, Rr = 2, 1.5, 2.5, 4.5, 3.58
    Llm, Llx, Llr, LM, J, B, C, Resr = 0.0058, 0.0131, 0.0058, 0.267, 0.03, 0.0008, 80e-6, 2
    im, ira, irb, w = start or (0.0, 0.0, 0.0, 0.0)
    rotor, auxiliary = Llr + LM, Llx + a * a * LM
    text = f"""* capacitor start
Vs u 0 sin(0 {230 * sqrt(2):.9g} 50 0 0 {phase_deg:.9g})
Rm u m {Rm}
Lm m 0 {Llm + LM} ic={im:.12g}
Lra ra 0 {rotor} ic={ira:.12g}
Km Lm Lra {LM / sqrt((Llm + LM) * rotor):.12g}
Lrb rb 0 {rotor} ic={irb:.12g}
Rra ra ea {Rr}
Rrb rb eb {Rr}
Bea ea 0 v=-{p}*v(w)*v(psib)
Beb eb 0 v={p}*v(w)*v(psia)
Bpsia psia 0 v={LM}*i(Lm)+{rotor}*i(Lra)
"""
    if start is None:
        text += f"""
Rx u x1 {Rx + Resr}
Cx x1 x2 {C} ic=0
Lx 0 x2 {auxiliary} ic=0
Kx Lx Lrb {a * LM / sqrt(auxiliary * rotor):.12g}
Bpsib psib 0 v={a * LM}*i(Lx)+{rotor}*i(Lrb)
"""
        torque = f"{p}*{LM}*(i(Lra)*{a}*i(Lx)-i(Lrb)*i(Lm))"
    else:
        text += f"Bpsib psib 0 v={rotor}*i(Lrb)\n"
        torque = f"-{p}*{LM}*i(Lrb)*i(Lm)"
    return text + shaft(J, torque, B, dry, w)


def magnet_dc(volts: float) -> str:
    """The bilge pump's numbers: 12 ripples a turn in resistance and EMF; the angle is the charge of a capacitor."""
    ripple, emf = "(1+0.1*cos(12*v(angle)))", "0.0259*(1+0.01*cos(12*v(angle)))"
    pump = "7.127e-7*v(w)*abs(v(w))"
    text = f"""* magnet dc
Vs u 0 dc {volts:g}
La u a 0.00025 ic=0
Ba a 0 v=0.42*{ripple}*i(La)+{emf}*v(w)+0.6*tanh(i(La)/0.05)
Ca angle 0 1 ic=0
Bangle 0 angle i=v(w)
Bpump w 0 i={pump}
"""
    return text + shaft(2.2e-5, f"{emf}*i(La)", 3e-6, 0.005)
