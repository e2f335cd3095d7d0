#include "prompts/text.h"
#include <assert.h>
#include <stdio.h>
#include <string.h>
#include "prompts/english.h"

struct text text_start(char *bytes, size_t size)
{
    bytes[0] = '\0';
    return (struct text){.bytes = bytes, .size = size};
}

static bool continues_character(char byte)
{
    return ((unsigned char)byte & 0xC0u) == 0x80u;
}

/* As much as fits, in whole characters. */
static void add_bytes(struct text *text, const char *bytes, size_t count)
{
    size_t room = text->size - 1 - text->length;
    if (count > room) {
        text->cut = true;
        count = room;
        while (count > 0 && continues_character(bytes[count]))
            count--;
    }
    memcpy(text->bytes + text->length, bytes, count);
    text->length += count;
    text->bytes[text->length] = '\0';
}

static void add_words(struct text *text, const char *bytes, size_t count)
{
    if (count == 0)
        return;
    if (text->capital && bytes[0] >= 'a' && bytes[0] <= 'z') {
        char capital = (char)(bytes[0] - 'a' + 'A');
        add_bytes(text, &capital, 1);
        bytes++;
        count--;
    }
    text->capital = false;
    add_bytes(text, bytes, count);
}

/* A name as it was given; but one that holds a line break must not break a line. */
static void add_given(struct text *text, const char *given)
{
    size_t start = text->length;
    text->capital = false;
    add_bytes(text, given, strlen(given));
    for (size_t i = start; i < text->length; i++)
        if ((unsigned char)text->bytes[i] < ' ' || text->bytes[i] == 0x7F)
            text->bytes[i] = ' ';
}

static const struct fill *fill_of(const struct fill *fills, const char *key, size_t size)
{
    for (const struct fill *fill = fills; fill != NULL && fill->key != NULL; fill++)
        if (strlen(fill->key) == size && memcmp(fill->key, key, size) == 0)
            return fill;
    return NULL;
}

static void add_fill(struct text *text, char how, const struct fill *fill,
                     const struct naming *naming)
{
    char digits[16];
    const char *word = fill->text;
    if (fill->side != SIDE_NONE) {
        add_given(text, naming->sides[side_index(fill->side)]);
        return;
    }
    if (fill->given != NULL) {
        add_given(text, fill->given);
        return;
    }
    if (word == NULL && how == '=')
        word = english_number(fill->number);
    if (word == NULL) {
        snprintf(digits, sizeof digits, "%ld", (long)fill->number);
        word = digits;
    }
    if (how == '^')
        text->capital = true;
    if (how == '@') {
        const char *article = english_article(word);
        add_words(text, article, strlen(article));
        add_words(text, " ", 1);
    }
    add_words(text, word, strlen(word));
}

/* What stands between the braces, without them. */
static void add_place(struct text *text, const char *place, size_t size,
                      const struct naming *naming, const struct fill *fills)
{
    char how = '\0';
    if (size == 1 && *place == '.') {
        text->capital = true;
        return;
    }
    if (strchr("=^@", *place) != NULL) {
        how = *place++;
        size--;
    }
    const char *one = memchr(place, ':', size);
    const struct fill *fill = fill_of(fills, place, one != NULL ? (size_t)(one - place) : size);
    assert(fill != NULL);
    if (one == NULL) {
        add_fill(text, how, fill, naming);
        return;
    }
    one++;
    const char *end = place + size, *many = memchr(one, ':', (size_t)(end - one));
    assert(many != NULL);
    if (fill->number == 1)
        add_words(text, one, (size_t)(many - one));
    else
        add_words(text, many + 1, (size_t)(end - many - 1));
}

void text_add(struct text *text, const char *phrase, const struct naming *naming,
              const struct fill *fills)
{
    while (*phrase != '\0') {
        size_t plain = strcspn(phrase, "{");
        add_words(text, phrase, plain);
        phrase += plain;
        if (*phrase == '\0')
            return;
        const char *end = strchr(phrase, '}');
        assert(end != NULL);
        add_place(text, phrase + 1, (size_t)(end - phrase - 1), naming, fills);
        phrase = end + 1;
    }
}

size_t text_characters(const char *bytes)
{
    size_t count = 0;
    for (; *bytes != '\0'; bytes++)
        count += continues_character(*bytes) ? 0 : 1;
    return count;
}

size_t text_words(const char *bytes)
{
    size_t count = 0;
    for (bytes += strspn(bytes, " "); *bytes != '\0'; bytes += strspn(bytes, " ")) {
        bytes += strcspn(bytes, " ");
        count++;
    }
    return count;
}
