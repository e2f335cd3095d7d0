#include "prompts/text.h"
#include <assert.h>
#include <stdio.h>
#include <string.h>

struct text text_start(const struct language *language, char *bytes, size_t size)
{
    bytes[0] = '\0';
    return (struct text){.language = language, .bytes = bytes, .size = size};
}

struct naming naming_plain(const struct language *language)
{
    return (struct naming){{language->phrases[SAY_RED], language->phrases[SAY_BLUE]}};
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

/* The first letter of what begins there as a capital, where it is a small one of ASCII or of
 * Latin-1 (in UTF-8 C3 A0 to C3 BE); its bytes, 0: it stays as it is. */
static size_t capital_of(const char *bytes, size_t count, char capital[2])
{
    unsigned char second = count > 1 ? (unsigned char)bytes[1] : 0;
    if (bytes[0] >= 'a' && bytes[0] <= 'z') {
        capital[0] = (char)(bytes[0] - 'a' + 'A');
        return 1;
    }
    if ((unsigned char)bytes[0] != 0xC3 || second < 0xA0 || second > 0xBE || second == 0xB7)
        return 0;
    capital[0] = bytes[0];
    capital[1] = (char)(second - 0x20);
    return 2;
}

static void add_words(struct text *text, const char *bytes, size_t count)
{
    char capital[2];
    if (count == 0)
        return;
    size_t size = text->capital ? capital_of(bytes, count, capital) : 0;
    text->capital = false;
    add_bytes(text, capital, size);
    add_bytes(text, bytes + size, count - size);
}

static void add_word(struct text *text, const char *word)
{
    add_words(text, word, strlen(word));
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

static void add_number(struct text *text, int32_t number)
{
    char digits[16];
    snprintf(digits, sizeof digits, "%ld", (long)number);
    add_word(text, digits);
}

/* A word of the language, or an event's name with spaces for its underscores. */
static void add_found(struct text *text, const struct found_word *word)
{
    if (word->article[0] != '\0') {
        add_word(text, word->article);
        add_word(text, " ");
    }
    size_t start = text->length;
    add_word(text, word->text);
    for (size_t i = start; word->spaced && i < text->length; i++)
        if (text->bytes[i] == '_')
            text->bytes[i] = ' ';
}

/* A piece of a phrase, not terminated. */
struct piece {
    const char *bytes;
    size_t size;
};

static bool piece_is(struct piece piece, const char *word)
{
    return strlen(word) == piece.size && memcmp(piece.bytes, word, piece.size) == 0;
}

static void add_fill(struct text *text, struct piece how, const struct fill *fill,
                     const struct naming *naming)
{
    text->capital = text->capital || piece_is(how, "capital");
    if (fill->side != SIDE_NONE) {
        add_given(text, naming->sides[side_index(fill->side)]);
    } else if (fill->given != NULL) {
        add_given(text, fill->given);
    } else if (fill->text != NULL && fill->word != WORD_NONE) {
        bool form = how.size > 0 && !piece_is(how, "capital");
        struct found_word word = language_word(text->language, fill->word, fill->text,
                                               form ? how.bytes : "plain", form ? how.size : 5);
        add_found(text, &word);
    } else if (fill->text != NULL) {
        add_word(text, fill->text);
    } else if (piece_is(how, "words") && fill->number >= 0 && fill->number < NUMBER_WORDS) {
        add_word(text, text->language->numbers[fill->number]);
    } else {
        add_number(text, fill->number);
    }
}

/* ---- the form of a phrase: the functions take pieces off its front ---- */

static struct piece piece_after(struct piece piece, size_t size)
{
    return (struct piece){piece.bytes + size, piece.size - size};
}

static struct piece without_spaces(struct piece piece)
{
    while (piece.size > 0 && *piece.bytes == ' ')
        piece = piece_after(piece, 1);
    while (piece.size > 0 && piece.bytes[piece.size - 1] == ' ')
        piece.size--;
    return piece;
}

/* Up to the first `end`, which is taken off too; all of it where there is none. */
static struct piece take_until(struct piece *from, char end)
{
    const char *found = memchr(from->bytes, end, from->size);
    size_t size = found != NULL ? (size_t)(found - from->bytes) : from->size;
    struct piece taken = {from->bytes, size};
    *from = piece_after(*from, found != NULL ? size + 1 : size);
    return without_spaces(taken);
}

/* What stands between a brace, which is the first byte, and the one that closes it. */
static struct piece take_braces(struct piece *from)
{
    size_t depth = 0, i = 0;
    do {
        assert(i < from->size);
        depth += from->bytes[i] == '{' ? 1 : 0;
        depth -= from->bytes[i] == '}' ? 1 : 0;
        i++;
    } while (depth > 0);
    struct piece inside = {from->bytes + 1, i - 2};
    *from = piece_after(*from, i);
    return inside;
}

struct filling { /* what places are filled with */
    const struct naming *naming;
    const struct fill *fills;
    const struct fill *counted; /* what # stands for; NULL: itself */
};

static void add_pieces(struct text *text, struct piece phrase, const struct filling *filling);

/* Whether one of a plural's choices is meant by the number: 2 by it alone, 1 by its category. */
static int choice_fits(const struct text *text, struct piece choice, int32_t number)
{
    if (choice.size > 1 && choice.bytes[0] == '=')
        return (int32_t)(choice.bytes[1] - '0') == number && choice.size == 2 ? 2 : 0;
    return piece_is(choice, plural_name(language_plural(text->language, number))) ? 1 : 0;
}

static void add_plural(struct text *text, struct piece choices, const struct filling *filling,
                       const struct fill *fill)
{
    struct piece chosen = {NULL, 0}, other = {"", 0};
    int best = 0;
    for (choices = without_spaces(choices); choices.size > 0; choices = without_spaces(choices)) {
        const char *brace = memchr(choices.bytes, '{', choices.size);
        assert(brace != NULL);
        size_t size = (size_t)(brace - choices.bytes);
        struct piece choice = without_spaces((struct piece){choices.bytes, size});
        choices = piece_after(choices, size);
        struct piece inside = take_braces(&choices);
        int fits = choice_fits(text, choice, fill->number);
        if (fits > best) {
            best = fits;
            chosen = inside;
        }
        if (piece_is(choice, "other"))
            other = inside;
    }
    struct filling counting = *filling;
    counting.counted = fill;
    add_pieces(text, best > 0 ? chosen : other, &counting);
}

/* What stands between the braces, without them. */
static void add_place(struct text *text, struct piece place, const struct filling *filling)
{
    if (piece_is(place, ".")) {
        text->capital = true;
        return;
    }
    struct piece key = take_until(&place, ',');
    struct piece how = take_until(&place, ',');
    const struct fill *fill = fill_of(filling->fills, key.bytes, key.size);
    assert(fill != NULL);
    if (piece_is(how, "plural"))
        add_plural(text, place, filling, fill);
    else
        add_fill(text, how, fill, filling->naming);
}

static size_t plain_size(struct piece phrase, bool counting)
{
    size_t size = 0;
    while (size < phrase.size && phrase.bytes[size] != '{' &&
           !(counting && phrase.bytes[size] == '#'))
        size++;
    return size;
}

static void add_pieces(struct text *text, struct piece phrase, const struct filling *filling)
{
    while (phrase.size > 0) {
        size_t plain = plain_size(phrase, filling->counted != NULL);
        add_words(text, phrase.bytes, plain);
        phrase = piece_after(phrase, plain);
        if (phrase.size == 0)
            return;
        if (*phrase.bytes == '#') {
            add_number(text, filling->counted->number);
            phrase = piece_after(phrase, 1);
        } else {
            add_place(text, take_braces(&phrase), filling);
        }
    }
}

void text_add(struct text *text, enum phrase phrase, const struct naming *naming,
              const struct fill *fills)
{
    const char *bytes = text->language->phrases[phrase];
    add_pieces(text, (struct piece){bytes, strlen(bytes)},
               &(struct filling){.naming = naming, .fills = fills});
}

/* ---- times ---- */

static const char *minutes(int64_t seconds, char room[TIME_SIZE])
{
    snprintf(room, TIME_SIZE, "%d:%02d", (int)(seconds / 60), (int)(seconds % 60));
    return room;
}

const char *text_left(int64_t left_ms, char room[TIME_SIZE])
{
    return minutes((left_ms + 999) / 1000, room);
}

const char *text_gone(int64_t gone_ms, char room[TIME_SIZE])
{
    return minutes(gone_ms / 1000, room);
}

const char *text_span(const struct language *language, int64_t span_ms, char room[TIME_SIZE])
{
    int32_t seconds = (int32_t)((span_ms + 999) / 1000), whole = seconds / 60;
    struct text text = text_start(language, room, TIME_SIZE);
    seconds %= 60;
    text_add(&text,
             whole == 0     ? SPAN_SECONDS
             : seconds == 0 ? SPAN_MINUTES
                            : SPAN_BOTH,
             NULL, FILLS({"m", .number = whole}, {"s", .number = seconds}));
    return room;
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
