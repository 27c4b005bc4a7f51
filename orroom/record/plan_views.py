"""The views that say what the plan in force promises, next to what was placed: grafts, hairs, density."""

from typing import Final

from orroom.record.view_parts import LATEST_PLAN, SIZE, SIZE_NAME, ZONE, ZONE_NAME, View

#: Zones in placing order. The areas are those of ``case/shapes.py``.
_ZONES: Final = f"""(
            SELECT row_number() OVER (
                    ORDER BY coalesce(json_extract(value, '$.order'), key + 1), key) AS place,
                json_extract(value, '$.key') AS zone, json_extract(value, '$.label') AS zone_name,
                json_extract(value, '$.kind') AS kind, json_extract(value, '$.side') AS side,
                json_extract(value, '$.existing_hairs_per_cm2') AS existing_hairs_per_cm2,
                json_extract(value, '$.targets') AS targets, json_extract(value, '$.density') AS density,
                coalesce(json_extract(value, '$.area_cm2'), CASE json_extract(value, '$.shape.kind')
                    WHEN 'ellipse' THEN 3.141592653589793 * json_extract(value, '$.shape.length_cm')
                        * json_extract(value, '$.shape.width_cm') / 4
                    WHEN 'trapezoid' THEN (json_extract(value, '$.shape.front_cm')
                        + json_extract(value, '$.shape.back_cm')) / 2
                        * json_extract(value, '$.shape.depth_cm')
                    WHEN 'triangle' THEN json_extract(value, '$.shape.base_cm')
                        * json_extract(value, '$.shape.height_cm') / 2
                    WHEN 'outline' THEN (
                        SELECT abs(sum(json_extract(one.value, '$[0]') * json_extract(next.value, '$[1]')
                            - json_extract(next.value, '$[0]') * json_extract(one.value, '$[1]'))) / 2
                        FROM json_each(zone.value, '$.shape.points_cm') AS one,
                            json_each(zone.value, '$.shape.points_cm') AS next
                        WHERE next.key = (one.key + 1) % json_array_length(zone.value, '$.shape.points_cm'))
                    END) AS area_cm2
            FROM json_each({LATEST_PLAN}, '$.plan.zones') AS zone)"""

PLAN_VIEWS: Final[dict[str, View]] = {
    "sizes": View(
        "Graft sizes of the plan in force, in the order shown.",
        {**SIZE, **SIZE_NAME, "hairs_per_graft": "hairs of a graft of this size; a mean for M"},
        f"""
        SELECT json_extract(value, '$.key') AS size, json_extract(value, '$.label') AS size_name,
            json_extract(value, '$.hairs') AS hairs_per_graft
        FROM json_each({LATEST_PLAN}, '$.plan.sizes') ORDER BY key""",
    ),
    "plan": View(
        "Grafts of the plan in force next to those placed, by zone and size.",
        {
            **ZONE,
            **ZONE_NAME,
            **SIZE,
            **SIZE_NAME,
            "planned": "grafts by the plan in force",
            "placed": "grafts placed",
            "owed": "grafts still to be placed by the plan",
            "over": "grafts placed beyond the plan",
        },
        f"""
        WITH zone AS MATERIALIZED (SELECT * FROM {_ZONES}),
        shared AS (
            SELECT zone, size, total, total * part / sum(part) OVER (PARTITION BY zone) AS exact
            FROM (
                SELECT zone, mix.key AS size, mix.value AS part,
                    CASE grafts - CAST(grafts AS INTEGER)
                        WHEN 0.5 THEN CAST(grafts AS INTEGER) + CAST(grafts AS INTEGER) % 2
                        ELSE CAST(round(grafts) AS INTEGER) END AS total
                FROM (
                    SELECT zone, density, area_cm2 * json_extract(density, '$.grafts_per_cm2') AS grafts
                    FROM zone WHERE density IS NOT NULL) AS dense,
                    json_each(dense.density, '$.mix') AS mix)),
        wanted AS (
            SELECT zone, target.key AS size, target.value AS planned
                FROM zone, json_each(zone.targets) AS target WHERE density IS NULL
            UNION ALL SELECT zone, size, CAST(exact AS INTEGER) + (
                    row_number() OVER (PARTITION BY zone ORDER BY CAST(exact AS INTEGER) - exact, size)
                    <= total - sum(CAST(exact AS INTEGER)) OVER (PARTITION BY zone))
                FROM shared),
        both AS (
            SELECT zone, size, planned, 0 AS placed FROM wanted
            UNION ALL SELECT zone, size, 0, placed FROM tally_by_zone)
        SELECT both.zone, zone_name, both.size, size_name, sum(planned) AS planned, sum(placed) AS placed,
            max(0, sum(planned) - sum(placed)) AS owed, max(0, sum(placed) - sum(planned)) AS over
        FROM both LEFT JOIN zone ON zone.zone = both.zone LEFT JOIN sizes ON sizes.size = both.size
        GROUP BY both.zone, both.size ORDER BY place, both.size""",
    ),
    "zones": View(
        "Zones of the plan in force, in placing order: area, grafts, hairs and density.",
        {
            **ZONE,
            **ZONE_NAME,
            "kind": "kind of zone",
            "side": "side of the midline, as the patient has it",
            "area_cm2": "area",
            "existing_hairs_per_cm2": "hairs that grew there before",
            "grafts_planned": "grafts by the plan in force",
            "grafts_placed": "grafts placed",
            "hairs_planned": "hairs by the plan in force",
            "hairs_placed": "hairs placed",
            "planned_grafts_per_cm2": "density by the plan",
            "placed_grafts_per_cm2": "density placed",
            "planned_hairs_per_cm2": "hair density by the plan",
            "placed_hairs_per_cm2": "hair density placed",
        },
        f"""
        SELECT zone, zone_name, kind, side, area_cm2, existing_hairs_per_cm2,
            grafts_planned, grafts_placed, hairs_planned, hairs_placed,
            round(grafts_planned / area_cm2, 4) AS planned_grafts_per_cm2,
            round(grafts_placed / area_cm2, 4) AS placed_grafts_per_cm2,
            round(hairs_planned / area_cm2, 4) AS planned_hairs_per_cm2,
            round(hairs_placed / area_cm2, 4) AS placed_hairs_per_cm2
        FROM (
            SELECT zone.*, coalesce(sum(planned), 0) AS grafts_planned,
                coalesce(sum(placed), 0) AS grafts_placed,
                round(coalesce(sum(planned * hairs_per_graft), 0), 4) AS hairs_planned,
                round(coalesce(sum(placed * hairs_per_graft), 0), 4) AS hairs_placed
            FROM {_ZONES} AS zone
                LEFT JOIN plan ON plan.zone = zone.zone LEFT JOIN sizes ON sizes.size = plan.size
            GROUP BY zone.zone)
        ORDER BY place""",
    ),
    "hairs": View(
        "Hairs by size: planned, placed and usable.",
        {
            **SIZE,
            **SIZE_NAME,
            "hairs_per_graft": "hairs of a graft of this size; a mean for M",
            "hairs_planned": "hairs by the plan in force",
            "hairs_placed": "hairs placed",
            "hairs_usable": "hairs in dishes, with the placers, placed or left at the end",
        },
        """
        SELECT sizes.size, size_name, hairs_per_graft,
            round(hairs_per_graft * coalesce((
                SELECT sum(planned) FROM plan WHERE plan.size = sizes.size), 0), 4) AS hairs_planned,
            round(hairs_per_graft * coalesce(placed, 0), 4) AS hairs_placed,
            round(hairs_per_graft * coalesce(waiting + placed + left_at_end, 0), 4) AS hairs_usable
        FROM sizes LEFT JOIN tally_by_size ON tally_by_size.size = sizes.size""",
    ),
}
