/* The words of the head that stands on top of the booth and the table, in English. The format
 * stands in lib/words.js. */

export default {
    working: {
        clock: {
            runs: "runs", stopped: "stopped", break: "break", called: "called", over: "time is up",
            closed: "result is out", off: "off the mat",
            period: "period {period} of {periods}",
            left: "left, period {period} of {periods}",
            left_break: "left of the break",
            elapsed: "{time} elapsed",
            unsure: "clock unsure",
            stoppage: { by: "kind", injury: "injury", blood: "blood", review: "review",
                conference: "conference", other: "stoppage" },
            stoppage_for: "{kind} {time}",
            forced_call: "0–0: a side is named in {time}",
        },
        letter: { red: "R", blue: "B" },
        open: { by: "points", other: "+{points} not confirmed" },
        review: "challenge asked",
        leads: "leads, {reason}",
        leads_score: "leads by {margin}",
        needs: "needs {points} to lead",
        needs_more: "more than one action",
        ends: { by: "points", other: "{points} more ends it" },
        superiority: "superiority reached",
        due_cautions: "all cautions given",
        wins: "wins {how}",
        class_points: "{code}, {points}",
        activity: "activity {time}",
        cautions: { by: "count", "0": "no caution", one: "1 caution", other: "{count} cautions" },
        challenge_left: "challenge left",
        challenge_used: "challenge used",
        say_missing: "Nobody has said yet how this name is spoken",
        score_of: "{name}: {score}",
    },
};
