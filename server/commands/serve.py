"""`slipring serve`: what can be refused at once, before the service itself is loaded; then the service."""

import asyncio
import contextlib
from argparse import Namespace
from pathlib import Path

from server.access.entrance import entrance_of
from server.commands.listen import PortBusyError, listen
from server.commands.log_file import logged
from server.commands.streams import say
from server.data_folder import DataFolderError, default_data_folder, hold, say_who, token_file
from server.demo_board import DemoBoardError
from server.demo_list import FIRST, DemoList

DEMOS_MAX = 16  # started with the service: half of the rigs that it may have


def run(chosen: Namespace) -> int:
    from server.commands.bench_network import BenchNetworkError, check_options, open_bench

    try:
        check_options(chosen)
    except BenchNetworkError as error:
        say(f"slipring serve: {error}.")
        return 2
    data = Path(chosen.data).absolute() if chosen.data else default_data_folder()
    demo_list, wanted = DemoList(), list(chosen.demo_motor)
    try:
        asyncio.run(_check(demo_list, wanted))
    except ValueError as error:
        say(f"slipring serve: --demo-motor: {error} slipring demo-motors lists them.")
        return 2
    except DemoBoardError as error:
        say(f"slipring: {error}")
        return 1
    demos = list(dict.fromkeys([*((key, "") for key in FIRST if chosen.demo), *wanted]))
    if len(demos) > DEMOS_MAX:
        say(f"slipring serve: {len(demos)} demo motors are too many; start at most {DEMOS_MAX}, more on the page.")
        return 2
    try:
        with hold(data) as held, contextlib.ExitStack() as open_sockets:
            sockets = [open_sockets.enter_context(each) for each in listen(chosen.port)]
            port = sockets[0].getsockname()[1]
            bench = open_bench(chosen, data, port) if chosen.bench_network else None
            if bench is not None:
                open_sockets.enter_context(bench.socket)
            say_who(held, f"http://127.0.0.1:{port}/")
            entrance = entrance_of(
                data, token_file(data).read_text(encoding="ascii"), None if bench is None else bench.bench
            )
            open_sockets.enter_context(logged(data))
            from server.commands.service import Listening, serve  # takes a second to load
            from server.demo_rigs import Played
            from server.ingest.found_ports import PortSearch
            from server.rigs import Rigs

            rigs = Rigs(data, PortSearch(chosen.look), demo_list)
            played = [Played(*each) for each in demos]
            return asyncio.run(serve(rigs, entrance, dict(chosen.rig), played, chosen.open, Listening(sockets, bench)))
    except (DataFolderError, PortBusyError) as error:
        say(f"slipring: {error}")
        return 1
    except BenchNetworkError as error:
        say(f"slipring serve: {error}.")
        return 1


async def _check(demo_list: DemoList, wanted: list[tuple[str, str]]) -> None:
    for motor, story in wanted:
        await demo_list.check(motor, story)
