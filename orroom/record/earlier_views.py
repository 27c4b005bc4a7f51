"""The views that case files of earlier formats have, word for word: a file is known by them."""

from typing import Final

from orroom.record.views import VIEWS

_CAME_LATER: Final = ("sizes", "plan", "zones", "hairs", "notes")
_OF_FORMAT_4: Final = {
    **{name: view.select for name, view in VIEWS.items() if name not in _CAME_LATER},
    "timeline": """
        SELECT seq, strftime('%Y-%m-%d %H:%M:%f', at_ms / 1000.0, 'unixepoch') AS at_utc, station, who, kind,
            json_extract(body, '$.count') AS count, json_extract(body, '$.size') AS size,
            json_extract(body, '$.zone') AS zone, json_extract(body, '$.lot') AS harvest,
            seq NOT IN (SELECT seq FROM standing) AND kind <> 'entry_corrected' AS corrected
        FROM entry ORDER BY seq""",
    "care_rounds": """
        SELECT seq, strftime('%Y-%m-%d %H:%M:%f', at_ms / 1000.0, 'unixepoch') AS at_utc, who,
            json_extract(body, '$.care') AS care,
            round((at_ms - json_extract(body, '$.due_at_ms')) / 60000.0, 1) AS minutes_late,
            json_extract(body, '$.temperature_c') AS temperature_c
        FROM standing WHERE kind = 'care_given' ORDER BY seq""",
    "corrections": """
        SELECT correction.seq, correction.who, json_extract(correction.body, '$.reason') AS reason,
            wrong.seq AS entry, wrong.kind, wrong.who AS entered_by, wrong.body
        FROM entry AS correction JOIN entry AS wrong ON wrong.seq = json_extract(correction.body, '$.entry')
        WHERE correction.kind = 'entry_corrected' ORDER BY correction.seq""",
}
_OF_FORMAT_3: Final = {
    **_OF_FORMAT_4,
    "movement": """
        SELECT seq, json_extract(body, '$.size') AS size, 'cut_in_all' AS account,
            json_extract(body, '$.count') AS grafts FROM standing
            WHERE kind = 'grafts_cut'
            OR (kind = 'grafts_discarded' AND json_extract(body, '$.lot') IS NOT NULL)
        UNION ALL SELECT seq, json_extract(body, '$.size'), 'placed', json_extract(body, '$.count')
            FROM standing WHERE kind = 'grafts_placed'
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
            FROM standing WHERE kind = 'fate_given'""",
    "tally_by_size": """
        SELECT size, cut_in_all, divided_in, divided_out, discarded, placed, not_found, left_at_end,
            cut_in_all + divided_in - divided_out - discarded - placed - not_found - left_at_end AS waiting
        FROM (SELECT size,
            coalesce(sum(grafts) FILTER (WHERE account = 'cut_in_all'), 0) AS cut_in_all,
            coalesce(sum(grafts) FILTER (WHERE account = 'divided_in'), 0) AS divided_in,
            coalesce(sum(grafts) FILTER (WHERE account = 'divided_out'), 0) AS divided_out,
            coalesce(sum(grafts) FILTER (WHERE account = 'discarded'), 0) AS discarded,
            coalesce(sum(grafts) FILTER (WHERE account = 'placed'), 0) AS placed,
            coalesce(sum(grafts) FILTER (WHERE account = 'not_found'), 0) AS not_found,
            coalesce(sum(grafts) FILTER (WHERE account = 'left_at_end'), 0) AS left_at_end
        FROM movement GROUP BY size) ORDER BY size""",
    "tally_by_zone": """
        SELECT zone, size, sum(grafts) AS placed FROM (
            SELECT json_extract(body, '$.zone') AS zone, json_extract(body, '$.size') AS size,
                json_extract(body, '$.count') AS grafts
                FROM standing WHERE kind IN ('grafts_placed', 'placing_moved')
            UNION ALL SELECT json_extract(body, '$.from_zone'), json_extract(body, '$.size'),
                -json_extract(body, '$.count')
                FROM standing WHERE kind = 'placing_moved')
        GROUP BY 1, 2 HAVING sum(grafts) <> 0 ORDER BY 1, 2""",
}
_OF_FORMAT_2: Final = {
    **_OF_FORMAT_3,
    "timeline": """
        SELECT seq, strftime('%Y-%m-%d %H:%M:%f', at_ms / 1000.0, 'unixepoch') AS at_utc, station, who, kind,
            json_extract(body, '$.count') AS count, json_extract(body, '$.size') AS size,
            json_extract(body, '$.zone') AS zone, json_extract(body, '$.lot') AS lot,
            seq NOT IN (SELECT seq FROM standing) AND kind <> 'entry_corrected' AS corrected
        FROM entry ORDER BY seq""",
    "movement": """
        SELECT seq, json_extract(body, '$.size') AS size, 'cut' AS account,
            json_extract(body, '$.count') AS grafts FROM standing
            WHERE kind = 'grafts_cut'
            OR (kind = 'grafts_discarded' AND json_extract(body, '$.lot') IS NOT NULL)
        UNION ALL SELECT seq, json_extract(body, '$.size'), 'placed', json_extract(body, '$.count')
            FROM standing WHERE kind = 'grafts_placed'
        UNION ALL SELECT seq, json_extract(body, '$.size'), 'discarded', json_extract(body, '$.count')
            FROM standing WHERE kind = 'grafts_discarded'
        UNION ALL SELECT seq, json_extract(body, '$.size'), 'divided_out', json_extract(body, '$.count')
            FROM standing WHERE kind = 'grafts_divided'
        UNION ALL SELECT seq, piece.value, 'divided_in', json_extract(body, '$.count')
            FROM standing, json_each(standing.body, '$.into') AS piece WHERE kind = 'grafts_divided'
        UNION ALL SELECT seq, json_extract(body, '$.size'), 'missing',
            json_extract(body, '$.tallied') - json_extract(body, '$.found')
            FROM standing WHERE kind = 'dish_counted'""",
    "tally_by_size": """
        SELECT size, cut, divided_in, divided_out, discarded, placed, missing,
            cut + divided_in - divided_out - discarded - placed - missing AS waiting
        FROM (SELECT size,
            coalesce(sum(grafts) FILTER (WHERE account = 'cut'), 0) AS cut,
            coalesce(sum(grafts) FILTER (WHERE account = 'divided_in'), 0) AS divided_in,
            coalesce(sum(grafts) FILTER (WHERE account = 'divided_out'), 0) AS divided_out,
            coalesce(sum(grafts) FILTER (WHERE account = 'discarded'), 0) AS discarded,
            coalesce(sum(grafts) FILTER (WHERE account = 'placed'), 0) AS placed,
            coalesce(sum(grafts) FILTER (WHERE account = 'missing'), 0) AS missing
        FROM movement GROUP BY size) ORDER BY size""",
}
#: By the format of the file.
EARLIER_VIEWS: Final[dict[int, dict[str, str]]] = {
    4: _OF_FORMAT_4,
    3: _OF_FORMAT_3,
    2: _OF_FORMAT_2,
    1: {
        **_OF_FORMAT_2,
        "tally_by_zone": """
        SELECT json_extract(body, '$.zone') AS zone, json_extract(body, '$.size') AS size,
            sum(json_extract(body, '$.count')) AS placed
        FROM standing WHERE kind = 'grafts_placed' GROUP BY 1, 2 ORDER BY 1, 2""",
    },
}
