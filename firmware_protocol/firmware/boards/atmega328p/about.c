/* Three phase voltages to minus, the current of the DC link, three Hall sensors: a motor under 60 V.

   The numbers are those of the circuit in BOARD.md: phases from -5 V to 65 V, in the low range to 10 V; the current
   sensor gives 2.5 V at rest and 40 mV an ampere. Another board writes its own numbers here. */
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

/* Before each input of the converter: a resistance in ohm and a capacitor in nF, which is good to a tenth. */
#ifdef LINE_115200
#define FILTER_NF 220
#else
#define FILTER_NF 100
#endif
#define FILTER_NS(OHM) ((OHM) * (int32_t)FILTER_NF)
#define CORNER_HZ(OHM) ((float)(1e9 / 6.283185307179586 / FILTER_NS(OHM)))

/* One after another: a conversion takes 13 or 14 converter clocks of 8 us, and the value is held in its second one. So
   a channel shows what was at its pin *after* its tick: that delay is negative, the filter's is not. */
#define EVEN(INDEX, ROLE, PLACE, UNIT, SCALE, OFFSET, OHM)                                                 \
    {                                                                                                 \
        .role = (ROLE), .name = (PLACE), .place = (PLACE), .unit = (UNIT), .scale = (SCALE),          \
        .offset = (OFFSET), .code_low = -512, .code_high = 511,                                       \
        .ticks_per_sample = TICKS_PER_SAMPLE, .ticks_divisor = 1,                                     \
        .delay_ns = FILTER_NS(OHM) - 18000 - 110000 * (INDEX),                                        \
        .delay_limit_ns = FILTER_NS(OHM) / 10 + 15000 + 5000 * (INDEX), .corner_high_hz = CORNER_HZ(OHM), \
        .gain_limit = 0.02f, .offset_limit_codes = 4.0f, .word = WORD_PACKED12,                       \
        .given = GIVEN(CHANNEL_DELAY) | GIVEN(CHANNEL_GAIN_LIMIT) | GIVEN(CHANNEL_OFFSET_LIMIT)       \
            | GIVEN(CHANNEL_CORNER_HIGH),                                                             \
    }
#define VOLTS(INDEX, PLACE) EVEN(INDEX, ROLE_VOLTAGE, PLACE, VOLT, 70.0 / 1024, 30.0, 9571)
#define LOW_VOLTS(INDEX, PLACE) EVEN(INDEX, ROLE_VOLTAGE, PLACE, VOLT, 15.0 / 1024, 2.5, 8333)
#define AMPERES EVEN(3, ROLE_CURRENT, LINK, AMPERE, 125.0 / 1024, 0.0, 9100)

static const struct channel CHANNEL_LISTS[2][CHANNELS] PORT_FLASH = {
    {VOLTS(0, U), VOLTS(1, V), VOLTS(2, W), AMPERES},
    {LOW_VOLTS(0, U), LOW_VOLTS(1, V), LOW_VOLTS(2, W), AMPERES},
};

/* Stamped by an interrupt with a counter of 4 us: in simavr 1.6 us too early to 5.6 us too late. */
#define HALL(NAME, BIT)                                                                        \
    {                                                                                          \
        .kind = INPUT_HALL, .name = (NAME), .bit = (BIT), .delay_ns = 2000,                    \
        .delay_limit_ns = 4000, .given = GIVEN(INPUT_DELAY),                                   \
    }

static const struct input INPUT_LIST[HALL_INPUTS] PORT_FLASH = {HALL(HALL_A, 0), HALL(HALL_B, 1), HALL(HALL_C, 2)};

const struct description ABOUT[2] = {
    {&IDENTITY, CHANNEL_LISTS[0], INPUT_LIST},
    {&IDENTITY, CHANNEL_LISTS[1], INPUT_LIST},
};
