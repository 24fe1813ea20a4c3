"""A board whose shaft a hand turns, in a process of its own: `python -m tests.benchmarks.hall_board SECONDS`.

Three leads of 4 kS/s in blocks of 10 ms and three Hall inputs on a pty; the Hall state goes one sector on every EDGE_S.
Prints the pty's name, starts with the first byte that comes to it, and prints at the end when each edge was written and
the state from then on (UTC seconds).
"""

import json
import os
import select
import sys
import time
import tty
from dataclasses import replace

from firmware_protocol import WORD_CODING, Edges, Identity, Message, Samples, Source, Status, encode_frame
from tests.server.turned_board import BLOCK, STEP, description
from tests.server.wiring.turned import RATE_HZ, TICK_HZ

STATES = (5, 1, 3, 2, 6, 4)
BLOCK_S = BLOCK / RATE_HZ
EDGE_S = 0.097  # no multiple of a tick or of a block: edges fall everywhere between them
STATUS_EVERY = 20  # blocks
_NOTHING = (WORD_CODING.to_bytes(2, "little")) * 3 * BLOCK


def main() -> None:
    seconds = float(sys.argv[1])
    master, slave = os.openpty()
    tty.setraw(slave)
    print(os.ttyname(slave), flush=True)
    os.read(master, 1)
    sequence = 0

    def send(message: Message) -> float:
        nonlocal sequence
        data = encode_frame(message, sequence=sequence, boot=1)
        sequence += 1
        while data:
            data = data[os.write(master, data) :]
        if select.select([master], [], [], 0)[0]:
            os.read(master, 10_000)  # what the service says is not needed
        return time.time()

    for message in description():
        send(replace(message, source=Source.DEMO) if isinstance(message, Identity) else message)
    begin_s, block, edge, written = time.monotonic(), 0, 0, list[tuple[float, int]]()
    while (now_s := time.monotonic() - begin_s) < seconds:
        if (edge + 1) * EDGE_S <= min(now_s, (block + 1) * BLOCK_S):
            state = STATES[(edge + 1) % 6]
            written.append((send(Edges(edge, (round((edge + 1) * EDGE_S * TICK_HZ),), bytes([state]))), state))
            edge += 1
        elif (block + 1) * BLOCK_S <= now_s:
            send(Samples(0, 3, block * BLOCK, block * BLOCK * STEP, _NOTHING))
            block += 1
            if block % STATUS_EVERY == 0:
                send(Status(block * BLOCK * STEP, True, STATES[edge % 6]))
        else:
            time.sleep(0.001)
    print(json.dumps(written), flush=True)


if __name__ == "__main__":
    main()
