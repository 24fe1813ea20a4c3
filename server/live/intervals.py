"""How the interval of a reading is told to pages and scripts: one form for all of them. Pure."""

from server.readings import Reading


def interval_record(reading: Reading) -> dict[str, object]:
    """`u95`, half the width of the interval (of a list: of each value); where a bound cuts it, its two ends as well."""
    uncertainty = reading.uncertainty
    assert uncertainty is not None
    if uncertainty.halves:
        return {"u95": list(uncertainty.halves)}
    record: dict[str, object] = {"u95": uncertainty.half}
    value = reading.value
    if isinstance(value, float) and abs(uncertainty.high + uncertainty.low - 2.0 * value) > 1e-6 * uncertainty.half:
        record |= {"low95": uncertainty.low, "high95": uncertainty.high}
    return record
