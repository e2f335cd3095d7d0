/* Initials, and names taken out of what somebody wrote. */
#include "access/initials.h"
#include "access/letters.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <string.h>
#include "support.h"

static const struct {
    char name[80], initials[24];
} names[] = {
    {"Signe Aldershaw", "SA"},
    {"Paloma Iriarteche", "PI"},
    {"Jean-Népomucène Rochecanteloup", "JR"},
    {"Odhrán MacQuillory-Veitch", "OM"},
    {"Trầm Đăng Khôi", "TĐK"},
    {"Īna Zvaigžņukalne", "ĪZ"},
    {"Ștefăniță Răchițelean", "ȘR"},
    {"de Vries", "dV"},
    {"Cher", "C"},
    {"O", "O"},
    {"  Ada   Brandt ", "AB"},
    {"Ada\xc2\xa0"
     "Brandt",
     "AB"}, /* a space that doesn't break */
    {"'Ada' (Bee) Brandt", "ABB"},
    {"A B C D E F", "ABCD"},
    {"Ж. Петрова", "ЖП"},
    {"Ελένη Παππά", "ΕΠ"},
    {"E\xcc\x81va Brandt", "E\xcc\x81"
                           "B"}, /* the mark stays on its letter */
    /* One sign of these would be a name, or half of one. */
    {"王小明", ""},
    {"김민지", ""},
    {"Ada 王", ""},
    {"さくら", ""},
    {"", ""},
    {"– – –", ""},
    {"🤼", ""},
};

Test(initials, of_names)
{
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char initials[INITIALS_SIZE] = "before";
        bool has = initials_of(names[i].name, initials);
        cr_expect(eq(str, initials, (char *)names[i].initials), "%s", names[i].name);
        cr_expect(eq(int, has, names[i].initials[0] != '\0'), "%s", names[i].name);
    }
}

Test(initials, marks_without_end_make_none)
{
    char name[4 + 2 * 100] = "A", initials[INITIALS_SIZE];
    for (size_t i = 0; i < 100; i++)
        memcpy(name + 1 + 2 * i, "\xcc\x81", 3);
    cr_expect(not(initials_of(name, initials)));
    cr_expect(eq(str, initials, ""));
}

static const struct secret_name secrets[] = {
    {{"Paloma Iriarteche", "Iriarteche", "Paloma"}, "PI"},
    {{"Ștefăniță Răchițelean", NULL, NULL}, "ȘR"},
    {{"Odhrán MacQuillory-Veitch", NULL, NULL}, "OM"},
    {{"An Li", "An", "Li"}, "AL"},
    {{"Œngus Straße", NULL, NULL}, "ŒS"},
    {{"Юлия Ёлкина", NULL, NULL}, "ЮЁ"},
};

static const struct {
    char text[120], concealed[120];
} texts[] = {
    {"A false start: nothing counts", "A false start: nothing counts"},
    {"Iriarteche leads", "PI leads"},
    {"Paloma Iriarteche leads", "PI leads"},
    {"PALOMA IRIARTECHE LEADS", "PI LEADS"},
    {"Lead by paloma-iriarteche!", "Lead by PI!"},
    {"Iriarteche's coach; Iriartechen", "PI's coach; PI"},
    {"Paloma. Iriarteche", "PI. PI"},
    {"Iriarteche against Rachitelean", "PI against ȘR"},
    {"Iriarteche Răchițelean", "PI ȘR"},
    {"S\xcc\xa6"
     "tefa\xcc\x86nit\xcc\xa6"
     "a\xcc\x86",
     "ȘR"}, /* the same, marks apart */
    {"Veitch, MacQuillory and Odhran", "OM, OM and OM"},
    /* Short names are words: only as they are written. */
    {"An Li scores with an ankle pick", "AL scores with an ankle pick"},
    {"an illegal hold, Lift", "an illegal hold, Lift"},
    {"ОЧКО: ЁЛКИНОЙ и Елкина", "ОЧКО: ЁЛКИНОЙ и ЮЁ"},
    {"", ""},
};

Test(initials, names_in_a_text)
{
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        char concealed[200];
        bool some = conceal(concealed, sizeof concealed, texts[i].text, secrets,
                            sizeof secrets / sizeof *secrets);
        cr_expect(eq(str, concealed, (char *)texts[i].concealed), "%s", texts[i].text);
        cr_expect(eq(int, some, strcmp(texts[i].text, texts[i].concealed) != 0), "%s",
                  texts[i].text);
    }
}

Test(initials, what_does_not_fit_is_cut_between_characters)
{
    static const char text[] = "Iriarteche führt über Răchițelean";
    char whole[100];
    conceal(whole, sizeof whole, text, secrets, 2);
    for (size_t size = 1; size < strlen(whole) + 2; size++) {
        char cut[100];
        memset(cut, 'x', sizeof cut);
        conceal(cut, size, text, secrets, 2);
        size_t length = strlen(cut), more;
        cr_assert(length < size);
        for (size_t at = 0; at < length; at += more)
            cr_expect(lt(u32, letter_at(cut + at, &more), 0x2000), "%zu: %s", size, cut);
        cr_expect(not(strstr(cut, "Iri") != NULL || strstr(cut, "chi") != NULL));
    }
}

Test(initials, broken_bytes_are_no_trouble)
{
    static const char *const broken[] = {"\xc3", "\xe1\xba", "\xf0\x9f", "A\x80\x80 B", "\xff\xfe"};
    for (size_t i = 0; i < sizeof broken / sizeof *broken; i++) {
        char initials[INITIALS_SIZE], concealed[20];
        initials_of(broken[i], initials);
        conceal(concealed, sizeof concealed, broken[i], secrets, 6);
        cr_expect(eq(str, concealed, (char *)(uintptr_t)broken[i]));
    }
}
