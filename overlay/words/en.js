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
        none: "No bout on this mat yet.",
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
        holds: "highest hold",
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

    state: { connected: "connected", connecting: "connecting", not_connected: "not connected" },

    screen: {
        title: "On air",
        not_confirmed: "not confirmed",
        corrected: "corrected: {was} is now {points}",
        taken_out: "corrected: {was} taken out",
        /* Under the clock, once the bout should end: 12 letters at most. */
        due: { time: "Time is up", superiority: "Superiority", cautions: "3 cautions" },
        under_review: "Under review",
        beats: "beats",
        no_winner: "No winner: {how}",
        score_and_how: "{how}, {score}",
        score_how_and_time: "{how} at {time}, {score}",
        code: "{code}, {one}:{other}",
        mat: "mat {mat}",
    },
};
