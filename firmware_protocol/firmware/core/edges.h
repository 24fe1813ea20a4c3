/* Changes of the digital inputs on their way into frames: each with the tick at which it came, in the order of ticks.

   The capturing interrupt puts them in, the main loop takes them out. What finds no room is lost and counted; the edges
   behind it keep the numbers that they have in truth. Once one was lost, so are those behind it until half of the room
   is free: edges that follow one another share a frame, single ones would fill the line with heads. Ticks are kept in 32 bits: an edge leaves
   long before those wrap. */
#ifndef EDGES_H
#define EDGES_H

#include <stdbool.h>
#include <stdint.h>

struct edge {
    uint32_t tick;
    uint32_t number; /* counts all edges, lost ones too */
    uint8_t levels;
};

struct edges {
    struct edge *ring;
    uint8_t count; /* size of the ring: a power of two, 128 at most */
    volatile uint8_t came, read;
    /* Of the interrupt. */
    volatile uint32_t number;
    volatile uint32_t tick;   /* of the last one, lost or not */
    volatile uint8_t levels;  /* since then */
    volatile uint32_t lost;   /* the main loop adds to it too, with interrupts off */
    bool overflowed;
    /* Of the main loop. */
    uint8_t told; /* levels after the last one taken out */
};

void edges_init(struct edges *edges, struct edge *ring, uint8_t count, uint8_t levels);

/* For the capturing interrupt: the levels of all inputs from this tick on. Levels as before are no edge. */
void edges_put(struct edges *edges, uint32_t tick, uint8_t levels);

/* For the main loop: look at the oldest edge that waits, or take it; false if there is none. Until it is taken another
   change within its tick may still become part of it. */
bool edges_look(const struct edges *edges, struct edge *edge);
bool edges_take(struct edges *edges, struct edge *edge);
/* All that wait: they are lost, so that something else can be sent. */
void edges_give_up(struct edges *edges);
uint8_t edges_waiting(const struct edges *edges);

/* Levels at this tick, when all edges up to it have been taken out. */
uint8_t edges_levels(struct edges *edges, uint32_t now);
uint32_t edges_lost(const struct edges *edges);

#endif
