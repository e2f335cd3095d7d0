/* Any bytes as a sheet of the day (CSV): a good one as a whole, or refused with row and reason. */
#include <stdio.h>
#include <stdlib.h>
#include "fuzz.h"
#include "wire/sheet.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct sheet sheet;
    struct complaint complaint = {.why = ACCEPTED};
    bool good = sheet_read(&sheet, (const char *)data, size, fuzz_editions(), &complaint);
    if (!good)
        HOLDS(complaint.why != ACCEPTED && complaint.detail[0] != '\0');
    for (size_t i = 0; good && i < sheet.count; i++)
        HOLDS(sheet.rows[i].document != NULL && sheet.rows[i].key != NULL);
    sheet_close(&sheet);
    return 0;
}
