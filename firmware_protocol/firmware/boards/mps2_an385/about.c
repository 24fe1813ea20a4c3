/* The full profile: eight channels of 16 bits at 20 kS/s, for a brushless motor with three Hall sensors. */
#include "about.h"

#define KNOWN (GIVEN(CHANNEL_DELAY) | GIVEN(CHANNEL_NOISE) | GIVEN(CHANNEL_GAIN_LIMIT))

static const char PLATE[] =
    "[motor]\nname = \"tender thruster\"\ntype = \"brushless\"\n\n"
    "[motor.plate]\nvoltage_v = 36.0\ncurrent_a = 13.7\nspeed_rpm = 2500.0\npole_pairs = 7\npower_w = 450.0\n";

#define IDENTITY(EVEN_CHANNELS)                                                                                 \
    {                                                                                                            \
        .tick_hz = TICK_HZ, .channels = (EVEN_CHANNELS) + 1, .inputs = 5, .serial = "EM-0001",                      \
        .model = "emulated board", .firmware = "slipring firmware, mps2_an385", .source = "demo", .plate = PLATE, \
        .clock_tolerance_ppm = 50.0f, .given = GIVEN(IDENTITY_CLOCK_TOLERANCE),                                 \
    }
static const struct identity IDENTITIES[STEPS] = {IDENTITY(8), IDENTITY(5), IDENTITY(2)};

#define EVEN(ROLE, NAME, PLACE, UNIT, SCALE)                                                          \
    {                                                                                                 \
        .role = (ROLE), .name = (NAME), .place = (PLACE), .unit = (UNIT), .scale = (SCALE),           \
        .code_low = -32767, .code_high = 32767, .ticks_per_sample = TICKS_PER_SAMPLE,                 \
        .ticks_divisor = 1, .delay_limit_ns = 1000, .gain_limit = 0.002f, .given = KNOWN,             \
    }
#define VOLTS(PLACE) EVEN(ROLE_VOLTAGE, "U " PLACE, PLACE, "V", 0.0025)
#define AMPS(PLACE) EVEN(ROLE_CURRENT, "I " PLACE, PLACE, "A", 0.002)

#define LINK VOLTS("dc link"), AMPS("dc link")
#define PHASE_CURRENTS AMPS("U"), AMPS("V"), AMPS("W")
#define PHASE_VOLTAGES VOLTS("U"), VOLTS("V"), VOLTS("W")
#define WINDING                                                                                                 \
    {                                                                                                            \
        .role = ROLE_TEMPERATURE, .name = "winding", .place = "winding", .unit = "degC", .scale = 0.01,             \
        .code_low = -4000, .code_high = 20000, .interval_ticks_max = {2 * SLOW_TICKS, 0},                      \
    }

/* What says most comes first, so that a line that is too slow for all of it can do without the last ones. */
static const struct channel ALL[] = {LINK, PHASE_CURRENTS, PHASE_VOLTAGES, WINDING};
static const struct channel FEWER[] = {LINK, PHASE_CURRENTS, WINDING};
static const struct channel FEWEST[] = {LINK, WINDING};

#define HALL(NAME, BIT)                                                                                       \
    { .kind = INPUT_HALL, .name = (NAME), .bit = (BIT), .delay_limit_ns = 1000, .given = GIVEN(INPUT_DELAY) }

static const struct input INPUT_LIST[5] = {
    HALL("Hall A", 0), HALL("Hall B", 1), HALL("Hall C", 2),
    {.kind = INPUT_PULSE, .name = "shaft", .bit = 3, .pulses_per_turn = 1, .given = GIVEN(INPUT_PULSES)},
    {.kind = INPUT_COUNTER, .name = "flow", .pulses_per_turn = 1, .given = GIVEN(INPUT_PULSES)},
};

const struct description ABOUT[STEPS] = {
    {&IDENTITIES[0], ALL, INPUT_LIST},
    {&IDENTITIES[1], FEWER, INPUT_LIST},
    {&IDENTITIES[2], FEWEST, INPUT_LIST},
};
