/* What this board says of itself, and the numbers that must agree with it. Read on a PC too, by tests.

   LINE_115200 makes the variant for a line of 115 200 baud: half the rate, and the line's own numbers. */
#ifndef ABOUT_H
#define ABOUT_H

#include "describe.h"

#define TICK_HZ 250000ul /* timer 1 at 16 MHz / 64: finer than an interrupt can read it is pretence */
#define CHANNELS 4u
#define SETS_IN_BLOCK 16u
#define HALL_INPUTS 3u
#ifdef LINE_115200
#define TICKS_PER_SAMPLE 250u /* 1 kS/s */
#else
#define TICKS_PER_SAMPLE 125u /* 2 kS/s */
#endif

#ifndef ABOUT
#define ABOUT about
#endif
extern const struct description ABOUT[2]; /* in the high and in the low range of the phases */

#endif
