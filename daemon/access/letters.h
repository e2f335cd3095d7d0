/* Letters of UTF-8 text, as far as names need them. Pure. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The character that begins there, and how many bytes it has: 1 for a byte that begins none. */
uint32_t letter_at(const char *text, size_t *size);
/* A letter or a digit of any script; marks are parts of the letter before them. */
bool is_letter(uint32_t character);
bool is_mark(uint32_t character); /* a combining mark: U+0300 to U+036F */
/* A sign that is a whole syllable or word: Han, kana, Hangul, Yi. */
bool is_whole_sign(uint32_t character);
/* Small and without marks: "Ă" gives "a". Letters of scripts without case stay. */
uint32_t letter_plain(uint32_t character);
