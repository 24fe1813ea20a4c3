#include "tick.h"

void tick_add(struct tick *tick, uint32_t ticks) {
    tick->low += ticks;
    if (tick->low < ticks) tick->high++;
}

struct tick tick_near(struct tick now, uint32_t low) {
    uint16_t high = now.high;
    if (low - now.low < 0x80000000u) {
        if (low < now.low) high++;
    } else {
        if (low > now.low) high--;
    }
    return (struct tick){low, high};
}
