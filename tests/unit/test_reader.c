/* What a WebSocket's client sends, frame by frame. The section of RFC 6455 stands beside each row.
 * Every row is read at once, byte by byte, and in two pieces cut at every place: the outcome is
 * always the same, and a fault is told with the first byte that makes it one. */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdio.h>
#include <string.h>
#include "net/reader.h"

enum { MESSAGE_MAX = 70000, BYTES_MAX = 400 };

/* What stands on the wire. */
struct row {
    char section[12], name[56];
    unsigned char bytes[BYTES_MAX];
    size_t size;
    char want[160]; /* what is told, in order */
    size_t by;      /* a fault is told when so many bytes have come; 0: not looked at */
};

struct told {
    char text[512];
};

static void tell(struct told *told, const char *what, const char *bytes, size_t size)
{
    size_t used = strlen(told->text);
    snprintf(told->text + used, sizeof told->text - used, "%s%.*s", what, (int)size, bytes);
}

/* Answers whether a fault was told. Pieces of a message are put together. */
static bool feed(struct reader *reader, const unsigned char *bytes, size_t size, struct told *told)
{
    char copy[BYTES_MAX];
    memcpy(copy, bytes, size);
    char *at = copy;
    while (size > 0) {
        struct piece piece = {0};
        size_t taken = 0;
        char number[16];
        enum reading reading = reader_take(reader, at, size, &taken, &piece);
        snprintf(number, sizeof number, "%d ", piece.code);
        switch (reading) {
        case READ_NOTHING:
            cr_assert(eq(sz, taken, size), "nothing is told before all is taken");
            break;
        case READ_TEXT:
            tell(told, "", piece.bytes, piece.size);
            if (piece.last)
                tell(told, ".", "", 0);
            break;
        case READ_PING:
            tell(told, "[ping ", piece.bytes, piece.size);
            tell(told, "]", "", 0);
            break;
        case READ_PONG:
            tell(told, "[pong ", piece.bytes, piece.size);
            tell(told, "]", "", 0);
            break;
        case READ_CLOSE:
            tell(told, "[close ", number, strlen(number));
            tell(told, "", piece.bytes, piece.size);
            tell(told, "]", "", 0);
            return true;
        case READ_FAULT:
            tell(told, "[fault ", number, strlen(number) - 1);
            tell(told, "]", "", 0);
            return true;
        }
        at += taken;
        size -= taken;
    }
    return false;
}

#define M 0x80 /* masked, with a mask of zeros: the payload stands as it is */
#define ZEROS 0, 0, 0, 0
#define ROW(section, name, want, by, ...)                                                          \
    {                                                                                              \
        section, name, {__VA_ARGS__}, sizeof((unsigned char[]){__VA_ARGS__}), want, by             \
    }

ParameterizedTestParameters(reader, frames)
{
    static struct row rows[] = {
        /* 5.7: the RFC's own examples, "Hello" */
        ROW("5.7", "a single masked text frame", "Hello.", 0, 0x81, 0x85, 0x37, 0xfa, 0x21, 0x3d,
            0x7f, 0x9f, 0x4d, 0x51, 0x58),
        ROW("5.7", "a single unmasked text frame", "[fault 1002]", 2, 0x81, 0x05, 0x48, 0x65, 0x6c,
            0x6c, 0x6f),
        ROW("5.7", "fragments, masked here", "Hello.", 0, 0x01, M | 3, ZEROS, 'H', 'e', 'l', 0x80,
            M | 2, ZEROS, 'l', 'o'),
        ROW("5.7", "a masked ping", "[ping Hello]", 0, 0x89, 0x85, 0x37, 0xfa, 0x21, 0x3d, 0x7f,
            0x9f, 0x4d, 0x51, 0x58),
        ROW("5.7", "a masked pong", "[pong Hello]", 0, 0x8a, 0x85, 0x37, 0xfa, 0x21, 0x3d, 0x7f,
            0x9f, 0x4d, 0x51, 0x58),
        ROW("5.1", "an unmasked ping", "[fault 1002]", 2, 0x89, 0),
        ROW("5.1", "an unmasked close", "[fault 1002]", 2, 0x88, 2, 0x03, 0xe8),
        ROW("5.1", "an unmasked continuation", "a[fault 1002]", 9, 0x01, M | 1, ZEROS, 'a', 0x80, 1,
            'b'),
        ROW("5.2", "reserved bit 1", "[fault 1002]", 2, 0xc1, M, ZEROS),
        ROW("5.2", "reserved bit 2", "[fault 1002]", 2, 0xa1, M, ZEROS),
        ROW("5.2", "reserved bit 3", "[fault 1002]", 2, 0x91, M, ZEROS),
        ROW("5.2", "a reserved bit of a ping", "[fault 1002]", 2, 0xd9, M, ZEROS),
        ROW("5.2", "opcode 3", "[fault 1002]", 2, 0x83, M, ZEROS),
        ROW("5.2", "opcode 7", "[fault 1002]", 2, 0x87, M, ZEROS),
        ROW("5.2", "opcode 11", "[fault 1002]", 2, 0x8b, M, ZEROS),
        ROW("5.2", "opcode 15", "[fault 1002]", 2, 0x8f, M, ZEROS),
        ROW("5.2", "125 in two bytes", "[fault 1002]", 8, 0x81, M | 126, 0, 125, ZEROS),
        ROW("5.2", "65,535 in eight bytes", "[fault 1002]", 14, 0x81, M | 127, 0, 0, 0, 0, 0, 0,
            255, 255, ZEROS),
        ROW("5.2", "0 in eight bytes", "[fault 1002]", 14, 0x81, M | 127, 0, 0, 0, 0, 0, 0, 0, 0,
            ZEROS),
        ROW("5.2", "the first bit of eight bytes", "[fault 1002]", 14, 0x81, M | 127, 128, 0, 0, 0,
            0, 1, 0, 0, ZEROS),
        ROW("10.4", "a message that announces too much", "[fault 1009]", 14, 0x81, M | 127, 0, 0, 0,
            0, 0, 1, 0x11, 0x71, ZEROS),
        ROW("10.4", "the most that there is", "[fault 1009]", 14, 0x81, M | 127, 127, 255, 255, 255,
            255, 255, 255, 255, ZEROS),
        ROW("5.4", "empty fragments around a text", "ab.", 0, 0x01, M, ZEROS, 0x00, M | 2, ZEROS,
            'a', 'b', 0x00, M, ZEROS, 0x80, M, ZEROS),
        ROW("5.4", "a continuation of nothing", "[fault 1002]", 2, 0x80, M, ZEROS),
        ROW("5.4", "a continuation after the end", "a.[fault 1002]", 9, 0x81, M | 1, ZEROS, 'a',
            0x80, M, ZEROS),
        ROW("5.4", "a message within a message", "a[fault 1002]", 9, 0x01, M | 1, ZEROS, 'a', 0x81,
            M | 1, ZEROS, 'b'),
        ROW("5.4", "a ping between fragments", "a[ping p]b.", 0, 0x01, M | 1, ZEROS, 'a', 0x89,
            M | 1, ZEROS, 'p', 0x80, M | 1, ZEROS, 'b'),
        ROW("5.4", "a close between fragments", "a[close 1000 ]", 0, 0x01, M | 1, ZEROS, 'a', 0x88,
            M | 2, ZEROS, 0x03, 0xe8),
        ROW("5.5", "a ping in fragments", "[fault 1002]", 2, 0x09, M, ZEROS),
        ROW("5.5", "a close in fragments", "[fault 1002]", 2, 0x08, M, ZEROS),
        ROW("5.5", "a ping of 126 bytes", "[fault 1002]", 2, 0x89, M | 126, 0, 126, ZEROS),
        ROW("5.5", "a pong of eight bytes' length", "[fault 1002]", 2, 0x8a, M | 127, ZEROS),
        ROW("5.5.3", "a pong that nobody asked for", "[pong ]", 0, 0x8a, M, ZEROS),
        ROW("5.6", "binary", "[fault 1003]", 2, 0x82, M | 1, ZEROS, 'a'),
        ROW("5.5.1", "a close without a code", "[close 1005 ]", 0, 0x88, M, ZEROS),
        ROW("5.5.1", "a close with a reason", "[close 1001 bye]", 0, 0x88, M | 5, ZEROS, 0x03, 0xe9,
            'b', 'y', 'e'),
        ROW("5.5.1", "half of a code", "[fault 1002]", 7, 0x88, M | 1, ZEROS, 0x03),
        ROW("5.5.1", "a reason that isn't UTF-8", "[fault 1007]", 9, 0x88, M | 3, ZEROS, 0x03, 0xe8,
            0xff),
        ROW("5.5.1", "a reason with half a character", "[fault 1007]", 9, 0x88, M | 3, ZEROS, 0x03,
            0xe8, 0xc3),
        ROW("5.5.1", "what follows a close", "[close 1000 ]", 0, 0x88, M | 2, ZEROS, 0x03, 0xe8,
            0xff, 0xff),
        ROW("8.1", "a character cut by a fragment", "\xe2\x82\xac.", 0, 0x01, M | 1, ZEROS, 0xe2,
            0x80, M | 2, ZEROS, 0x82, 0xac),
        ROW("8.1", "a message that ends within a character", "[fault 1007]", 8, 0x81, M | 2, ZEROS,
            0xe2, 0x82),
        ROW("8.1", "half of a pair", "[fault 1007]", 8, 0x81, M | 3, ZEROS, 0xed, 0xa0, 0x80),
        ROW("8.1", "overlong", "[fault 1007]", 7, 0x81, M | 2, ZEROS, 0xc0, 0xaf),
        ROW("8.1", "overlong, three bytes", "[fault 1007]", 8, 0x81, M | 3, ZEROS, 0xe0, 0x9f,
            0xbf),
        ROW("8.1", "beyond U+10FFFF", "[fault 1007]", 8, 0x81, M | 4, ZEROS, 0xf4, 0x90, 0x80,
            0x80),
        ROW("8.1", "told before the frame is whole", "[fault 1007]", 7, 0x81, M | 100, ZEROS, 0xff),
        ROW("8.1", "the first and last of each length",
            "\x7f\xc2\x80\xdf\xbf\xe0\xa0\x80\xed\x9f\xbf\xef\xbf\xbf\xf0\x90\x80\x80"
            "\xf4\x8f\xbf\xbf.",
            0, 0x81, M | 22, ZEROS, 0x7f, 0xc2, 0x80, 0xdf, 0xbf, 0xe0, 0xa0, 0x80, 0xed, 0x9f,
            0xbf, 0xef, 0xbf, 0xbf, 0xf0, 0x90, 0x80, 0x80, 0xf4, 0x8f, 0xbf, 0xbf),
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}

/* The text as it was told in whole characters only where all was taken at once: with a fault inside
 * a piece the good bytes before it are not told, so a row is compared up to its fault. */
static void check(const struct row *row, const struct told *told, size_t cut)
{
    const char *fault = strstr(row->want, "[fault");
    if (fault == NULL || fault == row->want) {
        const char *got = fault == NULL ? told->text : strstr(told->text, "[fault");
        cr_expect(got != NULL && strcmp(got, row->want) == 0, "%s, %s, cut at %zu: %s",
                  row->section, row->name, cut, told->text);
    } else {
        cr_expect(eq(str, (char *)told->text, (char *)row->want), "%s, %s, cut at %zu",
                  row->section, row->name, cut);
    }
}

ParameterizedTest(struct row *row, reader, frames)
{
    for (size_t cut = 0; cut <= row->size; cut++) {
        struct reader reader;
        struct told told = {""};
        reader_init(&reader, MESSAGE_MAX);
        if (!feed(&reader, row->bytes, cut, &told))
            feed(&reader, row->bytes + cut, row->size - cut, &told);
        check(row, &told, cut);
    }
    struct reader reader;
    struct told told = {""};
    size_t count = 0;
    bool over = false;
    reader_init(&reader, MESSAGE_MAX);
    while (!over && count < row->size)
        over = feed(&reader, row->bytes + count++, 1, &told);
    check(row, &told, count);
    if (row->by > 0)
        cr_expect(over && count == row->by, "%s, %s: told after %zu bytes, not %zu", row->section,
                  row->name, count, row->by);
}

/* 5.2: each way to write a length, at its ends. */
Test(reader, lengths)
{
    static char bytes[14 + 65536];
    static const size_t lengths[] = {0, 1, 125, 126, 127, 65535, 65536};
    for (size_t i = 0; i < sizeof lengths / sizeof *lengths; i++) {
        size_t length = lengths[i], head = 2;
        bytes[0] = (char)0x81;
        if (length < 126) {
            bytes[1] = (char)(M | length);
        } else {
            size_t more = length < 65536 ? 2 : 8;
            bytes[1] = (char)(M | (more == 2 ? 126 : 127));
            for (size_t k = 0; k < more; k++)
                bytes[2 + k] = (char)(length >> 8 * (more - 1 - k));
            head += more;
        }
        static const char mask[] = {1, 2, 3, 4};
        memcpy(bytes + head, mask, 4);
        for (size_t k = 0; k < length; k++)
            bytes[head + 4 + k] = (char)('x' ^ mask[k & 3]);
        struct reader reader;
        struct piece piece;
        size_t taken;
        reader_init(&reader, MESSAGE_MAX);
        cr_assert(
            eq(int, reader_take(&reader, bytes, head + 4 + length, &taken, &piece), READ_TEXT),
            "%zu", length);
        cr_expect(eq(sz, taken, head + 4 + length));
        cr_expect(piece.last && piece.size == length, "%zu", length);
        for (size_t k = 0; k < piece.size; k++)
            cr_assert(eq(chr, piece.bytes[k], 'x'), "byte %zu of %zu", k, length);
    }
}

/* 7.4.1, 7.4.2; 1012 to 1014 are in IANA's registry of close codes. */
Test(reader, close_codes)
{
    static const struct {
        int from, to;
        bool sent;
    } rows[] = {
        {0, 999, false},    {1000, 1003, true},  {1004, 1006, false}, {1007, 1011, true},
        {1012, 1014, true}, {1015, 2999, false}, {3000, 4999, true},  {5000, 65535, false},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        for (int code = rows[i].from; code <= rows[i].to; code++)
            cr_assert(eq(int, close_code_is_sent(code), rows[i].sent), "%d", code);
}

/* 5.4: a message of many fragments has one limit, and the next begins anew. */
Test(reader, a_messages_limit_is_of_its_fragments_together)
{
    struct reader reader;
    struct told told = {""};
    const unsigned char first[] = {0x01, M | 3, ZEROS, 'a', 'b', 'c'};
    const unsigned char more[] = {0x00, M | 3, ZEROS, 'd', 'e', 'f'};
    const unsigned char last[] = {0x80, M | 1, ZEROS, 'g'};
    reader_init(&reader, 7);
    for (int i = 0; i < 2; i++) {
        cr_assert(not(feed(&reader, first, sizeof first, &told)));
        cr_assert(not(feed(&reader, more, sizeof more, &told)));
        cr_assert(not(feed(&reader, last, sizeof last, &told)));
    }
    feed(&reader, first, sizeof first, &told);
    feed(&reader, more, sizeof more, &told);
    cr_expect(feed(&reader, more, sizeof more, &told));
    cr_expect(eq(str, told.text, "abcdefg.abcdefg.abcdef[fault 1009]"));
}
