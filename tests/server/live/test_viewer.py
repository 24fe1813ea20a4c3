import pytest

from server.live.viewer import DEAD_S, Mail, RubbishError, Viewer
from tests.server.live.wires import KeptWire


def mail(number: int, strip: int | None = None) -> Mail:
    return Mail(number, b"picture %d" % number, strip)


@pytest.fixture
def wire() -> KeptWire:
    return KeptWire()


@pytest.fixture
def viewer(wire: KeptWire) -> Viewer:
    return Viewer("", wire)


def test_at_most_two_pictures_are_on_the_way(viewer: Viewer, wire: KeptWire) -> None:
    for number in (1, 2):
        assert viewer.ready
        viewer.offer(mail(number), 0.0)
    assert wire.taken == [b"picture 1", b"picture 2"]
    assert not viewer.ready
    viewer.drawn(1, 0.1)
    assert viewer.ready


def test_a_picture_that_has_not_left_gives_way_to_a_newer_one(viewer: Viewer, wire: KeptWire) -> None:
    wire.full = True
    for number in (1, 2, 3, 4):
        assert viewer.ready
        viewer.offer(mail(number), 0.0)
    assert wire.taken == [b"picture 1"]
    wire.full = False
    viewer.resumed()
    assert wire.taken == [b"picture 1", b"picture 4"]
    assert (viewer.pictures_sent, viewer.pictures_dropped) == (2, 2)
    assert not viewer.ready
    viewer.drawn(4, 0.1)
    viewer.offer(mail(5), 0.2)
    assert wire.taken[-1] == b"picture 5"


def test_a_wire_that_was_full_and_has_nothing_waiting_takes_the_next_at_once(viewer: Viewer, wire: KeptWire) -> None:
    wire.full = True
    viewer.offer(mail(1), 0.0)
    viewer.resumed()
    viewer.offer(mail(2), 0.0)
    assert wire.taken == [b"picture 1", b"picture 2"]


def test_an_answer_stands_for_all_pictures_before_it(viewer: Viewer) -> None:
    for number in (4, 9):
        viewer.offer(mail(number), 0.0)
    viewer.drawn(9, 0.1)
    viewer.offer(mail(10), 0.2)
    assert viewer.ready
    viewer.drawn(4, 0.3)  # late, but true


@pytest.mark.parametrize("number", [0, -1, 8, 10**30])
def test_an_answer_to_what_was_never_sent_is_rubbish(viewer: Viewer, wire: KeptWire, number: int) -> None:
    wire.full = True
    viewer.offer(mail(7), 0.0)
    viewer.offer(mail(8), 0.0)  # waits in the mailbox
    with pytest.raises(RubbishError):
        viewer.drawn(number, 0.1)


def test_a_strip_that_has_not_left_is_not_lost(viewer: Viewer, wire: KeptWire) -> None:
    wire.full = True
    viewer.offer(mail(1), 0.0)
    assert viewer.wants_strip(5)
    viewer.offer(mail(2, strip=5), 0.0)
    assert viewer.wants_strip(5)
    viewer.offer(mail(3, strip=5), 0.0)
    viewer.resumed()
    assert not viewer.wants_strip(5)
    assert viewer.wants_strip(6)
    viewer.look_at("heron-2")
    assert viewer.wants_strip(5)


def test_a_viewer_is_dead_when_pictures_wait_and_not_when_none_does(viewer: Viewer, wire: KeptWire) -> None:
    assert not viewer.is_dead(1e9)
    viewer.offer(mail(1), 100.0)
    viewer.offer(mail(2), 120.0)
    assert not viewer.is_dead(100.0 + DEAD_S)
    assert viewer.is_dead(100.1 + DEAD_S)
    viewer.drawn(1, 125.0)
    assert not viewer.is_dead(125.0 + DEAD_S)
    assert viewer.is_dead(125.1 + DEAD_S)
    viewer.give_up()
    assert wire.aborted
