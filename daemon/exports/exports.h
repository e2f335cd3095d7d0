/* Finished bouts in other people's forms: WebVTT for the video, Atom and CSV for results, IPTC
 * Sport Schema for newsrooms. What is exported is what the fold that is handed in says: hand in the
 * public's, and nothing that is withheld of minors is in it. Every text says or carries that the
 * officials' sheet decides. Each gives a text that the caller frees with free(); NULL without
 * memory. Sources: WebVTT, W3C Candidate Recommendation of 4 April 2019, sections 4 and 6; Atom,
 * RFC 4287; CSV, RFC 4180; UUIDs of version 8, RFC 9562 section 5.8; IPTC Sport Schema 1.1
 * (sportschema.org) with the IPTC NewsCodes; text that a spreadsheet would take for a formula,
 * OWASP ASVS 1.2.10. */
#pragma once
#include <stddef.h>
#include <stdint.h>
#include "prompts/language.h"
#include "stats/fold.h"

struct exported_bout {
    const struct fold *fold;
    const char *sentence; /* its result as it was told last; NULL: none stands */
    int64_t published_ms; /* when a result was first told, and when it last changed */
    int64_t updated_ms;
};

struct exported_bouts { /* in the order in which they began */
    const struct exported_bout *bouts;
    size_t count;
    const struct language *language;
    int64_t now_ms;
};

/* ---- a video of one mat ---- */

enum { VIDEO_BEFORE_MS = 4000, VIDEO_AFTER_MS = 3000 };

struct video {
    int64_t starts_ms; /* the time of day at its 0:00: the one offset that is keyed */
    int64_t before_ms; /* a score's in point is so long before its moment … */
    int64_t after_ms;  /* … and its out point so long after */
};

/* WebVTT chapters: each bout, and within it its periods. Chapters of one level don't overlap. What
 * was over before the video began is left out. */
char *export_chapters(const struct exported_bouts *bouts, const struct video *video);
/* WebVTT metadata: a cue for every score that stands, from its in to its out point, its text one
 * JSON object: {"bout","seq","side","name","points","action","technique"?,"period","t_ms","score"}.
 */
char *export_cues(const struct exported_bouts *bouts, const struct video *video);
/* A line a bout for the video's description: "0:12:04 Ilse Brandt – Noor Haddad, women 57 kg". */
char *export_chapter_lines(const struct exported_bouts *bouts, const struct video *video);

/* ---- results ---- */

struct feed {
    const char *store;    /* names the store: ids of entries rest on it */
    const char *self_url; /* where the feed is; NULL: not known */
};

/* One entry a bout with a result, the newest first; its id stays, `updated` moves with corrections.
 */
char *export_atom(const struct exported_bouts *bouts, const struct feed *feed);
/* A row a bout with a result. */
char *export_results(const struct exported_bouts *bouts);
/* A row a score that stands, of every bout. */
char *export_scores(const struct exported_bouts *bouts);
/* One bout as IPTC Sport Schema, JSON-LD. `base` is what its ids begin with ("https://…/"; NULL:
 * urn:boutwire:). */
char *export_sport(const struct exported_bout *bout, const struct exported_bouts *bouts,
                   const char *base);

/* ---- shared within this room ---- */

enum { TITLE_SIZE = 512 };
/* "Ilse Brandt – Noor Haddad, women 57 kg, semi-final". */
const char *export_title(const struct exported_bout *bout, const struct language *language,
                         char title[TITLE_SIZE]);
/* When the event came about: by its bout time where it was keyed late, else when it was keyed. */
struct scan;
int64_t export_moment(const struct scan *scan, const struct read_event *read);
/* What a score came from: its own technique, else the last of the attack that it finished; NULL:
 * not known, or no score. */
const char *export_technique(const struct fold *fold, const struct event *score);
