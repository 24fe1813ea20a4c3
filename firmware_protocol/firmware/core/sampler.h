/* Sets of codes on their way into blocks: the sampling interrupt fills one of two while the main loop sends the other.

   Codes are put into their wire form as they come, so a block is no larger in memory than on the line. Every set has
   its number, taken or not: what is missing between two blocks is counted, never closed up. */
#ifndef SAMPLER_H
#define SAMPLER_H

#include <stdbool.h>
#include <stdint.h>

#include "port.h"
#include "tick.h"

/* Bytes that so many codes take: what a board needs for each of the two blocks of a group. */
#define WORDS_BYTES(word_bits, codes) (((word_bits) * (codes) + 7) / 8)

struct block {
    uint8_t *words;
    uint16_t bytes;
    uint16_t sets;
    uint32_t missed;    /* sets without a place between the block before and this one */
    volatile bool full; /* the main loop has it; else the interrupt */
};

/* Where in time the next set to be sent stands: moved on by the main loop alone. */
struct place {
    struct tick number;
    struct tick tick;
    uint32_t remainder; /* of a tick, in parts of `ticks_divisor` */
};

struct group {
    /* Said by the board. */
    uint8_t number;
    uint8_t channels;
    uint8_t word;
    uint16_t sets_in_block;
    uint32_t ticks_per_sample;
    uint32_t ticks_divisor;
    struct block blocks[2];
    /* Of the interrupt. */
    uint8_t filling;
    uint16_t at;
    bool half; /* packed12: the last byte is half full */
    uint32_t missed;
    volatile uint32_t overruns;
    /* Of the main loop. */
    uint8_t next;
    uint32_t whole, rest; /* ticks_per_sample in whole ticks and parts */
    struct place place;
};

/* `words` has room for two blocks of `sets_in_block` sets. `tick` is that of set 0. */
void group_init(struct group *group, uint8_t *words, uint16_t bytes, struct tick tick);

/* For the sampling interrupt: one set, a code for each channel. False if both blocks wait to be sent: an overrun. */
bool group_take(struct group *group, const code_t *codes);

/* Sets whose conversion came too late or not at all: they keep their numbers and count as overruns. */
void group_miss(struct group *group, uint32_t sets);

/* What has been put in so far is a block. For the interrupt, or with interrupts off. */
void group_hand_over(struct group *group);

/* For the main loop: the oldest block that waits, NULL if none does. */
const struct block *group_waiting(struct group *group);

/* Both blocks wait: the oldest has become too late. */
bool group_is_late(const struct group *group);

/* Where the oldest waiting block begins, its tick rounded to a whole one. */
void group_begin_of(struct group *group, struct tick *first_sample, struct tick *tick);

/* Let the interrupt have the oldest waiting block again: it was sent, or given up. */
void group_release(struct group *group);

uint32_t group_overruns(const struct group *group);

#endif
