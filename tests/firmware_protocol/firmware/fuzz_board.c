/* Any bytes at all on the line to a board: for a coverage-guided fuzzer (run.py prove fuzz), built with sanitizers.

   The first byte says how the rest is meant: below 128 as bytes of the line, else as the contents of one frame, which is
   how a fuzzer gets past the checksum. After it the board must still answer a clock request with its token. */
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include "crc.h"
#include "host.h"

#define CONTENTS_MAX 59u

static const struct identity IDENTITY = {.tick_hz = 1000000, .channels = 1, .inputs = 1, .serial = "F-1"};
static const struct channel CHANNEL = {.role = 1, .scale = 0.05, .code_low = -512, .code_high = 511,
                                       .ticks_per_sample = 1000, .ticks_divisor = 1, .word = 1};
static const struct input INPUT = {.kind = 2};
static const struct description DESCRIPTION = {.identity = &IDENTITY, .channels = &CHANNEL, .inputs = &INPUT};
static const struct host_group GROUP = {.channels = 1, .word = 1, .sets_in_block = 16, .ticks_per_sample = 1000,
                                        .ticks_divisor = 1};
static const struct host_setup SETUP = {.description = &DESCRIPTION, .groups = &GROUP, .group_count = 1,
                                        .outbox_bytes = 1024, .inbox_bytes = 128, .edge_count = 16, .boot = 1};

static struct tick now;

/* Lets the board work until nothing is left to send; how many bytes left it. */
static uint32_t work(struct session *session) {
    uint8_t sent[256];
    uint32_t bytes = 0;
    for (unsigned round = 0; round < 40; round++) {
        uint16_t count;
        tick_add(&now, 100);
        session_poll(session, now);
        while ((count = host_send(&session->outbox, sent, sizeof sent)) != 0) bytes += count;
    }
    return bytes;
}

static size_t framed(const uint8_t *contents, size_t length, uint8_t *out) {
    uint32_t crc = CRC32_START;
    size_t code_at = 0, at = 1;
    for (size_t k = 0; k < length; k++) crc = crc32_step(crc, contents[k]);
    crc = ~crc;
    for (size_t k = 0; k < length + 4; k++) {
        uint8_t byte = k < length ? contents[k] : (uint8_t)(crc >> 8 * (k - length));
        if (byte) out[at++] = byte;
        if (byte) continue;
        out[code_at] = (uint8_t)(at - code_at);
        code_at = at++;
    }
    out[code_at] = (uint8_t)(at - code_at);
    out[at++] = 0;
    return at;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static const uint8_t asks[] = {0x84, 0, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9};
    uint8_t frame[128];
    now = (struct tick){0, 0};
    struct session *session = host_start(&SETUP, now);
    if (!session) abort();
    work(session);
    if (size && data[0] >= 128 && size - 1 <= CONTENTS_MAX) {
        host_hear(session, frame, (uint16_t)framed(data + 1, size - 1, frame), now);
    } else {
        for (size_t at = 1; at < size; at += 64) {
            host_hear(session, data + at, (uint16_t)(size - at < 64 ? size - at : 64), now);
            work(session);
        }
    }
    work(session);
    host_hear(session, (const uint8_t *)"", 1, now); /* the end of whatever was under way */
    work(session);
    host_hear(session, frame, (uint16_t)framed(asks, sizeof asks, frame), now);
    if (!work(session) || session->reply_due || session->asked.token[7] != 9) abort();
    return 0;
}
