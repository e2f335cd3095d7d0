#include "net/answer.h"
#include "net/http.h"
#include <assert.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/uio.h>
#include <unistd.h>

/* No search engine keeps what is said here of people, who may be minors, or be hidden later.
 * connect-src 'self' covers the WebSocket of the same host and port too (CSP Level 3). */
static const char policy[] =
    "Content-Security-Policy: default-src 'none'; img-src 'self' data:; script-src 'self'; "
    "style-src 'self'; font-src 'self'; connect-src 'self'; frame-src 'self'; "
    "frame-ancestors 'self'; base-uri 'none'; form-action 'none'\r\n"
    "X-Content-Type-Options: nosniff\r\n"
    "Referrer-Policy: no-referrer\r\n"
    "X-Robots-Tag: noindex, nofollow\r\n";

static int head_print(char *to, size_t room, const struct answer_head *head)
{
    char type[160] = "", length[48] = "";
    if (head->type != NULL)
        snprintf(type, sizeof type, "Content-Type: %s\r\n", head->type);
    if (head->length >= 0)
        snprintf(length, sizeof length, "Content-Length: %lld\r\n", head->length);
    return snprintf(to, room,
                    "HTTP/1.1 %d %s\r\n%s%sConnection: close\r\n%sCache-Control: %s\r\n%s\r\n",
                    head->status, status_phrase(head->status), type, length, policy, head->cache,
                    head->headers == NULL ? "" : head->headers);
}

bool answer_make(struct answer *answer, const struct answer_head *head, const char *body,
                 size_t body_size)
{
    int head_size = head_print(NULL, 0, head);
    assert(head_size > 0);
    answer->size = (size_t)head_size + body_size;
    answer->bytes = malloc(answer->size + 1);
    if (answer->bytes == NULL)
        return false;
    head_print(answer->bytes, answer->size + 1, head);
    if (body_size > 0)
        memcpy(answer->bytes + head_size, body, body_size);
    return true;
}

bool answer_make_problem(struct answer *answer, struct answer_head *head, const char *detail,
                         bool bodiless)
{
    char body[512];
    int size = snprintf(body, sizeof body,
                        "{\"type\":\"about:blank\",\"title\":\"%s\",\"status\":%d,"
                        "\"detail\":\"%s\"}",
                        status_phrase(head->status), head->status, detail);
    assert(size > 0 && (size_t)size < sizeof body);
    head->type = "application/problem+json";
    head->cache = "no-store";
    head->length = size;
    return answer_make(answer, head, body, bodiless ? 0 : (size_t)size);
}

static size_t answer_size(const struct answer *answer)
{
    return answer->size + (answer->page == NULL ? 0 : answer->page->size);
}

/* What is left, as at most two pieces. */
static size_t answer_rest(struct answer *answer, struct iovec pieces[2])
{
    size_t count = 0, page_sent = 0;
    if (answer->sent < answer->size)
        pieces[count++] = (struct iovec){answer->bytes + answer->sent, answer->size - answer->sent};
    else
        page_sent = answer->sent - answer->size;
    if (answer->page != NULL && page_sent < answer->page->size)
        pieces[count++] =
            (struct iovec){answer->page->text + page_sent, answer->page->size - page_sent};
    return count;
}

static ssize_t pieces_send(const struct answer *answer, struct iovec *pieces, size_t count)
{
    if (answer->ssl != NULL)
        return tls_write(answer->ssl, answer->socket, pieces[0].iov_base, pieces[0].iov_len);
    struct msghdr message = {.msg_iov = pieces, .msg_iovlen = count};
    ssize_t sent;
    do
        sent = sendmsg(answer->socket, &message, MSG_NOSIGNAL);
    while (sent < 0 && errno == EINTR);
    return sent < 0 ? -errno : sent;
}

/* Sends what the kernel takes. 0: all of it has gone; UV_EAGAIN: not yet; else the failure. */
static int answer_send(struct answer *answer)
{
    while (answer->sent < answer_size(answer)) {
        struct iovec pieces[2];
        size_t count = answer_rest(answer, pieces);
        ssize_t sent = pieces_send(answer, pieces, count);
        if (sent <= 0)
            return sent < 0 ? (int)sent : UV_EPIPE;
        answer->sent += (size_t)sent;
    }
    return 0;
}

static void on_room(uv_poll_t *room, int status, int events)
{
    struct answer *answer = room->data;
    (void)events;
    answer->moved_ms = uv_now(room->loop);
    int error = status < 0 ? status : answer_send(answer);
    if (error == UV_EAGAIN)
        return;
    uv_poll_stop(room);
    answer->done(answer, error);
}

static int answer_watch(struct answer *answer, uv_loop_t *loop)
{
    int copy = dup(answer->socket);
    if (copy < 0)
        return -errno;
    int error = uv_poll_init_socket(loop, &answer->room, copy);
    if (error != 0) {
        close(copy);
        return error;
    }
    answer->socket = copy;
    answer->room.data = answer;
    answer->watching = true;
    return uv_poll_start(&answer->room, UV_WRITABLE, on_room);
}

void answer_start(struct answer *answer, uv_loop_t *loop, int socket, SSL *ssl)
{
    answer->socket = socket;
    answer->ssl = ssl;
    answer->moved_ms = uv_now(loop);
    int error = answer_send(answer);
    bool waits = error == UV_EAGAIN;
    if (waits)
        error = answer_watch(answer, loop);
    if (!waits || error != 0)
        answer->done(answer, error);
}

bool answer_close(struct answer *answer, uv_close_cb closed)
{
    free(answer->bytes);
    frame_release(answer->page);
    answer->bytes = NULL;
    answer->page = NULL;
    if (!answer->watching)
        return true;
    uv_poll_stop(&answer->room);
    close(answer->socket);
    uv_close((uv_handle_t *)&answer->room, closed);
    return false;
}
