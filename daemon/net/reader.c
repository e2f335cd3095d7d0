#include "net/reader.h"
#include <string.h>

enum {
    OPCODE_CONTINUATION = 0,
    OPCODE_TEXT,
    OPCODE_BINARY,
    OPCODE_CLOSE = 8,
    OPCODE_PING,
    OPCODE_PONG
};
enum { HEAD_FINAL = 0x80, HEAD_RESERVED = 0x70, HEAD_OPCODE = 0x0f, HEAD_MASKED = 0x80 };

void reader_init(struct reader *reader, size_t message_bytes_max)
{
    *reader = (struct reader){.message_bytes_max = message_bytes_max};
}

static enum reading fault(struct piece *piece, int code, const char *why)
{
    *piece = (struct piece){.code = code, .why = why};
    return READ_FAULT;
}

/* --- UTF-8 ------------------------------------------------------------------------------------ */

/* What may follow a first byte: how many bytes, and from what to what the next one goes (RFC 3629
 * 4; the ranges of the first after it keep out what is overlong, halves of pairs, and what lies
 * beyond U+10FFFF). */
static bool utf8_begin(struct reader *reader, unsigned char byte)
{
    static const struct {
        unsigned char first, last, wanted, from, to;
    } rows[] = {
        {0x00, 0x7f, 0, 0, 0},       {0xc2, 0xdf, 1, 0x80, 0xbf}, {0xe0, 0xe0, 2, 0xa0, 0xbf},
        {0xe1, 0xec, 2, 0x80, 0xbf}, {0xed, 0xed, 2, 0x80, 0x9f}, {0xee, 0xef, 2, 0x80, 0xbf},
        {0xf0, 0xf0, 3, 0x90, 0xbf}, {0xf1, 0xf3, 3, 0x80, 0xbf}, {0xf4, 0xf4, 3, 0x80, 0x8f},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        if (byte >= rows[i].first && byte <= rows[i].last) {
            reader->utf8_wanted = rows[i].wanted;
            reader->utf8_from = rows[i].from;
            reader->utf8_to = rows[i].to;
            return true;
        }
    return false;
}

static bool utf8_go_on(struct reader *reader, const char *bytes, size_t size)
{
    for (size_t i = 0; i < size; i++) {
        unsigned char byte = (unsigned char)bytes[i];
        if (reader->utf8_wanted == 0) {
            if (byte >= 0x80 && !utf8_begin(reader, byte))
                return false;
            continue;
        }
        if (byte < reader->utf8_from || byte > reader->utf8_to)
            return false;
        reader->utf8_wanted--;
        reader->utf8_from = 0x80;
        reader->utf8_to = 0xbf;
    }
    return true;
}

static bool is_utf8(const char *bytes, size_t size)
{
    struct reader reader = {0};
    return utf8_go_on(&reader, bytes, size) && reader.utf8_wanted == 0;
}

/* --- a frame's head --------------------------------------------------------------------------- */

/* How long the head is: 2 bytes, the longer lengths, and the mask. */
static size_t head_wanted(const struct reader *reader)
{
    if (reader->head_size < 2)
        return 2;
    size_t length = reader->head[1] & 0x7f;
    return 2U + (length == 126 ? 2U : length == 127 ? 8U : 0U) + 4U;
}

/* What can be seen of the first two bytes: it is told without waiting for more. */
static const char *head_fault(const struct reader *reader)
{
    unsigned opcode = reader->head[0] & HEAD_OPCODE;
    bool control = opcode >= OPCODE_CLOSE;
    if ((reader->head[0] & HEAD_RESERVED) != 0)
        return "a reserved bit is set";
    if (opcode > OPCODE_PONG || (opcode > OPCODE_BINARY && !control))
        return "an opcode that nothing has";
    if ((reader->head[1] & HEAD_MASKED) == 0)
        return "a client's frame is masked";
    if (control && (reader->head[0] & HEAD_FINAL) == 0)
        return "a control frame is whole";
    if (control && (reader->head[1] & 0x7f) > CONTROL_BYTES_MAX)
        return "a control frame has at most 125 bytes";
    if (opcode == OPCODE_CONTINUATION && !reader->in_message)
        return "a continuation of nothing";
    if (opcode != OPCODE_CONTINUATION && !control && reader->in_message)
        return "a message within a message";
    return NULL;
}

static uint64_t head_length(const struct reader *reader)
{
    uint64_t length = reader->head[1] & 0x7f;
    size_t more = length == 126 ? 2 : length == 127 ? 8 : 0;
    if (more > 0)
        length = 0;
    for (size_t i = 0; i < more; i++)
        length = length << 8 | reader->head[2 + i];
    return length;
}

/* 5.2: the shortest that holds it, and the first bit of eight bytes is 0. */
static bool length_is_proper(const struct reader *reader, uint64_t length)
{
    unsigned kind = reader->head[1] & 0x7f;
    return kind < 126 || (kind == 126 ? length > 125 : length > 65535 && length >> 63 == 0);
}

static void frame_begin(struct reader *reader, uint64_t length)
{
    reader->left = length;
    reader->final = (reader->head[0] & HEAD_FINAL) != 0;
    reader->opcode = reader->head[0] & HEAD_OPCODE;
    memcpy(reader->mask, reader->head + reader->head_size - 4, 4);
    reader->head_size = reader->mask_at = 0;
    reader->in_frame = true;
    if (reader->opcode >= OPCODE_CLOSE)
        reader->control_size = 0;
    else
        reader->in_message = true;
}

/* READ_NOTHING: the head is whole and right, or needs more bytes. */
static enum reading head_take(struct reader *reader, const char *bytes, size_t size, size_t *taken,
                              struct piece *piece)
{
    while (*taken < size && reader->head_size < head_wanted(reader)) {
        reader->head[reader->head_size++] = (unsigned char)bytes[(*taken)++];
        const char *why = reader->head_size == 2 ? head_fault(reader) : NULL;
        if (why != NULL)
            return fault(piece, CLOSE_PROTOCOL, why);
        if (reader->head_size == 2 && (reader->head[0] & HEAD_OPCODE) == OPCODE_BINARY)
            return fault(piece, CLOSE_UNACCEPTABLE, "messages are JSON, as text");
    }
    if (reader->head_size < head_wanted(reader))
        return READ_NOTHING;
    uint64_t length = head_length(reader);
    if (!length_is_proper(reader, length))
        return fault(piece, CLOSE_PROTOCOL, "a length isn't written in the shortest way");
    if ((reader->head[0] & HEAD_OPCODE) < OPCODE_CLOSE) {
        if (length > reader->message_bytes_max - reader->message_size)
            return fault(piece, CLOSE_TOO_LARGE, "the message is too large");
        reader->message_size += length;
    }
    frame_begin(reader, length);
    return READ_NOTHING;
}

/* --- its payload ------------------------------------------------------------------------------ */

static void unmask(struct reader *reader, char *bytes, size_t size)
{
    for (size_t i = 0; i < size; i++)
        bytes[i] = (char)(bytes[i] ^ reader->mask[reader->mask_at++ & 3]);
    reader->mask_at &= 3;
}

static enum reading text_take(struct reader *reader, const char *bytes, size_t size,
                              struct piece *piece)
{
    bool last = reader->left == 0 && reader->final;
    if (!utf8_go_on(reader, bytes, size) || (last && reader->utf8_wanted > 0))
        return fault(piece, CLOSE_NOT_UTF8, "text is UTF-8");
    if (reader->left == 0)
        reader->in_frame = false;
    if (last) {
        reader->in_message = false;
        reader->message_size = 0;
    }
    *piece = (struct piece){.bytes = bytes, .size = size, .last = last};
    return READ_TEXT;
}

bool close_code_is_sent(int code)
{
    if (code >= 3000 && code <= 4999)
        return true;
    return code >= 1000 && code <= 1014 && code != 1004 && code != CLOSE_NO_CODE && code != 1006;
}

static enum reading close_read(const struct reader *reader, struct piece *piece)
{
    const char *bytes = (const char *)reader->control;
    if (reader->control_size == 0) {
        *piece = (struct piece){.bytes = bytes, .code = CLOSE_NO_CODE};
        return READ_CLOSE;
    }
    if (reader->control_size == 1)
        return fault(piece, CLOSE_PROTOCOL, "half of a close code");
    int code = reader->control[0] << 8 | reader->control[1];
    size_t size = (size_t)reader->control_size - 2;
    if (!close_code_is_sent(code))
        return fault(piece, CLOSE_PROTOCOL, "a close code that nobody may send");
    if (!is_utf8(bytes + 2, size))
        return fault(piece, CLOSE_NOT_UTF8, "a close's reason is UTF-8");
    *piece = (struct piece){.bytes = bytes + 2, .size = size, .code = code};
    return READ_CLOSE;
}

static enum reading control_take(struct reader *reader, const char *bytes, size_t size,
                                 struct piece *piece)
{
    memcpy(reader->control + reader->control_size, bytes, size);
    reader->control_size = (unsigned char)(reader->control_size + size);
    if (reader->left > 0)
        return READ_NOTHING;
    reader->in_frame = false;
    if (reader->opcode == OPCODE_CLOSE)
        return close_read(reader, piece);
    *piece = (struct piece){.bytes = (const char *)reader->control, .size = reader->control_size};
    return reader->opcode == OPCODE_PING ? READ_PING : READ_PONG;
}

/* Nothing of a payload has come yet, and something is to. */
static bool waits_for_payload(const struct reader *reader, size_t available)
{
    return available == 0 && reader->left > 0;
}

enum reading reader_take(struct reader *reader, char *bytes, size_t size, size_t *taken,
                         struct piece *piece)
{
    *taken = 0;
    if (!reader->in_frame) {
        enum reading reading = head_take(reader, bytes, size, taken, piece);
        if (reading != READ_NOTHING || !reader->in_frame)
            return reading;
    }
    char *payload = bytes + *taken;
    size_t available = size - *taken;
    if (waits_for_payload(reader, available))
        return READ_NOTHING;
    if (available > reader->left)
        available = (size_t)reader->left;
    unmask(reader, payload, available);
    reader->left -= available;
    *taken += available;
    if (reader->opcode >= OPCODE_CLOSE)
        return control_take(reader, payload, available, piece);
    return text_take(reader, payload, available, piece);
}
