/* ATmega328P at 16 MHz: ADC0 to ADC3, Hall A B C on PD2 PD3 PD4, the line on PD0 (receives) and PD1 (sends). PD5 is
   tied to minus by the switch that chooses the low range of the phases.

   Timer 1 is the tick counter and paces the sets; each interrupt lets others through as soon as it may, because the
   stamp of an edge is as good as its interrupt is quick. */
#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/sleep.h>

#include "about.h"
#include "port.h"
#include "session.h"

#ifdef LINE_115200
#define DOUBLE_SPEED (1 << U2X0)
#define DIVIDER 16 /* 117 647 baud: 2.1 % too fast */
#else
#define DOUBLE_SPEED 0
#define DIVIDER 3 /* 250 000 baud, exactly */
#endif

#define OUTBOX_BYTES 512u
#define INBOX_BYTES 128u /* five milliseconds of the line: longer than a frame takes to be made */
#define EDGES_KEPT 16u
#define BLOCK_BYTES WORDS_BYTES(12, CHANNELS *SETS_IN_BLOCK)
#define FIRST_SET_TICK 5000u /* 20 ms: with two blocks to wait in, the description is out by then on either line */
#define HALL_PINS 0x1Cu /* PD2 to PD4 */
#define HALL_SHIFT 2
#define RANGE_PIN 0x20u /* PD5; open: the high range, so a broken wire shows too much, never too little */
#define SETTLED_TICKS (TICK_HZ / 20)
#define ADC_ON ((1 << ADEN) | (1 << ADIE) | (1 << ADIF) | 7) /* its clock: 16 MHz / 128 */
#define ADC_MIDDLE 512
#define LINE_ON ((1 << RXEN0) | (1 << TXEN0) | (1 << RXCIE0))

/* `signal`: others wait until it lets them through. `interrupt`: it lets them through at once. */
void TIMER1_OVF_vect(void) __attribute__((signal, used, externally_visible));
void TIMER1_COMPB_vect(void) __attribute__((signal, used, externally_visible));
void PCINT2_vect(void) __attribute__((signal, used, externally_visible));
void USART_RX_vect(void) __attribute__((signal, used, externally_visible));
void USART_UDRE_vect(void) __attribute__((signal, used, externally_visible));
void ADC_vect(void) __attribute__((interrupt, used, externally_visible));

static uint8_t outbox_ring[OUTBOX_BYTES], inbox_ring[INBOX_BYTES];
static uint8_t words[2][BLOCK_BYTES];
static struct edge edge_ring[EDGES_KEPT];
static struct group group = {
    .channels = CHANNELS, .word = WORD_PACKED12, .sets_in_block = SETS_IN_BLOCK,
    .ticks_per_sample = TICKS_PER_SAMPLE, .ticks_divisor = 1,
};
static struct session session = {.description = &ABOUT[0], .groups = &group, .group_count = 1, .streaming = true};
static uint32_t boot_kept EEMEM;

static volatile uint32_t overflows; /* of timer 1: the upper 32 bits of the tick */
static volatile bool converting;
static volatile bool due; /* a set has begun: time to look what is to be done */
static volatile uint8_t late; /* sets that fell due while a conversion was still going on */
static uint8_t channel;
static code_t codes[CHANNELS];

void TIMER1_OVF_vect(void) { overflows++; }

/* The upper bits that belong to this reading of the timer. Interrupts must be off. */
static uint32_t upper_of(uint16_t timer) {
    uint32_t upper = overflows;
    if ((TIFR1 & (1 << TOV1)) && timer < 0x8000u) upper++; /* it has gone over, and its interrupt waits */
    return upper;
}

static struct tick now(void) {
    port_saved saved = port_lock();
    uint16_t timer = TCNT1;
    uint32_t upper = upper_of(timer);
    port_unlock(saved);
    return (struct tick){upper << 16 | timer, (uint16_t)(upper >> 16)};
}

/* This interrupt and the two of the line hold themselves back, let all others through, and come again when they end. */
void PCINT2_vect(void) {
    uint16_t timer = TCNT1;
    uint8_t levels = (uint8_t)((PIND & HALL_PINS) >> HALL_SHIFT);
    uint32_t tick = upper_of(timer) << 16 | timer;
    PCICR = 0;
    sei();
    edges_put(&session.edges, tick, levels);
    cli();
    PCICR = 1 << PCIE2;
}

static void convert(uint8_t next) {
    ADMUX = (uint8_t)((1 << REFS0) | next); /* reference is AVCC */
    ADCSRA = ADC_ON | (1 << ADSC);
}

/* A set falls due. */
void TIMER1_COMPB_vect(void) {
    OCR1B = (uint16_t)(OCR1B + TICKS_PER_SAMPLE);
    due = true;
    if (converting) {
        late++;
        return;
    }
    converting = true;
    convert(0);
}

void ADC_vect(void) {
    codes[channel++] = (code_t)((code_t)ADC - ADC_MIDDLE);
    if (channel < CHANNELS) {
        convert(channel);
        return;
    }
    channel = 0;
    converting = false; /* the first value of the next set comes long after this one is put away */
    group_take(&group, codes);
    if (late) {
        group_miss(&group, late);
        late = 0;
    }
}

void USART_RX_vect(void) {
    UCSR0B &= (uint8_t)~(1 << RXCIE0);
    sei();
    inbox_put(&session.inbox, UDR0, now());
    cli();
    UCSR0B |= 1 << RXCIE0;
}

void USART_UDRE_vect(void) {
    uint8_t byte;
    UCSR0B &= (uint8_t)~(1 << UDRIE0);
    sei();
    if (!outbox_take(&session.outbox, &byte)) return;
    UDR0 = byte;
    cli();
    UCSR0B |= 1 << UDRIE0;
}

static void start_line(void) {
    UBRR0 = DIVIDER;
    UCSR0A = DOUBLE_SPEED;
    UCSR0C = (1 << UCSZ01) | (1 << UCSZ00); /* 8N1 */
    UCSR0B = LINE_ON;
}

static void keep_sending(void) {
    port_saved saved = port_lock();
    if (!outbox_is_empty(&session.outbox)) UCSR0B |= 1 << UDRIE0;
    port_unlock(saved);
}

static void start_time(void) {
    OCR1B = FIRST_SET_TICK;
    TIFR1 = (1 << OCF1B) | (1 << TOV1);
    TIMSK1 = (1 << OCIE1B) | (1 << TOIE1);
    TCCR1B = (1 << CS11) | (1 << CS10); /* 16 MHz / 64 */
}

static void start_inputs(void) {
    PORTD |= HALL_PINS | RANGE_PIN; /* pull-ups: Hall sensors have open collectors */
    DIDR0 = 0x0F;       /* no digital input where voltages are measured */
    PCMSK2 = HALL_PINS;
    PCIFR = 1 << PCIF2;
    PCICR = 1 << PCIE2;
    ADMUX = 1 << REFS0;
    ADCSRA = (ADC_ON & ~(1 << ADIE)) | (1 << ADSC); /* the first conversion takes twice as long: before all others */
    while (ADCSRA & (1 << ADSC)) {
    }
}

static bool is_low_range(void) { return !(PIND & RANGE_PIN); }

/* A contact bounces: at most one change in SETTLED_TICKS, and the last one counts. */
static void look_at_range(struct tick tick) {
    static uint32_t changed;
    const struct description *chosen = &ABOUT[is_low_range()];
    if (chosen == session.description || tick.low - changed < SETTLED_TICKS) return;
    changed = tick.low;
    session_redescribe(&session, chosen, tick);
}

static void start(void) {
    session.boot = eeprom_read_dword(&boot_kept) + 1u; /* of an erased chip: 0 */
    eeprom_update_dword(&boot_kept, session.boot);
    start_inputs();
    session.description = &ABOUT[is_low_range()]; /* the pull-up has had the first conversion's time to rise */
    outbox_init(&session.outbox, outbox_ring, OUTBOX_BYTES, session.boot);
    inbox_init(&session.inbox, inbox_ring, INBOX_BYTES);
    edges_init(&session.edges, edge_ring, EDGES_KEPT, (uint8_t)((PIND & HALL_PINS) >> HALL_SHIFT));
    group_init(&group, words[0], BLOCK_BYTES, (struct tick){FIRST_SET_TICK, 0});
    session_start(&session, (struct tick){0, 0});
    start_line();
    start_time();
    sei();
}

int main(void) {
    start();
    SMCR = 1 << SE; /* idle: timers, converter and line go on */
    for (;;) {
        due = false;
        struct tick tick = now();
        look_at_range(tick);
        session_poll(&session, tick);
        keep_sending();
        while (!due && !session.fresh) sleep_cpu(); /* a description that blocks wait for goes on */
    }
}
