#include "rules/time_of_day.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include "support.h"

static const int64_t first_ms = -62167219200000; /* 0000-01-01T00:00:00.000Z */
static const int64_t last_ms = 253402300799999;  /* 9999-12-31T23:59:59.999Z */

/* What the C library makes of a time; `text` needs room for one. */
static void written_by_library(int64_t ms, char *text, size_t size)
{
    int64_t seconds = ms >= 0 ? ms / 1000 : -((-ms + 999) / 1000);
    time_t moment = (time_t)seconds;
    struct tm parts;
    gmtime_r(&moment, &parts);
    snprintf(text, size, "%04d-%02d-%02dT%02d:%02d:%02d.%03dZ", parts.tm_year + 1900,
             parts.tm_mon + 1, parts.tm_mday, parts.tm_hour, parts.tm_min, parts.tm_sec,
             (int)(ms - seconds * 1000));
}

static void check_same(int64_t ms)
{
    char text[TIME_OF_DAY_SIZE], wanted[80];
    int64_t back = 0;
    time_of_day_write(ms, text);
    written_by_library(ms, wanted, sizeof wanted);
    if (strcmp(text, wanted) != 0 || !time_of_day_read(text, &back) || back != ms)
        cr_fatal("%lld is written %s (should be %s) and read as %lld", (long long)ms, text, wanted,
                 (long long)back);
}

/* The first and the last millisecond of every day of two cycles of 400 years, and of every 29th day
 * of the other years that can be written: gmtime_r says what they are called. */
Test(time_of_day, days)
{
    const int64_t day_ms = 86400000, from_ms = -11676096000000 /* 1600 */,
                  until_ms = 13569465600000 /* 2400 */;
    for (int64_t ms = first_ms; ms <= last_ms;
         ms += ms >= from_ms && ms < until_ms ? day_ms : 29 * day_ms) {
        check_same(ms);
        check_same(ms + day_ms - 1);
    }
}

Test(time_of_day, random_moments)
{
    struct dice dice = dice_of(7);
    for (int i = 0; i < 100000; i++)
        check_same(first_ms + (int64_t)(dice_roll(&dice) % (uint64_t)(last_ms - first_ms + 1)));
}

/* timegm is asked about every date that the form can write, also those that don't exist: it rolls
 * them over, so a date is good exactly when it comes back as it went in. */
Test(time_of_day, every_date_that_can_be_written)
{
    for (int year = 0; year <= 9999; year += year < 1890 || year > 2110 ? 50 : 1)
        for (int month = 0; month <= 13; month++)
            for (int day = 0; day <= 32; day++) {
                char text[64];
                struct tm parts = {.tm_year = year - 1900, .tm_mon = month - 1, .tm_mday = day};
                int64_t wanted = (int64_t)timegm(&parts) * 1000, got = -1;
                bool exists = parts.tm_mon == month - 1 && parts.tm_mday == day &&
                              parts.tm_year == year - 1900;
                snprintf(text, sizeof text, "%04d-%02d-%02dT00:00:00.000Z", year, month, day);
                if (time_of_day_read(text, &got) != exists || (exists && got != wanted))
                    cr_fatal("%s is read as %lld", text, (long long)got);
            }
}

struct form_row {
    char text[48];
};

/* RFC 3339, section 5.6, with what docs/events.md narrows it to: always Z, always three digits of a
 * second, capital letters; no leap second (the day has 86,400 s). */
static const struct form_row refused_rows[] = {
    {""},
    {"2027-05-08"},
    {"2027-05-08T10:00:00Z"},
    {"2027-05-08T10:00:00.0Z"},
    {"2027-05-08T10:00:00.0000Z"},
    {"2027-05-08T10:00:00,000Z"},
    {"2027-05-08T10:00:00.000"},
    {"2027-05-08T10:00:00.000z"},
    {"2027-05-08t10:00:00.000Z"},
    {"2027-05-08 10:00:00.000Z"},
    {"2027-05-08T10:00:00.000+00:00"},
    {"2027-05-08T12:00:00.000+02:00"},
    {"2027-5-8T10:00:00.000Z"},
    {"27-05-08T10:00:00.000Z"},
    {"+2027-05-08T10:00:00.000Z"},
    {"-027-05-08T10:00:00.000Z"},
    {" 2027-05-08T10:00:00.00Z"},
    {"2027-05-08T10:00:00.000Z "},
    {"2027-05-08T24:00:00.000Z"},
    {"2027-05-08T10:60:00.000Z"},
    {"2027-05-08T10:00:60.000Z"},
    {"2016-12-31T23:59:60.000Z"},
    {"2027-02-29T10:00:00.000Z"},
    {"1900-02-29T10:00:00.000Z"},
    {"2027-05-08T1a:00:00.000Z"},
    {"2027-05-08T10:00:00.0/0Z"},
};
static void check_refused(const struct form_row *row)
{
    int64_t ms = 42;
    cr_expect(not(time_of_day_read(row->text, &ms)), "'%s'", row->text);
    cr_expect(eq(i64, ms, 42), "'%s' writes nothing", row->text);
}

Test(time_of_day, refused)
{
    for (size_t i = 0; i < sizeof refused_rows / sizeof *refused_rows; i++)
        check_refused(&refused_rows[i]);
}

/* Beyond the years that have four digits, the nearest moment that has. */
Test(time_of_day, beyond_what_can_be_written)
{
    char text[TIME_OF_DAY_SIZE];
    static const int64_t early[] = {INT64_MIN, -62167219200001},
                         late[] = {INT64_MAX, 253402300800000};
    for (int i = 0; i < 2; i++) {
        time_of_day_write(early[i], text);
        expect_text("too early", text, "0000-01-01T00:00:00.000Z");
        time_of_day_write(late[i], text);
        expect_text("too late", text, "9999-12-31T23:59:59.999Z");
    }
}
