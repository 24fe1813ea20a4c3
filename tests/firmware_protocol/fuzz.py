"""python -m tests.firmware_protocol.fuzz CORPUS_FOLDER [options]: a coverage-guided fuzzer on the decoder in Python.

Options are those of libFuzzer, for example -max_total_time=60. Needs atheris (the extra `prove`).
"""

import sys

import atheris

with atheris.instrument_imports(include=["firmware_protocol"]):
    from tests.firmware_protocol.fuzzed import one_input

atheris.Setup(sys.argv, one_input)
atheris.Fuzz()
