/* What the core must know of a Cortex-M3: a lock, and that flash is read like any memory. */
#ifndef PORT_H
#define PORT_H

#include <stdint.h>

typedef int32_t code_t;
typedef uint32_t port_saved;

static inline port_saved port_lock(void) {
    uint32_t primask;
    __asm__ volatile("mrs %0, primask\n\tcpsid i" : "=r"(primask) : : "memory");
    return primask;
}

static inline void port_unlock(port_saved saved) { __asm__ volatile("msr primask, %0" : : "r"(saved) : "memory"); }

#define PORT_FLASH
static inline uint8_t port_flash_u8(const void *at) { return *(const uint8_t *)at; }
static inline uint32_t port_flash_u32(const uint32_t *at) { return *at; }
static inline void port_flash_copy(void *to, const void *from, uint16_t count) {
    for (uint16_t k = 0; k < count; k++) ((uint8_t *)to)[k] = ((const uint8_t *)from)[k]; /* no C library is needed */
}

#endif
