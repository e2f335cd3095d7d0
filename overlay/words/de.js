/* Die Worte der Seiten auf Deutsch: das Bild und der Textticker. Was hier fehlt, steht auf
 * Englisch. */

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
        holds: "höhere Wertungen",
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

    state: {
        connected: "verbunden",
        connecting: "verbindet",
        not_connected: "nicht verbunden",
        key_needed: "ein Schlüssel fehlt: die Adresse öffnen, die ausgegeben wurde",
        key_unknown: "kein solcher Schlüssel: die Adresse öffnen, die ausgegeben wurde",
        key_ended: "dieser Schlüssel ist abgelaufen: um einen neuen bitten",
        forbidden: "dieser Schlüssel gilt für eine andere Seite oder Matte",
    },

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

    follow: {
        title: "{red} und {blue}, Matte {mat}",
        title_empty: "Matte {mat}",
        heading: "Matte {mat}. {title}",
        versus: "{red} gegen {blue}",
        waiting: "Wartet auf das erste Wort aus der Halle.",
        no_mat: "Noch ist kein Kampf aufgerufen. Der erste erscheint hier.",
        no_bout: "Auf Matte {mat} noch kein Kampf. Er erscheint hier, sobald er aufgerufen ist.",
        withheld: "Heute ringen hier Minderjährige, und die Anzeige ist nicht öffentlich.",
        later_waiting: "Wartet {seconds}, um dem Bild nicht voraus zu sein.",
        log: "Der Kampf, Satz für Satz",
        newer: {
            by: "count",
            one: "{count} neuer Satz weiter unten",
            other: "{count} neue Sätze weiter unten",
        },
        points_open: {
            by: "points",
            one: "1 weiterer Punkt, nicht bestätigt",
            other: "{points} weitere Punkte, nicht bestätigt",
        },
        won: "siegt {how}",
        leads_and: "{leads} und {activity}",
        under_review: "Das Kampfgericht sieht es sich noch einmal an.",
        closed: "Ergebnis {code}",
        not_begun: "nicht begonnen",
        table: "Die Kampflinie als Tabelle",
        column: { time: "übrig", period: "Runde", side: "Seite", what: "was", points: "Punkte" },
        catch_up: "Was war bisher?",
        pause: "Anhalten",
        resume: "Weiter",
        paused: "angehalten",
        paused_new: {
            by: "count",
            0: "angehalten",
            one: "angehalten, 1 neu",
            other: "angehalten, {count} neu",
        },
        decides: "Es gilt das Blatt des Kampfgerichts, nicht diese Seite. Nicht für Wetten.",
        more: "Mehr",
        links: "Dasselbe anderswo",
        as_text: "als reiner Text",
        as_stream: "als Ereignisstrom",
        aloud: "Vom Vorleseprogramm vorgelesen",
        aloud_all: "alle Sätze",
        aloud_scores: "nur der Punktestand",
        aloud_nothing: "nichts",
        later: "Sekunden warten, wenn das Bild später kommt",
        others: "Die anderen Matten",
        results: "Ergebnisse von heute",
        status: "{red} {red_points}, {blue} {blue_points}, {when}",
        status_open: {
            by: "points",
            one: "{name}: 1 weiterer Punkt, nicht bestätigt",
            other: "{name}: {points} weitere Punkte, nicht bestätigt",
        },
        when: {
            period: "Runde {period}",
            break: "Pause",
            over: "Zeit um",
            called: "nicht begonnen",
        },
        other: "Matte {mat}: {red} {red_points}, {blue} {blue_points}. Noch {time} in Runde {period}.",
        other_break: "Matte {mat}: {red} {red_points}, {blue} {blue_points}, in der Pause.",
        other_called: "Matte {mat}: {red} und {blue} sind aufgerufen.",
        other_result: "Matte {mat}: {sentence}",
        beats: "{winner} besiegt {loser} {how}, {score}.",
        no_winner: "{red} und {blue}: {how}.",
        result: "Kampf {number}, Matte {mat}: {sentence}",
    },

    catch_up: {
        called: "{red} und {blue} sind aufgerufen und haben noch nicht begonnen.",
        level_none: "Nach {gone} noch keine Punkte.",
        level: "Nach {gone} steht es {score}.",
        leads: "{name} führt {score} nach {gone}.",
        leads_level: "{name} führt bei {score} nach {gone}: Es entscheidet „{reason}“.",
        attacks:
            "{red} hat mit {red_scored} von {red_tried} Angriffen gepunktet, {blue} mit {blue_scored} von {blue_tried}.",
        open: {
            by: "points",
            one: "1 Punkt für {name} ist noch nicht bestätigt.",
            other: "{points} Punkte für {name} sind noch nicht bestätigt.",
        },
        review: "Das Kampfgericht sieht es sich noch einmal an.",
        activity: "{name} hat {seconds} zum Punkten, sonst geht ein Punkt an {other}.",
        needs: "Noch {left} in Runde {period}; {name} braucht {points} zur Führung.",
        left: "Noch {left} in Runde {period}.",
        break: "Es ist Pause, noch {left}.",
        over: "Die Zeit ist um; das Ergebnis steht noch nicht fest.",
    },

    index: {
        title: "Boutwire",
        heading: "Seiten",
        lead: "Jede Seite heißt nach dem Platz, an dem sie steht. Alle zeigen denselben Stand; keine rechnet Punkte.",
        mats: "Matten",
        no_mats:
            "Noch kein Kampf auf einer Matte. Die Listen füllen sich, sobald einer aufgerufen ist.",
        follow: "Verfolgen",
        follow_for: "der Kampf in Sätzen, für alle ohne Bild",
        screen: "Bild",
        screen_for:
            "die Grafik im Bild, eine Browserquelle von 1920 \u00d7 1080 für die Bildmischung",
        booth: "Kommentar",
        booth_for: "Stichwortkarten für den Kommentar",
        table: "Tisch",
        table_for: "Ereignisse eingeben, am Kampfrichtertisch oder als Beobachter",
        needs_key: "{purpose}; braucht einen Schlüssel",
        on_mat: "Matte {mat}",
        as_text: "reiner Text, Matte {mat}",
        decides: "Es gilt das Blatt des Kampfgerichts, nicht diese Seiten. Nicht für Wetten.",
    },
};
