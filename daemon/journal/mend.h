/* Setting a damaged store right, where that can be done without losing what is there: a new store
 * is made of the events that can be read, and put in the place of the damaged one, which stays
 * beside it as PATH-damaged (or -damaged-2 …). When that is done and when not: store.h.
 *
 * A crash on the way leaves the damaged files as they were, or a finished PATH-rebuilt, which the
 * next start puts in its place. Files are renamed; none that held anything is removed. */
#pragma once
#include <stdbool.h>
#include <stddef.h>

/* For the one who holds the store alone (`*hold`: see hold.h; it may move). 0: nothing to do
 * (`notice` is "") or done (it says what); UV_EILSEQ: damaged, and left alone; or what failed. A
 * sentence is in `reason` then. */
int mend(const char *path, int *hold, char *notice, size_t notice_size, char *reason,
         size_t reason_size);
/* For those who only look: 0, or UV_EILSEQ where a start of the daemon would have something to mend
 * or to refuse, with a sentence in `reason`. */
int mend_look(const char *path, char *reason, size_t reason_size);
/* Adds what is lost to a reason that tells of damage. True: there are remains of a store of ours.
 */
bool mend_tell_loss(const char *path, char *reason, size_t reason_size);
