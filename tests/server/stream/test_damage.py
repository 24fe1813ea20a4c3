"""What the decoder found, in words."""

import pytest

from firmware_protocol import Damage, DamageKind
from server.stream.damage import report_of


@pytest.mark.parametrize("kind", DamageKind)
def test_every_kind_has_a_sentence_and_keeps_the_detail(kind: DamageKind) -> None:
    report = report_of(Damage(kind, 10, 20, "the detail", 3), 1.5)
    assert (report.kind, report.board_s, report.samples) == (kind.value, 1.5, 0)
    assert report.text.endswith(" (the detail)")
    assert report.text[0].isupper()


def test_a_stream_that_began_in_a_frame_has_lost_none() -> None:
    assert report_of(Damage(DamageKind.CUT_START, 0, 5, "x"), None).frames == 0
    assert report_of(Damage(DamageKind.LOST, 0, 0, "x", 7), None).frames == 7
