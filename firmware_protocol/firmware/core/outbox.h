/* Frames on their way to the PC: written byte by byte into a ring, stuffed and checked as they come.

   No frame is ever held as a whole outside the ring, so a small board needs no further buffer. A frame that does not
   fit is given up without a trace: it takes no sequence number. One writer (the main loop), one reader (the line's
   interrupt). */
#ifndef OUTBOX_H
#define OUTBOX_H

#include <stdbool.h>
#include <stdint.h>

#include "tick.h"

struct outbox {
    uint8_t *ring;
    uint16_t bytes;              /* size of the ring: a power of two, 32768 at most */
    volatile uint16_t committed; /* counts the bytes of whole frames written, modulo 65536 */
    volatile uint16_t sent;      /* counts the bytes that the line has taken */
    uint16_t sequence;           /* of the next frame */
    uint8_t boot;
    /* The frame that is being written. */
    uint16_t at;      /* where its next byte goes */
    uint16_t limit;   /* where the room ends */
    uint16_t code_at; /* where the length of the open stuffing block will stand */
    uint8_t code;     /* that length so far; 255: the block is full and closed */
    bool failed;      /* there was no room */
    uint32_t crc;
};

void outbox_init(struct outbox *out, uint8_t *ring, uint16_t bytes, uint32_t boot);

/* For the line's interrupt, and so short that it stands here: the next byte to send; false if there is none. */
static inline bool outbox_take(struct outbox *out, uint8_t *byte) {
    uint16_t sent = out->sent;
    if (sent == out->committed) return false;
    *byte = out->ring[sent & (uint16_t)(out->bytes - 1u)];
    out->sent = (uint16_t)(sent + 1u);
    return true;
}

/* Bytes of room in the ring, and whether everything has been taken by the line. */
uint16_t outbox_room(const struct outbox *out);
bool outbox_is_empty(const struct outbox *out);

/* Longest coding of a frame with so many bytes of payload, delimiter included. */
uint16_t frame_bytes_max(uint16_t payload);

/* One zero byte by itself: ends what a start has cut off. */
bool outbox_wake(struct outbox *out);

/* A frame: begin, its payload in pieces (numbers little endian), end. `frame_end` is false if it did not fit. */
void frame_begin(struct outbox *out, uint8_t type);
void frame_u8(struct outbox *out, uint8_t value);
void frame_u16(struct outbox *out, uint16_t value);
void frame_u32(struct outbox *out, uint32_t value);
void frame_tick(struct outbox *out, struct tick value);
void frame_bytes(struct outbox *out, const uint8_t *bytes, uint16_t count);
bool frame_end(struct outbox *out);

#endif
