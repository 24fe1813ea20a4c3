#include "session.h"

#include "port.h"
#include "version.h"

/* A second is divided by these, rather than multiplied by what they stand for. */
#define STATUS_PER_S 5u            /* SPEC.md: at least every 250 ms */
#define STATUS_WAITS_PER_S 40u     /* 25 ms more, for edges to go out before it */
#define COUNTER_PER_S 20u          /* SPEC.md: no more often */
#define REPLY_WAITS_PER_S 20u      /* SPEC.md: within 100 ms; it waits half of that for an empty line */
#define DESCRIPTION_WAITS_PER_S 2u /* SPEC.md: within 1 s; half of that it leaves the line to the blocks */
#define DESCRIBE_EVERY_S 9u        /* SPEC.md: at least every 10 s */
#define BEHIND_S 4u                /* a reader that pauses for two seconds is no slow line */
#define EDGES_TOGETHER 8u

static uint32_t since(uint32_t then, struct tick now) { return now.low - then; }

/* No more waits for the line than half of what the box holds: the other half is for blocks. */
static bool line_keeps_up(const struct session *session) {
    return outbox_room(&session->outbox) >= session->outbox.bytes / 2u;
}

static void describe(struct session *session, struct tick now) {
    struct identity identity;
    if (session->describing) {
        session->again = true; /* who asks may have missed its beginning */
        return;
    }
    port_flash_copy(&identity, session->description->identity, sizeof identity);
    session->channel_count = identity.channels;
    session->input_count = identity.inputs;
    session->describing = true;
    session->part = 0;
    session->describe_asked = now.low;
}

static void drop_blocks(struct session *session, struct group *group) {
    port_saved saved = port_lock();
    if (group->at) group_hand_over(group);
    for (; group_waiting(group); session->dropped_blocks++) group_release(group);
    port_unlock(saved);
}

void session_redescribe(struct session *session, const struct description *description, struct tick now) {
    for (uint8_t k = 0; k < session->group_count; k++) drop_blocks(session, &session->groups[k]);
    session->description = description;
    session->revision++;
    session->describing = false; /* what was under way is no longer true */
    session->fresh = true;
    session->seconds_behind = 0;
    describe(session, now);
}

void session_start(struct session *session, struct tick now) {
    struct identity identity;
    port_flash_copy(&identity, session->description->identity, sizeof identity);
    session->tick_hz = identity.tick_hz;
    session->status_ticks = identity.tick_hz / STATUS_PER_S;
    session->reply_ticks = identity.tick_hz / REPLY_WAITS_PER_S;
    session->counter_ticks = identity.tick_hz / COUNTER_PER_S;
    session->revision = 0;
    session->describing = session->again = session->identity_due = session->reply_due = false;
    session->fresh = session->status_due = true;
    session->described = session->status_sent = session->second_begun = now.low;
    session->dropped_blocks = session->dropped_before = 0;
    session->seconds_behind = 0;
    for (uint8_t k = 0; k < session->counter_count; k++) session->counters[k].told_at = now.low;
    outbox_wake(&session->outbox);
    describe(session, now);
}

static void heed(struct session *session, enum heard heard, const struct request *request, struct tick now) {
    switch (heard) {
    case HEARD_DESCRIBE:
        if (request->major == PROTOCOL_MAJOR) {
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

/* Waits for an empty box, so that the answer leaves at once: the line itself may still hold two bytes. */
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
    uint16_t part = session->part;
    if (part == 0) return put_identity(session);
    part--;
    if (part < session->channel_count)
        return describe_channel(&session->outbox, (uint8_t)part, &description->channels[part]);
    part = (uint16_t)(part - session->channel_count);
    return describe_input(&session->outbox, (uint8_t)part, &description->inputs[part]);
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
    bool urgent = session->fresh || since(session->describe_asked, now) >= session->tick_hz / DESCRIPTION_WAITS_PER_S;
    if (!urgent && !line_keeps_up(session)) return true;
    /* One that no empty box holds is left out: who reads sees an incomplete description, and status goes on. */
    bool was_empty = outbox_is_empty(&session->outbox);
    if (!put_part(session) && !was_empty) return !urgent;
    session->part++;
    if (session->part == parts) end_description(session, now);
    return !session->fresh;
}

/* One frame of edges, those up to `now` or all; at most `most`, as many as have room and follow one another without a
   lost one. Returns how many. */
static uint8_t send_edges_frame(struct session *session, struct tick now, bool all, uint8_t most, uint16_t room) {
    struct edge edge;
    uint16_t bytes = EDGES_HEAD_BYTES + EDGE_BYTES;
    uint32_t number = 0;
    uint8_t count = 0;
    for (; count < most && edges_look(&session->edges, &edge); count++) {
        if (count == 0) wire_edges_begin(&session->outbox, number = edge.number);
        if (edge.number != number || frame_bytes_max(bytes) > room) break;
        if (!all && ticks_since(edge.tick, now) < 0) break;
        edges_take(&session->edges, &edge);
        wire_edge(&session->outbox, tick_near(now, edge.tick), edge.levels);
        bytes = (uint16_t)(bytes + EDGE_BYTES);
        number++;
    }
    frame_end(&session->outbox);
    return count;
}

/* How many edges a frame must have room for before it is begun: one by one they would cost three times as much. */
static uint16_t edges_together(const struct session *session) {
    uint8_t waiting = edges_waiting(&session->edges);
    return waiting < EDGES_TOGETHER ? waiting : EDGES_TOGETHER;
}

/* Sends edges: all that wait now, or those up to `now`; more that come meanwhile are for the next time, or a flood of
   them would never end. False if some of them must still wait for room. */
static bool send_edges(struct session *session, struct tick now, bool all) {
    struct edge edge;
    uint8_t left = edges_waiting(&session->edges);
    while (left && edges_look(&session->edges, &edge) && (all || ticks_since(edge.tick, now) >= 0)) {
        uint16_t room = outbox_room(&session->outbox);
        if (!session->streaming) {
            edges_take(&session->edges, &edge); /* counted, and not sent */
            left--;
            continue;
        }
        if (room < frame_bytes_max((uint16_t)(EDGES_HEAD_BYTES + edges_together(session) * EDGE_BYTES))) return false;
        left = (uint8_t)(left - send_edges_frame(session, now, all, left, room));
    }
    return true;
}

static void send_status(struct session *session, struct tick now) {
    struct status status = {
        .tick = now, .streaming = session->streaming, .dropped_blocks = session->dropped_blocks,
    };
    if (!send_edges(session, now, false)) {
        if (since(session->status_sent, now) < session->status_ticks + session->tick_hz / STATUS_WAITS_PER_S) return;
        edges_give_up(&session->edges); /* more of them come than the line carries: that must be told */
    }
    for (uint8_t k = 0; k < session->group_count; k++) status.overruns += group_overruns(&session->groups[k]);
    status.lost_edges = edges_lost(&session->edges);
    status.levels = edges_levels(&session->edges, now.low);
    if (!wire_status(&session->outbox, &status)) return;
    session->status_due = false;
    session->status_sent = now.low;
}

static bool send_block(struct session *session, struct group *group, const struct block *block) {
    struct tick first_sample, tick, end;
    uint16_t bytes = (uint16_t)(block->bytes + BLOCK_HEAD_BYTES);
    group_begin_of(group, &first_sample, &tick);
    end = tick;
    tick_add(&end, block->sets * group->whole);
    /* Where room is scarce not the edges behind it: they would take all that comes free, and never let a block through. */
    if (!send_edges(session, end, line_keeps_up(session)) || outbox_room(&session->outbox) < frame_bytes_max(bytes)) return false;
    return wire_block(&session->outbox, group->word, group->number, group->channels, first_sample, tick, block->words,
                      block->bytes);
}

/* A block that would come too late: edges are given up for it, then it is. */
static void send_late_block(struct session *session, struct group *group, const struct block *block) {
    edges_give_up(&session->edges);
    if (!send_block(session, group, block)) session->dropped_blocks++;
}

/* Blocks wait while something more urgent does; of two that wait the older one is late. */
static void send_blocks(struct session *session, struct group *group, bool may_send) {
    const struct block *block;
    while ((block = group_waiting(group)) != 0) {
        if (session->streaming && !(may_send && send_block(session, group, block))) {
            if (!group_is_late(group)) return;
            if (may_send) send_late_block(session, group, block);
            else session->dropped_blocks++;
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
    for (uint8_t k = 0; k < session->counter_count; k++) {
        struct counter *counter = &session->counters[k];
        uint32_t passed = since(counter->told_at, now);
        if (passed < session->counter_ticks) continue;
        counter->told.input = counter->input;
        notice(counter, now);
        if (!counter->changed && passed < session->tick_hz) continue;
        if (!send_edges(session, now, true)) return;
        if (session->streaming && !wire_counters(&session->outbox, &counter->told, 1)) return;
        counter->changed = false;
        counter->told_at = now.low;
    }
}

bool session_single(struct session *session, const struct single *single, struct tick now) {
    if (!session->streaming || session->fresh || !send_edges(session, now, true)) return false;
    return wire_singles(&session->outbox, single, 1);
}

/* While a new description waits for room, blocks wait too: that says nothing of the line. */
static void look_back(struct session *session, struct tick now) {
    if (since(session->second_begun, now) < session->tick_hz) return;
    bool is_behind = session->dropped_blocks != session->dropped_before && !session->fresh;
    if (!is_behind) session->seconds_behind = 0;
    else if (session->seconds_behind < BEHIND_S) session->seconds_behind++;
    session->dropped_before = session->dropped_blocks;
    session->second_begun = now.low;
}

bool session_is_behind(const struct session *session) { return session->seconds_behind == BEHIND_S; }

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
    look_back(session, now);
    bool may_send = describe_on(session, now);
    /* At power-on the description comes first; a later one may take long, or change all the time. */
    if (session->status_due && (may_send || session->revision)) send_status(session, now);
    may_send = may_send && !session->status_due;
    for (uint8_t k = 0; k < session->group_count; k++) send_blocks(session, &session->groups[k], may_send);
    if (!may_send) return;
    send_counters(session, now);
    bool is_crowded = 2u * edges_waiting(&session->edges) >= session->edges.count;
    if (!session->streaming || (is_crowded && line_keeps_up(session))) send_edges(session, now, true);
}
