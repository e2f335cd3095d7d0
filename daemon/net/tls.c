#include "net/tls.h"
#include <errno.h>
#include <openssl/err.h>
#include <openssl/x509.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <uv.h>

/* One record (RFC 8446 5.1): offered again it is cut at the same place, as OpenSSL wants it. */
enum { RECORD_BYTES = 16384 };

struct tls {
    const char *certificate_file, *key_file;
    X509 *certificate;
    STACK_OF(X509) * chain;
    EVP_PKEY *key;
};

/* --- the files ------------------------------------------------------------------------------- */

static void parts_free(struct tls *tls)
{
    X509_free(tls->certificate);
    sk_X509_pop_free(tls->chain, X509_free);
    EVP_PKEY_free(tls->key);
}

/* A key that needs a passphrase is no good here: nobody sits at the daemon. */
static int no_passphrase(char *text, int size, int writing, void *context)
{
    (void)text, (void)size, (void)writing, (void)context;
    return -1;
}

static void say(char reason[TLS_REASON_SIZE], const char *file)
{
    unsigned long error = ERR_peek_error(); /* the first: the others say what it was for */
    const char *words = ERR_SYSTEM_ERROR(error) ? uv_strerror(-ERR_GET_REASON(error))
                                                : ERR_reason_error_string(error);
    snprintf(reason, TLS_REASON_SIZE, "%.200s: %.100s", file, words != NULL ? words : "no good");
}

/* A context for the reading alone checks the two against each other. */
static bool files_read(struct tls *tls, SSL_CTX *context, char reason[TLS_REASON_SIZE])
{
    STACK_OF(X509) *chain = NULL;
    ERR_clear_error();
    SSL_CTX_set_default_passwd_cb(context, no_passphrase);
    if (SSL_CTX_use_certificate_chain_file(context, tls->certificate_file) != 1) {
        say(reason, tls->certificate_file);
        return false;
    }
    if (SSL_CTX_use_PrivateKey_file(context, tls->key_file, SSL_FILETYPE_PEM) != 1 ||
        SSL_CTX_check_private_key(context) != 1) {
        say(reason, tls->key_file);
        return false;
    }
    SSL_CTX_get0_chain_certs(context, &chain);
    tls->certificate = SSL_CTX_get0_certificate(context);
    tls->key = SSL_CTX_get0_privatekey(context);
    X509_up_ref(tls->certificate);
    EVP_PKEY_up_ref(tls->key);
    tls->chain = chain != NULL ? X509_chain_up_ref(chain) : NULL;
    return true;
}

bool tls_reload(struct tls *tls, char reason[TLS_REASON_SIZE])
{
    struct tls fresh = {.certificate_file = tls->certificate_file, .key_file = tls->key_file};
    SSL_CTX *context = SSL_CTX_new(TLS_server_method());
    snprintf(reason, TLS_REASON_SIZE, "no memory");
    bool good = context != NULL && files_read(&fresh, context, reason);
    SSL_CTX_free(context);
    ERR_clear_error();
    if (!good)
        return false;
    parts_free(tls);
    *tls = fresh;
    return true;
}

struct tls *tls_new(const char *certificate_file, const char *key_file,
                    char reason[TLS_REASON_SIZE])
{
    struct tls *tls = calloc(1, sizeof *tls);
    snprintf(reason, TLS_REASON_SIZE, "no memory");
    if (tls == NULL)
        return NULL;
    *tls = (struct tls){.certificate_file = certificate_file, .key_file = key_file};
    if (tls_reload(tls, reason))
        return tls;
    free(tls);
    return NULL;
}

void tls_free(struct tls *tls)
{
    if (tls == NULL)
        return;
    parts_free(tls);
    free(tls);
}

/* --- handshakes ------------------------------------------------------------------------------ */

/* A session taken up again by its ticket doesn't come here: it has had a certificate before. */
static int on_hello(SSL *ssl, void *context)
{
    struct tls *tls = context;
    SSL_certs_clear(ssl);
    return SSL_use_cert_and_key(ssl, tls->certificate, tls->key, tls->chain, 1) == 1;
}

/* No sessions in memory: those that clients keep in tickets cost nothing. lws would look for
 * another of its hosts by the name that the client asks for; we have one. */
void tls_attach(struct tls *tls, SSL_CTX *context)
{
    SSL_CTX_set_min_proto_version(context, TLS1_2_VERSION);
    SSL_CTX_set_options(context, SSL_OP_NO_RENEGOTIATION);
    SSL_CTX_set_session_cache_mode(context, SSL_SESS_CACHE_OFF);
    SSL_CTX_set_tlsext_servername_callback(context, NULL);
    SSL_CTX_set_cert_cb(context, on_hello, tls);
}

/* --- bytes ----------------------------------------------------------------------------------- */

static ssize_t result_of(SSL *ssl, int result)
{
    switch (SSL_get_error(ssl, result)) {
    case SSL_ERROR_WANT_READ:
    case SSL_ERROR_WANT_WRITE:
        return UV_EAGAIN;
    case SSL_ERROR_ZERO_RETURN:
        return 0;
    default: /* OpenSSL has many more, all of which mean that it is broken */
        ERR_clear_error();
        return UV_EPIPE;
    }
}

ssize_t tls_write(SSL *ssl, int socket, const char *bytes, size_t size)
{
    if (ssl == NULL) {
        ssize_t sent;
        do
            sent = send(socket, bytes, size, MSG_NOSIGNAL);
        while (sent < 0 && errno == EINTR);
        return sent < 0 ? -errno : sent;
    }
    ERR_clear_error();
    int sent = SSL_write(ssl, bytes, size < RECORD_BYTES ? (int)size : RECORD_BYTES);
    return sent > 0 ? sent : result_of(ssl, sent);
}

ssize_t tls_read(SSL *ssl, int socket, char *bytes, size_t size)
{
    if (ssl == NULL) {
        ssize_t come;
        do
            come = recv(socket, bytes, size, 0);
        while (come < 0 && errno == EINTR);
        return come < 0 ? -errno : come;
    }
    ERR_clear_error();
    int come = SSL_read(ssl, bytes, size < RECORD_BYTES ? (int)size : RECORD_BYTES);
    return come > 0 ? come : result_of(ssl, come);
}

void tls_shut(SSL *ssl, int socket)
{
    ERR_clear_error();
    if (ssl != NULL)
        SSL_shutdown(ssl);
    ERR_clear_error();
    shutdown(socket, SHUT_WR);
}
