/* What a client sends over its WebSocket, read byte by byte as RFC 6455 has it: frames and masks
 * (5.2, 5.3), fragments and control frames between them (5.4, 5.5), closing (5.5.1, 7.4), text
 * that must be UTF-8 (8.1). The first thing that is wrong is told at once, with the code that the
 * connection is to be closed with; nothing is read after it.
 *
 * Ours and not libwebsockets's: 4.1.6 takes frames without a mask, lengths that aren't the
 * shortest, and hides both from who uses it.
 * Pure: no sockets, no allocation. */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { CONTROL_BYTES_MAX = 125 }; /* 5.5 */

enum { /* 7.4.1 */
       CLOSE_PROTOCOL = 1002,
       CLOSE_UNACCEPTABLE = 1003,
       CLOSE_NO_CODE = 1005, /* never sent: a close frame was empty */
       CLOSE_NOT_UTF8 = 1007,
       CLOSE_TOO_LARGE = 1009,
};

struct reader {
    uint64_t left;         /* of the frame's payload, still to come */
    uint64_t message_size; /* of the message's frames so far, this one's announced length too */
    size_t message_bytes_max;
    unsigned char head[14], mask[4];
    unsigned char head_size, mask_at, opcode;
    unsigned char control[CONTROL_BYTES_MAX], control_size;
    unsigned char utf8_wanted, utf8_from, utf8_to; /* of the character under way: see reader.c */
    bool in_frame, final, in_message;
};

enum reading {
    READ_NOTHING, /* all was taken, and nothing is whole yet */
    READ_TEXT,    /* a piece of a message, `last` when it is its end; it may be empty */
    READ_PING,
    READ_PONG,
    READ_CLOSE, /* `code` and the reason, which is `bytes` */
    READ_FAULT, /* close with `code`, because of `why` */
};

struct piece {
    const char *bytes; /* in what was given, or in the reader: until the next call */
    size_t size;
    int code;
    const char *why;
    bool last;
};

/* `message_bytes_max`: a longer message is a fault (1009), as soon as a frame announces it. */
void reader_init(struct reader *reader, size_t message_bytes_max);
/* Takes bytes from the front until something can be told, and says in `taken` how many; call again
 * with the rest. They are unmasked where they stand. */
enum reading reader_take(struct reader *reader, char *bytes, size_t size, size_t *taken,
                         struct piece *piece);

/* Whether an endpoint may send this code: 7.4.1, 7.4.2, and IANA's registry for 1012 to 1014. */
bool close_code_is_sent(int code);
