#include "outbox.h"

#include "crc.h"
#include "port.h"

#define BLOCK_FULL 255u /* code of a stuffing block of 254 bytes, behind which no zero is meant */

void outbox_init(struct outbox *out, uint8_t *ring, uint16_t bytes, uint32_t boot) {
    out->ring = ring;
    out->bytes = bytes;
    out->committed = 0;
    out->sent = 0;
    out->sequence = 0;
    out->boot = (uint8_t)(boot & 0xFFu);
}

static uint16_t taken(const struct outbox *out) {
    port_saved saved = port_lock(); /* two bytes: an interrupt may come between them on 8 bits */
    uint16_t sent = out->sent;
    port_unlock(saved);
    return sent;
}

uint16_t outbox_room(const struct outbox *out) {
    return (uint16_t)(out->bytes - (uint16_t)(out->committed - taken(out)));
}

bool outbox_is_empty(const struct outbox *out) { return out->committed == taken(out); }

uint16_t frame_bytes_max(uint16_t payload) {
    uint16_t left = (uint16_t)(payload + 8u), bytes = (uint16_t)(left + 2u);
    for (; left > 254u; left = (uint16_t)(left - 254u)) bytes++; /* a division is dear on 8 bits */
    return bytes;
}

static void commit(struct outbox *out) {
    port_saved saved = port_lock();
    out->committed = out->at;
    port_unlock(saved);
}

static inline void store(struct outbox *out, uint8_t byte) {
    if (out->at == out->limit) {
        out->failed = true;
        return;
    }
    out->ring[out->at & (uint16_t)(out->bytes - 1u)] = byte;
    out->at++;
}

static void open_block(struct outbox *out) {
    out->code_at = out->at;
    out->code = 1;
    store(out, 1);
}

static void close_block(struct outbox *out) {
    if (!out->failed) out->ring[out->code_at & (uint16_t)(out->bytes - 1u)] = out->code;
}

/* COBS as it goes: the length of a block is put in front of it when the block ends. */
static void stuff(struct outbox *out, uint8_t byte) {
    if (out->code == BLOCK_FULL) open_block(out);
    if (byte == 0) {
        close_block(out);
        open_block(out);
        return;
    }
    store(out, byte);
    out->code++;
    if (out->code == BLOCK_FULL) close_block(out);
}

static void begin(struct outbox *out) {
    out->at = out->committed;
    out->limit = (uint16_t)(taken(out) + out->bytes);
    out->failed = false;
}

bool outbox_wake(struct outbox *out) {
    begin(out);
    store(out, 0);
    if (out->failed) return false;
    commit(out);
    return true;
}

void frame_begin(struct outbox *out, uint8_t type) {
    begin(out);
    open_block(out);
    out->crc = CRC32_START;
    frame_u8(out, type);
    frame_u8(out, out->boot);
    frame_u16(out, out->sequence);
}

void frame_u8(struct outbox *out, uint8_t value) {
    out->crc = crc32_step(out->crc, value);
    stuff(out, value);
}

void frame_u16(struct outbox *out, uint16_t value) {
    frame_u8(out, (uint8_t)(value & 0xFFu));
    frame_u8(out, (uint8_t)(value >> 8));
}

void frame_u32(struct outbox *out, uint32_t value) {
    frame_u16(out, (uint16_t)(value & 0xFFFFu));
    frame_u16(out, (uint16_t)(value >> 16));
}

void frame_tick(struct outbox *out, struct tick value) {
    frame_u32(out, value.low);
    frame_u16(out, value.high);
}

void frame_bytes(struct outbox *out, const uint8_t *bytes, uint16_t count) {
    while (count--) frame_u8(out, *bytes++);
}

bool frame_end(struct outbox *out) {
    uint32_t check = ~out->crc;
    for (uint8_t k = 0; k < 4; k++) {
        stuff(out, (uint8_t)(check & 0xFFu));
        check >>= 8;
    }
    close_block(out);
    store(out, 0);
    if (out->failed) return false;
    commit(out);
    out->sequence++;
    return true;
}
