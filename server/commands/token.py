"""`slipring token`: where the token for scripts is."""

import os
from argparse import Namespace
from pathlib import Path

from server.commands.streams import say, write
from server.data_folder import DataFolderError, default_data_folder, token_file


def run(chosen: Namespace) -> int:
    if chosen.data and not Path(chosen.data).is_dir():
        say(f"slipring: there is no folder {chosen.data}; a token is made by slipring serve --data {chosen.data}.")
        return 1
    try:
        path = token_file(Path(chosen.data).absolute() if chosen.data else default_data_folder())
    except DataFolderError as error:
        say(f"slipring: {error}")
        return 1
    write(os.fsencode(path) + b"\n")
    return 0
