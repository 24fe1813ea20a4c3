"""The least that brings a board's frames to a viewer: `python -m tests.benchmarks.least_program PTY TICK_S`.

Reads the pty, cuts at the delimiters, and broadcasts what has come at each tick. Checks nothing, computes nothing.
Prints its port.
"""

import asyncio
import os
import sys
import tty

from websockets.asyncio.server import ServerConnection, broadcast, serve


async def main() -> None:
    line, tick_s = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY), float(sys.argv[2])
    tty.setraw(line)
    os.set_blocking(line, False)
    loop = asyncio.get_running_loop()
    connections: set[ServerConnection] = set()
    tail, frames = b"", list[bytes]()

    def read() -> None:
        nonlocal tail
        *whole, tail = (tail + os.read(line, 65_536)).split(b"\0")
        frames.extend(whole)

    async def handle(connection: ServerConnection) -> None:
        connections.add(connection)
        if len(connections) == 1:
            os.write(line, b"\0")  # the board may begin
        await connection.wait_closed()

    loop.add_reader(line, read)
    async with serve(handle, "127.0.0.1", 0, compression=None) as server:
        print(next(iter(server.sockets)).getsockname()[1], flush=True)
        ending = loop.run_in_executor(None, sys.stdin.read)  # until the benchmark closes it
        due_s = loop.time()
        while not ending.done():
            due_s += tick_s
            await asyncio.sleep(max(due_s - loop.time(), 0))
            if frames:
                broadcast(connections, b"\0".join(frames))
                frames.clear()


if __name__ == "__main__":
    asyncio.run(main())
