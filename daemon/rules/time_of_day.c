#include "rules/time_of_day.h"
#include <stddef.h>
#include <stdio.h>
#include <string.h>

static const int64_t DAY_MS = 86400000;

/* Days since 1970-01-01 of the proleptic Gregorian calendar, counted in eras of 400 years that
 * begin in March, so that the leap day is the last of its year. */
static int64_t days_of(int64_t year, int64_t month, int64_t day)
{
    int64_t shifted = month <= 2 ? year - 1 : year;
    int64_t era = (shifted >= 0 ? shifted : shifted - 399) / 400;
    int64_t year_of_era = shifted - era * 400;
    int64_t day_of_year = (153 * (month > 2 ? month - 3 : month + 9) + 2) / 5 + day - 1;
    int64_t day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    return era * 146097 + day_of_era - 719468;
}

static void date_of(int64_t days, int *year, int *month, int *day)
{
    int64_t shifted = days + 719468;
    int64_t era = (shifted >= 0 ? shifted : shifted - 146096) / 146097;
    int64_t day_of_era = shifted - era * 146097;
    int64_t year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
    int64_t day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    int64_t month_from_march = (5 * day_of_year + 2) / 153;
    *day = (int)(day_of_year - (153 * month_from_march + 2) / 5 + 1);
    *month = (int)(month_from_march < 10 ? month_from_march + 3 : month_from_march - 9);
    *year = (int)(year_of_era + era * 400 + (*month <= 2 ? 1 : 0));
}

static bool digits(const char *text, size_t from, size_t count, int *number)
{
    *number = 0;
    for (size_t i = from; i < from + count; i++) {
        if (text[i] < '0' || text[i] > '9')
            return false;
        *number = *number * 10 + (text[i] - '0');
    }
    return true;
}

static int days_in(int year, int month)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return month == 2 && leap ? 29 : days[month - 1];
}

bool time_of_day_read(const char *text, int64_t *ms)
{
    static const char form[] = "dddd-dd-ddTdd:dd:dd.dddZ";
    if (strlen(text) != sizeof form - 1)
        return false;
    for (size_t i = 0; i < sizeof form - 1; i++)
        if (form[i] != 'd' && text[i] != form[i])
            return false;
    int year, month, day, hour, minute, second, milli;
    if (!digits(text, 0, 4, &year) || !digits(text, 5, 2, &month) || !digits(text, 8, 2, &day) ||
        !digits(text, 11, 2, &hour) || !digits(text, 14, 2, &minute) ||
        !digits(text, 17, 2, &second) || !digits(text, 20, 3, &milli))
        return false;
    if (month < 1 || month > 12 || day < 1 || day > days_in(year, month) || hour > 23 ||
        minute > 59 || second > 59)
        return false;
    int64_t seconds = ((int64_t)hour * 60 + minute) * 60 + second;
    *ms = days_of(year, month, day) * DAY_MS + seconds * 1000 + milli;
    return true;
}

void time_of_day_write(int64_t ms, char text[TIME_OF_DAY_SIZE])
{
    const int64_t first = -62167219200000, last = 253402300799999;
    if (ms < first)
        ms = first;
    if (ms > last)
        ms = last;
    int64_t days = ms >= 0 ? ms / DAY_MS : -((-ms + DAY_MS - 1) / DAY_MS);
    int rest = (int)(ms - days * DAY_MS);
    int year, month, day;
    date_of(days, &year, &month, &day);
    snprintf(text, TIME_OF_DAY_SIZE, "%04u-%02u-%02uT%02u:%02u:%02u.%03uZ", (unsigned)year % 10000,
             (unsigned)month % 100, (unsigned)day % 100, (unsigned)rest / 3600000 % 100,
             (unsigned)rest / 60000 % 60, (unsigned)rest / 1000 % 60, (unsigned)rest % 1000);
}
