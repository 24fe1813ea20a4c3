/* What a PC asks: bytes of the line, gathered by interrupt, taken apart by the main loop. Trusts no byte, no length.

   A frame to a board has at most 64 bytes on the wire, delimiter included; what is longer is passed over. */
#ifndef REQUEST_H
#define REQUEST_H

#include <stdbool.h>
#include <stdint.h>

#include "tick.h"

#define REQUEST_BYTES_MAX 63u /* without the delimiter */
#define STAMPS 4u             /* frames that may have come and are not read yet: a power of two */

enum heard {
    HEARD_NOTHING, HEARD_DESCRIBE, HEARD_START, HEARD_STOP, HEARD_CLOCK_REQUEST, /* good requests */
    HEARD_UNKNOWN,   /* a type that no PC of this version sends */
    HEARD_MALFORMED, /* checksum right, contents too short */
    HEARD_SHORT, HEARD_STUFFING, HEARD_CHECKSUM, HEARD_TOO_LONG
};

struct request {
    uint8_t major; /* of Describe */
    uint8_t minor;
    uint8_t token[8];       /* of ClockRequest */
    struct tick received_tick; /* when the delimiter came */
};

/* Takes one frame apart in place, its delimiter already removed; `length` is at most REQUEST_BYTES_MAX. */
enum heard request_decode(uint8_t *coded, uint8_t length, struct request *request);

struct inbox {
    uint8_t *ring;
    uint8_t bytes; /* size of the ring: a power of two, 128 at most */
    volatile uint8_t came, read;                 /* bytes, modulo 256 */
    volatile uint8_t stamps_came, stamps_read;
    bool in_frame;                               /* the last byte was no delimiter */
    bool end_due;                                /* a delimiter found no room ... */
    struct tick end_tick;                        /* ... when it came */
    struct tick stamps[STAMPS];                  /* ticks of the delimiters in the ring */
    uint8_t frame[REQUEST_BYTES_MAX];
    uint8_t length; /* of the frame so far; one more than the most: too long */
};

void inbox_init(struct inbox *in, uint8_t *ring, uint8_t bytes);

/* For the line's interrupt. A byte that finds no room is lost, and so its frame. `now` matters at a zero byte only. */
void inbox_put(struct inbox *in, uint8_t byte, struct tick now);

/* For the main loop: reads on to the end of the next frame. HEARD_NOTHING: none has come to its end. */
enum heard inbox_next(struct inbox *in, struct request *request);

#endif
