/* What the core must know of an 8-bit AVR: a lock, and that constants are kept in flash and read from there. */
#ifndef PORT_H
#define PORT_H

#include <avr/io.h>
#include <avr/pgmspace.h>
#include <stdint.h>

typedef int16_t code_t; /* ten bits are enough */
typedef uint8_t port_saved;

static inline port_saved port_lock(void) {
    port_saved saved = SREG;
    __asm__ volatile("cli" : : : "memory");
    return saved;
}

static inline void port_unlock(port_saved saved) {
    __asm__ volatile("" : : : "memory");
    SREG = saved;
}

#define PORT_FLASH PROGMEM
static inline uint8_t port_flash_u8(const void *at) { return pgm_read_byte(at); }
static inline uint32_t port_flash_u32(const uint32_t *at) { return pgm_read_dword(at); }
static inline void port_flash_copy(void *to, const void *from, uint16_t count) { memcpy_P(to, from, count); }

#endif
