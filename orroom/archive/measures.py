"""What a report across cases reports: each measure, how it is made of a case's row, and over cases."""

from typing import Final, Literal

from msgspec import Struct

from orroom.archive.case_row import HELD
from orroom.archive.groups import Case
from orroom.case.terms import DISCARD_REASONS
from orroom.errors import OrroomError
from orroom.figures.pace.rates import LEAST_MINUTES

How = Literal[
    "mean of cases",
    "all done by all person-hours",
    "all placed by all planned",
    "median of cases",
    "share of all grafts",
    "share of all rounds",
    "share of all readings",
    "share of all groups",
    "share of all forecasts",
    "share of cases",
]
#: The same figure of different things, each share of all of them.
SHARES_OF_ALL: Final[tuple[How, ...]] = (
    "share of all grafts",
    "share of all rounds",
    "share of all readings",
    "share of all groups",
    "share of all forecasts",
)
#: A case with fewer person-hours of a work has no pace of it; rows of older versions may have fewer.
LEAST_HOURS: Final = LEAST_MINUTES / 60
#: Places of a figure by its unit: no finer, lest a case's own figure be known by its digits.
_PLACES: Final = {"min": 0, "hairs/graft": 2, "share": 3}


class Measure(Struct, frozen=True):
    """What is reported: of ``value``, of its share of ``of``, or by ``of``, in cases with ``least`` of it.

    Rows before version ``since`` do not have it: there it is not recorded.
    """

    key: str
    label: str
    unit: str
    how: How
    value: str
    of: str | None = None
    shared: bool = False
    least: float = 0
    since: int = 0

    @property
    def name(self) -> str:
        """Its key as it is typed, and shown where underscores would be marked."""
        return self.key.replace("_", "-")

    @property
    def places(self) -> int:
        """To how many places its figures are shown."""
        return _PLACES.get(self.unit, 1)

    def of_case(self, case: Case) -> tuple[float, float] | None:
        """Value and whole of a case that has both; 1 is the whole where a value stands alone."""
        value = case.figures[self.value]
        whole = 1 if self.of is None else case.figures[self.of]
        if value is None or not whole or whole < self.least:
            return None
        return value * whole if self.shared else value, whole

    def not_recorded(self, case: Case) -> bool:
        """Whether a case lacks it because its row is of a version that did not keep it."""
        return case.version < self.since and case.figures[self.value] is None


#: Where harvests mix, times out of the body are known between two bounds (``figures/out_of_body.py``): both.
ENDS: Final = (("least", "low"), ("most", "high"))


def _ends(key: str, label: str, how: How, column: str, of: str | None, since: int) -> tuple[Measure, ...]:
    """A share that is known between two bounds, as both."""
    return tuple(
        Measure(
            f"{key}_at_{end}",
            f"{label}, at {end}",
            "share",
            how,
            column.format(bound),
            of,
            shared=of == "out_grafts",
            since=since,
        )
        for end, bound in ENDS
    )


MEASURES: Final = (
    Measure(
        "hairs_per_graft", "hairs per graft placed", "hairs/graft", "mean of cases", "hairs_per_graft_placed"
    ),
    Measure(
        "duration",
        "duration, from the first harvest to the last work",
        "min",
        "median of cases",
        "work_min",
        since=2,
    ),
    Measure(
        "placed_of_plan",
        "placed of what the plan asks for",
        "share",
        "all placed by all planned",
        "placed",
        "planned",
        since=2,
    ),
    *(
        Measure(
            f"{work}_pace",
            f"pace of {label}",
            f"{what}/person-hour",
            "all done by all person-hours",
            f"{work}_done",
            f"{work}_person_hours",
            least=LEAST_HOURS,
        )
        for work, label, what in (
            ("cutting", "cutting", "grafts"),
            ("sites", "making sites", "sites"),
            ("placing", "placing", "grafts"),
        )
    ),
    *(
        Measure(
            f"out_median_at_{end}",
            f"median time out of the body, at {end}",
            "min",
            "median of cases",
            f"out_median_{bound}_min",
        )
        for end, bound in ENDS
    ),
    *_ends(
        "out_over_4_h", "over 4 h out of the body", "share of all grafts", "out_over_4_h_{}", "out_grafts", 0
    ),
    *_ends(
        "out_over_limit",
        "out of the body beyond the surgeon's limit",
        "share of all grafts",
        "out_over_limit_{}",
        "out_grafts",
        2,
    ),
    *_ends(
        "with_placers_over_limit",
        "with the placers beyond the limit",
        "share of all grafts",
        "with_placers_over_{}",
        "with_placers_grafts",
        2,
    ),
    Measure(
        "transected", "transected in cutting", "share", "share of all grafts", "transected", "transected_of"
    ),
    *(
        Measure(
            f"discarded_{reason}",
            f"discarded, {reason}",
            "share",
            "share of all grafts",
            f"discarded_{reason}",
            "discarded_of",
            since=2,
        )
        for reason in DISCARD_REASONS
    ),
    Measure(
        "care_given",
        "care given of what was due",
        "share",
        "share of all rounds",
        "care_given",
        "care_due",
        since=2,
    ),
    Measure(
        "care_on_time",
        "care given on time",
        "share",
        "share of all rounds",
        "care_on_time",
        "care_due",
        since=1,
    ),
    Measure("care_missed", "care missed", "share", "share of all rounds", "care_missed", "care_due", since=1),
    Measure(
        "temperature_out_of_band",
        "temperature outside its band",
        "share",
        "share of all readings",
        "temperature_out_of_band",
        "temperature_readings",
        since=2,
    ),
    Measure(
        "closed_without_count",
        "closed without a final count by two people",
        "share",
        "share of cases",
        "closed_without_count",
        since=2,
    ),
    Measure(
        "counts_agree",
        "both people counted the same in the final count",
        "share",
        "share of all groups",
        "count_groups_agree",
        "count_groups",
        since=2,
    ),
    Measure(
        "final_count_difference",
        "closed with a difference in the final count",
        "share",
        "share of cases",
        "final_count_differences",
    ),
    *(
        Measure(
            f"{work}_range_{held}",
            f"the end of {work} came inside its {said}",
            "share",
            "share of all forecasts",
            f"{work}_{held}",
            f"{work}_forecasts",
            since=2,
        )
        for work in HELD
        for held, said in (("held", "range at this pace"), ("held_later", "range with the later end"))
    ),
)


def chosen(names: tuple[str, ...]) -> tuple[Measure, ...]:
    """The measures with these names, in their own order; without names all. Raises ``OrroomError``."""
    known = [each.name for each in MEASURES]
    wanted = [each.replace("_", "-") for each in names]
    if unknown := [name for name in wanted if name not in known]:
        raise OrroomError(f"There is no measure {', '.join(unknown)}.", f"Choose from: {', '.join(known)}.")
    return tuple(each for each in MEASURES if not names or each.name in wanted)
