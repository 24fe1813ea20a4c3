import asyncio

import pytest

from server.live.viewer import DEAD_S, Mail, RubbishError, Viewer


def mail(number: int, strip: int | None = None) -> Mail:
    return Mail(number, b"picture %d" % number, strip)


async def test_at_most_two_pictures_are_on_the_way() -> None:
    viewer = Viewer("")
    for number in (1, 2):
        assert viewer.ready
        viewer.offer(mail(number), 0.0)
        assert await viewer.next() == b"picture %d" % number
    assert not viewer.ready
    viewer.drawn(1, 0.1)
    assert viewer.ready


async def test_a_picture_that_has_not_left_gives_way_to_a_newer_one() -> None:
    viewer = Viewer("")
    for number in (1, 2, 3):
        viewer.offer(mail(number), 0.0)
    assert await viewer.next() == b"picture 3"
    assert (viewer.pictures_sent, viewer.pictures_dropped) == (1, 2)
    viewer.drawn(3, 0.1)
    assert viewer.ready


async def test_an_answer_stands_for_all_pictures_before_it() -> None:
    viewer = Viewer("")
    for number in (4, 9):
        viewer.offer(mail(number), 0.0)
        await viewer.next()
    viewer.drawn(9, 0.1)
    viewer.offer(mail(10), 0.2)
    await viewer.next()
    assert viewer.ready
    viewer.drawn(4, 0.3)  # late, but true


@pytest.mark.parametrize("number", [0, -1, 8, 10**30])
async def test_an_answer_to_what_was_never_sent_is_rubbish(number: int) -> None:
    viewer = Viewer("")
    viewer.offer(mail(7), 0.0)
    await viewer.next()
    viewer.offer(mail(8), 0.0)  # made, not sent
    with pytest.raises(RubbishError):
        viewer.drawn(number, 0.1)


async def test_a_strip_that_has_not_left_is_not_lost() -> None:
    viewer = Viewer("")
    assert viewer.wants_strip(5)
    viewer.offer(mail(1, strip=5), 0.0)
    assert viewer.wants_strip(5)
    viewer.offer(mail(2, strip=5), 0.0)
    await viewer.next()
    assert not viewer.wants_strip(5)
    assert viewer.wants_strip(6)
    viewer.look_at("heron-2")
    assert viewer.wants_strip(5)


async def test_a_viewer_is_dead_when_pictures_wait_and_not_when_none_does() -> None:
    viewer = Viewer("")
    assert not viewer.is_dead(1e9)
    viewer.offer(mail(1), 100.0)
    await viewer.next()
    viewer.offer(mail(2), 120.0)
    await viewer.next()
    assert not viewer.is_dead(100.0 + DEAD_S)
    assert viewer.is_dead(100.1 + DEAD_S)
    viewer.drawn(1, 125.0)
    assert not viewer.is_dead(125.0 + DEAD_S)
    assert viewer.is_dead(125.1 + DEAD_S)


async def test_a_picture_wakes_the_socket_that_waits_for_it() -> None:
    viewer = Viewer("")
    waiting = asyncio.create_task(viewer.next())
    await asyncio.sleep(0)
    viewer.offer(mail(1), 0.0)
    assert await asyncio.wait_for(waiting, 1) == b"picture 1"
