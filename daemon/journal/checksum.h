/* The checksum that a row of the store carries: CRC-32 of ISO/IEC 8802-3 over its number, as eight
 * bytes from the lowest, and its text. It finds every single flipped bit and every burst of up to
 * 32; the number is part of it, so no row can take another's place. Pure. */
#pragma once
#include <stddef.h>
#include <stdint.h>

int64_t checksum_of(uint64_t number, const char *text, size_t size);
