#include "access/initials.h"
#include "access/letters.h"
#include <string.h>

enum {
    INITIALS_MAX = 4,
    SHORT_LETTERS = 4, /* a word of fewer letters must be written exactly so */
    PLAIN_MAX = 100,   /* letters of one word that are compared; a name has 100 in all */
};

/* ---- initials ---- */

static bool add_bytes(char *to, size_t size, size_t *used, const char *bytes, size_t count)
{
    if (*used + count >= size)
        return false;
    memcpy(to + *used, bytes, count);
    *used += count;
    to[*used] = '\0';
    return true;
}

/* The letter, with the marks that stand on it. */
static size_t marked_size(const char *text)
{
    size_t size, more;
    letter_at(text, &size);
    while (is_mark(letter_at(text + size, &more)))
        size += more;
    return size;
}

static bool is_space(uint32_t character)
{
    return character == ' ' || character == '\t' || character == 0xa0;
}

bool initials_of(const char *name, char initials[INITIALS_SIZE])
{
    size_t used = 0, size;
    unsigned count = 0;
    bool begun = false; /* the word's first letter has come */
    initials[0] = '\0';
    for (const char *at = name; *at != '\0' && count < INITIALS_MAX; at += size) {
        uint32_t character = letter_at(at, &size);
        if (is_space(character))
            begun = false;
        if (begun || !is_letter(character))
            continue;
        begun = true;
        if (is_whole_sign(character) ||
            !add_bytes(initials, INITIALS_SIZE, &used, at, marked_size(at))) {
            initials[0] = '\0';
            return false;
        }
        count++;
    }
    return count > 0;
}

/* ---- words ---- */

struct word { /* a run of letters, with the marks on them */
    const char *text;
    size_t size;
    size_t letters;
    uint32_t plain[PLAIN_MAX];
};

/* The next word from `text` on; false: there is none. */
static bool word_next(const char *text, struct word *word)
{
    size_t size;
    while (*text != '\0' && !is_letter(letter_at(text, &size)))
        text += size;
    word->text = text;
    word->size = word->letters = 0;
    while (*text != '\0') {
        uint32_t character = letter_at(text, &size);
        if (!is_letter(character) && !is_mark(character))
            break;
        if (is_letter(character) && word->letters < PLAIN_MAX)
            word->plain[word->letters++] = letter_plain(character);
        text += size;
        word->size += size;
    }
    return word->size > 0;
}

static bool begins_with(const uint32_t *text, const struct word *secret)
{
    return memcmp(text, secret->plain, secret->letters * sizeof *text) == 0;
}

/* The word holds the secret one, with whatever before and after it. */
static bool word_tells(const struct word *word, const struct word *secret)
{
    if (secret->letters < 2)
        return false;
    if (secret->letters < SHORT_LETTERS)
        return word->size == secret->size && memcmp(word->text, secret->text, word->size) == 0;
    for (size_t i = 0; i + secret->letters <= word->letters; i++)
        if (begins_with(word->plain + i, secret))
            return true;
    return false;
}

static bool name_has(const struct secret_name *name, const struct word *word)
{
    struct word secret;
    for (size_t i = 0; i < sizeof name->words / sizeof *name->words; i++)
        for (const char *at = name->words[i]; at != NULL && word_next(at, &secret);
             at = secret.text + secret.size)
            if (word_tells(word, &secret))
                return true;
    return false;
}

static const struct secret_name *name_told(const struct word *word, const struct secret_name *names,
                                           size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (name_has(&names[i], word))
            return &names[i];
    return NULL;
}

/* What parts the words of one name: spaces, hyphens, apostrophes; nothing that parts sentences. */
static bool joins(const char *text, const char *end)
{
    return text == end || strspn(text, " -'\t") >= (size_t)(end - text);
}

/* ---- a text without the names ---- */

static bool add_text(char *to, size_t size, size_t *used, const char *text, size_t count)
{
    while (*used + count >= size && count > 0)
        do
            count--;
        while (count > 0 && ((unsigned char)text[count] & 0xc0) == 0x80);
    return add_bytes(to, size, used, text, count);
}

bool conceal(char *concealed, size_t size, const char *text, const struct secret_name *names,
             size_t count)
{
    const struct secret_name *before = NULL; /* whose word ended at `from` */
    const char *from = text;                 /* up to here all is written */
    size_t used = 0;
    struct word word;
    bool some = false;
    concealed[0] = '\0';
    for (const char *at = text; word_next(at, &word); at = word.text + word.size) {
        const struct secret_name *name = name_told(&word, names, count);
        if (name != NULL && !(name == before && joins(from, word.text))) {
            add_text(concealed, size, &used, from, (size_t)(word.text - from));
            add_text(concealed, size, &used, name->shown, strlen(name->shown));
        }
        if (name != NULL) {
            from = word.text + word.size;
            some = true;
        }
        before = name;
    }
    add_text(concealed, size, &used, from, strlen(from));
    return some;
}
