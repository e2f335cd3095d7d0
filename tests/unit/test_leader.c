#include "stats/leader.h"
#include <criterion/criterion.h>
#include <criterion/new/assert.h>
#include <criterion/parameterized.h>
#include <stdio.h>
#include <string.h>
#include "support.h"

/* What two sides have, A red and B blue, from a list in the order of points: "A2" is a point by
 * technique worth 2 for A, "B1p" one that came with a passivity, caution or challenge, "cA" a
 * caution against A. */
static struct tallies tallies_of(const char *list)
{
    struct tallies tallies = {.first_point = SIDE_NONE, .last_point = SIDE_NONE};
    for (const char *at = list; *at != '\0'; at += strcspn(at, " "), at += strspn(at, " ")) {
        bool caution = *at == 'c';
        enum side side = at[caution ? 1 : 0] == 'A' ? SIDE_RED : SIDE_BLUE;
        struct tally *tally = &tallies.sides[side_index(side)];
        int value = at[1] - '0';
        if (caution) {
            tally->cautions++;
            continue;
        }
        tally->points += value;
        tally->holds[value]++;
        tally->by_technique += at[2] == 'p' ? 0 : 1;
        tallies.last_point = side;
        if (tallies.first_point == SIDE_NONE)
            tallies.first_point = side;
    }
    return tallies;
}

static enum side swapped(enum side side)
{
    return side == SIDE_NONE ? SIDE_NONE : side_other(side);
}

static struct tallies tallies_swapped(const struct tallies *tallies)
{
    return (struct tallies){
        .sides = {tallies->sides[1], tallies->sides[0]},
        .first_point = swapped(tallies->first_point),
        .last_point = swapped(tallies->last_point),
    };
}

struct row {
    char edition[20], points[40];
    enum side side; /* SIDE_RED: A */
    enum criterion by;
};

static void expect_leader(const struct row *row)
{
    const struct edition *edition = test_edition(row->edition);
    struct tallies tallies = tallies_of(row->points), other = tallies_swapped(&tallies);
    struct leader got = leader_of(edition, &tallies), turned = leader_of(edition, &other);
    cr_expect(eq(int, got.side, row->side), "%s, %s: side", row->edition, row->points);
    cr_expect(eq(int, got.by, row->by), "%s, %s: criterion", row->edition, row->points);
    cr_expect(eq(int, turned.side, swapped(row->side)), "%s, %s: corners swapped", row->edition,
              row->points);
    cr_expect(eq(int, turned.by, row->by), "%s, %s: corners swapped", row->edition, row->points);
}

#define A SIDE_RED
#define B SIDE_BLUE
#define NOBODY SIDE_NONE, BY_NOTHING

/* More points lead, whatever else there is. */
ParameterizedTestParameters(leader, points)
{
    static struct row rows[] = {
        {"freestyle-2022", "A1", A, BY_POINTS},
        {"freestyle-2022", "A5 B4 B2", B, BY_POINTS},
        {"freestyle-2022", "A2 B1 cA cA", A, BY_POINTS},
        {"freestyle-2022", "A1 B2 A2", A, BY_POINTS},
        {"greco-2026", "A1p", A, BY_POINTS},
        {"greco-2026", "A1 B2 cB", B, BY_POINTS},
        {"greco-2025-trial", "B1 A2", A, BY_POINTS},
        {"june-2013", "A2 B1 cA cA", A, BY_POINTS},
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct row *row, leader, points)
{
    expect_leader(row);
}

/* Criteria at equal points: holds, cautions, last point. USA Wrestling rule book 2021, as quoted in
 * public discussion; Sportstar, 2019. */
ParameterizedTestParameters(leader, criteria)
{
    static struct row rows[] = {
        {"freestyle-2022", "A2 B1 B1", A, BY_HOLDS},
        {"freestyle-2022", "B1 B1 A2", A, BY_HOLDS},
        {"freestyle-2022", "B2 A2", A, BY_LAST_POINT}, /* common practice, no source */
        {"freestyle-2022", "A2 B2 B1 A1", A, BY_LAST_POINT},
        {"freestyle-2022", "A2 A1 B1 B1 B1", A, BY_HOLDS},
        {"freestyle-2022", "A4 B2 B2", A, BY_HOLDS},
        {"freestyle-2022", "A2 A2 B2 B1 B1", A, BY_HOLDS},
        {"freestyle-2022", "A5 B4 B1", A, BY_HOLDS},
        {"freestyle-2022", "A4 A2 B2 B2 B1 B1", A, BY_HOLDS},
        {"freestyle-2022", "B1 A1 cA", B, BY_CAUTIONS},
        {"freestyle-2022", "", NOBODY},
        /* at 0-0 there is no point: cautions alone can separate */
        {"freestyle-2022", "cA", B, BY_CAUTIONS},
        {"freestyle-2022", "cA cB", NOBODY},
        {"freestyle-2022", "cA cB cA", B, BY_CAUTIONS},
        /* holds come before cautions, cautions before the last point */
        {"freestyle-2022", "A2 cA B1 B1", A, BY_HOLDS},
        {"freestyle-2022", "A2 B2 cA cB cB", A, BY_CAUTIONS},
        {"freestyle-2022", "A2 B2 cA cB", B, BY_LAST_POINT},
        /* more 4s at as many 5s; more 2s at as many 5s and 4s */
        {"freestyle-2022", "A5 B5 A4 B2 B2", A, BY_HOLDS},
        {"freestyle-2022", "A5 A4 A2 B5 B4 B1 B1", A, BY_HOLDS},
        /* with the 5s, 4s and 2s equal at a level score, the 1s are too */
        {"freestyle-2022", "A5 A4 A2 A1 B5 B4 B2 B1", B, BY_LAST_POINT},
        /* points of passivity, caution and challenge count as any others: UWW, 19 June 2025 (of a
         * passivity's) */
        {"freestyle-2022", "A1p B1", B, BY_LAST_POINT},
        {"freestyle-2022", "B1 A1p", A, BY_LAST_POINT},
        /* the same criteria in the other editions of those years (the same sources) */
        {"freestyle-2015", "B2 A2", A, BY_LAST_POINT},
        {"freestyle-2015", "B1 B1 A2", A, BY_HOLDS},
        {"freestyle-2015", "B1 A1 cA", B, BY_CAUTIONS},
        {"greco-2021", "B1 A1", A, BY_LAST_POINT},
        {"greco-2021", "B1 B1 A2", A, BY_HOLDS},
        {"greco-2021", "B1 A1 cA", B, BY_CAUTIONS},
        {"greco-2022", "B1p A1p", A, BY_LAST_POINT},
        {"greco-2022", "A2 B1 B1", A, BY_HOLDS},
        {"greco-2022", "B1 A1 cA", B, BY_CAUTIONS},
        {"greco-2022", "", NOBODY},
        /* the 2 of a caution as a hold (penalty_points_are_holds): unsettled in print */
        {"greco-2022", "A2p cB B1 B1", A, BY_HOLDS},
        /* cautions first: FILA, notice of June 2013 (src-viernheim.de) */
        {"june-2013", "A3 cA B2 B1", B, BY_CAUTIONS},
        {"june-2013", "A3 B2 B1", A, BY_HOLDS},   /* from memory */
        {"june-2013", "A2 B2", B, BY_LAST_POINT}, /* from memory */
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct row *row, leader, criteria)
{
    expect_leader(row);
}

/* Greco-Roman at exactly 1-1, trial of 2025: the first point wins. UWW, 28 Mar 2025. */
ParameterizedTestParameters(leader, greco_2025_trial)
{
    static struct row rows[] = {
        {"greco-2025-trial", "A1 B1", A, BY_FIRST_POINT},
        {"greco-2025-trial", "A1p B1", A, BY_FIRST_POINT},
        {"greco-2025-trial", "A1p B1p", A, BY_FIRST_POINT},
        {"greco-2025-trial", "A1 B1p cA", A, BY_FIRST_POINT},
        {"greco-2025-trial", "A1p B1p cA cB", A, BY_FIRST_POINT},
        /* any other level score: as before */
        {"greco-2025-trial", "", NOBODY},
        {"greco-2025-trial", "cA", B, BY_CAUTIONS},
        {"greco-2025-trial", "A1 A1 B1 B1", B, BY_LAST_POINT},
        {"greco-2025-trial", "A1 A1 B2", B, BY_HOLDS},
        {"greco-2025-trial", "A2 B2 cB", A, BY_CAUTIONS},
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct row *row, leader, greco_2025_trial)
{
    expect_leader(row);
}

/* Greco-Roman at exactly 1-1 since winter 2025/26. Deutscher Ringer-Bund, "Anpassung der
 * Ringkampfregeln", winter 2025/26, in the notice's order. */
ParameterizedTestParameters(leader, greco_2026)
{
    static struct row rows[] = {
        /* both points without technique: first point */
        {"greco-2026", "A1p B1p", A, BY_FIRST_POINT},
        /* … and two or more cautions: first point */
        {"greco-2026", "A1p cB B1p cA", A, BY_FIRST_POINT},
        {"greco-2026", "A1p B1p cA cA", A, BY_FIRST_POINT},
        /* … and one caution: the notice's order gives the first point; which is meant is unsettled
         */
        {"greco-2026", "A1p B1p cA", A, BY_FIRST_POINT},
        {"greco-2026", "A1p cB B1p", A, BY_FIRST_POINT},
        /* two or more cautions, points by technique or not: first point */
        {"greco-2026", "A1 B1 cA cB", A, BY_FIRST_POINT},
        {"greco-2026", "A1 B1 cA cA", A, BY_FIRST_POINT},
        {"greco-2026", "A1p B1 cB cB", A, BY_FIRST_POINT},
        {"greco-2026", "A1 B1p cA cB", A, BY_FIRST_POINT},
        {"greco-2026", "A1 B1 cA cA cB cB", A, BY_FIRST_POINT},
        /* exactly one caution: the side without it */
        {"greco-2026", "A1 B1p cA", B, BY_CAUTIONS},
        {"greco-2026", "B1p cA A1", B, BY_CAUTIONS},
        {"greco-2026", "A1 B1p cB", A, BY_CAUTIONS},
        {"greco-2026", "A1 B1 cA", B, BY_CAUTIONS},
        {"greco-2026", "A1 B1 cB", A, BY_CAUTIONS},
        /* no caution, one point by technique (a step-out counts as technique): that side */
        {"greco-2026", "A1 B1p", A, BY_TECHNIQUE},
        {"greco-2026", "B1p A1", A, BY_TECHNIQUE},
        /* no caution, both by technique: last point */
        {"greco-2026", "B1 A1", A, BY_LAST_POINT},
        {"greco-2026", "A1 B1", B, BY_LAST_POINT},
        /* any other level score: as before */
        {"greco-2026", "", NOBODY},
        {"greco-2026", "cA", B, BY_CAUTIONS},
        {"greco-2026", "B2 A1 A1", B, BY_HOLDS},
        {"greco-2026", "A1p A1p B1 B1", B, BY_LAST_POINT},
        {"greco-2026", "A2p cB B2p cA cA", B, BY_CAUTIONS},
    };
    return cr_make_param_array(struct row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct row *row, leader, greco_2026)
{
    expect_leader(row);
}

/* Every way to come to 1-1 with up to three cautions a side has a leader in greco-2026: "these
 * leave no 1-1 open" (docs/rules.md), and who leads doesn't hang on the corner. */
Test(leader, greco_2026_leaves_no_level_one_open)
{
    const struct edition *edition = test_edition("greco-2026");
    static const char *const orders[] = {"A1 B1", "A1p B1", "A1 B1p", "A1p B1p"};
    for (unsigned order = 0; order < 4; order++)
        for (int red = 0; red <= 3; red++)
            for (int blue = 0; blue <= 3; blue++) {
                struct tallies tallies = tallies_of(orders[order]);
                tallies.sides[0].cautions = red;
                tallies.sides[1].cautions = blue;
                struct tallies other = tallies_swapped(&tallies);
                struct leader leader = leader_of(edition, &tallies);
                cr_expect(ne(int, leader.side, SIDE_NONE), "%s, cautions %d and %d", orders[order],
                          red, blue);
                cr_expect(eq(int, leader_of(edition, &other).side, swapped(leader.side)),
                          "%s, cautions %d and %d: corners swapped", orders[order], red, blue);
            }
}

struct margin_row {
    char edition[20], points[40];
    bool superior;
};

/* Superiority: 10 in freestyle and women's wrestling, 8 in Greco-Roman: avjc.de, "Regelwerk", 2018.
 * The last action can pass it (10 to 13 are seen in practice: common practice, no source). */
ParameterizedTestParameters(leader, superiority)
{
    static struct margin_row rows[] = {
        {"freestyle-2015", "A5 A4", false},
        {"freestyle-2015", "A5 A5", true},
        {"freestyle-2022", "", false},
        {"freestyle-2022", "A5 A4", false},
        {"freestyle-2022", "A5 A5", true},
        {"freestyle-2022", "A4 A4 A5", true},
        {"freestyle-2022", "A5 A5 A1 B2", false},
        {"freestyle-2022", "A5 A5 A1 B1", true},
        {"greco-2021", "A5 A2", false},
        {"greco-2021", "A4 A4", true},
        {"greco-2022", "A5 A2", false},
        {"greco-2022", "A5 A2 A1p", true},
        {"greco-2025-trial", "A4 A4 B1", false},
        {"greco-2025-trial", "A4 A5 B1", true},
        {"greco-2026", "A5 A2", false},
        {"greco-2026", "A4 A4", true},
        {"june-2013", "A5 A1", false}, /* 7: from memory */
        {"june-2013", "A5 A2", true},
        {"league", "A5 A5 A4", false}, /* 15: an invented league's scale */
        {"league", "A5 A5 A5", true},
    };
    return cr_make_param_array(struct margin_row, rows, sizeof rows / sizeof *rows);
}
ParameterizedTest(struct margin_row *row, leader, superiority)
{
    const struct edition *edition = test_edition(row->edition);
    struct tallies tallies = tallies_of(row->points), other = tallies_swapped(&tallies);
    cr_expect(eq(int, tallies_superior(edition, &tallies), row->superior), "%s, %s", row->edition,
              row->points);
    cr_expect(eq(int, tallies_superior(edition, &other), row->superior), "%s, %s: corners swapped",
              row->edition, row->points);
}

/* The imagined point of the outlook: by technique, and the last. */
Test(leader, one_point_more)
{
    struct tallies before = tallies_of("A1p"), with = tallies_with(&before, SIDE_BLUE, 4);
    cr_expect(eq(int, with.sides[1].points, 4));
    cr_expect(eq(int, with.sides[1].holds[4], 1));
    cr_expect(eq(int, with.sides[1].by_technique, 1));
    cr_expect(eq(int, with.sides[0].points, 1), "the other side's stay");
    cr_expect(eq(int, with.first_point, SIDE_RED), "the first point stays");
    cr_expect(eq(int, with.last_point, SIDE_BLUE));
    cr_expect(eq(int, before.sides[1].points, 0), "what it was made of is left as it was");
    struct tallies none = tallies_of("cA"), first = tallies_with(&none, SIDE_BLUE, 1);
    cr_expect(eq(int, first.first_point, SIDE_BLUE), "it may be the first point, too");
    cr_expect(eq(int, first.sides[0].cautions, 1), "cautions stay");
}
