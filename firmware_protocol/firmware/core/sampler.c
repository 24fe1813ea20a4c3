#include "sampler.h"

#include "describe.h"

void group_init(struct group *group, uint8_t *words, uint16_t bytes, struct tick tick) {
    group->blocks[0] = (struct block){.words = words};
    group->blocks[1] = (struct block){.words = words + bytes};
    group->filling = group->next = 0;
    group->at = 0;
    group->half = false;
    group->missed = 0;
    group->overruns = 0;
    group->whole = group->ticks_per_sample / group->ticks_divisor;
    group->rest = group->ticks_per_sample % group->ticks_divisor;
    group->place = (struct place){.tick = tick};
}

/* Two codes in three bytes: low eight bits; high four and the next low four; the next high eight. */
static void put12(struct group *group, uint8_t *words, code_t code) {
    uint16_t word = ((uint16_t)code & 0xFFFu) ^ 0x888u;
    uint8_t *byte = words + group->at;
    if (group->half) {
        byte[-1] = (uint8_t)(byte[-1] | (uint8_t)((word & 0xFu) << 4));
        byte[0] = (uint8_t)(word >> 4);
        group->at++;
    } else {
        byte[0] = (uint8_t)(word & 0xFFu);
        byte[1] = (uint8_t)(word >> 8);
        group->at = (uint16_t)(group->at + 2u);
    }
    group->half = !group->half;
}

static void put_bytes(struct group *group, uint8_t *words, code_t code, uint8_t count) {
    uint32_t word = (uint32_t)code ^ 0x808080u; /* the third byte of a word of two is not sent */
    for (uint8_t k = 0; k < count; k++) {
        words[group->at++] = (uint8_t)(word & 0xFFu);
        word >>= 8;
    }
}

static void put(struct group *group, uint8_t *words, code_t code) {
    if (group->word == WORD_PACKED12) put12(group, words, code);
    else put_bytes(group, words, code, group->word == WORD_INT24 ? 3 : 2);
}

/* A block leaves the interrupt's hands; `full` last, for it is the main loop's sign. */
void group_hand_over(struct group *group) {
    struct block *block = &group->blocks[group->filling];
    block->bytes = group->at;
    group->at = 0;
    group->half = false;
    group->filling ^= 1u;
    block->full = true;
}

bool group_take(struct group *group, const code_t *codes) {
    struct block *block = &group->blocks[group->filling];
    if (block->full) {
        group_miss(group, 1);
        return false;
    }
    if (group->at == 0) {
        block->missed = group->missed;
        block->sets = 0;
        group->missed = 0;
    }
    for (uint8_t k = 0; k < group->channels; k++) put(group, block->words, codes[k]);
    block->sets++;
    if (block->sets == group->sets_in_block) group_hand_over(group);
    return true;
}

void group_miss(struct group *group, uint32_t sets) {
    if (sets && group->at) group_hand_over(group);
    group->missed += sets;
    group->overruns += sets;
}

const struct block *group_waiting(struct group *group) {
    struct block *block = &group->blocks[group->next];
    port_saved saved = port_lock(); /* what is in the block is read after its sign, not before */
    bool full = block->full;
    port_unlock(saved);
    return full ? block : 0;
}

bool group_is_late(const struct group *group) { return group->blocks[0].full && group->blocks[1].full; }

/* Set by set, exactly: additions cost an 8-bit processor less than one long division. */
static void move_on(struct group *group, uint32_t sets) {
    struct place *place = &group->place;
    tick_add(&place->number, sets);
    while (sets--) {
        uint32_t ticks = group->whole, room = group->ticks_divisor - group->rest;
        if (place->remainder >= room) {
            place->remainder -= room;
            ticks++;
        } else {
            place->remainder += group->rest;
        }
        tick_add(&place->tick, ticks);
    }
}

void group_begin_of(struct group *group, struct tick *first_sample, struct tick *tick) {
    struct block *block = &group->blocks[group->next];
    const struct place *place = &group->place;
    move_on(group, block->missed);
    block->missed = 0;
    *first_sample = place->number;
    *tick = place->tick;
    if (place->remainder >= group->ticks_divisor - place->remainder) tick_add(tick, 1);
}

void group_release(struct group *group) {
    struct block *block = &group->blocks[group->next];
    move_on(group, block->missed);
    move_on(group, block->sets);
    group->next ^= 1u;
    port_saved saved = port_lock(); /* nothing of the block is read after this */
    block->full = false;
    port_unlock(saved);
}

uint32_t group_overruns(const struct group *group) {
    port_saved saved = port_lock();
    uint32_t overruns = group->overruns;
    port_unlock(saved);
    return overruns;
}
