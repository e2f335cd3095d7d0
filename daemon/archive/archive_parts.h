/* What the archive's parts share, and nobody else: the open file and its prepared statements. */
#pragma once
#include <sqlite3.h>
#include "archive/archive.h"

#define STATEMENTS(X)                                                                              \
    X(BEGIN, "BEGIN IMMEDIATE")                                                                    \
    X(COMMIT, "COMMIT")                                                                            \
    X(ROLLBACK, "ROLLBACK")                                                                        \
    X(COUNT, "SELECT count(*) FROM bouts")                                                         \
    /* filling */                                                                                  \
    X(FIND_BOUT, "SELECT id, events FROM bouts WHERE bout = ?1 AND called_at_ms = ?2 AND event = " \
                 "?3")                                                                             \
    X(REMOVE_BOUT, "DELETE FROM bouts WHERE id = ?1")                                              \
    X(ADD_ATHLETE, "INSERT INTO athletes (athlete) VALUES (?1) ON CONFLICT DO NOTHING")            \
    X(ADD_BOUT, "INSERT INTO bouts VALUES (NULL, ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, "   \
                "?12, ?13, ?14, ?15, ?16)")                                                        \
    X(ADD_SIDE, "INSERT INTO sides VALUES (?1, (SELECT id FROM athletes WHERE athlete = ?2), ?3, " \
                "?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)")                                     \
    X(ADD_ATTEMPTS, "INSERT INTO attempts VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)")                \
    X(ADD_NOTE, "INSERT INTO notes VALUES (?1, ?2, ?3)")                                           \
    X(ADD_MINUTE, "INSERT INTO minutes VALUES (?1, ?2, ?3, ?4, ?5)")                               \
    X(ADD_COURSE, "INSERT INTO course VALUES (?1, ?2, ?3, ?4, ?5, ?6)")                            \
    /* asking */                                                                                   \
    X(TOTALS, "SELECT count(*), sum(begun), count(won), sum(won), sum(points), sum(against),"      \
              " sum(scored_first = 1 AND won IS NOT NULL), sum(scored_first = 1 AND won = 1),"     \
              " sum(scored_first = 0 AND won IS NOT NULL), sum(scored_first = 0 AND won = 1),"     \
              " count(first_score_ms), sum(first_score_ms), sum(late_scores),"                     \
              " sum(late_scores > 0) FROM sides" OF_SPAN)                                          \
    X(ATTEMPTS, "SELECT technique, leg, sum(tried), sum(scored), sum(stopped), sum(countered),"    \
                " sum(a.points) FROM sides JOIN attempts a ON side_id = sides.id" OF_SPAN          \
                " GROUP BY technique, leg ORDER BY sum(tried) DESC, technique, leg")               \
    X(PERIODS, "SELECT period, " OWN_AND_OTHER " FROM sides JOIN minutes ON bout_id = "            \
               "sides.id / 2" OF_SPAN " GROUP BY period ORDER BY period")                          \
    X(MINUTES, "SELECT minute, " OWN_AND_OTHER " FROM sides JOIN minutes ON bout_id = "            \
               "sides.id / 2" OF_SPAN " GROUP BY minute ORDER BY minute")                          \
    X(COMEBACKS, "SELECT behind_most, count(won), sum(won) FROM sides" OF_SPAN                     \
                 " AND behind_most > 0 AND won IS NOT NULL GROUP BY behind_most"                   \
                 " ORDER BY behind_most")                                                          \
    X(ENDINGS, "SELECT how, sum(won IS 1), sum(won IS 0), sum(won IS NULL)"                        \
               " FROM sides JOIN bouts b ON b.id = sides.id / 2" OF_SPAN                           \
               " AND how IS NOT NULL GROUP BY how ORDER BY count(*) DESC, how")                    \
    X(BOUTS, BOUT_OF_SIDES OF_SPAN " ORDER BY sides.called_at_ms, sides.id")                       \
    X(MEETINGS, BOUT_OF_SIDES OF_SPAN " AND other.athlete_id ="                                    \
                                      " (SELECT id FROM athletes WHERE athlete = ?4)"              \
                                      " ORDER BY sides.called_at_ms DESC, sides.id DESC LIMIT ?5") \
    X(NOTES, "SELECT n.text, b.bout, other.name, b.called_at_ms FROM sides"                        \
             " JOIN notes n ON n.side_id = sides.id JOIN bouts b ON b.id = sides.id / 2"           \
             " JOIN sides other ON other.id = sides.id + 1 - 2 * (sides.id & 1)" OF_SPAN           \
             " ORDER BY sides.called_at_ms DESC, sides.id DESC, n.place DESC LIMIT ?4")            \
    X(POSITION, "SELECT minutes, behind, bouts, came_back FROM positions"                          \
                " WHERE style = ?1 AND length_ms = ?2 AND minutes = ?3 AND behind = ?4")           \
    X(POSITIONS, "SELECT minutes, behind, bouts, came_back FROM positions"                         \
                 " WHERE style = ?1 AND length_ms = ?2 AND bouts > 0 ORDER BY minutes, behind")

/* A side's number is twice its bout's, and one more for blue. */
#define OF_SPAN                                                                                    \
    " WHERE sides.athlete_id = (SELECT id FROM athletes WHERE athlete = ?1)"                       \
    " AND sides.called_at_ms >= ?2 AND sides.called_at_ms < ?3"
#define OWN_AND_OTHER "sum(iif(sides.id & 1, blue, red)), sum(iif(sides.id & 1, red, blue))"
#define BOUT_OF_SIDES                                                                              \
    "SELECT b.bout, b.called_at_ms, time_ms, rules, style, age_group, weight, stage, number, mat," \
    " how, code, winner, sides.id & 1, own.athlete, sides.name, sides.team, sides.points,"         \
    " their.athlete, other.name, other.team, other.points"                                         \
    " FROM sides JOIN bouts b ON b.id = sides.id / 2"                                              \
    " JOIN sides other ON other.id = sides.id + 1 - 2 * (sides.id & 1)"                            \
    " LEFT JOIN athletes own ON own.id = sides.athlete_id"                                         \
    " LEFT JOIN athletes their ON their.id = other.athlete_id"

enum statement {
#define X(name, sql) STATEMENT_##name,
    STATEMENTS(X)
#undef X
        STATEMENT_COUNT_OF_ALL
};

struct archive {
    sqlite3 *database;
    sqlite3_stmt *statements[STATEMENT_COUNT_OF_ALL];
    char reason[ARCHIVE_REASON_SIZE];
    char path[];
};

/* Notes in `reason` why SQLite couldn't do it, "written" or "read"; answers the code. */
int archive_fail(struct archive *archive, int result, const char *doing);
/* Runs a statement that answers no rows, and makes it ready for the next time. */
int archive_run(struct archive *archive, enum statement statement);

/* Binding: parameters are counted from 1; NULL text is SQL's NULL. It fails for want of memory
 * alone, which the next step then tells. */
void archive_bind_text(struct archive *archive, enum statement statement, int place,
                       const char *text);
void archive_bind_integer(struct archive *archive, enum statement statement, int place,
                          int64_t value);
void archive_bind_nothing(struct archive *archive, enum statement statement, int place);
