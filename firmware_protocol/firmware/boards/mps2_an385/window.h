/* The window through which a test is the board's converter, its inputs and its kept memory: RAM that both share.

   One side writes each word. Counts only grow; a record is written before the count that covers it. The converter
   brings the sampling clock, as an external one does: a set is 50 us, and board time stands while none comes. */
#ifndef WINDOW_H
#define WINDOW_H

#include <stdint.h>

#define WINDOW_AT 0x21000000u
#define WINDOW_CHANNELS 8u
#define WINDOW_SETS 4096u  /* records in the ring of sets: a power of two */
#define WINDOW_EDGES 4096u /* in the ring of edges */
#define SET_MISSED 1u      /* flag: the converter says that this conversion came too late */

struct window_set {
    int16_t codes[WINDOW_CHANNELS];
    uint8_t flags;
    uint8_t spare[15];
};

struct window_edge {
    uint32_t set;   /* the set that it follows, ... */
    uint16_t ticks; /* ... and how many ticks later */
    uint8_t levels;
    uint8_t spare;
};

struct window {
    /* Of the test. */
    uint32_t sets_written;
    uint32_t edges_written;
    uint32_t pulses; /* of the counter input */
    int32_t winding; /* code of the slow channel */
    uint32_t spare[12];
    /* Of the board. */
    uint32_t sets_read;
    uint32_t edges_read;
    uint32_t boot; /* how often it has started: memory that a reset does not touch */
    uint32_t spare_too[13];
    uint8_t pad[0x1000 - 0x80];
    struct window_set sets[WINDOW_SETS];
    struct window_edge edges[WINDOW_EDGES];
};

#endif
