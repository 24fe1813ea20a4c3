"""Makes firmware_protocol/vectors/frames.json: python -m tests.firmware_protocol.golden

Run by hand when a message is added, never by a test. A frame that is already there must not change: frames of
released boards look like that for ever. Refuses to overwrite one that would.
"""

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    ClockRequest,
    Count,
    Counters,
    Describe,
    Edges,
    Identity,
    InputDescription,
    InputKind,
    Message,
    Role,
    SampleKind,
    Samples,
    Samples12,
    Samples24,
    Single,
    Singles,
    Start,
    Status,
    Stop,
    Word,
    encode_frame,
)
from tests.firmware_protocol.plain import to_plain, words_of

FILE = Path(__file__).resolve().parent.parent.parent / "firmware_protocol" / "vectors" / "frames.json"

PLATE = '[motor]\nname = "cabin ventilator"\ntype = "permanent_split_capacitor"\n\n[motor.plate]\n'
PLATE += "voltage_v = 230\nfrequency_hz = 50\ncurrent_a = 0.55\npole_pairs = 2\nrun_capacitor_uf = 4\n"
PLATE += "# A field holds 255 bytes: a longer text comes as several fields of the same tag, which the reader joins.\n"
SUPPLY = ChannelDescription(
    0, Role.VOLTAGE, "U", "supply", "V", 0.0125, 0.0, -32000, 32000, group=0, ticks_per_sample=Fraction(50)
)
EVERYTHING = ChannelDescription(
    1,
    Role.CURRENT,
    "I",
    "line",
    "A",
    scale=-0.0001,
    offset=0.25,
    code_low=-32768,
    code_high=32767,
    group=2,
    ticks_per_sample=Fraction(3125, 64),
    kind=SampleKind.MEAN,
    kind_ticks=20,
    delay_ns=-1500,
    delay_limit_ns=200,
    noise_codes_rms=1.5,
    gain_limit=0.0078125,
    offset_limit_codes=4.0,
    corner_low_hz=0.25,
    corner_high_hz=5000.0,
    ac_coupled=True,
    unknown=((200, b"\x01\x00\x02"),),
)

GOLDEN: tuple[tuple[str, Message], ...] = (
    ("a board with the least to say", Identity(0, 10, 1, 1_000_000, 1, 0, "HB-0001")),
    (
        "a board with everything to say, its plate in two fields of one tag",
        Identity(
            0, 10, 0x1FE, 84_000_000, 255, 8, "HB-0002", "mill", "1.4", "demo", 50.0, PLATE, unknown=((99, b"new"),)
        ),
    ),
    ("a channel with the least to say", SUPPLY),
    ("a channel with everything to say", EVERYTHING),
    (
        "an uneven channel",
        ChannelDescription(
            2, Role.OTHER, "humidity", "housing", "%", 0.01, 50.0, -5000, 5000, interval_ticks_max=10_000_000
        ),
    ),
    ("a Hall sensor", InputDescription(0, InputKind.HALL, "Hall A", bit=0)),
    ("a pulse sensor", InputDescription(3, InputKind.PULSE, "shaft", 3, 1, True, 2000, 500, unknown=((77, b"\x00"),))),
    ("a counter", InputDescription(4, InputKind.COUNTER, "encoder", pulses_per_turn=4096)),
    ("codes at and around zero and both ends", Samples(0, 2, 0, 0, words_of([[0, -1], [1, 255], [32767, -32768]]))),
    ("a motor at rest: 96 sets without a zero byte", Samples(1, 3, 3072, 153_600, words_of([[0, 0, 0]] * 96))),
    ("the largest frame", Samples(255, 1, (1 << 48) - 501, (1 << 48) - 25_051, words_of([[k] for k in range(501)]))),
    ("single samples", Singles((Single(2, 0, 1000, -32768), Single(5, (1 << 32) - 1, (1 << 48) - 1, 1234)))),
    ("edges", Edges((1 << 32) - 1, (10_000, 11_190, 12_381), b"\x05\x01\x03")),
    ("counts", Counters((Count(4, 0, 0), Count(6, (1 << 32) - 1, 1 << 47)))),
    ("status with the least to say", Status(250_000, False, 0)),
    ("status with everything to say", Status(500_000, True, 0b101, 3, 2, 1, 41.5, 4.875, ((9, b"\x07"),))),
    ("a clock reply", ClockReply((1 << 64) - 1, 1_000_000, 1_000_040)),
    ("describe", Describe(0, 10)),
    ("describe, asked by a PC of another version", Describe(1, 2)),
    ("start", Start()),
    ("stop", Stop()),
    ("a clock request", ClockRequest(1_795_600_000_120_000)),
    ("a board whose description has changed", Identity(0, 10, 1, 1_000_000, 1, 0, "HB-0001", revision=255)),
    (
        "a channel of a small board",
        ChannelDescription(
            3, Role.VOLTAGE, "V", "V", "V", 0.05, 25.6, -512, 511, 0, Fraction(8000), word=Word.PACKED12
        ),
    ),
    (
        "a channel of 24 bits",
        ChannelDescription(
            4, Role.CURRENT, "I", "line", "A", 1e-6, 0.0, -8_388_608, 8_388_607, 1, Fraction(250), word=Word.INT24
        ),
    ),
    (
        "an odd number of packed codes",
        Samples12(0, 3, 1 << 40, 5, words_of([[0, -1, 2047], [1, -2048, -512], [5, 6, 7]], 12)),
    ),
    ("an even number of packed codes", Samples12(0, 2, 7, 9, words_of([[0, 0], [-2048, 2047]], 12))),
    ("the largest frame of packed codes", Samples12(1, 4, 0, 0, words_of([[k, -k, k, -k] for k in range(167)], 12))),
    ("codes of 24 bits", Samples24(1, 2, 3, 4, words_of([[0, -1], [8_388_607, -8_388_608]], 24))),
    ("a board of 1.0 with the least to say", Identity(1, 0, 1, 1_000_000, 1, 0, "HB-0001")),
    (
        "a board of 1.0 with everything to say",
        Identity(1, 0, 0x2FE, 84_000_000, 255, 8, "HB-0002", "mill", "2.0", "demo", 50.0, PLATE, 9, ((99, b"new"),)),
    ),
    (
        "a board of a later minor version, with a field that nobody knows yet",
        Identity(1, 7, 3, 1_000_000, 2, 1, "HB-0003", unknown=((8, b"later"),)),
    ),
    ("describe, asked by a PC of 1.0", Describe(1, 0)),
    ("a Hall sensor that is looked at every 200 ticks", InputDescription(0, InputKind.HALL, "Hall A", look_ticks=200)),
    (
        "a counter whose looks are as far apart as can be said",
        InputDescription(5, InputKind.COUNTER, "encoder", 0, 1024, True, -70, 30, (1 << 32) - 1, ((200, b"trial"),)),
    ),
)


def frames() -> list[dict[str, Any]]:
    """All golden frames; sequence and boot byte are other ones for each, so that none is taken for granted."""
    made = []
    for number, (what, message) in enumerate(GOLDEN):
        sequence, boot = (number * 3119) % 65536, (number * 37) % 256
        wire = encode_frame(message, sequence=sequence, boot=boot).hex()
        made.append({"what": what, "sequence": sequence, "boot_byte": boot, **to_plain(message), "wire": wire})
    return made


def main() -> None:
    made = frames()
    old = {frame["what"]: frame for frame in json.loads(FILE.read_text())} if FILE.exists() else {}
    changed = [frame["what"] for frame in made if old.get(frame["what"], frame) != frame]
    if changed:
        raise SystemExit(f"these golden frames would change: {', '.join(changed)}")
    FILE.write_text("[\n" + ",\n".join(json.dumps(frame) for frame in made) + "\n]\n")


if __name__ == "__main__":
    main()
