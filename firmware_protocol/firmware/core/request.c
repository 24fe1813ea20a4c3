#include "request.h"

#include "crc.h"
#include "port.h"
#include "wire.h"

#define HEADER_BYTES 4u
#define CHECK_BYTES 4u
#define FRAME_BYTES_MIN (HEADER_BYTES + CHECK_BYTES)

/* The zero-free coding undone in place. The output never overtakes the input. False if the lengths do not add up. */
static bool unstuff(uint8_t *data, uint8_t length, uint8_t *decoded) {
    uint8_t at = 0, end = 0;
    while (at < length) {
        uint8_t code = data[at++];
        if (code == 0 || code - 1 > length - at) return false;
        for (uint8_t k = 1; k < code; k++) data[end++] = data[at++];
        if (at < length) data[end++] = 0; /* a block of 254 bytes is longer than all that comes here */
    }
    *decoded = end;
    return true;
}

static bool checksum_is_right(const uint8_t *raw, uint8_t length) {
    uint32_t crc = CRC32_START;
    for (uint8_t k = 0; k < length; k++) crc = crc32_step(crc, raw[k]);
    return ~crc == CRC32_RESIDUE;
}

enum heard request_decode(uint8_t *coded, uint8_t length, struct request *request) {
    const uint8_t *payload = coded + HEADER_BYTES;
    uint8_t raw, bytes;
    if (!unstuff(coded, length, &raw)) return HEARD_STUFFING;
    if (raw < FRAME_BYTES_MIN) return HEARD_SHORT;
    if (!checksum_is_right(coded, raw)) return HEARD_CHECKSUM;
    bytes = (uint8_t)(raw - FRAME_BYTES_MIN);
    switch (coded[0]) {
    case TYPE_DESCRIBE:
        if (bytes < 2) return HEARD_MALFORMED;
        request->major = payload[0];
        request->minor = payload[1];
        return HEARD_DESCRIBE;
    case TYPE_START: return HEARD_START;
    case TYPE_STOP: return HEARD_STOP;
    case TYPE_CLOCK_REQUEST:
        if (bytes < sizeof request->token) return HEARD_MALFORMED;
        for (uint8_t k = 0; k < sizeof request->token; k++) request->token[k] = payload[k];
        return HEARD_CLOCK_REQUEST;
    default: return HEARD_UNKNOWN;
    }
}

void inbox_init(struct inbox *in, uint8_t *ring, uint8_t bytes) {
    in->ring = ring;
    in->bytes = bytes;
    in->came = in->read = 0;
    in->stamps_came = in->stamps_read = 0;
    in->in_frame = in->end_due = false;
    in->length = 0;
}

static bool store(struct inbox *in, uint8_t byte) {
    uint8_t came = in->came;
    if ((uint8_t)(came - in->read) == in->bytes) return false;
    in->ring[came & (uint8_t)(in->bytes - 1u)] = byte;
    in->came = (uint8_t)(came + 1u);
    return true;
}

static bool store_end(struct inbox *in, struct tick now) {
    uint8_t stamps_came = in->stamps_came;
    if ((uint8_t)(stamps_came - in->stamps_read) == STAMPS) return false;
    in->stamps[stamps_came & (STAMPS - 1u)] = now;
    if (!store(in, 0)) return false;
    in->stamps_came = (uint8_t)(stamps_came + 1u);
    in->in_frame = false;
    return true;
}

/* A delimiter that finds no room is put in when there is some: a lost frame must not take the next one along. */
static void store_due_end(struct inbox *in) {
    if (in->end_due) in->end_due = !store_end(in, in->end_tick);
}

void inbox_put(struct inbox *in, uint8_t byte, struct tick now) {
    store_due_end(in);
    if (in->end_due) return;
    if (byte) {
        store(in, byte);
        in->in_frame = true;
    } else if (in->in_frame) { /* an empty frame is none */
        in->end_due = true;
        in->end_tick = now;
        store_due_end(in);
    }
}

static enum heard ended(struct inbox *in, struct request *request) {
    uint8_t length = in->length;
    request->received_tick = in->stamps[in->stamps_read & (STAMPS - 1u)];
    in->stamps_read++;
    in->length = 0;
    if (length > REQUEST_BYTES_MAX) return HEARD_TOO_LONG;
    return length ? request_decode(in->frame, length, request) : HEARD_NOTHING;
}

enum heard inbox_next(struct inbox *in, struct request *request) {
    for (;;) {
        uint8_t read = in->read, byte;
        enum heard heard;
        port_saved saved = port_lock(); /* what the interrupt has stored is read after its index, not before */
        store_due_end(in); /* perhaps no further byte comes */
        bool none = read == in->came;
        port_unlock(saved);
        if (none) return HEARD_NOTHING;
        byte = in->ring[read & (uint8_t)(in->bytes - 1u)];
        in->read = (uint8_t)(read + 1u);
        if (byte) {
            if (in->length < REQUEST_BYTES_MAX) in->frame[in->length] = byte;
            if (in->length <= REQUEST_BYTES_MAX) in->length++;
            continue;
        }
        heard = ended(in, request);
        if (heard != HEARD_NOTHING) return heard;
    }
}
