#include "net/address.h"
#include <arpa/inet.h>
#include <netinet/in.h>
#include <stdlib.h>
#include <string.h>

static const unsigned char mapped[12] = {[10] = 0xff, [11] = 0xff};

bool address_is_ipv4(const struct address *address)
{
    return memcmp(address->bytes, mapped, sizeof mapped) == 0;
}

bool address_read(struct address *address, const char *text, size_t size)
{
    char copy[ADDRESS_TEXT_SIZE];
    struct address read;
    if (size >= sizeof copy)
        return false;
    memcpy(copy, text, size);
    copy[size] = '\0';
    if (inet_pton(AF_INET, copy, read.bytes + sizeof mapped) == 1)
        memcpy(read.bytes, mapped, sizeof mapped);
    else if (inet_pton(AF_INET6, copy, read.bytes) != 1)
        return false;
    *address = read;
    return true;
}

/* ":" and a number, or an obfuscated one (RFC 7239 6.2: "_" and more); or nothing. */
static bool is_port(const char *text, size_t size)
{
    return size == 0 || (size > 1 && text[0] == ':' && memchr(text + 1, ':', size - 1) == NULL);
}

bool address_read_node(struct address *address, const char *text, size_t size)
{
    const char *close = size > 0 && text[0] == '[' ? memchr(text, ']', size) : NULL;
    if (close != NULL) {
        size_t inner = (size_t)(close - text) - 1;
        return memchr(text + 1, ':', inner) != NULL && address_read(address, text + 1, inner) &&
               is_port(close + 1, size - inner - 2);
    }
    if (address_read(address, text, size))
        return true;
    const char *colon = memchr(text, ':', size);
    return colon != NULL && is_port(colon, size - (size_t)(colon - text)) &&
           address_read(address, text, (size_t)(colon - text));
}

bool address_of_socket(struct address *address, const struct sockaddr *name)
{
    if (name->sa_family == AF_INET) {
        const struct sockaddr_in *four = (const void *)name;
        memcpy(address->bytes, mapped, sizeof mapped);
        memcpy(address->bytes + sizeof mapped, &four->sin_addr, 4);
        return true;
    }
    if (name->sa_family == AF_INET6) {
        const struct sockaddr_in6 *six = (const void *)name;
        memcpy(address->bytes, &six->sin6_addr, 16);
        return true;
    }
    return false;
}

void address_write(const struct address *address, char text[ADDRESS_TEXT_SIZE])
{
    if (address_is_ipv4(address))
        inet_ntop(AF_INET, address->bytes + sizeof mapped, text, ADDRESS_TEXT_SIZE);
    else
        inet_ntop(AF_INET6, address->bytes, text, ADDRESS_TEXT_SIZE);
}

bool address_same(const struct address *a, const struct address *b)
{
    return memcmp(a->bytes, b->bytes, sizeof a->bytes) == 0;
}

bool address_is_loopback(const struct address *address)
{
    static const struct address six = {{[15] = 1}};
    return (address_is_ipv4(address) && address->bytes[sizeof mapped] == 127) ||
           address_same(address, &six);
}

static bool bit_is_set(const struct address *address, unsigned i)
{
    return (address->bytes[i / 8] >> (7 - i % 8) & 1) != 0;
}

/* 0 to `most`, in digits alone; -1 for anything else. */
static int prefix_read(const char *text, int most)
{
    if (strlen(text) == 0 || strlen(text) > 3 || strspn(text, "0123456789") != strlen(text))
        return -1;
    int bits = atoi(text);
    return bits > most ? -1 : bits;
}

bool address_range_read(struct address_range *range, const char *text)
{
    const char *slash = strchr(text, '/');
    size_t size = slash == NULL ? strlen(text) : (size_t)(slash - text);
    struct address first;
    if (!address_read(&first, text, size))
        return false;
    bool four = memchr(text, ':', size) == NULL;
    int bits = slash == NULL ? (four ? 32 : 128) : prefix_read(slash + 1, four ? 32 : 128);
    if (bits < 0)
        return false;
    unsigned all = (unsigned)bits + (four ? 96 : 0);
    for (unsigned i = all; i < 128; i++)
        if (bit_is_set(&first, i))
            return false;
    *range = (struct address_range){.first = first, .bits = all};
    return true;
}

bool address_range_has(const struct address_range *range, const struct address *address)
{
    for (unsigned i = 0; i < range->bits; i++)
        if (bit_is_set(&range->first, i) != bit_is_set(address, i))
            return false;
    return true;
}
