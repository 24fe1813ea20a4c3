/* What the core must know of a PC, on which tests run it: no interrupt, no separate flash. */
#ifndef PORT_H
#define PORT_H

#include <stdint.h>
#include <string.h>

typedef int32_t code_t; /* of one sample: as wide as the widest word */
typedef uint8_t port_saved;

static inline port_saved port_lock(void) { return 0; }
static inline void port_unlock(port_saved saved) { (void)saved; }

#define PORT_FLASH
static inline uint8_t port_flash_u8(const void *at) { return *(const uint8_t *)at; }
static inline uint32_t port_flash_u32(const uint32_t *at) { return *at; }
static inline void port_flash_copy(void *to, const void *from, uint16_t count) { memcpy(to, from, count); }

#endif
