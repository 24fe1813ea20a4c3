/* The core as a library for tests on a PC: one board whose groups, boxes and line a test makes as it likes.

   Not a board that anybody builds. Arrays are as large as a test may ask for; host_start refuses what is larger. */
#ifndef HOST_H
#define HOST_H

#include "session.h"

struct host_group {
    uint8_t channels;
    uint8_t word;
    uint16_t sets_in_block;
    uint32_t ticks_per_sample;
    uint32_t ticks_divisor;
};

struct host_setup {
    const struct description *description;
    const struct host_group *groups;
    uint8_t group_count;
    uint8_t counter_count; /* the last inputs */
    uint16_t outbox_bytes;
    uint8_t inbox_bytes;
    uint8_t edge_count;
    uint8_t levels;
    uint32_t boot;
    bool streaming;
};

/* One box for encoding a frame, one session, both made anew at each call. */
struct outbox *host_outbox(uint16_t bytes, uint32_t boot, uint16_t sequence);
struct session *host_start(const struct host_setup *setup, struct tick now);

struct outbox *host_box(struct session *session);

/* What interrupts do on a board. */
uint16_t host_send(struct outbox *out, uint8_t *bytes, uint16_t count);
void host_hear(struct session *session, const uint8_t *bytes, uint16_t count, struct tick now);
uint16_t host_take(struct session *session, uint8_t group, const int32_t *codes, uint16_t sets);
void host_miss(struct session *session, uint8_t group, uint32_t sets);
void host_edge(struct session *session, uint32_t tick, uint8_t levels);
void host_count(struct session *session, uint8_t counter, uint32_t tick);

/* Sizes of the records that tests fill, in the order in which they are declared. */
uint16_t host_size(uint8_t record);

#endif
