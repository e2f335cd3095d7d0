#include "rules/complaint.h"
#include <stdarg.h>
#include <stdio.h>

const char *refusal_title(enum refusal why)
{
    static const char *const titles[REFUSAL_COUNT] = {
#define X(code, text) [code] = text,
        REFUSALS(X)
#undef X
    };
    return titles[why] != NULL ? titles[why] : "accepted";
}

const char *refusal_name(enum refusal why)
{
    switch (why) {
    case REFUSED_NOT_JSON:
        return "not-json";
    case REFUSED_MEMBER_UNKNOWN:
        return "member-unknown";
    case REFUSED_MEMBER_MISSING:
        return "member-missing";
    case REFUSED_MEMBER_TYPE:
        return "member-type";
    case REFUSED_MEMBER_VALUE:
        return "member-value";
    case REFUSED_TYPE:
        return "type";
    case REFUSED_ID_REUSED:
        return "id-reused";
    case REFUSED_BOUT:
        return "bout";
    case REFUSED_EDITION:
        return "edition";
    case REFUSED_REF:
        return "ref";
    case REFUSED_REF_TYPE:
        return "ref-type";
    case REFUSED_POINTS:
        return "points";
    case REFUSED_TIME:
        return "bout-time";
    case REFUSED_WINNER:
        return "winner";
    case REFUSED_TOO_MANY:
        return "too-many";
    case REFUSED_LOST:
        return "lost";
    case REFUSED_RULES:
        return "rules";
    case REFUSED_ROSTER:
        return "roster";
    case ACCEPTED:
    case REFUSAL_COUNT:
        break;
    }
    return "accepted";
}

/* How many bytes the UTF-8 character at `text` has; 0: it is cut off, or none. */
static size_t character_size(const unsigned char *text)
{
    size_t size = text[0] < 0x80 ? 1 : text[0] >= 0xF0 ? 4 : text[0] >= 0xE0 ? 3 : 2;
    if (text[0] >= 0x80 && text[0] < 0xC2)
        return 0;
    for (size_t i = 1; i < size; i++)
        if ((text[i] & 0xC0u) != 0x80u)
            return 0;
    return size;
}

/* What is quoted may have been cut within a character: takes the rest of it away. */
static void mend(char *text)
{
    char *to = text;
    for (const char *from = text; *from != '\0';) {
        size_t size = character_size((const unsigned char *)from);
        for (size_t i = 0; i < size; i++)
            *to++ = from[i];
        from += size > 0 ? size : 1;
    }
    *to = '\0';
}

bool complain(struct complaint *complaint, enum refusal why, const char *pointer,
              const char *detail, ...)
{
    complaint->why = why;
    snprintf(complaint->pointer, sizeof complaint->pointer, "%s", pointer);
    va_list arguments;
    va_start(arguments, detail);
    vsnprintf(complaint->detail, sizeof complaint->detail, detail, arguments);
    va_end(arguments);
    mend(complaint->pointer);
    mend(complaint->detail);
    return false;
}
