"""`slipring token`: where the token for scripts is."""

import sys
from argparse import Namespace
from pathlib import Path

from server.data_folder import DataFolderError, default_data_folder, token_file


def run(chosen: Namespace) -> int:
    try:
        print(token_file(Path(chosen.data).absolute() if chosen.data else default_data_folder()))
    except DataFolderError as error:
        print(f"slipring: {error}", file=sys.stderr)
        return 1
    return 0
