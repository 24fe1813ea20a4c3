/* Runs the firmware of the 8-bit board in libsimavr: avr_runner ELF CYCLES SCRIPT LOG, wire bytes on standard output.

   SCRIPT, a line each, times in cycles and in order:  wave CHANNEL OFFSET_MV AMPLITUDE_MV PERIOD_CYCLES PHASE
                                                       pins CYCLE LEVELS | switch CYCLE LEVEL | byte CYCLE VALUE | reset CYCLE
   LOG gets `adc CYCLE CHANNEL MILLIVOLT` for each conversion as it begins, `timer CYCLE` when timer 1 starts, at the end
   `line UBRR0 U2X0`, `stack BYTES` at its deepest, and `cycles N asleep M`.
   simavr is under the GPL, version 3: this file is compiled with it by tests and never shipped. */
#include <math.h>
#include <simavr/avr_adc.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_cycle_timers.h>
#include <simavr/sim_elf.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define CHANNELS 4
#define HAPPENINGS_MAX 100000
#define HALL_FIRST_PIN 2
#define HALLS 3
#define RANGE_PIN 5
#define RAM_END 0x8FF
#define SPL 0x5D
#define SPH 0x5E
#define TCCR1B 0x81 /* addresses in data space, of the data sheet */
#define UCSR0A 0xC0
#define UBRR0L 0xC4
#define UBRR0H 0xC5

struct wave { double offset, amplitude, period, phase; };
struct happening { avr_cycle_count_t cycle; char what; unsigned value; };

static struct wave waves[CHANNELS];
static struct happening happenings[HAPPENINGS_MAX];
static int happening_count, next_happening;
static avr_t *avr;
static FILE *log_file;
static avr_cycle_count_t asleep;

static void read_script(const char *path) {
    FILE *file = fopen(path, "r");
    char what[8];
    if (!file) exit(3);
    while (fscanf(file, "%7s", what) == 1) {
        if (!strcmp(what, "wave")) {
            unsigned channel;
            struct wave wave;
            if (fscanf(file, "%u %lf %lf %lf %lf", &channel, &wave.offset, &wave.amplitude, &wave.period, &wave.phase) != 5
                || channel >= CHANNELS) exit(4);
            waves[channel] = wave;
            continue;
        }
        struct happening happening = {.what = what[0]};
        unsigned long long cycle;
        if (fscanf(file, "%llu", &cycle) != 1 || happening_count == HAPPENINGS_MAX) exit(4);
        happening.cycle = cycle;
        if (what[0] != 'r' && fscanf(file, "%u", &happening.value) != 1) exit(4);
        happenings[happening_count++] = happening;
    }
    fclose(file);
}

/* The value is asked for at the cycle at which a conversion begins. */
static void converted(struct avr_irq_t *irq, uint32_t value, void *unused) {
    union { uint32_t v; avr_adc_mux_t mux; } asked = {.v = value};
    unsigned channel = asked.mux.src;
    double millivolt = 0;
    (void)irq, (void)unused;
    if (channel < CHANNELS) {
        const struct wave *wave = &waves[channel];
        double angle = wave->period > 0 ? 2 * M_PI * fmod((double)avr->cycle, wave->period) / wave->period : 0;
        millivolt = round(wave->offset + wave->amplitude * sin(angle + wave->phase));
    }
    fprintf(log_file, "adc %llu %u %.0f\n", (unsigned long long)avr->cycle, channel, millivolt);
    avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_ADC0 + (int)channel), (uint32_t)millivolt);
}

static void sent(struct avr_irq_t *irq, uint32_t value, void *unused) {
    (void)irq, (void)unused;
    putchar((int)(value & 0xFF));
    if (!(value & 0xFF)) fprintf(log_file, "end %llu\n", (unsigned long long)avr->cycle);
}

static void set_pins(unsigned levels) {
    for (int k = 0; k < HALLS; k++)
        avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('D'), HALL_FIRST_PIN + k), levels >> k & 1);
}

/* Stronger than a pull-up of the processor, whenever that is switched on. */
static void set_switch(unsigned level) {
    avr_ioport_external_t held = {.name = 'D', .mask = 1 << RANGE_PIN, .value = (level & 1) << RANGE_PIN};
    avr_ioctl(avr, AVR_IOCTL_IOPORT_SET_EXTERNAL('D'), &held);
    avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('D'), RANGE_PIN), level & 1);
}

static avr_cycle_count_t happen(avr_t *it, avr_cycle_count_t when, void *unused) {
    const struct happening *happening = &happenings[next_happening++];
    avr_cycle_count_t next = next_happening < happening_count ? happenings[next_happening].cycle : 0;
    (void)unused;
    if (happening->what == 'p') set_pins(happening->value);
    if (happening->what == 's') set_switch(happening->value);
    if (happening->what == 'b')
        avr_raise_irq(avr_io_getirq(it, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), happening->value);
    return next && next <= when ? when + 1 : next; /* of the same cycle: simavr would forget it */
}

static void sleep_no_time(avr_t *it, avr_cycle_count_t cycles) {
    (void)it;
    asleep += cycles + 1;
}

static void quiet(avr_t *it, const int level, const char *format, va_list arguments) {
    (void)it;
    if (level <= LOG_ERROR) vfprintf(stderr, format, arguments);
}

/* A reset of simavr forgets all cycle timers: what is still to come is put in again. */
static void wait_for_next(void) {
    if (next_happening < happening_count && happenings[next_happening].what != 'r')
        avr_cycle_timer_register(avr, happenings[next_happening].cycle - avr->cycle, happen, NULL);
}

static void connect_all(void) {
    uint32_t flags = 0;
    avr_ioctl(avr, AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
    flags &= ~(uint32_t)(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    avr->vcc = avr->avcc = avr->aref = 5000;
}

int main(int count, char **words) {
    elf_firmware_t program = {0};
    if (count != 5) return 2;
    unsigned long long end = strtoull(words[2], NULL, 10);
    avr_global_logger_set(quiet);
    read_script(words[3]);
    log_file = fopen(words[4], "w");
    if (!log_file || elf_read_firmware(words[1], &program)) return 3;
    avr = avr_make_mcu_by_name("atmega328p");
    if (!avr) return 3;
    avr_init(avr);
    avr->frequency = 16000000;
    avr_load_firmware(avr, &program);
    avr->sleep = sleep_no_time;
    connect_all();
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_OUT_TRIGGER), converted, NULL);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), sent, NULL);
    wait_for_next();
    int ticking = 0, lowest = RAM_END;
    while (avr->cycle < end) {
        int state = avr_run(avr);
        if (!ticking && avr->data[TCCR1B]) fprintf(log_file, "timer %llu\n", (unsigned long long)avr->cycle);
        ticking = avr->data[TCCR1B] != 0;
        int top = avr->data[SPH] << 8 | avr->data[SPL];
        if (ticking && top < lowest) lowest = top;
        if (state == cpu_Done || state == cpu_Crashed) return 5;
        const struct happening *happening = &happenings[next_happening];
        if (next_happening < happening_count && happening->what == 'r' && avr->cycle >= happening->cycle) {
            next_happening++;
            avr_reset(avr);
            connect_all();
            wait_for_next();
        }
    }
    fprintf(log_file, "stack %d\n", RAM_END - lowest);
    fprintf(log_file, "line %d %d\n", avr->data[UBRR0H] << 8 | avr->data[UBRR0L], avr->data[UCSR0A] >> 1 & 1);
    fprintf(log_file, "cycles %llu asleep %llu\n", (unsigned long long)avr->cycle, (unsigned long long)asleep);
    fclose(log_file);
    return 0;
}
