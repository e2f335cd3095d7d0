#include "wire/frame.h"
#include <stdlib.h>
#include <string.h>

struct frame *frame_new(const char *text, size_t size)
{
    struct frame *frame = malloc(sizeof *frame + size + 1);
    if (frame == NULL)
        return NULL;
    frame->size = size;
    frame->reference_count = 1;
    memcpy(frame->text, text, size);
    frame->text[size] = '\0';
    return frame;
}

struct frame *frame_keep(struct frame *frame)
{
    frame->reference_count++;
    return frame;
}

void frame_release(struct frame *frame)
{
    if (frame != NULL && --frame->reference_count == 0)
        free(frame);
}
