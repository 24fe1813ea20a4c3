/* What this board says of itself, and the numbers that must agree with it. */
#ifndef ABOUT_H
#define ABOUT_H

#include "describe.h"

#define TICK_HZ 1000000u
#define TICKS_PER_SAMPLE 50u /* 20 kS/s */
#define CHANNELS 8u
#define STEPS 3u             /* all; without the phase voltages; the link alone */
#define CHANNELS_OF {8, 5, 2}
#define SETS_IN_BLOCK 60u
#define SLOW_TICKS 500000u
#define HALL_INPUTS 3u
#define COUNTER_INPUT 4u

extern const struct description ABOUT[STEPS];

#endif
