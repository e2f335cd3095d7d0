/* A sheet as a file: what is said of one that isn't valid. */
#pragma once
#include "wire/sheet.h"

/* Says so as FILE:LINE: row, column: REASON (or that there is no memory); answers the program's
 * exit code. */
int sheet_file_refused(const char *path, const struct sheet *sheet,
                       const struct complaint *complaint);
