/* Any bytes as what a client sends over its WebSocket. However they are cut, the same is read of
 * them: as one piece, and a byte at a time. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "fuzz.h"
#include "net/reader.h"

struct heard { /* all that was told, so that two readings can be compared */
    char *text;
    size_t size, room;
    size_t whole; /* where the last whole message ends: of one that isn't, any part may have come */
};

static void note(struct heard *heard, const void *bytes, size_t size)
{
    if (heard->size + size > heard->room) {
        heard->room = (heard->size + size) * 2;
        heard->text = realloc(heard->text, heard->room);
        HOLDS(heard->text != NULL);
    }
    if (size > 0)
        memcpy(heard->text + heard->size, bytes, size);
    heard->size += size;
}

/* Text of one message comes in as many pieces as it likes. */
static bool hear(struct heard *heard, enum reading reading, const struct piece *piece)
{
    char what[3] = {(char)reading, 0, 0};
    if (reading == READ_NOTHING)
        return true;
    if (reading == READ_TEXT) {
        note(heard, piece->bytes, piece->size);
        if (piece->last) {
            note(heard, "\xff", 1); /* no text has that byte */
            heard->whole = heard->size;
        }
        return true;
    }
    if (reading == READ_FAULT || reading == READ_CLOSE)
        heard->size = heard->whole;
    what[1] = (char)(piece->code & 0xff);
    what[2] = (char)(piece->code >> 8);
    note(heard, what, sizeof what);
    heard->whole = heard->size;
    if (reading == READ_FAULT)
        HOLDS(close_code_is_sent(piece->code) && piece->why != NULL);
    else
        note(heard, piece->bytes, piece->size);
    return reading != READ_FAULT && reading != READ_CLOSE;
}

static struct heard read_in_steps(const uint8_t *data, size_t size, size_t step)
{
    struct reader reader;
    struct heard heard = {NULL, 0, 0, 0};
    char *bytes = malloc(size + 1);
    HOLDS(bytes != NULL);
    memcpy(bytes, data, size);
    reader_init(&reader, 4096);
    bool open = true;
    for (size_t at = 0; at < size && open;) {
        size_t end = at + step < size ? at + step : size;
        while (at < end && open) {
            struct piece piece = {0};
            size_t taken = 0;
            enum reading reading = reader_take(&reader, bytes + at, end - at, &taken, &piece);
            HOLDS(taken <= end - at && (taken > 0 || reading != READ_NOTHING));
            open = hear(&heard, reading, &piece);
            at += taken;
        }
    }
    free(bytes);
    return heard;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct heard whole = read_in_steps(data, size, size + 1);
    struct heard bytewise = read_in_steps(data, size, 1);
    HOLDS(whole.size == bytewise.size &&
          (whole.size == 0 || memcmp(whole.text, bytewise.text, whole.size) == 0));
    free(whole.text);
    free(bytewise.text);
    return 0;
}
