/* Who holds a store: one daemon alone, or some who only look while no daemon runs. The lock is
 * flock(2) on the store's own file, which goes with the process however it ends, and which SQLite's
 * locks (fcntl) don't touch. Its descriptor must stay open until SQLite has closed the file, since
 * closing any of a process's descriptors drops all its fcntl locks on that file. */
#pragma once
#include <stdbool.h>

/* Takes the file at `path`; with `alone`, makes it when it isn't there, and waits for those who
 * only look. `*hold` is a descriptor for hold_close, or -1. UV_EBUSY: a daemon holds it; UV_EAGAIN:
 * it is looked through for too long; or why it can't be opened. */
int hold_take(int *hold, const char *path, bool alone);
/* Holds the file at `to` in place of what was held, which must exist and be nobody's. */
int hold_move(int *hold, const char *to);
void hold_let_go(int hold); /* others may hold it now; the descriptor stays open */
void hold_close(int hold);  /* -1 is allowed */
