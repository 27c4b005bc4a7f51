"""The views of a case file, for any SQLite tool: what each says, its columns with their meaning, its query.

The meanings are the codebook of ``orroom guide data``. A query that changes raises ``FILE_FORMAT``, and its
earlier text goes to ``earlier_views.py``; so does a view that is added or goes.
"""

from typing import Final

from orroom.record.plan_views import PLAN_VIEWS
from orroom.record.view_parts import (
    AT,
    LATEST_PLAN,
    LOCAL,
    NAMED,
    SEQ,
    SIZE,
    SIZE_NAME,
    STORED,
    UTC,
    WHO,
    ZONE,
    ZONE_NAME,
    View,
)

VIEWS: Final[dict[str, View]] = {
    "standing": View(
        "Entries that were not cancelled, without those that cancel.",
        {
            **SEQ,
            "at_ms": "when it was entered, since 1970, UTC",
            "station": "station it was entered at",
            "station_tap": "number of the tap at that station",
            **WHO,
            **STORED,
            "hash": "SHA-256 of this entry and the hash before it",
        },
        """
        SELECT * FROM entry
        WHERE kind <> 'entry_corrected' AND seq NOT IN (
            SELECT json_extract(body, '$.entry') FROM entry WHERE kind = 'entry_corrected')""",
    ),
    "timeline": View(
        "Every entry in order, with what it names in the plan's words.",
        {
            **SEQ,
            **AT,
            "station": "station it was entered at",
            **WHO,
            "kind": "kind of entry",
            "count": "how many it counts",
            **SIZE,
            **SIZE_NAME,
            **ZONE,
            **ZONE_NAME,
            "harvest": "harvest: grafts whose time out of the body starts together",
            "harvest_name": "what the plan calls the harvest",
            "corrected": "1: it was cancelled",
        },
        f"""
        SELECT seq, {UTC},
            {LOCAL},
            station, who, kind, json_extract(body, '$.count') AS count,
            json_extract(body, '$.size') AS size, size.label AS size_name,
            json_extract(body, '$.zone') AS zone, zone.label AS zone_name,
            json_extract(body, '$.lot') AS harvest, harvest.label AS harvest_name,
            seq NOT IN (SELECT seq FROM standing) AND kind <> 'entry_corrected' AS corrected
        FROM entry
            LEFT JOIN {NAMED.format(plan=LATEST_PLAN, parts="sizes")} AS size
                ON size.key = json_extract(body, '$.size')
            LEFT JOIN {NAMED.format(plan=LATEST_PLAN, parts="zones")} AS zone
                ON zone.key = json_extract(body, '$.zone')
            LEFT JOIN {NAMED.format(plan=LATEST_PLAN, parts="lots")} AS harvest
                ON harvest.key = json_extract(body, '$.lot')
        ORDER BY seq""",
    ),
    "movement": View(
        "Grafts that each entry moves, by the account they go to or come from.",
        {
            **SEQ,
            **SIZE,
            "account": "kept_before, cut_in_all, divided_in, divided_out, discarded, placed, not_found or "
            "left_at_end",
            "grafts": "grafts",
        },
        """
        SELECT seq, json_extract(body, '$.size') AS size, 'cut_in_all' AS account,
            json_extract(body, '$.count') AS grafts FROM standing
            WHERE kind = 'grafts_cut'
            OR (kind = 'grafts_discarded' AND json_extract(body, '$.lot') IS NOT NULL)
        UNION ALL SELECT seq, json_extract(body, '$.size'), 'placed', json_extract(body, '$.count')
            FROM standing WHERE kind = 'grafts_placed'
            OR (kind = 'fate_given' AND json_extract(body, '$.into_zone') IS NOT NULL)
        UNION ALL SELECT seq, json_extract(body, '$.size'), 'discarded', json_extract(body, '$.count')
            FROM standing WHERE kind = 'grafts_discarded'
        UNION ALL SELECT seq, json_extract(body, '$.size'), 'divided_out', json_extract(body, '$.count')
            FROM standing WHERE kind = 'grafts_divided'
        UNION ALL SELECT seq, piece.value, 'divided_in', json_extract(body, '$.count')
            FROM standing, json_each(standing.body, '$.into') AS piece WHERE kind = 'grafts_divided'
        UNION ALL SELECT seq, json_extract(body, '$.size'), 'not_found',
            json_extract(body, '$.tallied') - json_extract(body, '$.found')
            FROM standing WHERE kind = 'dish_counted'
        UNION ALL SELECT seq, json_extract(body, '$.size'), 'left_at_end', json_extract(body, '$.count')
            FROM standing WHERE kind = 'fate_given' AND json_extract(body, '$.into_zone') IS NULL
        UNION ALL SELECT entry.seq, size.key, 'kept_before', size.value
            FROM entry, json_each(entry.body, '$.plan.sessions') AS session,
                json_each(session.value, '$.kept') AS kept, json_each(kept.value, '$.grafts') AS size
            WHERE entry.seq = (
                SELECT min(seq) FROM entry WHERE json_extract(body, '$.plan.sessions') IS NOT NULL)""",
    ),
    "tally_by_size": View(
        "Where the grafts of each size came from and where they are.",
        {
            **SIZE,
            "kept_before": "grafts kept from an earlier case for this one",
            "cut_in_all": "grafts cut in all, spoilt ones included",
            "divided_in": "pieces from dividing",
            "divided_out": "grafts divided",
            "discarded": "grafts discarded",
            "placed": "grafts placed",
            "not_found": "grafts not found by hand count; negative: more found than tallied",
            "left_at_end": "grafts left at the end, with their fate entered",
            "waiting": "grafts in dishes or with the placers",
        },
        """
        SELECT size, kept_before, cut_in_all, divided_in, divided_out, discarded, placed, not_found,
            left_at_end,
            kept_before + cut_in_all + divided_in - divided_out - discarded - placed - not_found
                - left_at_end AS waiting
        FROM (SELECT size,
            coalesce(sum(grafts) FILTER (WHERE account = 'kept_before'), 0) AS kept_before,
            coalesce(sum(grafts) FILTER (WHERE account = 'cut_in_all'), 0) AS cut_in_all,
            coalesce(sum(grafts) FILTER (WHERE account = 'divided_in'), 0) AS divided_in,
            coalesce(sum(grafts) FILTER (WHERE account = 'divided_out'), 0) AS divided_out,
            coalesce(sum(grafts) FILTER (WHERE account = 'discarded'), 0) AS discarded,
            coalesce(sum(grafts) FILTER (WHERE account = 'placed'), 0) AS placed,
            coalesce(sum(grafts) FILTER (WHERE account = 'not_found'), 0) AS not_found,
            coalesce(sum(grafts) FILTER (WHERE account = 'left_at_end'), 0) AS left_at_end
        FROM movement GROUP BY size) ORDER BY size""",
    ),
    "tally_by_zone": View(
        "Grafts placed in each zone, by size.",
        {**ZONE, **SIZE, "placed": "grafts placed"},
        """
        SELECT zone, size, sum(grafts) AS placed FROM (
            SELECT json_extract(body, '$.zone') AS zone, json_extract(body, '$.size') AS size,
                json_extract(body, '$.count') AS grafts
                FROM standing WHERE kind IN ('grafts_placed', 'placing_moved')
            UNION ALL SELECT json_extract(body, '$.into_zone'), json_extract(body, '$.size'),
                json_extract(body, '$.count')
                FROM standing WHERE kind = 'fate_given' AND json_extract(body, '$.into_zone') IS NOT NULL
            UNION ALL SELECT json_extract(body, '$.from_zone'), json_extract(body, '$.size'),
                -json_extract(body, '$.count')
                FROM standing WHERE kind = 'placing_moved')
        GROUP BY 1, 2 HAVING sum(grafts) <> 0 ORDER BY 1, 2""",
    ),
    "care_rounds": View(
        "Each care round given.",
        {
            **SEQ,
            **AT,
            **WHO,
            "care": "care round",
            "care_name": "what the plan calls the round",
            "minutes_late": "how long after it was due; 0 for early, empty if nothing was due",
            "temperature_c": "reading",
        },
        f"""
        SELECT seq, {UTC},
            {LOCAL},
            who, json_extract(body, '$.care') AS care,
            iif(json_extract(body, '$.care') = 'bench', 'wet the grafts with the placers', care.label)
                AS care_name,
            round(max(0, at_ms - json_extract(body, '$.due_at_ms')) / 60000.0, 1) AS minutes_late,
            json_extract(body, '$.temperature_c') AS temperature_c
        FROM standing LEFT JOIN {NAMED.format(plan=LATEST_PLAN, parts="care")} AS care
            ON care.key = json_extract(body, '$.care')
        WHERE kind = 'care_given' ORDER BY seq""",
    ),
    "notes": View(
        "Notes that were not cancelled.",
        {**SEQ, **AT, **WHO, "text": "what was written"},
        f"""
        SELECT seq, {UTC},
            {LOCAL},
            who, json_extract(body, '$.text') AS text
        FROM standing WHERE kind = 'note_added' ORDER BY seq""",
    ),
    "corrections": View(
        "Cancelled entries: who cancelled which, and why.",
        {
            **SEQ,
            **AT,
            "who": "who cancelled it",
            "reason": "why; undone: a tap that was undone at its station",
            "entry": "number of the cancelled entry",
            "kind": "kind of the cancelled entry",
            "entered_by": "who had entered it",
            "body": "the cancelled entry as it is stored (JSON)",
        },
        f"""
        SELECT correction.seq, {UTC.replace("at_ms", "correction.at_ms")},
            {LOCAL.replace("at_ms", "correction.at_ms")},
            correction.who,
            iif(json_extract(correction.body, '$.reason') = 'taken back', 'undone',
                json_extract(correction.body, '$.reason')) AS reason,
            wrong.seq AS entry, wrong.kind, wrong.who AS entered_by, wrong.body
        FROM entry AS correction JOIN entry AS wrong ON wrong.seq = json_extract(correction.body, '$.entry')
        WHERE correction.kind = 'entry_corrected' ORDER BY correction.seq""",
    ),
    **PLAN_VIEWS,
}
