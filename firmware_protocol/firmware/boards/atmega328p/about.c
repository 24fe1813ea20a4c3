/* Three phase voltages to minus, the current of the DC link, three Hall sensors: a motor under 60 V.

   Dividers of 12 to 1 make 60 V out of the converter's 5 V; the current sensor gives 2.5 V at rest and 40 mV an ampere.
   Another board writes its own numbers here. */
#include "about.h"

#ifndef BOARD_SERIAL
#define BOARD_SERIAL "SB-0001" /* give each board its own: make SERIAL=... */
#endif

#define TEXT(NAME, WORDS) static const char NAME[] PORT_FLASH = WORDS

TEXT(SERIAL, BOARD_SERIAL);
TEXT(MODEL, "small board");
TEXT(FIRMWARE, "slipring firmware, atmega328p");
TEXT(SOURCE, "hardware");
TEXT(U, "U");
TEXT(V, "V");
TEXT(W, "W");
TEXT(LINK, "dc link");
TEXT(VOLT, "V");
TEXT(AMPERE, "A");
TEXT(HALL_A, "Hall A");
TEXT(HALL_B, "Hall B");
TEXT(HALL_C, "Hall C");

static const struct identity IDENTITY PORT_FLASH = {
    .tick_hz = TICK_HZ, .channels = CHANNELS, .inputs = HALL_INPUTS,
    .serial = SERIAL, .model = MODEL, .firmware = FIRMWARE, .source = SOURCE,
    .clock_tolerance_ppm = 100.0f, .given = GIVEN(IDENTITY_CLOCK_TOLERANCE),
};

/* One after another: a conversion takes 13 or 14 converter clocks of 8 us, and the value is held in its second one. So
   a channel shows what was there *after* its tick: the delay is negative. */
#define EVEN(INDEX, ROLE, PLACE, UNIT, SCALE, OFFSET)                                                 \
    {                                                                                                 \
        .role = (ROLE), .name = (PLACE), .place = (PLACE), .unit = (UNIT), .scale = (SCALE),          \
        .offset = (OFFSET), .code_low = -512, .code_high = 511,                                       \
        .ticks_per_sample = TICKS_PER_SAMPLE, .ticks_divisor = 1,                                     \
        .delay_ns = -18000 - 110000 * (INDEX), .delay_limit_ns = 15000 + 5000 * (INDEX),              \
        .gain_limit = 0.02f, .offset_limit_codes = 4.0f, .word = WORD_PACKED12,                       \
        .given = GIVEN(CHANNEL_DELAY) | GIVEN(CHANNEL_GAIN_LIMIT) | GIVEN(CHANNEL_OFFSET_LIMIT),      \
    }
#define VOLTS(INDEX, PLACE) EVEN(INDEX, ROLE_VOLTAGE, PLACE, VOLT, 60.0 / 1024, 30.0)

static const struct channel CHANNEL_LIST[CHANNELS] PORT_FLASH = {
    VOLTS(0, U), VOLTS(1, V), VOLTS(2, W), EVEN(3, ROLE_CURRENT, LINK, AMPERE, 125.0 / 1024, 0.0),
};

/* Stamped by an interrupt, which reads a counter of 4 us 2 to 5 us after the change: in the middle 1.3 us late. */
#define HALL(NAME, BIT)                                                                        \
    {                                                                                          \
        .kind = INPUT_HALL, .name = (NAME), .bit = (BIT), .delay_ns = 1300,                    \
        .delay_limit_ns = 4000, .given = GIVEN(INPUT_DELAY),                                   \
    }

static const struct input INPUT_LIST[HALL_INPUTS] PORT_FLASH = {HALL(HALL_A, 0), HALL(HALL_B, 1), HALL(HALL_C, 2)};

const struct description ABOUT = {&IDENTITY, CHANNEL_LIST, INPUT_LIST};
