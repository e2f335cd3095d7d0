/* Connections counted by address. */
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <stdio.h>
#include <string.h>
#include "net/crowd.h"

static struct address address_of(const char *text)
{
    struct address address;
    cr_assert(address_read(&address, text, strlen(text)), "%s", text);
    return address;
}

Test(crowd, each_address_has_its_own_bound)
{
    struct crowd crowd = {NULL};
    const struct address one = address_of("192.0.2.1"), other = address_of("192.0.2.2");
    for (int i = 0; i < 3; i++)
        cr_assert(crowd_enter(&crowd, &one, 3));
    cr_expect(not(crowd_enter(&crowd, &one, 3)));
    cr_expect(crowd_enter(&crowd, &other, 3));
    crowd_leave(&crowd, &one);
    cr_expect(crowd_enter(&crowd, &one, 3));
    for (int i = 0; i < 3; i++)
        crowd_leave(&crowd, &one);
    crowd_leave(&crowd, &other);
    cr_expect(eq(ptr, crowd.tree, NULL), "nothing is kept of who has gone");
}

/* RFC 6177 2: a site has at least a /64. */
Test(crowd, ipv6_counts_by_its_first_64_bits)
{
    struct crowd crowd = {NULL};
    const struct address one = address_of("2001:db8:0:1::1"), same = address_of("2001:db8:0:1::2"),
                         other = address_of("2001:db8:0:2::1"), four = address_of("192.0.2.1"),
                         mapped = address_of("::ffff:192.0.2.1"),
                         next = address_of("::ffff:192.0.2.2");
    cr_expect(crowd_enter(&crowd, &one, 1));
    cr_expect(not(crowd_enter(&crowd, &same, 1)));
    cr_expect(crowd_enter(&crowd, &other, 1));
    cr_expect(crowd_enter(&crowd, &four, 1));
    cr_expect(not(crowd_enter(&crowd, &mapped, 1)));
    cr_expect(crowd_enter(&crowd, &next, 1));
    crowd_leave(&crowd, &same);
    crowd_leave(&crowd, &other);
    crowd_leave(&crowd, &mapped);
    crowd_leave(&crowd, &next);
    cr_expect(eq(ptr, crowd.tree, NULL));
}

Test(crowd, thousands_come_and_go)
{
    struct crowd crowd = {NULL};
    char text[ADDRESS_TEXT_SIZE];
    for (int turn = 0; turn < 2; turn++)
        for (int i = 0; i < 10000; i++) {
            snprintf(text, sizeof text, "10.0.%d.%d", i / 100, i % 100);
            const struct address address = address_of(text);
            if (turn == 0)
                cr_assert(crowd_enter(&crowd, &address, 1), "%s", text);
            else
                crowd_leave(&crowd, &address);
        }
    cr_expect(eq(ptr, crowd.tree, NULL));
}

Test(crowd, none_may_enter)
{
    struct crowd crowd = {NULL};
    const struct address one = address_of("192.0.2.1");
    cr_expect(not(crowd_enter(&crowd, &one, 0)));
    cr_expect(eq(ptr, crowd.tree, NULL));
}
