/* The one checksum of the wire: CRC-32 as in IEEE 802.3, four bits at a time. Knows no frame. */
#ifndef CRC_H
#define CRC_H

#include <stdint.h>

#define CRC32_START 0xFFFFFFFFu
#define CRC32_RESIDUE 0x2144DF1Cu /* of any bytes with their own CRC-32 behind them, result inverted */

/* The register after one more byte. Begin with CRC32_START, and invert at the end. */
uint32_t crc32_step(uint32_t crc, uint8_t byte);

#endif
