#include "session.h"

#include "port.h"
#include "version.h"

/* Of a second, as its divisors; SPEC.md asks for the rest. */
#define STATUS_EVERY 5u         /* at least every 250 ms */
#define COUNTERS_EVERY 20u      /* no more often */
#define REPLY_WAITS_MAX 20u     /* an answer within 100 ms: it waits half of that for an empty line */
#define DESCRIPTION_WAITS_MAX 2u /* a description within 1 s: so long it leaves the line to the blocks */
#define DESCRIBE_EVERY_S 9u     /* at least every 10 s */

static uint32_t since(uint32_t then, struct tick now) { return now.low - then; }

static void describe(struct session *session, struct tick now) {
    if (session->describing) {
        session->again = true; /* who asks may have missed its beginning */
        return;
    }
    session->describing = true;
    session->part = 0;
    session->describe_due = now.low;
}

void session_redescribe(struct session *session, struct tick now) {
    session->revision++;
    session->describing = false; /* what was under way is no longer true */
    session->fresh = true;
    describe(session, now);
}

void session_start(struct session *session, struct tick now) {
    struct identity identity;
    port_flash_copy(&identity, session->description->identity, sizeof identity);
    session->tick_hz = identity.tick_hz;
    session->status_ticks = identity.tick_hz / STATUS_EVERY;
    session->reply_ticks = identity.tick_hz / REPLY_WAITS_MAX;
    session->counters_ticks = identity.tick_hz / COUNTERS_EVERY;
    session->channel_count = identity.channels;
    session->input_count = identity.inputs;
    session->revision = 0;
    session->describing = session->again = session->identity_due = session->reply_due = false;
    session->fresh = session->status_due = true;
    session->described = session->status_sent = session->counters_sent = now.low;
    session->dropped_blocks = 0;
    outbox_wake(&session->outbox);
    describe(session, now);
}

static void heed(struct session *session, enum heard heard, const struct request *request, struct tick now) {
    switch (heard) {
    case HEARD_DESCRIBE:
        if (request->major == PROTOCOL_MAJOR && (PROTOCOL_MAJOR > 0 || request->minor == PROTOCOL_MINOR)) {
            describe(session, now);
        } else {
            session->identity_due = true;
        }
        break;
    case HEARD_START: session->streaming = true; break;
    case HEARD_STOP: session->streaming = false; break;
    case HEARD_CLOCK_REQUEST:
        session->asked = *request; /* the newest alone, if they come faster than answers */
        session->reply_due = true;
        break;
    default: break; /* rubbish changes nothing */
    }
}

/* Waits for an empty line, so that the tick of sending is the one at which the answer leaves. */
static void reply(struct session *session, struct tick now) {
    struct tick received = session->asked.received_tick;
    if (!session->reply_due || ticks_since(received.low, now) < 0) return; /* asked since `now` was read: next round */
    if (since(received.low, now) < session->reply_ticks && !outbox_is_empty(&session->outbox)) return;
    session->reply_due = !wire_clock_reply(&session->outbox, session->asked.token, received, now);
}

/* False if there was no room. */
static bool put_identity(struct session *session) {
    return describe_identity(&session->outbox, session->description->identity, session->boot, session->revision);
}

static bool put_part(struct session *session) {
    const struct description *description = session->description;
    uint8_t part = session->part;
    if (part == 0) return put_identity(session);
    part--;
    if (part < session->channel_count) return describe_channel(&session->outbox, part, &description->channels[part]);
    part = (uint8_t)(part - session->channel_count);
    return describe_input(&session->outbox, part, &description->inputs[part]);
}

static void end_description(struct session *session, struct tick now) {
    bool again = session->again;
    session->describing = session->fresh = session->again = false;
    session->described = now.low;
    if (again) describe(session, now);
}

/* One part of the description a round, so that blocks pass between its parts. False if the blocks must wait for it. */
static bool describe_on(struct session *session, struct tick now) {
    uint16_t parts = (uint16_t)(1u + session->channel_count + session->input_count);
    if (!session->describing) {
        if (session->identity_due) session->identity_due = !put_identity(session);
        return true;
    }
    bool urgent = session->fresh || since(session->describe_due, now) >= session->tick_hz / DESCRIPTION_WAITS_MAX;
    if (!urgent && outbox_room(&session->outbox) < session->outbox.bytes / 2u) return true;
    if (!put_part(session)) return !urgent;
    session->part++;
    if (session->part == parts) end_description(session, now);
    return !session->fresh;
}

/* One frame of edges, those up to `now` or all; as many as have room and follow one another without a lost one. */
static void send_edges_frame(struct session *session, struct tick now, bool all, uint16_t room) {
    struct edge edge;
    uint16_t bytes = EDGES_HEAD_BYTES + EDGE_BYTES;
    uint32_t number = 0;
    for (bool is_first = true; edges_look(&session->edges, &edge); is_first = false) {
        if (is_first) wire_edges_begin(&session->outbox, number = edge.number);
        if (edge.number != number || frame_bytes_max(bytes) > room) break;
        if (!all && ticks_since(edge.tick, now) < 0) break;
        edges_take(&session->edges, &edge);
        wire_edge(&session->outbox, tick_near(now, edge.tick), edge.levels);
        bytes = (uint16_t)(bytes + EDGE_BYTES);
        number++;
    }
    frame_end(&session->outbox);
}

/* Sends edges: all that wait, or those up to `now`. False if some of them must still wait for room. */
static bool send_edges(struct session *session, struct tick now, bool all) {
    struct edge edge;
    while (edges_look(&session->edges, &edge) && (all || ticks_since(edge.tick, now) >= 0)) {
        uint16_t room = outbox_room(&session->outbox);
        if (!session->streaming) {
            edges_take(&session->edges, &edge); /* counted, and not sent */
            continue;
        }
        if (room < frame_bytes_max(EDGES_HEAD_BYTES + EDGE_BYTES)) return false;
        send_edges_frame(session, now, all, room);
    }
    return true;
}

static void send_status(struct session *session, struct tick now) {
    struct status status = {
        .tick = now, .streaming = session->streaming, .dropped_blocks = session->dropped_blocks,
        .temperature_known = session->temperature_known, .temperature_c = session->temperature_c,
        .supply_known = session->supply_known, .supply_v = session->supply_v,
    };
    if (!send_edges(session, now, false)) return;
    for (uint8_t k = 0; k < session->group_count; k++) status.overruns += group_overruns(&session->groups[k]);
    status.lost_edges = edges_lost(&session->edges);
    status.levels = edges_levels(&session->edges, now.low);
    if (!wire_status(&session->outbox, &status)) return;
    session->status_due = false;
    session->status_sent = now.low;
}

static bool send_block(struct session *session, struct group *group, const struct block *block, struct tick now) {
    struct tick first_sample, tick;
    uint16_t bytes = (uint16_t)(block->bytes + BLOCK_HEAD_BYTES);
    if (!send_edges(session, now, true) || outbox_room(&session->outbox) < frame_bytes_max(bytes)) return false;
    group_begin_of(group, &first_sample, &tick);
    return wire_block(&session->outbox, group->word, group->number, group->channels, first_sample, tick, block->words,
                      block->bytes);
}

/* Blocks wait while something more urgent does; the older of two is given up, because it comes too late. */
static void send_blocks(struct session *session, struct group *group, struct tick now, bool may_send) {
    const struct block *block;
    while ((block = group_waiting(group)) != 0) {
        if (session->streaming && !(may_send && send_block(session, group, block, now))) {
            if (!group_is_late(group)) return;
            session->dropped_blocks++;
        }
        group_release(group);
    }
}

/* Takes over what the interrupt has counted. */
static void notice(struct counter *counter, struct tick now) {
    port_saved saved = port_lock();
    uint32_t count = counter->count, last = counter->tick;
    port_unlock(saved);
    if (count == counter->told.count) return;
    counter->told.count = count;
    counter->told.tick = tick_near(now, last);
    counter->changed = true;
}

static void send_counters(struct session *session, struct tick now) {
    uint32_t passed = since(session->counters_sent, now);
    if (passed < session->counters_ticks) return;
    for (uint8_t k = 0; k < session->counter_count; k++) {
        struct counter *counter = &session->counters[k];
        counter->told.input = counter->input;
        notice(counter, now);
        if (!counter->changed && passed < session->tick_hz) continue;
        if (!send_edges(session, now, true)) return;
        if (session->streaming && !wire_counters(&session->outbox, &counter->told, 1)) return;
        counter->changed = false;
        session->counters_sent = now.low;
    }
}

bool session_single(struct session *session, const struct single *single, struct tick now) {
    if (!session->streaming || session->fresh || !send_edges(session, now, true)) return false;
    return wire_singles(&session->outbox, single, 1);
}

static void fall_due(struct session *session, struct tick now) {
    if (since(session->status_sent, now) >= session->status_ticks) session->status_due = true;
    if (!session->streaming || session->describing) return;
    if (since(session->described, now) >= DESCRIBE_EVERY_S * session->tick_hz) describe(session, now);
}

void session_poll(struct session *session, struct tick now) {
    struct request request;
    enum heard heard;
    while ((heard = inbox_next(&session->inbox, &request)) != HEARD_NOTHING) heed(session, heard, &request, now);
    reply(session, now);
    fall_due(session, now);
    bool may_send = describe_on(session, now);
    if (may_send && session->status_due) send_status(session, now);
    may_send = may_send && !session->status_due;
    for (uint8_t k = 0; k < session->group_count; k++) send_blocks(session, &session->groups[k], now, may_send);
    if (!may_send) return;
    send_counters(session, now);
    if (!session->streaming || 2u * edges_waiting(&session->edges) >= session->edges.count)
        send_edges(session, now, true);
}
