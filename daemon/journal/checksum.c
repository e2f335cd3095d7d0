#include "journal/checksum.h"

/* Bit by bit: it is far from being what an event costs. */
static uint32_t crc_add(uint32_t crc, const unsigned char *bytes, size_t size)
{
    for (size_t i = 0; i < size; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            crc = (crc >> 1) ^ (0xEDB88320u & (0u - (crc & 1u)));
    }
    return crc;
}

int64_t checksum_of(uint64_t number, const char *text, size_t size)
{
    unsigned char bytes[8];
    for (size_t i = 0; i < sizeof bytes; i++)
        bytes[i] = (unsigned char)(number >> (8 * i));
    uint32_t crc = crc_add(0xFFFFFFFFu, bytes, sizeof bytes);
    return ~crc_add(crc, (const unsigned char *)text, size);
}
