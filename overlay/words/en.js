/* The pages' words in English. The format stands in lib/words.js. Shared words first, then a part
 * for each page. */

export default {
    language: "English",

    side: { red: "red", blue: "blue" },
    Side: { red: "Red", blue: "Blue" },

    style: { freestyle: "Freestyle", women: "Women", greco_roman: "Greco-Roman" },

    bout: {
        kilograms: "{weight} kg",
        mat: "Mat {mat}",
        number: "bout {number}",
        versus: "{red} and {blue}",
    },

    period: {
        place: "Period {period}",
        break: "Break",
        left: "left in period {period}",
        left_break: "left in the break",
        gone: "{time} gone",
        over: "Time is up",
    },

    time: { seconds: { by: "count", one: "{count} second", other: "{count} seconds" } },

    /* Why somebody leads at a level score; short, because it stands on air. */
    criterion: {
        holds: "higher holds",
        cautions: "fewer cautions",
        last_point: "last point",
        first_point: "first point",
        technique: "technique",
    },

    leader: { by_points: "leads {reason}", by_criterion: "leads on {reason}", leads: "leads" },

    needs: {
        to_lead: "needs {points} to lead",
        to_superiority: "{points} for superiority",
    },

    activity: {
        label: "activity",
        to_score: "has {seconds} to score",
        leads_and_to_score: "leads, and has {seconds} to score",
    },

    ending: {
        points: "on points",
        superiority: "by superiority",
        fall: "by fall",
        injury: "by injury",
        cautions: "by three cautions",
        forfeit: "by forfeit",
        disqualification: "by disqualification",
        both_disqualified: "both disqualified",
        both_injured: "both injured",
        both_forfeit: "both forfeit",
    },

    action: {
        step_out: "step-out",
        reversal: "reversal",
        injury_stop: "stop for an injury",
        takedown: "takedown",
        exposure: "exposure",
        counter_exposure: "counter, exposure",
        throw: "throw",
        lift: "lift",
        feet_to_danger: "from the feet into danger",
    },

    outcome: {
        open: "open",
        scored: "scored",
        stopped: "stopped",
        countered: "countered",
        out: "out of bounds",
        stalemate: "stalemate",
        slipped: "slipped",
    },

    line: {
        name: "Bout line",
        empty: "Bout line: no points yet.",
        begins: "Bout line.",
        points: {
            by: "points",
            one: "{name}, 1 point with {time} left in period {period}.",
            other: "{name}, {points} points with {time} left in period {period}.",
        },
        points_open: {
            by: "points",
            one: "{name}, 1 point with {time} left in period {period}, not confirmed.",
            other: "{name}, {points} points with {time} left in period {period}, not confirmed.",
        },
        given: "given by the officials",
        open: "not confirmed",
        corrected: "corrected: {was} is now {points}",
    },

    state: {
        connected: "connected",
        connecting: "connecting",
        not_connected: "not connected",
        key_needed: "a key is needed: open the address that you were given",
        key_unknown: "no such key: open the address that you were given",
        key_ended: "this key has ended: ask for a new one",
        forbidden: "this key is for another page or mat",
    },

    screen: {
        title: "On air",
        not_confirmed: "not confirmed",
        corrected: "corrected: {was} is now {points}",
        taken_out: "corrected: {was} taken out",
        /* Under the clock, once the bout should end: 12 letters at most. */
        due: { time: "Time is up", superiority: "Superiority", cautions: "3 cautions" },
        under_review: "Review",
        beats: "beats",
        no_winner: "No winner: {how}",
        score_and_how: "{how}, {score}",
        score_how_and_time: "{how} at {time}, {score}",
        code: "{code}, {one}:{other}",
        mat: "mat {mat}",
    },

    follow: {
        title: "{red} and {blue}, mat {mat}",
        title_empty: "Mat {mat}",
        heading: "Mat {mat}. {title}",
        versus: "{red} against {blue}",
        waiting: "Waiting for the first word from the hall.",
        no_mat: "No bout has been called yet. The first one appears here.",
        no_bout: "No bout on mat {mat} yet. It appears here when it is called.",
        withheld: "Minors wrestle here today, and the feed is not public.",
        later_waiting: "Waiting {seconds}, so as not to be ahead of your picture.",
        log: "The bout, sentence by sentence",
        newer: {
            by: "count",
            one: "{count} new sentence below",
            other: "{count} new sentences below",
        },
        points_open: {
            by: "points",
            one: "1 more point, not confirmed",
            other: "{points} more points, not confirmed",
        },
        won: "wins {how}",
        leads_and: "{leads}, and {activity}",
        under_review: "The officials are looking at it again.",
        closed: "Result {code}",
        closed_open: "The result is not confirmed yet.",
        not_begun: "not begun",
        table: "The bout line as a table",
        column: { time: "left", period: "period", side: "side", what: "what", points: "points" },
        catch_up: "Catch me up",
        pause: "Pause",
        resume: "Go on",
        paused: "paused",
        paused_new: {
            by: "count",
            0: "paused",
            one: "paused, 1 new",
            other: "paused, {count} new",
        },
        decides: "The officials\u2019 sheet decides, not this page. Not for settling wagers.",
        more: "More",
        links: "The same elsewhere",
        as_text: "as plain text",
        as_stream: "as an event stream",
        aloud: "Read aloud by a screen reader",
        aloud_all: "all sentences",
        aloud_scores: "scores only",
        aloud_nothing: "nothing",
        later: "Seconds to wait, if your picture comes late",
        others: "The other mats",
        results: "Results today",
        status: "{red} {red_points}, {blue} {blue_points}, {when}",
        status_open: {
            by: "points",
            one: "{name}: 1 more point, not confirmed",
            other: "{name}: {points} more points, not confirmed",
        },
        when: {
            period: "period {period}",
            break: "break",
            over: "time is up",
            called: "not begun",
        },
        other: "Mat {mat}: {red} {red_points}, {blue} {blue_points}. {time} left in period {period}.",
        other_break: "Mat {mat}: {red} {red_points}, {blue} {blue_points}, in the break.",
        other_called: "Mat {mat}: {red} and {blue} are called.",
        other_result: "Mat {mat}: {sentence}",
        beats: "{winner} beats {loser} {how}, {score}.",
        no_winner: "{red} and {blue}: {how}.",
        result: "Bout {number}, mat {mat}: {sentence}",
    },

    /* Two sentences for those who come late: the story so far, and what matters now. */
    catch_up: {
        called: "{red} and {blue} are called and have not begun.",
        level_none: "No points yet after {gone}.",
        stands: "{red} {red_points}, {blue} {blue_points} after {gone}.",
        level: "It stands level at {score} after {gone}.",
        leads: "{name} leads {score} after {gone}.",
        leads_level: "{name} leads at {score} after {gone}, on {reason}.",
        attacks:
            "{red} has scored with {red_scored} of {red_tried} attacks, {blue} with {blue_scored} of {blue_tried}.",
        open: {
            by: "points",
            one: "1 point for {name} is not confirmed yet.",
            other: "{points} points for {name} are not confirmed yet.",
        },
        review: "The officials are looking at it again.",
        activity: "{name} has {seconds} to score, or a point goes to {other}.",
        needs: "With {left} left in period {period}, {name} needs {points} to lead.",
        left: "There are {left} left in period {period}.",
        break: "It is the break; {left} are left of it.",
        over: "Time is up; the result has not been given yet.",
    },

    index: {
        title: "Boutwire",
        heading: "Pages",
        lead: "Each page is named after the place where it stands. All show the same state; none computes a score.",
        mats: "Mats",
        no_mats: "No mat has had a bout yet. The lists fill themselves when one is called.",
        follow: "Follow",
        follow_for: "the bout in sentences, for anyone without pictures",
        screen: "Screen",
        screen_for: "the graphic on air, a browser source of 1920 \u00d7 1080 for the compositor",
        booth: "Booth",
        booth_for: "prompt cards for the commentator",
        table: "Table",
        table_for: "keying events, for the scorer or spotter",
        needs_key: "{purpose}; needs a key",
        on_mat: "mat {mat}",
        as_text: "plain text, mat {mat}",
        decides: "The officials\u2019 sheet decides, not these pages. Not for settling wagers.",
    },
};
