#include "crc.h"

#include "port.h"

/* 16 entries instead of 256: 64 bytes of flash, and two look-ups a byte. */
static const uint32_t TABLE[16] PORT_FLASH = {
    0x00000000, 0x1DB71064, 0x3B6E20C8, 0x26D930AC, 0x76DC4190, 0x6B6B51F4, 0x4DB26158, 0x5005713C,
    0xEDB88320, 0xF00F9344, 0xD6D6A3E8, 0xCB61B38C, 0x9B64C2B0, 0x86D3D2D4, 0xA00AE278, 0xBDBDF21C,
};

uint32_t crc32_step(uint32_t crc, uint8_t byte) {
    crc ^= byte;
    crc = (crc >> 4) ^ port_flash_u32(&TABLE[crc & 15u]);
    crc = (crc >> 4) ^ port_flash_u32(&TABLE[crc & 15u]);
    return crc;
}
