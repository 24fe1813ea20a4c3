#include "wire.h"

static const uint8_t BLOCK_TYPES[3] = {TYPE_SAMPLES, TYPE_SAMPLES12, TYPE_SAMPLES24};

bool wire_block(struct outbox *out, uint8_t word, uint8_t group, uint8_t channels, struct tick first_sample,
                struct tick tick, const uint8_t *words, uint16_t bytes) {
    frame_begin(out, BLOCK_TYPES[word]);
    frame_u8(out, group);
    frame_u8(out, channels);
    frame_tick(out, first_sample);
    frame_tick(out, tick);
    frame_bytes(out, words, bytes);
    return frame_end(out);
}

bool wire_singles(struct outbox *out, const struct single *singles, uint8_t count) {
    frame_begin(out, TYPE_SINGLES);
    for (uint8_t k = 0; k < count; k++) {
        frame_u8(out, singles[k].channel);
        frame_u32(out, singles[k].number);
        frame_tick(out, singles[k].tick);
        frame_u32(out, (uint32_t)singles[k].code);
    }
    return frame_end(out);
}

bool wire_counters(struct outbox *out, const struct count *counts, uint8_t count) {
    frame_begin(out, TYPE_COUNTERS);
    for (uint8_t k = 0; k < count; k++) {
        frame_u8(out, counts[k].input);
        frame_u32(out, counts[k].count);
        frame_tick(out, counts[k].tick);
    }
    return frame_end(out);
}

void wire_f32(struct outbox *out, uint8_t tag, float value) {
    const union { float value; uint32_t bits; } both = {.value = value};
    frame_u8(out, tag);
    frame_u8(out, sizeof value);
    frame_u32(out, both.bits);
}

bool wire_status(struct outbox *out, const struct status *status) {
    frame_begin(out, TYPE_STATUS);
    frame_tick(out, status->tick);
    frame_u8(out, status->streaming ? 1 : 0);
    frame_u8(out, status->levels);
    frame_u32(out, status->dropped_blocks);
    frame_u32(out, status->overruns);
    frame_u32(out, status->lost_edges);
    if (status->temperature_known) wire_f32(out, 1, status->temperature_c);
    if (status->supply_known) wire_f32(out, 2, status->supply_v);
    frame_bytes(out, status->extra, status->extra_bytes);
    return frame_end(out);
}

bool wire_clock_reply(struct outbox *out, const uint8_t token[8], struct tick received_tick, struct tick sent_tick) {
    frame_begin(out, TYPE_CLOCK_REPLY);
    frame_bytes(out, token, 8);
    frame_tick(out, received_tick);
    frame_tick(out, sent_tick);
    return frame_end(out);
}

void wire_edges_begin(struct outbox *out, uint32_t first_edge) {
    frame_begin(out, TYPE_EDGES);
    frame_u32(out, first_edge);
}

void wire_edge(struct outbox *out, struct tick tick, uint8_t levels) {
    frame_tick(out, tick);
    frame_u8(out, levels);
}
