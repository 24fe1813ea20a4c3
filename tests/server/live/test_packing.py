import numpy as np
import pytest

from server.live.packing import pack
from tests.server.live.unpack import unpack


def test_an_empty_message_is_its_header_alone() -> None:
    assert pack({}) == b"\x02\0\0\0{}\0\0"


def test_the_header_is_padded_to_four_bytes_and_arrays_follow() -> None:
    message = pack({"a": np.array([1.5, -2.0])})
    header = b'{"a":{"at":0,"n":2}}'
    assert message == len(header).to_bytes(4, "little") + header + bytes.fromhex("0000c03f 000000c0")


@pytest.mark.parametrize("name", ["", "a", "ab", "abc", "abcd", "ü", "☃☃"])
def test_arrays_come_back_whatever_the_length_of_the_header(name: str) -> None:
    first, second = np.arange(3.0), np.linspace(0, 1, 5, dtype=np.float32)
    back = unpack(pack({name: {"low": first, "deep": [second]}, "x": None}))
    np.testing.assert_array_equal(back[name]["low"], first)
    np.testing.assert_array_equal(back[name]["deep"][0], second)
    assert back["x"] is None


def test_no_value_travels_as_nan_in_an_array_only() -> None:
    assert np.isnan(unpack(pack({"a": np.array([np.nan])}))["a"]).all()
    with pytest.raises(ValueError, match="JSON"):
        pack({"a": float("nan")})


def test_a_slice_with_gaps_between_its_values_is_packed_right() -> None:
    assert unpack(pack({"a": np.arange(10.0)[::3]}))["a"].tolist() == [0, 3, 6, 9]


def test_hostile_text_stays_text() -> None:
    text = '</script><script>alert("x")</script>\u2028\x1b[2J","at":{"at":0,"n":9}\ud800'
    assert unpack(pack({"name": text}))["name"] == text.replace("\ud800", "?")


def test_what_is_no_json_is_refused() -> None:
    with pytest.raises(TypeError, match="set"):
        pack({"a": {1, 2}})
