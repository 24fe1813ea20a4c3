"""Who is tried when: what is for others ends no pause."""

import time
from collections.abc import Callable
from random import Random

import pytest

from server.notify.delivery import Delivery
from server.notify.pauses import Pauses
from server.notify.trouble import SendError
from tests.server.notify.hooks import hooks, webhook
from tests.server.notify.notices import notice, older, until


@pytest.mark.parametrize("lasting", [True, False], ids=["it does not let us in", "it is away"])
def test_a_receiver_whose_sign_of_life_failed_is_not_tried_for_each_message_to_others(
    deliver: Callable[..., Delivery], monkeypatch: pytest.MonkeyPatch, lasting: bool
) -> None:
    with hooks() as hook:
        delivery, tried = deliver(webhook(hook.port, more="sign_of_life_min = 1")), list[float]()
        until(lambda: len(hook.came) == 2)

        def failed(utc_s: float) -> None:
            tried.append(utc_s)
            raise SendError("no", lasting=lasting)

        worker = delivery._workers["workshop"]
        monkeypatch.setattr(worker._link, "sign_of_life", failed)
        worker._pauses = Pauses(Random(1), 60.0)
        older(worker, 60.0)
        worker.news()
        until(lambda: worker.standing().error)
        for _ in range(10):
            worker.news()
            time.sleep(0.02)
        assert len(tried) == 1
        delivery.deliver(notice())  # one of its own ends the pause, but where it does not let us in
        if lasting:
            time.sleep(0.2)
        else:
            until(lambda: len(hook.came) == 3)
        assert len(hook.came) == (2 if lasting else 3)
