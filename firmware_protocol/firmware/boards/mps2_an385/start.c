/* What stands before main: the vector table, memory made ready, and two functions that a compiler calls by itself. */
#include <stddef.h>
#include <stdint.h>

extern uint32_t DATA_STORED[], DATA_BEGIN[], DATA_END[], BSS_BEGIN[], BSS_END[], STACK_TOP[];

int main(void);
void timer0_interrupt(void);
void uart0_receive_interrupt(void);
void uart0_send_interrupt(void);
void reset(void);
void stuck(void);
void *memcpy(void *restrict to, const void *restrict from, size_t count);
void *memset(void *to, int value, size_t count);

void *memcpy(void *restrict to, const void *restrict from, size_t count) {
    uint8_t *t = to;
    const uint8_t *f = from;
    while (count--) *t++ = *f++;
    return to;
}

void *memset(void *to, int value, size_t count) {
    uint8_t *t = to;
    while (count--) *t++ = (uint8_t)value;
    return to;
}

void reset(void) {
    memcpy(DATA_BEGIN, DATA_STORED, (size_t)((uint8_t *)DATA_END - (uint8_t *)DATA_BEGIN));
    memset(BSS_BEGIN, 0, (size_t)((uint8_t *)BSS_END - (uint8_t *)BSS_BEGIN));
    main();
    stuck();
}

/* A fault: the line falls silent, which a PC says after a second. */
void stuck(void) {
    for (;;) {
    }
}

typedef void (*vector)(void);

__attribute__((section(".vectors"), used)) static const struct {
    uint32_t *stack;
    vector handlers[15];
    vector interrupts[9];
} VECTORS = {
    STACK_TOP,
    {reset, stuck, stuck, stuck, stuck, stuck, stuck, stuck, stuck, stuck, stuck, stuck, stuck, stuck, stuck},
    {uart0_receive_interrupt, uart0_send_interrupt, stuck, stuck, stuck, stuck, stuck, stuck, timer0_interrupt},
};
