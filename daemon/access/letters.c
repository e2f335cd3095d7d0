#include "access/letters.h"

uint32_t letter_at(const char *text, size_t *size)
{
    const unsigned char *bytes = (const unsigned char *)text;
    unsigned more = bytes[0] >= 0xf0 ? 3 : bytes[0] >= 0xe0 ? 2 : bytes[0] >= 0xc0 ? 1 : 0;
    uint32_t character = more == 0 ? bytes[0] : bytes[0] & (0x3fu >> more);
    *size = 1;
    for (unsigned i = 1; i <= more; i++) {
        if ((bytes[i] & 0xc0) != 0x80)
            return bytes[0];
        character = character << 6 | (bytes[i] & 0x3f);
    }
    *size = more + 1;
    return character;
}

bool is_mark(uint32_t character)
{
    return character >= 0x300 && character <= 0x36f;
}

/* Below U+0080 by name; above, all but what Unicode keeps for punctuation and signs (the blocks
 * from U+2000 to U+2BFF, U+3000 to U+303F, U+FE10 to U+FE6F, and pictures from U+1F000 on). */
bool is_letter(uint32_t character)
{
    if (character < 0x80)
        return (character >= '0' && character <= '9') || (character >= 'A' && character <= 'Z') ||
               (character >= 'a' && character <= 'z');
    if (character < 0xc0)
        return character == 0xaa || character == 0xba;
    return character != 0xd7 && character != 0xf7 && !is_mark(character) &&
           !(character >= 0x2000 && character <= 0x2bff) &&
           !(character >= 0x3000 && character <= 0x303f) &&
           !(character >= 0xfe00 && character <= 0xfe6f) &&
           !(character >= 0x1f000 && character <= 0x1faff);
}

bool is_whole_sign(uint32_t character)
{
    return (character >= 0x1100 && character <= 0x11ff) ||
           (character >= 0x2e80 && character <= 0xa4cf) ||
           (character >= 0xac00 && character <= 0xd7ff) ||
           (character >= 0xf900 && character <= 0xfaff) ||
           (character >= 0xff66 && character <= 0xff9d) || character >= 0x20000;
}

struct span {
    uint16_t from, to;
    char letter;
};

/* Latin letters with marks, and those written with a sign of their own, by their plain letter. */
static const struct span latin[] = {
    {0xc0, 0xc6, 'a'},     {0xc7, 0xc7, 'c'},     {0xc8, 0xcb, 'e'},     {0xcc, 0xcf, 'i'},
    {0xd0, 0xd0, 'd'},     {0xd1, 0xd1, 'n'},     {0xd2, 0xd8, 'o'},     {0xd9, 0xdc, 'u'},
    {0xdd, 0xdd, 'y'},     {0xde, 0xde, 't'},     {0xdf, 0xdf, 's'},     {0xe0, 0xe6, 'a'},
    {0xe7, 0xe7, 'c'},     {0xe8, 0xeb, 'e'},     {0xec, 0xef, 'i'},     {0xf0, 0xf0, 'd'},
    {0xf1, 0xf1, 'n'},     {0xf2, 0xf8, 'o'},     {0xf9, 0xfc, 'u'},     {0xfd, 0xfd, 'y'},
    {0xfe, 0xfe, 't'},     {0xff, 0xff, 'y'},     {0x100, 0x105, 'a'},   {0x106, 0x10d, 'c'},
    {0x10e, 0x111, 'd'},   {0x112, 0x11b, 'e'},   {0x11c, 0x123, 'g'},   {0x124, 0x127, 'h'},
    {0x128, 0x133, 'i'},   {0x134, 0x135, 'j'},   {0x136, 0x138, 'k'},   {0x139, 0x142, 'l'},
    {0x143, 0x14b, 'n'},   {0x14c, 0x153, 'o'},   {0x154, 0x159, 'r'},   {0x15a, 0x161, 's'},
    {0x162, 0x167, 't'},   {0x168, 0x173, 'u'},   {0x174, 0x175, 'w'},   {0x176, 0x178, 'y'},
    {0x179, 0x17e, 'z'},   {0x17f, 0x17f, 's'},   {0x18f, 0x18f, 'e'},   {0x1a0, 0x1a1, 'o'},
    {0x1af, 0x1b0, 'u'},   {0x1cd, 0x1ce, 'a'},   {0x1cf, 0x1d0, 'i'},   {0x1d1, 0x1d2, 'o'},
    {0x1d3, 0x1dc, 'u'},   {0x1e6, 0x1e7, 'g'},   {0x218, 0x219, 's'},   {0x21a, 0x21b, 't'},
    {0x259, 0x259, 'e'},   {0x1e00, 0x1e01, 'a'}, {0x1e02, 0x1e07, 'b'}, {0x1e08, 0x1e09, 'c'},
    {0x1e0a, 0x1e13, 'd'}, {0x1e14, 0x1e1d, 'e'}, {0x1e1e, 0x1e1f, 'f'}, {0x1e20, 0x1e21, 'g'},
    {0x1e22, 0x1e2b, 'h'}, {0x1e2c, 0x1e2f, 'i'}, {0x1e30, 0x1e35, 'k'}, {0x1e36, 0x1e3d, 'l'},
    {0x1e3e, 0x1e43, 'm'}, {0x1e44, 0x1e4b, 'n'}, {0x1e4c, 0x1e53, 'o'}, {0x1e54, 0x1e57, 'p'},
    {0x1e58, 0x1e5f, 'r'}, {0x1e60, 0x1e69, 's'}, {0x1e6a, 0x1e71, 't'}, {0x1e72, 0x1e7b, 'u'},
    {0x1e7c, 0x1e7f, 'v'}, {0x1e80, 0x1e89, 'w'}, {0x1e8a, 0x1e8d, 'x'}, {0x1e8e, 0x1e8f, 'y'},
    {0x1e90, 0x1e95, 'z'}, {0x1e9e, 0x1e9e, 's'}, {0x1ea0, 0x1eb7, 'a'}, {0x1eb8, 0x1ec7, 'e'},
    {0x1ec8, 0x1ecb, 'i'}, {0x1ecc, 0x1ee3, 'o'}, {0x1ee4, 0x1ef1, 'u'}, {0x1ef2, 0x1ef9, 'y'},
};

static uint32_t greek_plain(uint32_t character)
{
    static const struct {
        uint16_t marked, plain;
    } pairs[] = {
        {0x386, 0x3b1}, {0x388, 0x3b5}, {0x389, 0x3b7}, {0x38a, 0x3b9}, {0x38c, 0x3bf},
        {0x38e, 0x3c5}, {0x38f, 0x3c9}, {0x390, 0x3b9}, {0x3aa, 0x3b9}, {0x3ab, 0x3c5},
        {0x3ac, 0x3b1}, {0x3ad, 0x3b5}, {0x3ae, 0x3b7}, {0x3af, 0x3b9}, {0x3b0, 0x3c5},
        {0x3c2, 0x3c3}, {0x3ca, 0x3b9}, {0x3cb, 0x3c5}, {0x3cc, 0x3bf}, {0x3cd, 0x3c5},
        {0x3ce, 0x3c9},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++)
        if (pairs[i].marked == character)
            return pairs[i].plain;
    return character >= 0x391 && character <= 0x3a9 ? character + 0x20 : character;
}

static uint32_t cyrillic_plain(uint32_t character)
{
    if (character == 0x401 || character == 0x451) /* io, mostly written ie */
        return 0x435;
    if (character == 0x419 || character == 0x439) /* short i */
        return 0x438;
    if (character >= 0x400 && character <= 0x40f)
        return character + 0x50;
    if (character >= 0x410 && character <= 0x42f)
        return character + 0x20;
    return character >= 0x460 && character != 0x4c0 ? character | 1 : character;
}

uint32_t letter_plain(uint32_t character)
{
    if (character < 0x80)
        return character >= 'A' && character <= 'Z' ? character + 0x20 : character;
    if (character >= 0x370 && character <= 0x3ff)
        return greek_plain(character);
    if (character >= 0x400 && character <= 0x4ff)
        return cyrillic_plain(character);
    if (character >= 0x531 && character <= 0x556) /* Armenian */
        return character + 0x30;
    for (size_t i = 0; i < sizeof latin / sizeof *latin; i++)
        if (character >= latin[i].from && character <= latin[i].to)
            return (uint32_t)latin[i].letter;
    return character;
}
