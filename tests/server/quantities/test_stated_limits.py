"""Which uncertainties are known where a board states some of its limits."""

from typing import Any

from server.motors import PERMANENT_SPLIT_CAPACITOR
from server.samples import Part
from tests.server.quantities.windows import current, read, voltage, waves, window
from tests.server.signals.slow import series


def test_a_size_needs_no_delay_and_a_frequency_no_gain_for_its_uncertainty() -> None:
    """Part by part: what the board does not state is missing where it counts and nowhere else."""
    clock, gain, offset, delay = Part(1e-5), Part(1e-3), Part(1e-3), Part(1e-6)
    shapes = waves(50.0, series({1: 230 + 0j}), series({1: 0.5 - 0.2j}))

    def known(**said: Any) -> set[str]:
        channels = [voltage(**said, clock=clock), current(**said, clock=clock)]
        found = read(window(channels, shapes), PERMANENT_SPLIT_CAPACITOR)
        asked = ("frequency_hz", "voltage_rms_v", "current_crest_factor", "active_power_w", "phase_angle_deg")
        return {key for key in asked if found[key].uncertainty is not None}

    assert known() == {"frequency_hz"}
    assert known(gain=gain) == {"frequency_hz"}
    sizes = {"frequency_hz", "voltage_rms_v", "current_crest_factor"}
    assert known(gain=gain, offset_error=offset) == sizes
    assert known(gain=gain, offset_error=offset, delay_error=delay) == sizes | {"active_power_w", "phase_angle_deg"}
