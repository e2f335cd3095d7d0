/* Any bytes as an edition's file: read, or refused with the place and the reason. */
#include <stdio.h>
#include <stdlib.h>
#include "fuzz.h"
#include "rules/edition.h"
#include "wire/json.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct arena arena;
    struct edition edition;
    struct complaint complaint = {.why = ACCEPTED};
    arena_init(&arena, malloc, free);
    const struct value *document = json_read(&arena, (const char *)data, size, &complaint);
    if (document == NULL)
        HOLDS(complaint.why != ACCEPTED);
    else if (!edition_read(&edition, document, &arena, &complaint))
        HOLDS(complaint.why != ACCEPTED && complaint.detail[0] != '\0');
    else
        HOLDS(edition_age_group(&edition, NULL) != NULL);
    arena_close(&arena);
    return 0;
}
