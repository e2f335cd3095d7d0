#include "prompts/language.h"
#include <string.h>

const char *phrase_name(enum phrase phrase)
{
    static const char *const names[] = {[SAY_NOTHING] = "SAY_NOTHING",
#define X(phrase) [phrase] = #phrase,
                                        PHRASES(X) PHRASES_BEYOND(X) PHRASES_AROUND(X)
#undef X
    };
    return names[phrase];
}

const char *word_kind_name(enum word_kind kind)
{
    static const char *const names[] = {
        [WORD_NONE] = "",         [WORD_TECHNIQUE] = "technique", [WORD_DEFENCE] = "defence",
        [WORD_SETUP] = "setup",   [WORD_ACTION] = "action",       [WORD_REASON] = "reason",
        [WORD_ENDING] = "ending", [WORD_STYLE] = "style",         [WORD_CRITERION] = "criterion",
        [WORD_LEG] = "leg",
    };
    return names[kind];
}

const char *plural_name(enum plural plural)
{
    static const char *const names[] = {
        [PLURAL_OTHER] = "other", [PLURAL_ZERO] = "zero", [PLURAL_ONE] = "one",
        [PLURAL_TWO] = "two",     [PLURAL_FEW] = "few",   [PLURAL_MANY] = "many",
    };
    return names[plural];
}

enum plural language_plural(const struct language *language, int32_t number)
{
    int32_t size = number < 0 ? -number : number;
    if (size >= PLURAL_NUMBERS)
        size = 100 + size % 100;
    return (enum plural)language->plurals[size];
}

/* ---- words ---- */

static const struct word *word_find(const struct word_list *list, const char *name)
{
    for (size_t i = 0; i < list->count; i++)
        if (strcmp(list->words[i].name, name) == 0)
            return &list->words[i];
    return NULL;
}

static const char *form_find(const struct word *word, const char *form, size_t size)
{
    for (size_t i = 0; word != NULL && i < word->form_count; i++)
        if (strlen(word->forms[i].form) == size && memcmp(word->forms[i].form, form, size) == 0)
            return word->forms[i].text;
    return NULL;
}

static const char *article_for(const struct language *language, const char *form, size_t size,
                               const char *text)
{
    for (size_t i = 0; i < language->article_count; i++) {
        const struct article *article = &language->articles[i];
        bool fits = article->before[0] == '\0' || strchr(article->before, text[0]) != NULL;
        if (strlen(article->form) == size && memcmp(article->form, form, size) == 0 && fits)
            return article->text;
    }
    return "";
}

/* What one stops or opens an attack with is often a technique itself. */
static bool is_technique_too(enum word_kind kind)
{
    return kind == WORD_DEFENCE || kind == WORD_SETUP;
}

struct found_word language_word(const struct language *language, enum word_kind kind,
                                const char *name, const char *form, size_t form_size)
{
    static const char plain[] = "plain";
    const struct word *word = word_find(&language->lists[kind], name);
    if (word == NULL && is_technique_too(kind))
        word = word_find(&language->lists[WORD_TECHNIQUE], name);
    const char *text = form_find(word, form, form_size);
    if (text != NULL)
        return (struct found_word){.article = "", .text = text};
    text = form_find(word, plain, sizeof plain - 1);
    bool spaced = text == NULL;
    if (spaced)
        text = name;
    return (struct found_word){article_for(language, form, form_size, text), text, spaced};
}
