/* The answer to one request: made once, sent in as many pieces as the client takes. It says
 * Connection: close, always; see request.c.
 *
 * It is written to the socket here and not by lws: while lws is kept from reading (it would take
 * what comes for the next request) 4.1.6 doesn't write either. For when the socket takes no more,
 * a second descriptor of it is watched, because libuv watches a descriptor once and lws has that.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <uv.h>
#include "net/tls.h"
#include "wire/frame.h"

struct answer {
    char *bytes; /* the head, and a body of its own */
    size_t size;
    struct frame *page; /* a shared body after that, or NULL */
    size_t sent;        /* of both together */
    uint64_t moved_ms;  /* when the client last took something, on the loop's clock */
    int socket;
    SSL *ssl; /* NULL: plain */
    uv_poll_t room;
    bool watching; /* `room` is open: its owner's memory stays until answer_close has called back */
    /* Once: 0 when the kernel has taken all of it, or a negative libuv code. It may be called
     * before answer_start returns. */
    void (*done)(struct answer *answer, int error);
};

struct answer_head {
    int status;
    const char *type;    /* NULL: there is no body */
    const char *cache;   /* of Cache-Control */
    const char *headers; /* further lines, or NULL */
    long long length;    /* the body's; negative: not known, or none */
};

/* Makes its bytes: the head and `body_size` bytes of `body`. False without memory. */
bool answer_make(struct answer *answer, const struct answer_head *head, const char *body,
                 size_t body_size);
/* The same, for an error of our own: application/problem+json (RFC 9457). `bodiless`: for HEAD. */
bool answer_make_problem(struct answer *answer, struct answer_head *head, const char *detail,
                         bool bodiless);

/* `ssl` as tls_write takes it. */
void answer_start(struct answer *answer, uv_loop_t *loop, int socket, SSL *ssl);
/* Gives back what it holds. True: at once. False: `closed` is called when its handle has closed,
 * and the memory that the answer stands in must stay until then. */
bool answer_close(struct answer *answer, uv_close_cb closed);
