/* The messages of SPEC.md that a board sends again and again: values in, one frame out. Knows no clock and no state.

   Each function is false if the frame did not fit; nothing of it is sent then. */
#ifndef WIRE_H
#define WIRE_H

#include "outbox.h"

enum message_type {
    TYPE_IDENTITY = 0x01, TYPE_CHANNEL_DESCRIPTION, TYPE_INPUT_DESCRIPTION,
    TYPE_SAMPLES = 0x10, TYPE_SINGLES, TYPE_EDGES, TYPE_COUNTERS, TYPE_STATUS, TYPE_CLOCK_REPLY,
    TYPE_SAMPLES12, TYPE_SAMPLES24,
    TYPE_DESCRIBE = 0x81, TYPE_START, TYPE_STOP, TYPE_CLOCK_REQUEST
};

#define BLOCK_HEAD_BYTES 14u
#define EDGES_HEAD_BYTES 4u
#define EDGE_BYTES 7u

struct single {
    uint8_t channel;
    uint32_t number;
    struct tick tick;
    int32_t code;
};

struct count {
    uint8_t input;
    uint32_t count;
    struct tick tick;
};

struct status {
    struct tick tick;
    bool streaming;
    uint8_t levels;
    uint32_t dropped_blocks;
    uint32_t overruns;
    uint32_t lost_edges;
    bool temperature_known;
    bool supply_known;
    float temperature_c;
    float supply_v;
    const uint8_t *extra; /* further fields: tag, length, value */
    uint16_t extra_bytes;
};

/* `words` are coded already, as `word` asks for it (group_take in sampler.h does that). */
bool wire_block(struct outbox *out, uint8_t word, uint8_t group, uint8_t channels, struct tick first_sample,
                struct tick tick, const uint8_t *words, uint16_t bytes);
bool wire_singles(struct outbox *out, const struct single *singles, uint8_t count);
bool wire_counters(struct outbox *out, const struct count *counts, uint8_t count);
bool wire_status(struct outbox *out, const struct status *status);
bool wire_clock_reply(struct outbox *out, const uint8_t token[8], struct tick received_tick, struct tick sent_tick);

/* A tagged field of four bytes, within a frame. */
void wire_f32(struct outbox *out, uint8_t tag, float value);

/* Edges come one by one: begin, each, and then frame_end. */
void wire_edges_begin(struct outbox *out, uint32_t first_edge);
void wire_edge(struct outbox *out, struct tick tick, uint8_t levels);

#endif
