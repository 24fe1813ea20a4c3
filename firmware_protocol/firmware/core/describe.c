#include "describe.h"

#include "version.h"
#include "wire.h"

#define FIELD_MAX 255u

static void put_head(struct outbox *out, uint8_t tag, uint8_t length) {
    frame_u8(out, tag);
    frame_u8(out, length);
}

/* A text of flash; one longer than a field holds goes on in further fields of the same tag. */
static void put_text(struct outbox *out, uint8_t tag, const char *text) {
    uint16_t length = 0;
    if (text == 0) return;
    while (port_flash_u8(text + length)) length++;
    while (length) {
        uint8_t piece = (uint8_t)(length > FIELD_MAX ? FIELD_MAX : length);
        put_head(out, tag, piece);
        for (uint8_t k = 0; k < piece; k++) frame_u8(out, port_flash_u8(text + k));
        text += piece;
        length = (uint16_t)(length - piece);
    }
}

static void put_u8(struct outbox *out, uint8_t tag, uint8_t value) {
    put_head(out, tag, 1);
    frame_u8(out, value);
}

static void put_u32(struct outbox *out, uint8_t tag, uint32_t value) {
    put_head(out, tag, 4);
    frame_u32(out, value);
}

static void put_two_u32(struct outbox *out, uint8_t tag, uint32_t first, uint32_t second) {
    put_head(out, tag, 8);
    frame_u32(out, first);
    frame_u32(out, second);
}


/* Where a double has four bytes (8-bit compilers), its bits are put in their place in eight. */
static void put_f64(struct outbox *out, uint8_t tag, double value) {
    put_head(out, tag, 8);
    if (sizeof value == sizeof(uint64_t)) {
        const union { double value; uint64_t bits; } wide = {.value = value};
        frame_u32(out, (uint32_t)(wide.bits & 0xFFFFFFFFu));
        frame_u32(out, (uint32_t)(wide.bits >> 32));
    } else {
        const union { float value; uint32_t bits; } narrow = {.value = (float)value};
        uint32_t magnitude = narrow.bits & 0x7FFFFFFFu, upper = magnitude >> 3;
        if (magnitude) upper += (uint32_t)(1023 - 127) << 20;
        frame_u32(out, magnitude << 29);
        frame_u32(out, upper | (narrow.bits & 0x80000000u));
    }
}

static void put_extra(struct outbox *out, const struct extra *extra) {
    for (uint16_t k = 0; k < extra->count; k++) frame_u8(out, port_flash_u8(extra->bytes + k));
}

bool describe_identity(struct outbox *out, const struct identity *identity, uint32_t boot, uint8_t revision) {
    struct identity it;
    port_flash_copy(&it, identity, sizeof it);
    frame_begin(out, TYPE_IDENTITY);
    frame_u8(out, PROTOCOL_MAJOR);
    frame_u8(out, PROTOCOL_MINOR);
    frame_u32(out, boot);
    frame_u32(out, it.tick_hz);
    frame_u8(out, it.channels);
    frame_u8(out, it.inputs);
    put_text(out, 1, it.serial);
    put_text(out, 2, it.model);
    put_text(out, 3, it.firmware);
    put_text(out, 4, it.source);
    if (it.given & GIVEN(IDENTITY_CLOCK_TOLERANCE)) wire_f32(out, IDENTITY_CLOCK_TOLERANCE, it.clock_tolerance_ppm);
    put_text(out, 6, it.plate);
    if (revision) put_u8(out, 7, revision);
    put_extra(out, &it.extra);
    return frame_end(out);
}

static void put_rate(struct outbox *out, const struct channel *it) {
    if (it->ticks_divisor) {
        put_u8(out, 8, it->group);
        put_two_u32(out, 9, it->ticks_per_sample, it->ticks_divisor);
    } else {
        put_head(out, 10, 6);
        frame_tick(out, it->interval_ticks_max);
    }
}

static void put_known(struct outbox *out, const struct channel *it) {
    if (it->given & GIVEN(CHANNEL_KIND)) {
        put_head(out, CHANNEL_KIND, 5);
        frame_u8(out, it->kind);
        frame_u32(out, it->kind_ticks);
    }
    if (it->given & GIVEN(CHANNEL_DELAY)) put_two_u32(out, CHANNEL_DELAY, (uint32_t)it->delay_ns, it->delay_limit_ns);
    if (it->given & GIVEN(CHANNEL_NOISE)) wire_f32(out, CHANNEL_NOISE, it->noise_codes_rms);
    if (it->given & GIVEN(CHANNEL_GAIN_LIMIT)) wire_f32(out, CHANNEL_GAIN_LIMIT, it->gain_limit);
    if (it->given & GIVEN(CHANNEL_OFFSET_LIMIT)) wire_f32(out, CHANNEL_OFFSET_LIMIT, it->offset_limit_codes);
    if (it->given & GIVEN(CHANNEL_CORNER_LOW)) wire_f32(out, CHANNEL_CORNER_LOW, it->corner_low_hz);
    if (it->given & GIVEN(CHANNEL_CORNER_HIGH)) wire_f32(out, CHANNEL_CORNER_HIGH, it->corner_high_hz);
    if (it->given & GIVEN(CHANNEL_AC_COUPLED)) put_u8(out, CHANNEL_AC_COUPLED, 1);
    if (it->word) put_u8(out, 19, it->word);
}

bool describe_channel(struct outbox *out, uint8_t index, const struct channel *channel) {
    struct channel it;
    port_flash_copy(&it, channel, sizeof it);
    frame_begin(out, TYPE_CHANNEL_DESCRIPTION);
    frame_u8(out, index);
    put_u8(out, 1, it.role);
    put_text(out, 2, it.name);
    put_text(out, 3, it.place);
    put_text(out, 4, it.unit);
    put_f64(out, 5, it.scale);
    put_f64(out, 6, it.offset);
    put_two_u32(out, 7, (uint32_t)it.code_low, (uint32_t)it.code_high);
    put_rate(out, &it);
    put_known(out, &it);
    put_extra(out, &it.extra);
    return frame_end(out);
}

bool describe_input(struct outbox *out, uint8_t index, const struct input *input) {
    struct input it;
    port_flash_copy(&it, input, sizeof it);
    frame_begin(out, TYPE_INPUT_DESCRIPTION);
    frame_u8(out, index);
    put_u8(out, 1, it.kind);
    put_text(out, 2, it.name);
    put_u8(out, INPUT_BIT, it.bit);
    if (it.given & GIVEN(INPUT_PULSES)) put_u32(out, INPUT_PULSES, it.pulses_per_turn);
    if (it.given & GIVEN(INPUT_INVERTED)) put_u8(out, INPUT_INVERTED, 1);
    if (it.given & GIVEN(INPUT_DELAY)) put_two_u32(out, INPUT_DELAY, (uint32_t)it.delay_ns, it.delay_limit_ns);
    if (it.look_ticks) put_u32(out, 7, it.look_ticks);
    put_extra(out, &it.extra);
    return frame_end(out);
}
