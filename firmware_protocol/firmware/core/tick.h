/* A count of 48 bits: ticks, and numbers of sample sets. In two parts, for 64 bits are dear on 8-bit processors. */
#ifndef TICK_H
#define TICK_H

#include <stdint.h>

struct tick {
    uint32_t low;
    uint16_t high;
};

void tick_add(struct tick *tick, uint32_t ticks);

/* The tick with these lower bits that is nearest to `now`, before or behind it. */
struct tick tick_near(struct tick now, uint32_t low);

/* How many ticks ago a tick was; both within half of 32 bits. Negative: it is still to come. */
static inline int32_t ticks_since(uint32_t then, struct tick now) { return (int32_t)(now.low - then); }

#endif
