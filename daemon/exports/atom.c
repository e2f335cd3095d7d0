#include <libxml/xmlwriter.h>
#include <openssl/sha.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "exports/exports.h"
#include "rules/time_of_day.h"
#include "stats/state.h"

enum { ID_SIZE = 48 };

/* The same for the same bout of the same store, for ever: a UUID of our own making (version 8). */
static void id_of(char id[ID_SIZE], const char *store, const char *what)
{
    unsigned char hash[SHA256_DIGEST_LENGTH];
    char name[1024];
    int size = snprintf(name, sizeof name, "%s\n%s", store, what);
    if (size >= (int)sizeof name)
        size = sizeof name - 1;
    SHA256((const unsigned char *)name, (size_t)size, hash);
    hash[6] = (unsigned char)((hash[6] & 0x0F) | 0x80);
    hash[8] = (unsigned char)((hash[8] & 0x3F) | 0x80);
    snprintf(id, ID_SIZE,
             "urn:uuid:%02x%02x%02x%02x-%02x%02x-%02x%02x-%02x%02x-%02x%02x%02x%02x%02x%02x",
             hash[0], hash[1], hash[2], hash[3], hash[4], hash[5], hash[6], hash[7], hash[8],
             hash[9], hash[10], hash[11], hash[12], hash[13], hash[14], hash[15]);
}

static bool element(xmlTextWriterPtr writer, const char *name, const char *text)
{
    return xmlTextWriterWriteElement(writer, (const xmlChar *)name, (const xmlChar *)text) >= 0;
}

static bool time_element(xmlTextWriterPtr writer, const char *name, int64_t ms)
{
    char time[TIME_OF_DAY_SIZE];
    time_of_day_write(ms, time);
    return element(writer, name, time);
}

static bool begin(xmlTextWriterPtr writer, const char *name)
{
    return xmlTextWriterStartElement(writer, (const xmlChar *)name) >= 0;
}

static bool attribute(xmlTextWriterPtr writer, const char *name, const char *text)
{
    return xmlTextWriterWriteAttribute(writer, (const xmlChar *)name, (const xmlChar *)text) >= 0;
}

static bool entry(xmlTextWriterPtr writer, const struct exported_bout *bout,
                  const struct exported_bouts *bouts, const struct feed *feed)
{
    char id[ID_SIZE], title[TITLE_SIZE];
    id_of(id, feed->store, bout->fold->bout->id);
    return begin(writer, "entry") && element(writer, "id", id) &&
           element(writer, "title", export_title(bout, bouts->language, title)) &&
           time_element(writer, "published", bout->published_ms) &&
           time_element(writer, "updated", bout->updated_ms) &&
           element(writer, "summary", bout->sentence) && xmlTextWriterEndElement(writer) >= 0;
}

/* By the time of their last change, the newest first. */
static const struct exported_bout *newest_before(const struct exported_bouts *bouts,
                                                 const struct exported_bout *last)
{
    const struct exported_bout *found = NULL;
    for (size_t i = 0; i < bouts->count; i++) {
        const struct exported_bout *bout = &bouts->bouts[i];
        bool is_left = last == NULL || bout->updated_ms < last->updated_ms ||
                       (bout->updated_ms == last->updated_ms && bout < last);
        if (bout->sentence != NULL && is_left &&
            (found == NULL || bout->updated_ms >= found->updated_ms))
            found = bout;
    }
    return found;
}

static bool link(xmlTextWriterPtr writer, const char *url)
{
    return url == NULL || (begin(writer, "link") && attribute(writer, "rel", "self") &&
                           attribute(writer, "href", url) && xmlTextWriterEndElement(writer) >= 0);
}

static bool write_feed(xmlTextWriterPtr writer, const struct exported_bouts *bouts,
                       const struct feed *feed)
{
    char id[ID_SIZE], words[TITLE_SIZE];
    const struct exported_bout *newest = newest_before(bouts, NULL);
    id_of(id, feed->store, "");
    snprintf(words, sizeof words, "%s", bouts->language->phrases[FEED_TITLE]);
    bool complete =
        xmlTextWriterStartDocument(writer, NULL, "UTF-8", NULL) >= 0 && begin(writer, "feed") &&
        attribute(writer, "xmlns", "http://www.w3.org/2005/Atom") &&
        attribute(writer, "xml:lang", bouts->language->name) && element(writer, "id", id) &&
        element(writer, "title", words) &&
        element(writer, "subtitle", bouts->language->phrases[FEED_CAUTION]) &&
        time_element(writer, "updated", newest != NULL ? newest->updated_ms : bouts->now_ms) &&
        begin(writer, "author") && element(writer, "name", "boutwire") &&
        xmlTextWriterEndElement(writer) >= 0 && link(writer, feed->self_url);
    for (const struct exported_bout *bout = newest; bout != NULL && complete;
         bout = newest_before(bouts, bout))
        complete = entry(writer, bout, bouts, feed);
    return complete && xmlTextWriterEndDocument(writer) >= 0;
}

char *export_atom(const struct exported_bouts *bouts, const struct feed *feed)
{
    xmlBufferPtr buffer = xmlBufferCreate();
    xmlTextWriterPtr writer = buffer != NULL ? xmlNewTextWriterMemory(buffer, 0) : NULL;
    bool complete =
        writer != NULL && xmlTextWriterSetIndent(writer, 1) >= 0 && write_feed(writer, bouts, feed);
    xmlFreeTextWriter(writer);
    char *text = complete ? strdup((const char *)xmlBufferContent(buffer)) : NULL;
    if (buffer != NULL)
        xmlBufferFree(buffer);
    return text;
}
