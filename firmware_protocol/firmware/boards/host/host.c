#include "host.h"

#include "version.h"

#define OUTBOX_BYTES_MAX 8192u
#define GROUPS_MAX 4u
#define BLOCK_BYTES_MAX 1002u
#define EDGES_MAX 128u
#define COUNTERS_MAX 4u

static uint8_t frame_ring[OUTBOX_BYTES_MAX], outbox_ring[OUTBOX_BYTES_MAX], inbox_ring[128];
static uint8_t words[GROUPS_MAX][2 * BLOCK_BYTES_MAX];
static struct edge edge_ring[EDGES_MAX];
static struct group groups[GROUPS_MAX];
static struct counter counters[COUNTERS_MAX];
static struct outbox frame_box;
static struct session session;

struct outbox *host_outbox(uint16_t bytes, uint32_t boot, uint16_t sequence) {
    outbox_init(&frame_box, frame_ring, bytes, boot);
    frame_box.sequence = sequence;
    return &frame_box;
}

static bool fits(const struct host_setup *setup) {
    static const uint8_t bits[3] = {16, 12, 24};
    if (setup->group_count > GROUPS_MAX || setup->counter_count > COUNTERS_MAX) return false;
    if (setup->outbox_bytes > OUTBOX_BYTES_MAX || setup->inbox_bytes > sizeof inbox_ring) return false;
    for (uint8_t k = 0; k < setup->group_count; k++) {
        const struct host_group *group = &setup->groups[k];
        if (group->word > 2) return false;
        if (WORDS_BYTES(bits[group->word], group->channels * group->sets_in_block) > (int)BLOCK_BYTES_MAX) return false;
    }
    return setup->edge_count <= EDGES_MAX;
}

struct session *host_start(const struct host_setup *setup, struct tick now) {
    if (!fits(setup)) return 0;
    session = (struct session){
        .description = setup->description, .groups = groups, .counters = counters,
        .group_count = setup->group_count, .counter_count = setup->counter_count,
        .boot = setup->boot, .streaming = setup->streaming,
    };
    outbox_init(&session.outbox, outbox_ring, setup->outbox_bytes, setup->boot);
    inbox_init(&session.inbox, inbox_ring, setup->inbox_bytes);
    edges_init(&session.edges, edge_ring, setup->edge_count, setup->levels);
    for (uint8_t k = 0; k < setup->group_count; k++) {
        const struct host_group *asked = &setup->groups[k];
        groups[k] = (struct group){
            .number = k, .channels = asked->channels, .word = asked->word, .sets_in_block = asked->sets_in_block,
            .ticks_per_sample = asked->ticks_per_sample, .ticks_divisor = asked->ticks_divisor,
        };
        group_init(&groups[k], words[k], BLOCK_BYTES_MAX, now);
    }
    for (uint8_t k = 0; k < setup->counter_count; k++) {
        uint8_t inputs = setup->description->identity->inputs;
        counters[k] = (struct counter){.input = (uint8_t)(inputs - setup->counter_count + k)};
    }
    session_start(&session, now);
    return &session;
}

struct outbox *host_box(struct session *it) { return &it->outbox; }

uint16_t host_send(struct outbox *out, uint8_t *bytes, uint16_t count) {
    uint16_t sent = 0;
    while (sent < count && outbox_take(out, &bytes[sent])) sent++;
    return sent;
}

void host_hear(struct session *it, const uint8_t *bytes, uint16_t count, struct tick now) {
    for (uint16_t k = 0; k < count; k++) inbox_put(&it->inbox, bytes[k], now);
}

uint16_t host_take(struct session *it, uint8_t group, const int32_t *codes, uint16_t sets) {
    uint16_t taken = 0;
    for (uint16_t k = 0; k < sets; k++) {
        if (group_take(&it->groups[group], codes)) taken++;
        codes += it->groups[group].channels;
    }
    return taken;
}

void host_miss(struct session *it, uint8_t group, uint32_t sets) { group_miss(&it->groups[group], sets); }

void host_edge(struct session *it, uint32_t tick, uint8_t levels) { edges_put(&it->edges, tick, levels); }

void host_count(struct session *it, uint8_t counter, uint32_t tick) {
    it->counters[counter].count++;
    it->counters[counter].tick = tick;
}

uint16_t host_size(uint8_t record) {
    static const uint16_t sizes[] = {
        sizeof(struct extra), sizeof(struct identity), sizeof(struct channel), sizeof(struct input),
        sizeof(struct description), sizeof(struct single), sizeof(struct count), sizeof(struct status),
        sizeof(struct request), sizeof(struct host_group), sizeof(struct host_setup),
    };
    if (record == 254) return PROTOCOL_MAJOR;
    if (record == 255) return PROTOCOL_MINOR;
    return sizes[record];
}
