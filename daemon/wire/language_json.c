#include "wire/language_json.h"
#include <ctype.h>
#include <stdio.h>
#include <string.h>
#include <unicode/upluralrules.h>
#include <unicode/ustring.h>
#include "rules/value.h"
#include "wire/json.h"

struct reading {
    struct language *language;
    struct arena *arena;
    char *reason;
};

static bool refuse(struct reading *reading, const char *what, const char *name)
{
    snprintf(reading->reason, LANGUAGE_REASON_SIZE, "%s%s%s", what, name[0] != '\0' ? ": " : "",
             name);
    return false;
}

static const char *text_of(const struct value *value)
{
    return value != NULL && value->kind == VALUE_STRING ? value->as.string : NULL;
}

/* ---- phrases ---- */

/* Every brace is closed: a place without an end would be a bug in text.c. */
static bool braces_match(const char *text)
{
    int depth = 0;
    for (; *text != '\0' && depth >= 0; text++)
        depth += *text == '{' ? 1 : *text == '}' ? -1 : 0;
    return depth == 0;
}

static bool read_phrase(struct reading *reading, const struct value *phrases, enum phrase phrase)
{
    char name[64];
    size_t size = 0;
    for (const char *from = phrase_name(phrase); *from != '\0' && size < sizeof name - 1; from++)
        name[size++] = (char)tolower((unsigned char)*from);
    name[size] = '\0';
    const char *text = text_of(value_member(phrases, name));
    if (text == NULL || !braces_match(text))
        return refuse(reading, text == NULL ? "no phrase" : "a brace is left open", name);
    reading->language->phrases[phrase] = text;
    return true;
}

static bool read_phrases(struct reading *reading, const struct value *phrases)
{
    reading->language->phrases[SAY_NOTHING] = "";
    if (phrases == NULL || phrases->kind != VALUE_OBJECT || phrases->count != PHRASE_COUNT - 1)
        return refuse(reading, "phrases: not as many as there are", "");
    for (enum phrase phrase = SAY_NOTHING + 1; phrase < PHRASE_COUNT; phrase++)
        if (!read_phrase(reading, phrases, phrase))
            return false;
    return true;
}

/* ---- words ---- */

static bool read_forms(struct reading *reading, struct word *word, const struct value *forms)
{
    bool one = forms->kind == VALUE_STRING;
    size_t count = one ? 1 : forms->count;
    struct word_form *made = arena_take(reading->arena, count * sizeof *made);
    if (made == NULL)
        return false;
    if (one)
        made[0] = (struct word_form){"plain", forms->as.string};
    for (size_t i = 0; i < count && !one; i++) {
        if (forms->items[i].kind != VALUE_STRING)
            return refuse(reading, "a form that is no text", word->name);
        made[i] = (struct word_form){forms->items[i].name, forms->items[i].as.string};
    }
    word->forms = made;
    word->form_count = count;
    return true;
}

static bool read_list(struct reading *reading, enum word_kind kind, const struct value *list)
{
    if (list == NULL)
        return true;
    struct word *words = arena_take(reading->arena, (list->count + 1) * sizeof *words);
    if (words == NULL)
        return false;
    for (size_t i = 0; i < list->count; i++) {
        const struct value *forms = &list->items[i];
        words[i] = (struct word){.name = forms->name};
        if (forms->kind != VALUE_STRING && forms->kind != VALUE_OBJECT)
            return refuse(reading, "a word that is neither text nor forms", forms->name);
        if (!read_forms(reading, &words[i], forms))
            return false;
    }
    reading->language->lists[kind] = (struct word_list){words, list->count};
    return true;
}

static bool read_words(struct reading *reading, const struct value *words)
{
    for (enum word_kind kind = WORD_NONE + 1; kind < WORD_KIND_COUNT; kind++)
        if (!read_list(reading, kind, value_member(words, word_kind_name(kind))))
            return false;
    return true;
}

/* ---- numbers and articles ---- */

static bool read_numbers(struct reading *reading, const struct value *numbers)
{
    if (numbers == NULL || numbers->kind != VALUE_ARRAY || numbers->count != NUMBER_WORDS)
        return refuse(reading, "numbers: an array of thirteen is wanted", "");
    for (size_t i = 0; i < NUMBER_WORDS; i++) {
        reading->language->numbers[i] = text_of(&numbers->items[i]);
        if (reading->language->numbers[i] == NULL)
            return refuse(reading, "numbers: each is a text", "");
    }
    return true;
}

static bool read_articles(struct reading *reading, const struct value *articles)
{
    size_t count = articles != NULL && articles->kind == VALUE_ARRAY ? articles->count : 0;
    struct article *made = arena_take(reading->arena, (count + 1) * sizeof *made);
    if (made == NULL)
        return false;
    for (size_t i = 0; i < count; i++) {
        const char *before = text_of(value_member(&articles->items[i], "before"));
        made[i] = (struct article){text_of(value_member(&articles->items[i], "form")),
                                   before != NULL ? before : "",
                                   text_of(value_member(&articles->items[i], "article"))};
        if (made[i].form == NULL || made[i].text == NULL)
            return refuse(reading, "articles: each has a form and an article", "");
    }
    reading->language->articles = made;
    reading->language->article_count = count;
    return true;
}

/* ---- plurals: ICU's rules, asked once for each number that matters ---- */

static enum plural plural_read(const UChar *keyword)
{
    char name[16];
    u_UCharsToChars(keyword, name, u_strlen(keyword) + 1);
    for (enum plural plural = PLURAL_OTHER; plural <= PLURAL_MANY; plural++)
        if (strcmp(name, plural_name(plural)) == 0)
            return plural;
    return PLURAL_OTHER;
}

static bool ask_plurals(struct reading *reading)
{
    UErrorCode status = U_ZERO_ERROR;
    UPluralRules *rules = uplrules_open(reading->language->name, &status);
    for (int number = 0; number < PLURAL_NUMBERS && U_SUCCESS(status); number++) {
        UChar keyword[16];
        uplrules_select(rules, number, keyword, 16, &status);
        if (U_SUCCESS(status))
            reading->language->plurals[number] = (unsigned char)plural_read(keyword);
    }
    if (rules != NULL)
        uplrules_close(rules);
    return U_SUCCESS(status) || refuse(reading, "ICU has no plural rules", u_errorName(status));
}

/* ---- the file ---- */

bool language_read(struct language *language, struct arena *arena, const char *text, size_t size,
                   char reason[LANGUAGE_REASON_SIZE])
{
    struct complaint complaint = {.why = ACCEPTED};
    struct reading reading = {language, arena, reason};
    *language = (struct language){.name = NULL};
    reason[0] = '\0';
    const struct value *document = json_read(arena, text, size, &complaint);
    if (document == NULL)
        return complaint.why == ACCEPTED ? false : refuse(&reading, complaint.detail, "");
    language->name = text_of(value_member(document, "language"));
    if (language->name == NULL)
        return refuse(&reading, "language: its name is wanted", "");
    return read_phrases(&reading, value_member(document, "phrases")) &&
           read_words(&reading, value_member(document, "words")) &&
           read_numbers(&reading, value_member(document, "numbers")) &&
           read_articles(&reading, value_member(document, "articles")) && ask_plurals(&reading);
}

static void list_shipped(char reason[LANGUAGE_REASON_SIZE], const char *name)
{
    int length = snprintf(reason, LANGUAGE_REASON_SIZE, "no language %.40s; there are", name);
    for (const struct shipped_language *one = shipped_languages; one->file != NULL; one++)
        length += snprintf(reason + length, LANGUAGE_REASON_SIZE - (size_t)length, " %.*s",
                           (int)strcspn(one->file, "."), one->file);
}

bool language_shipped(struct language *language, struct arena *arena, const char *name,
                      char reason[LANGUAGE_REASON_SIZE])
{
    for (const struct shipped_language *one = shipped_languages; one->file != NULL; one++)
        if (strlen(name) == strcspn(one->file, ".") && strncmp(one->file, name, strlen(name)) == 0)
            return language_read(language, arena, one->text, one->size, reason);
    list_shipped(reason, name);
    return false;
}
