#include <stdio.h>
#include <string.h>
#include "exports/exports.h"
#include "prompts/scan.h"

struct writing {
    char *text;
    size_t length;
};

static void add(struct writing *writing, const char *before, const char *text)
{
    if (text == NULL || writing->length >= TITLE_SIZE)
        return;
    int more = snprintf(writing->text + writing->length, TITLE_SIZE - writing->length, "%s%s",
                        before, text);
    if (more > 0)
        writing->length += (size_t)more;
}

static bool is_number(const char *text)
{
    return text[strspn(text, "0123456789+-")] == '\0';
}

/* "women 57 kg" */
static void add_class(struct writing *writing, const struct details *details,
                      const struct language *language)
{
    if (details->style != NULL) {
        struct found_word style =
            language_word(language, WORD_STYLE, details->style, "plain", strlen("plain"));
        add(writing, ", ", style.text);
    }
    if (details->weight == NULL)
        return;
    add(writing, details->style != NULL ? " " : ", ", details->weight);
    if (is_number(details->weight))
        add(writing, " ", "kg");
}

const char *export_title(const struct exported_bout *bout, const struct language *language,
                         char title[TITLE_SIZE])
{
    const struct details *details = bout->fold->details;
    struct writing writing = {title, 0};
    title[0] = '\0';
    add(&writing, "", details->sides[0].name);
    add(&writing, " – ", details->sides[1].name);
    add_class(&writing, details, language);
    if (details->stage != NULL)
        add(&writing, ", ", details->stage);
    return title;
}

int64_t export_moment(const struct scan *scan, const struct read_event *read)
{
    const struct details *details = scan->details;
    if (!event_gives(read->event, MEMBER_PERIOD) || !scan->complete)
        return read->event->moment_ms;
    return scan_moment_at(scan, (read->period - 1) * details->period_ms + read->t_ms);
}

const char *export_technique(const struct fold *fold, const struct event *score)
{
    if (score->type != EVENT_SCORE || score->technique != NULL)
        return score->technique;
    if (!event_gives(score, MEMBER_ATTACK) || !fold->events[score->attack].stands)
        return NULL;
    const struct name_list *techniques = fold->events[score->attack].event->techniques;
    return techniques->names[techniques->count - 1];
}
