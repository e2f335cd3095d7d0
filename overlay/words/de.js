/* Die Worte der Seiten auf Deutsch: das Bild und der Textticker. Was hier fehlt, steht auf Englisch. */

export default {
    language: "Deutsch",

    side: { red: "Rot", blue: "Blau" },
    Side: { red: "Rot", blue: "Blau" },

    style: { freestyle: "Freistil", women: "Frauen", greco_roman: "Griechisch-römisch" },

    bout: {
        kilograms: "{weight} kg",
        mat: "Matte {mat}",
        number: "Kampf {number}",
        versus: "{red} und {blue}",
        none: "Auf dieser Matte noch kein Kampf.",
    },

    period: {
        place: "Runde {period}",
        break: "Pause",
        left: "übrig in Runde {period}",
        left_break: "übrig in der Pause",
        gone: "{time} gerungen",
        over: "Zeit um",
    },

    time: { seconds: { by: "count", one: "{count} Sekunde", other: "{count} Sekunden" } },

    criterion: {
        holds: "höchste Wertung",
        cautions: "weniger Verwarnungen",
        last_point: "letzter Punkt",
        first_point: "erster Punkt",
        technique: "Technikpunkt",
    },

    leader: { by_points: "führt {reason}", by_criterion: "führt: {reason}", leads: "führt" },

    needs: {
        to_lead: "{points} zur Führung",
        to_superiority: "{points} zur technischen Überlegenheit",
    },

    activity: {
        label: "Aktivzeit",
        to_score: "hat {seconds} zum Punkten",
        leads_and_to_score: "führt und hat {seconds} zum Punkten",
    },

    ending: {
        points: "nach Punkten",
        superiority: "durch technische Überlegenheit",
        fall: "durch Schultersieg",
        injury: "durch Verletzung",
        cautions: "durch drei Verwarnungen",
        forfeit: "kampflos",
        disqualification: "durch Disqualifikation",
        both_disqualified: "beide disqualifiziert",
        both_injured: "beide verletzt",
        both_forfeit: "beide nicht angetreten",
    },

    action: {
        step_out: "aus der Matte",
        reversal: "von unten nach oben",
        injury_stop: "Unterbrechung wegen Verletzung",
        takedown: "zu Boden gebracht",
        exposure: "in die gefährliche Lage",
        counter_exposure: "Konter, gefährliche Lage",
        throw: "Wurf",
        lift: "Ausheber",
        feet_to_danger: "vom Stand in die gefährliche Lage",
    },

    outcome: {
        open: "offen",
        scored: "gewertet",
        stopped: "abgewehrt",
        countered: "gekontert",
        out: "aus der Matte",
        stalemate: "ohne Ergebnis",
        slipped: "abgerutscht",
    },

    line: {
        name: "Kampflinie",
        empty: "Kampflinie: noch keine Punkte.",
        begins: "Kampflinie.",
        points: {
            by: "points",
            one: "{name}, 1 Punkt bei {time} vor Ende von Runde {period}.",
            other: "{name}, {points} Punkte bei {time} vor Ende von Runde {period}.",
        },
        points_open: {
            by: "points",
            one: "{name}, 1 Punkt bei {time} vor Ende von Runde {period}, nicht bestätigt.",
            other: "{name}, {points} Punkte bei {time} vor Ende von Runde {period}, nicht bestätigt.",
        },
        given: "vom Kampfgericht gegeben",
        open: "nicht bestätigt",
        corrected: "berichtigt: {was} ist jetzt {points}",
    },

    state: { connected: "verbunden", connecting: "verbindet", not_connected: "nicht verbunden" },

    screen: {
        title: "Im Bild",
        not_confirmed: "nicht bestätigt",
        corrected: "berichtigt: {was} ist jetzt {points}",
        taken_out: "berichtigt: {was} gestrichen",
        due: { time: "Zeit um", superiority: "Überlegenheit", cautions: "Kampfende" },
        under_review: "Prüfung",
        beats: "besiegt",
        no_winner: "Kein Sieger: {how}",
        score_and_how: "{how}, {score}",
        score_how_and_time: "{how} nach {time}, {score}",
        code: "{code}, {one}:{other}",
        mat: "Matte {mat}",
    },
};
