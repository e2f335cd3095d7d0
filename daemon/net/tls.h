/* TLS: the certificate that new connections get, and bytes over a connection that has it.
 *
 * libwebsockets shakes hands and reads requests; what we read and write ourselves goes through
 * here. TLS 1.2 and 1.3, no renegotiation (so that writing never waits for reading). The
 * certificate is given to each handshake by itself: one that is taken up anew changes no
 * connection that stands. */
#pragma once
#include <openssl/ssl.h>
#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

enum { TLS_REASON_SIZE = 320 };

struct tls;

/* Reads the two PEM files, the certificate with those that lead to its root. NULL: `reason` says
 * why in words. The paths are borrowed, for good. */
struct tls *tls_new(const char *certificate_file, const char *key_file,
                    char reason[TLS_REASON_SIZE]);
void tls_free(struct tls *tls); /* NULL is allowed */
/* Reads them again. False: they are no good, and all stays as it was. */
bool tls_reload(struct tls *tls, char reason[TLS_REASON_SIZE]);
/* Makes a context of libwebsockets's use it, for as long as both live. */
void tls_attach(struct tls *tls, SSL_CTX *context);

/* Like send() and recv(), on a connection with or (ssl NULL) without TLS: how many bytes, 0 when
 * the peer has ended, or a negative libuv code (UV_EAGAIN). What TLS couldn't write has to be
 * offered again, from the same byte on. */
ssize_t tls_write(SSL *ssl, int socket, const char *bytes, size_t size);
ssize_t tls_read(SSL *ssl, int socket, char *bytes, size_t size);
/* Says that nothing more follows, and closes our half. */
void tls_shut(SSL *ssl, int socket);
