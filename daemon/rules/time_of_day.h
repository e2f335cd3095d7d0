/* Times of day on the wire: RFC 3339, always UTC with Z and three digits of a second
 * ("2027-05-08T10:00:00.000Z"); inside, milliseconds since 1970. Pure arithmetic, no clock. */
#pragma once
#include <stdbool.h>
#include <stdint.h>

enum { TIME_OF_DAY_SIZE = 25 }; /* with the terminator */

bool time_of_day_read(const char *text, int64_t *ms); /* false: not of that form, or no such day */
/* `ms` must be of the years 0000 to 9999; others are written as the nearest of these. */
void time_of_day_write(int64_t ms, char text[TIME_OF_DAY_SIZE]);
