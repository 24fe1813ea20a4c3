#include "edges.h"

#include "port.h"

#define LATER_MAX (1ul << 24) /* far more ticks than pass between reading `now` and asking for levels */

void edges_init(struct edges *edges, struct edge *ring, uint8_t count, uint8_t levels) {
    edges->ring = ring;
    edges->count = count;
    edges->came = edges->read = 0;
    edges->number = 0;
    edges->tick = 0;
    edges->levels = edges->told = levels;
    edges->lost = 0;
    edges->overflowed = false;
}

void edges_put(struct edges *edges, uint32_t tick, uint8_t levels) {
    uint8_t came = edges->came, waiting = (uint8_t)(came - edges->read);
    uint32_t number = edges->number;
    struct edge *last = &edges->ring[(uint8_t)(came - 1u) & (uint8_t)(edges->count - 1u)];
    if (levels == edges->levels) return;
    edges->levels = levels;
    if (waiting && last->number + 1u == number && last->tick == tick) {
        last->levels = levels; /* two changes within one tick are one edge */
        return;
    }
    if (number && edges->tick - tick < edges->count) tick = edges->tick + 1u; /* the other half has left already */
    edges->tick = tick;
    edges->number = number + 1u;
    if (waiting == edges->count) edges->overflowed = true;
    else if (waiting <= edges->count / 2u) edges->overflowed = false;
    if (edges->overflowed) {
        edges->lost++;
        return;
    }
    edges->ring[came & (uint8_t)(edges->count - 1u)] = (struct edge){tick, number, levels};
    edges->came = (uint8_t)(came + 1u);
}

static struct edge *oldest(const struct edges *edges) {
    return &edges->ring[edges->read & (uint8_t)(edges->count - 1u)];
}

bool edges_look(const struct edges *edges, struct edge *edge) {
    port_saved saved = port_lock(); /* what is in the ring is read after its sign, not before */
    bool there = edges->came != edges->read;
    port_unlock(saved);
    if (there) *edge = *oldest(edges);
    return there;
}

/* Locked for a moment only, or the next edge's stamp would be late. Of one that waits its levels alone may change. */
bool edges_take(struct edges *edges, struct edge *edge) {
    const struct edge *it = oldest(edges);
    if (!edges_look(edges, edge)) return false;
    port_saved saved = port_lock();
    edges->told = it->levels;
    edges->read = (uint8_t)(edges->read + 1u);
    port_unlock(saved);
    edge->levels = edges->told;
    return true;
}

void edges_give_up(struct edges *edges) {
    port_saved saved = port_lock();
    uint8_t came = edges->came, waiting = (uint8_t)(came - edges->read);
    if (waiting) edges->told = edges->ring[(uint8_t)(came - 1u) & (uint8_t)(edges->count - 1u)].levels;
    edges->lost += waiting;
    edges->read = came;
    port_unlock(saved);
}

uint8_t edges_waiting(const struct edges *edges) { return (uint8_t)(edges->came - edges->read); }

uint8_t edges_levels(struct edges *edges, uint32_t now) {
    port_saved saved = port_lock();
    bool is_later = edges->tick - now - 1u < LATER_MAX; /* the last one came since `now` was read */
    uint8_t levels = edges->told;
    if (!is_later) {
        levels = edges->levels;
        if (edges->came == edges->read) edges->told = levels; /* the last one may have been lost, and may grow very old */
    }
    port_unlock(saved);
    return levels;
}

uint32_t edges_lost(const struct edges *edges) {
    port_saved saved = port_lock();
    uint32_t lost = edges->lost;
    port_unlock(saved);
    return lost;
}
