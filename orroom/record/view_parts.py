"""What a view of a case file is made of, and what several of them share: columns, parts of queries."""

from typing import Final, NamedTuple


class View(NamedTuple):
    """What a view says in a sentence, the meaning of each of its columns in order, and its query."""

    says: str
    columns: dict[str, str]
    select: str


SEQ: Final = {"seq": "number of the entry"}
AT: Final = {
    "at_utc": "when it was entered, UTC",
    "at_local": "when it was entered, by the case's clock, whole seconds",
}
WHO: Final = {"who": "who entered it"}
SIZE: Final = {"size": "graft size: hairs, or M for multi-unit"}
SIZE_NAME: Final = {"size_name": "what the plan calls the size"}
ZONE: Final = {"zone": "recipient zone"}
ZONE_NAME: Final = {"zone_name": "what the plan calls the zone"}
STORED: Final = {
    "kind": "kind of entry",
    "body": "the entry as it is stored (JSON)",
}

#: The unit of each column that has one; a name means the same in every view.
UNITS: Final = {
    "at_ms": "ms",
    "count": "grafts, sites or keys",
    **dict.fromkeys(
        (
            "grafts",
            "kept_before",
            "cut_in_all",
            "divided_in",
            "divided_out",
            "discarded",
            "placed",
            "not_found",
            "left_at_end",
            "waiting",
            "planned",
            "owed",
            "over",
            "grafts_planned",
            "grafts_placed",
        ),
        "grafts",
    ),
    "minutes_late": "min",
    "temperature_c": "°C",
    "area_cm2": "cm²",
    "hairs_per_graft": "hairs/graft",
    **dict.fromkeys(("hairs_planned", "hairs_placed", "hairs_usable"), "hairs"),
    **dict.fromkeys(("planned_grafts_per_cm2", "placed_grafts_per_cm2"), "grafts/cm²"),
    **dict.fromkeys(("existing_hairs_per_cm2", "planned_hairs_per_cm2", "placed_hairs_per_cm2"), "hairs/cm²"),
}

#: Query parts that several views share.
LATEST_PLAN: Final = """(SELECT body FROM entry WHERE kind IN ('case_opened', 'plan_revised')
                ORDER BY seq DESC LIMIT 1)"""
UTC: Final = "strftime('%Y-%m-%d %H:%M:%f', at_ms / 1000.0, 'unixepoch') AS at_utc"
LOCAL: Final = """strftime('%Y-%m-%d %H:%M:%S', at_ms / 1000.0 + 60 * (
                SELECT json_extract(body, '$.utc_offset_minutes') FROM entry WHERE seq = 1), 'unixepoch')
                AS at_local"""
NAMED: Final = """(SELECT json_extract(value, '$.key') AS key, json_extract(value, '$.label') AS label
                FROM json_each({plan}, '$.plan.{parts}'))"""
