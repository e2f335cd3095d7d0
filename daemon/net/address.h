/* IP addresses and ranges of them, as text and compared. IPv4 is kept as IPv6 maps it, so that
 * 192.0.2.1 and ::ffff:192.0.2.1 are the same.
 * Sources: RFC 4291 2.2 and 2.5.5.2 (IPv6 as text, mapped IPv4), RFC 4632 3.1 and RFC 4291 2.3
 * (prefixes), RFC 5952 (how IPv6 is written), RFC 1122 3.2.1.3 and RFC 4291 2.5.3 (loopback).
 * Pure: no sockets, no allocation. */
#pragma once
#include <stdbool.h>
#include <stddef.h>

enum { ADDRESS_TEXT_SIZE = 46 };

struct address {
    unsigned char bytes[16];
};

struct address_range {
    struct address first;
    unsigned bits; /* of the 128, from the front, that an address in it shares */
};

struct sockaddr;

/* "192.0.2.1" or "2001:db8::1", and nothing else in those `size` bytes. */
bool address_read(struct address *address, const char *text, size_t size);
/* The same, or as RFC 7239 6 and habit have it: with a port, IPv6 in brackets. */
bool address_read_node(struct address *address, const char *text, size_t size);
/* Of an IPv4 or IPv6 socket; false for another. */
bool address_of_socket(struct address *address, const struct sockaddr *name);
void address_write(const struct address *address, char text[ADDRESS_TEXT_SIZE]);
bool address_same(const struct address *a, const struct address *b);
bool address_is_ipv4(const struct address *address);
bool address_is_loopback(const struct address *address);

/* "192.0.2.0/24", "2001:db8::/32", or one address alone. What lies behind the prefix must be 0:
 * "192.0.2.1/24" may mean the one or the other. */
bool address_range_read(struct address_range *range, const char *text);
bool address_range_has(const struct address_range *range, const struct address *address);
