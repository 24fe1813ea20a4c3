/* What a board says of itself: identity, channels, inputs; and how that becomes frames.

   The records lie in flash (PORT_FLASH), and so do the texts that they point to. Floating point stands here only, as
   constants: nothing is computed with it. `given` names by their tags the fields that a board knows; see SPEC.md. */
#ifndef DESCRIBE_H
#define DESCRIBE_H

#include "outbox.h"
#include "port.h"

#define GIVEN(tag) (1ul << (tag))

enum role { ROLE_VOLTAGE = 1, ROLE_CURRENT, ROLE_TEMPERATURE, ROLE_SPEED, ROLE_POSITION, ROLE_COMMAND, ROLE_OTHER };
enum input_kind { INPUT_HALL = 1, INPUT_PULSE, INPUT_COUNTER };
enum word { WORD_INT16, WORD_PACKED12, WORD_INT24 };
enum sample_kind { KIND_INSTANTANEOUS, KIND_MEAN, KIND_RMS };

enum identity_tag { IDENTITY_CLOCK_TOLERANCE = 5 };
enum channel_tag {
    CHANNEL_KIND = 11, CHANNEL_DELAY, CHANNEL_NOISE, CHANNEL_GAIN_LIMIT, CHANNEL_OFFSET_LIMIT, CHANNEL_CORNER_LOW,
    CHANNEL_CORNER_HIGH, CHANNEL_AC_COUPLED
};
enum input_tag { INPUT_BIT = 3, INPUT_PULSES, INPUT_INVERTED, INPUT_DELAY };

struct extra { /* fields that are already tag, length, value: tags 200 to 255 are for trials */
    const uint8_t *bytes;
    uint16_t count;
};

struct identity {
    uint32_t tick_hz;
    uint8_t channels;
    uint8_t inputs;
    const char *serial;
    const char *model;
    const char *firmware;
    const char *source;
    float clock_tolerance_ppm;
    const char *plate;
    uint32_t given;
    struct extra extra;
};

struct channel {
    uint8_t role;
    const char *name;
    const char *place;
    const char *unit;
    double scale;
    double offset;
    int32_t code_low;
    int32_t code_high;
    uint8_t group;                /* of an even channel ... */
    uint32_t ticks_per_sample;    /* ... whose rate is a fraction: numerator, ... */
    uint32_t ticks_divisor;       /* ... denominator; 0: the channel is uneven */
    struct tick interval_ticks_max; /* of an uneven channel */
    uint8_t kind;
    uint32_t kind_ticks;
    int32_t delay_ns;
    uint32_t delay_limit_ns;
    float noise_codes_rms;
    float gain_limit;
    float offset_limit_codes;
    float corner_low_hz;
    float corner_high_hz;
    uint8_t word;
    uint32_t given;
    struct extra extra;
};

struct input {
    uint8_t kind;
    const char *name;
    uint8_t bit;
    uint32_t pulses_per_turn;
    int32_t delay_ns;
    uint32_t delay_limit_ns;
    uint32_t look_ticks;          /* 0: each edge has its own tick */
    uint32_t given;
    struct extra extra;
};

struct description {
    const struct identity *identity;
    const struct channel *channels;
    const struct input *inputs;
};

/* Each writes one frame; false if there was no room for it. The records are read from flash. */
bool describe_identity(struct outbox *out, const struct identity *identity, uint32_t boot, uint8_t revision);
bool describe_channel(struct outbox *out, uint8_t index, const struct channel *channel);
bool describe_input(struct outbox *out, uint8_t index, const struct input *input);

#endif
