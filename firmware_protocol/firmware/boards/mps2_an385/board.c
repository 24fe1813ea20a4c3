/* The emulated Cortex-M3 of QEMU's machine mps2-an385: UART0, timer 0, and samples through the window.

   A timer interrupt takes what the converter has, the main loop frames it, UART interrupts send and receive. It
   idles by looping: the emulator's time then passes evenly. Other boards differ in this file and in what they say. */
#include "about.h"
#include "port.h"
#include "session.h"
#include "window.h"

#define REGISTER(address) (*(volatile uint32_t *)(address))
#define UART_DATA REGISTER(0x40004000u)
#define UART_STATE REGISTER(0x40004004u)
#define UART_CTRL REGISTER(0x40004008u)
#define UART_CLEAR REGISTER(0x4000400Cu)
#define UART_BAUDDIV REGISTER(0x40004010u)
#define UART_RX_FULL 2u
#define UART_TX_IRQ 1u
#define UART_RX_IRQ 2u
#define TIMER_CTRL REGISTER(0x40000000u)
#define TIMER_VALUE REGISTER(0x40000004u)
#define TIMER_RELOAD REGISTER(0x40000008u)
#define TIMER_CLEAR REGISTER(0x4000000Cu)
#define TIMER_ON_WITH_IRQ 9u
#define NVIC_ENABLE REGISTER(0xE000E100u)
#define IRQS (1u << 0 | 1u << 1 | 1u << 8) /* UART0 receive, UART0 send, timer 0 */
#define CLOCK_HZ 25000000u

#define OUTBOX_BYTES 4096u
#define INBOX_BYTES 128u
#define EDGES_KEPT 128u

_Static_assert((OUTBOX_BYTES & (OUTBOX_BYTES - 1u)) == 0, "a power of two");
_Static_assert(WINDOW_CHANNELS == CHANNELS, "the window brings what is described");

void timer0_interrupt(void);
void uart0_receive_interrupt(void);
void uart0_send_interrupt(void);

static volatile struct window *const WINDOW = (volatile struct window *)WINDOW_AT;

static uint8_t outbox_ring[OUTBOX_BYTES], inbox_ring[INBOX_BYTES];
static uint8_t words[2][WORDS_BYTES(16, CHANNELS *SETS_IN_BLOCK)];
static struct edge edge_ring[EDGES_KEPT];
static struct group group = {
    .channels = CHANNELS, .word = WORD_INT16, .sets_in_block = SETS_IN_BLOCK,
    .ticks_per_sample = TICKS_PER_SAMPLE, .ticks_divisor = 1,
};
static struct counter counter = {.input = COUNTER_INPUT};
static struct session session = {
    .description = ABOUT, .groups = &group, .group_count = 1, .counters = &counter, .counter_count = 1,
};
static uint32_t first_set;         /* of the window: set 0 of this start */
static struct tick set_tick; /* of the set taken last */
static volatile bool is_sending;

static struct tick now(void) {
    port_saved saved = port_lock();
    struct tick tick = set_tick;
    port_unlock(saved);
    return tick;
}

/* Edges up to the tick of the set that has come: they are put in before it. */
static void take_edges(uint32_t set) {
    uint32_t read = WINDOW->edges_read;
    while (read != WINDOW->edges_written) {
        volatile struct window_edge *edge = &WINDOW->edges[read % WINDOW_EDGES];
        if (edge->set > set || (edge->set == set && edge->ticks)) break;
        if (edge->set >= first_set)
            edges_put(&session.edges, (edge->set - first_set) * TICKS_PER_SAMPLE + edge->ticks, edge->levels);
        WINDOW->edges_read = ++read;
    }
}

void timer0_interrupt(void) {
    uint32_t read = WINDOW->sets_read;
    code_t codes[CHANNELS];
    TIMER_CLEAR = 1;
    if (read == WINDOW->sets_written) return; /* no conversion yet: time stands */
    volatile struct window_set *set = &WINDOW->sets[read % WINDOW_SETS];
    for (uint8_t k = 0; k < CHANNELS; k++) codes[k] = set->codes[k];
    take_edges(read);
    if (read != first_set) tick_add(&set_tick, TICKS_PER_SAMPLE);
    if (counter.count != WINDOW->pulses) {
        counter.count = WINDOW->pulses;
        counter.tick = set_tick.low;
    }
    if (set->flags & SET_MISSED) group_miss(&group, 1);
    else group_take(&group, codes);
    WINDOW->sets_read = read + 1u;
}

void uart0_receive_interrupt(void) {
    UART_CLEAR = UART_RX_IRQ;
    while (UART_STATE & UART_RX_FULL) inbox_put(&session.inbox, (uint8_t)(UART_DATA & 0xFFu), set_tick);
}

static void send_next(void) {
    uint8_t byte = 0;
    is_sending = outbox_take(&session.outbox, &byte);
    if (is_sending) UART_DATA = byte;
}

void uart0_send_interrupt(void) {
    UART_CLEAR = UART_TX_IRQ;
    send_next();
}

static void keep_sending(void) {
    port_saved saved = port_lock();
    if (!is_sending) send_next();
    port_unlock(saved);
}

static void start(void) {
    first_set = WINDOW->sets_read;
    WINDOW->boot = WINDOW->boot + 1u;
    session.boot = WINDOW->boot;
    outbox_init(&session.outbox, outbox_ring, OUTBOX_BYTES, session.boot);
    inbox_init(&session.inbox, inbox_ring, INBOX_BYTES);
    edges_init(&session.edges, edge_ring, EDGES_KEPT, 0);
    group_init(&group, words[0], sizeof words[0], set_tick);
    session_start(&session, set_tick);
    UART_BAUDDIV = 16; /* as fast as it goes: the emulator knows no rate */
    UART_CTRL = 0xF;   /* both ways, with interrupts */
    TIMER_RELOAD = CLOCK_HZ / TICK_HZ * TICKS_PER_SAMPLE - 1u;
    TIMER_VALUE = TIMER_RELOAD;
    TIMER_CTRL = TIMER_ON_WITH_IRQ;
    NVIC_ENABLE = IRQS;
}

/* The line is too slow, or its reader: fewer channels that come whole say more than many with holes. */
static void do_with_less(struct tick tick) {
    static const uint8_t channels[STEPS] = CHANNELS_OF;
    uint8_t step = (uint8_t)(session.description - ABOUT);
    if (step + 1u == STEPS) return;
    port_saved saved = port_lock(); /* no set between the two */
    session_redescribe(&session, &ABOUT[step + 1u], tick);
    group.channels = channels[step + 1u];
    port_unlock(saved);
}

int main(void) {
    struct single winding = {0};
    uint32_t slow_due = 0;
    start();
    for (;;) {
        struct tick tick = now();
        session_poll(&session, tick);
        if (session_is_behind(&session)) do_with_less(tick);
        if (ticks_since(slow_due, tick) >= 0) {
            winding.channel = group.channels; /* behind the even ones */
            winding.tick = tick;
            winding.code = WINDOW->winding;
            session_single(&session, &winding, tick);
            winding.number++;
            slow_due += SLOW_TICKS;
        }
        keep_sending();
    }
}
