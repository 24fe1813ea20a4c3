/* The board's side of SPEC.md: what is said when, and what is answered. One struct holds all of it.

   The board fills `groups`, `edges` and `inbox` from its interrupts and calls session_poll as often as it can. The core
   reads no clock and no register: time comes as an argument. Nothing here waits. */
#ifndef SESSION_H
#define SESSION_H

#include "describe.h"
#include "edges.h"
#include "request.h"
#include "sampler.h"
#include "wire.h"

/* A counter input: counted by an interrupt, told by the main loop. */
struct counter {
    uint8_t input;
    volatile uint32_t count;
    volatile uint32_t tick; /* of the last pulse */
    struct count told;
    uint32_t told_at;
    bool changed; /* since it was told */
};

struct session {
    /* Said by the board before session_start. */
    const struct description *description;
    struct group *groups;
    struct counter *counters;
    uint8_t group_count;
    uint8_t counter_count;
    uint32_t boot;
    bool streaming; /* from power-on, or only when asked */
    /* Filled by the board's interrupts. */
    struct outbox outbox;
    struct inbox inbox;
    struct edges edges;
    /* Of the session. */
    uint32_t tick_hz;
    uint32_t status_ticks, reply_ticks, counter_ticks; /* of its times, divided once */
    uint8_t channel_count, input_count;
    uint8_t revision;
    uint16_t part;      /* of the description to be sent next: 0 is the identity */
    bool describing;
    bool fresh;         /* what is described is new: no sample may go before the end of it */
    bool again;         /* it was asked for while under way */
    bool identity_due;  /* a PC of another version has asked */
    bool status_due;
    bool reply_due;
    struct request asked; /* the clock request to be answered */
    uint32_t describe_asked, described, status_sent, second_begun; /* since when; low 32 bits of the tick */
    uint32_t dropped_blocks, dropped_before; /* ... this second began */
    uint8_t seconds_behind;                  /* in a row, in each of which a block was dropped */
};

/* Begins a start of the board: sends the zero byte, and has the description sent. Boxes, edges and groups are ready. */
void session_start(struct session *session, struct tick now);

/* Does what is due at tick `now`, one round of it. `now` was read after all edges up to it had been put in. */
void session_poll(struct session *session, struct tick now);

/* Blocks have been dropped for some seconds, and the board should describe less: fewer channels, or a lower rate. */
bool session_is_behind(const struct session *session);

/* From now on this is true of the board: it is sent with the next revision before any further sample. What is in the
   blocks was taken before and is dropped and counted. */
void session_redescribe(struct session *session, const struct description *description, struct tick now);

/* One sample of an uneven channel, numbered by the board; false if it was not sent. */
bool session_single(struct session *session, const struct single *single, struct tick now);

#endif
