/* boutwire export --sheet: the day's athletes or slots as a sheet, which import takes again. */
#pragma once
#include "journal/store.h"
#include "wire/sheet.h"

/* False: there is none of that name. */
bool export_sheet_kind(const char *name, enum sheet_kind *kind);
/* Prints it; answers the program's exit code. */
int export_sheet(struct store *store, enum sheet_kind kind);
