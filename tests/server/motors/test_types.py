"""The list of motor types."""

from server.motors import MOTOR_TYPES, motor_type


def test_each_type_is_found_by_its_key_and_no_other() -> None:
    assert [motor_type(each.key) for each in MOTOR_TYPES] == list(MOTOR_TYPES)
    assert len({each.key for each in MOTOR_TYPES}) == len(MOTOR_TYPES)
    assert motor_type("") is None


def test_every_band_runs_upward_and_says_where_it_comes_from() -> None:
    bands = [each.locked_current_ratio for each in MOTOR_TYPES if each.locked_current_ratio]
    assert bands
    for band in bands:
        assert 1.0 < band.low < band.high
        assert band.source.startswith("typical band")
