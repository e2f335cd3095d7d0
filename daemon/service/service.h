/* The running daemon: takes events, keeps the log, folds, and shows it to everyone.
 *
 * An event's path, in this order and in one place (intake.c):
 *   read → parse → check → commit → fold → publish and acknowledge
 * Nobody hears of an event before it is on disk. `hall` is what is known of bouts and mats, made by
 * folding alone; `shows` makes topics of it; `routes` and `messages` speak to clients.
 * Everything here runs on one libuv loop's thread. */
#pragma once
#include <stdbool.h>
#include <stdint.h>
#include <uv.h>
#include "journal/journal.h"
#include "net/net.h"
#include "relay/relay.h"
#include "rules/log.h"
#include "service/archiving.h"
#include "service/day_draw.h"
#include "service/daytime.h"
#include "service/hall.h"
#include "service/intake.h"
#include "service/intercom.h"
#include "service/keys.h"
#include "service/rates.h"
#include "service/life.h"
#include "service/outputs.h"
#include "service/report.h"
#include "service/views.h"
#include "service/written.h"

enum { AWAY_MS = 10000 }; /* away longer with a clock running: the clock is lost */

struct service;

struct service_options {
    const struct listening *listen; /* `listen_count` of them; the caller's, for good */
    size_t listen_count;
    const struct talking *lines; /* `lines_count` of them: where events come as lines */
    size_t lines_count;
    unsigned lines_mode;                             /* of sockets in the file system */
    const char *certificate_file, *private_key_file; /* PEM, for those by TLS; NULL: none */
    const struct front *front; /* what stands before it; the caller's, for good */
    const char *store;
    const char *archive; /* NULL: none is kept */
    const char *pages_folder;
    const char *write_files; /* a folder for the outputs' values as files; NULL: none */
    enum report_level report_level;
    enum report_form report_form;
    const struct editions *editions;
    const struct language *language; /* of cards and lines */
    bool public_minors;              /* a day with minors is public: initials, team and side */
    bool is_private;                 /* what is public elsewhere needs a key too */
    bool plain_text_network;         /* others may reach it without TLS: said by name */
    const char *player_key;  /* opens as a table's for all mats, in this run; NULL: none does */
    struct rate events_rate; /* of each source; a_second 0: no limit */
    unsigned connections, connections_per_address; /* that there may be at most */
    unsigned drain_seconds; /* over which those who listen are let go; 0: at once */
    /* SIGHUP: reads the settings again, and reports what has changed; may be NULL. */
    void (*reload)(void *context, struct service *service);
    /* When it listens; may be NULL. A non-zero answer stops it with that exit code. */
    int (*listening)(void *context, struct service *service);
    void (*stopping)(void *context);
    void *context;
};

struct client; /* one who listens: clients.h */
struct talk;   /* one who sends lines: talks.h */
struct talkers;

struct service {
    struct service_options options;
    struct report report;
    uv_loop_t loop;
    struct life life;
    uv_timer_t second;     /* once a second: beats, and the journal's sign of life */
    uv_timer_t passing;    /* when something changes by time alone */
    uv_idle_t handing_out; /* while frames are left for a hall full of followers */
    unsigned turns_left_out;
    unsigned seconds;
    struct daytime daytime;
    struct log log;
    struct journal *journal;
    struct net *net;
    struct relay *relay;
    struct hall hall;
    struct views views;          /* halls of audiences with a delay */
    struct draw_memory draws[2]; /* the booth's, the public's */
    bool public_is_off;          /* a day with minors that nobody has made public */
    struct intake intake;
    struct rates rates;
    struct outputs outputs;
    struct written written;   /* their values as files */
    struct intercom intercom; /* what booths and the gallery say to each other */
    uint64_t began_ns;        /* to listen; by the monotonic clock */
    uint64_t deliveries;
    struct {
        uint64_t slow, not_allowed, no_memory;
    } cut_offs; /* clients that were let go of here; net counts its own */
    struct client *clients;
    size_t reader_count;     /* of them, who read plain text */
    struct talkers *talkers; /* NULL: no lines are taken */
    struct talk *talks;
    uint64_t client_count; /* in this run: who came as the how many-th */
    struct keys keys;
    struct archiving archiving;
    struct arena parsing; /* what one input needs; reset with each */
    bool stopping;        /* it is not ready any more, and lets nobody in */
    int code;             /* the program's exit code */
};

/* Runs until a signal or a failure; answers the program's exit code. */
int service_run(const struct service_options *options);
/* Where the i-th of options.listen listens. */
int service_port(const struct service *service, size_t i);
/* Ends it in order, but without waiting for those who listen; with a code that isn't 0, because of
 * a failure that was reported. life_drain waits. */
void service_stop(struct service *service, int code);
/* Takes up a certificate that has been renewed, for new connections; reports how that went. */
void service_reload_certificate(struct service *service);
/* The time up to which it may be let pass: no further than the oldest event that waits for the
 * disk. Every event that was accepted before it is known. */
int64_t service_real(const struct service *service);
void service_close(struct service *service); /* no client is left: now the log, and all else */
/* Publishes what has changed, and sets the timer for what will change by time alone. */
void service_publish(struct service *service);
