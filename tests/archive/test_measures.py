"""What an archive knows of a case, worked out by hand; reports with single cases and without."""

from __future__ import annotations

import csv
import io
import os
import shutil
from collections.abc import Sequence
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing, nullcontext
from datetime import date
from pathlib import Path

import pytest
from archived import add, closed_day, written
from cases import MINUTE_MS, Record, small_plan
from click.testing import CliRunner, Result
from larger_cases import big_plan
from three_days import day_1, day_2

from orroom.archive import adding, case_row, catalogue
from orroom.archive.across import Series, across, over, read_cases
from orroom.archive.adding import Archive, How
from orroom.archive.groups import Case
from orroom.archive.measures import MEASURES, Measure, chosen
from orroom.archive.parquet import database
from orroom.archive.pseudonyms import beside
from orroom.archive.report_chart import MOST_CASES, by_month, one_by_one
from orroom.archive.report_csv import to_csv
from orroom.archive.report_page import SINGLE, to_html, to_text
from orroom.archive.wrong_finish import wrong_finish
from orroom.case import commands as c
from orroom.case.events import CountedGroup
from orroom.case.final_count import groups_to_count
from orroom.case.habits import SHARES
from orroom.case.plan import Limits
from orroom.cli import main
from orroom.errors import OrroomError
from orroom.figures.pace.finish import Finish
from orroom.formats.chart import Chart, Level, Line, Marks, Range
from orroom.record.case_file import CaseFile


def orroom(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def row_of(record: Record) -> dict[str, object]:
    return case_row.case_row(record.state, "id", "mark", keep_dates=False)


def bad_day(*, counted: bool) -> Record:
    """40 ones and 50 twos, 8 °C allowed and 9 and 10 read; 10 ones 5 min with the placers, 2 min allowed."""
    limits = Limits(with_placers_seconds=120, with_placers_grace_seconds=30, out_of_body_hours=1.0)
    record = Record()
    record.enter(c.OpenCase(plan=small_plan(limits=limits)), "EF", station="overview-1")
    record.enter(c.StartHarvest(harvest="A", minutes_ago=0), "EF", station="overview-1")
    begun_ms = record.now_ms
    for size, count in (("1", 40), ("2", 50)):
        record.enter(c.CutGrafts(harvest="A", size=size, count=count))
    record.enter(c.DiscardGrafts(size="2", reason="transected", harvest="A", count=3))
    record.enter(c.DiscardGrafts(size="2", reason="dropped", count=2))
    for reading in (4.0, 9.0, 10.0):
        record.wait(10)
        record.enter(c.GiveCare(care="cold", temperature_c=reading), "EF", station="overview-1")
    record.enter(c.IssueGrafts(size="1", count=10), "CD", station="placing-1")
    record.wait(5)
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=10), "CD", station="placing-1")
    late_ms = begun_ms + 90 * MINUTE_MS
    placed = c.PlaceGrafts(zone="LINE", size="1", count=20)
    record.enter(placed, "CD", station="placing-1", at_ms=late_ms)
    for who, missed in (("AB", 0), ("CD", 1)) if counted else ():
        groups = tuple(
            CountedGroup(
                size=each.size,
                harvest=each.harvest,
                place=each.place,
                found=record.held(each.place, each.size, each.harvest)
                - missed * (place == 0)
                - (each.size == "2" and each.place == "dish"),  # both find one too few
            )
            for place, each in enumerate(groups_to_count(record.state))
        )
        record.enter(c.CountAll(groups=groups, since=record.state.seq), who, station="overview-1")
    record.enter(c.SignOff(second="CD", open_because="late", informed="RS"), "EF", station="overview-1")
    return record


def test_what_went_wrong_on_a_day_is_in_its_row():
    row = row_of(bad_day(counted=True))
    known = {
        "planned": 180,
        "placed": 30,
        "temperature_readings": 3,
        "temperature_out_of_band": 2,
        "with_placers_over_low": 10,
        "with_placers_over_high": 10,
        "discarded_of": 93,  # those spoilt in cutting among them
        "discarded_transected": 3,
        "discarded_dropped": 2,
        "discarded_dried": 0,
        "closed_without_count": 0,
        "count_groups": 8,  # four sizes, in dishes and with the placers
        "count_groups_agree": 7,
        "final_count_differences": 2,
    }
    assert {name: row[name] for name in known} == known
    assert row["work_min"] == pytest.approx(90, abs=0.1)
    # 88 without the dropped ones: 20 placed after 90 min and 58 waiting were out for more than an hour
    assert row["out_over_limit_low"] == row["out_over_limit_high"] == pytest.approx(78 / 88, abs=1e-6)
    assert row["out_over_4_h_low"] == row["out_over_4_h_high"] == 0
    assert row["care_due"] == row["care_given"] + row["care_missed"]  # type: ignore[operator]
    assert row["care_given"] == 3


def test_a_case_without_a_final_count_is_counted_as_one_and_has_no_groups():
    row = row_of(bad_day(counted=False))
    assert (row["closed_without_count"], row["count_groups"], row["count_groups_agree"]) == (1, None, None)
    empty = Record()
    empty.enter(c.OpenCase(plan=small_plan()), "EF", station="overview-1")
    empty.enter(c.SignOff(second="CD"), "EF", station="overview-1")
    row = row_of(empty)
    assert row["closed_without_count"] is None  # there was nothing to count
    assert row["work_min"] is row["with_placers_grafts"] is row["out_over_limit_low"] is None


def test_every_measure_has_its_columns_and_every_kept_figure_of_quality_is_reported():
    names = {name for each in MEASURES for name in (each.value, each.of) if name}
    assert names <= set(case_row.COLUMNS)
    assert len({each.key for each in MEASURES}) == len(MEASURES)
    new = {name for name in case_row.CAME_LATER if not name.startswith(("cutting_wrong", "placing_wrong"))}
    about = {"row_version", "added_as", "goes_on_mark"}
    assert new - names == about
    for each in MEASURES:  # rows without it are known to be of an earlier version
        assert bool(each.since) == (each.value in case_row.CAME_LATER or each.of in case_row.CAME_LATER)


def test_how_often_the_finish_came_inside_its_range_is_counted(monkeypatch: pytest.MonkeyPatch):
    record = Record()
    record.enter(c.OpenCase(plan=big_plan()), "EF")
    record.enter(c.StartHarvest(harvest="A", minutes_ago=0))
    record.enter(c.CutGrafts(harvest="A", size="2", count=2400))
    for _ in range(60):
        record.wait(4)
        record.enter(c.PlaceGrafts(zone="MID", size="2", count=40), "CD", at_ms=record.now_ms)
    end_ms = record.now_ms
    ranges = iter(
        [Finish(end_ms - 2, end_ms - 1, end_ms, end_ms)] * 4  # held, also at its end
        + [Finish(end_ms - 9, end_ms - 8, end_ms - 7, end_ms + 1)] * 3  # only with the later end
        + [Finish(end_ms + 1, end_ms + 2, end_ms + 3, end_ms + 4)]  # too late
        + [None]
    )
    monkeypatch.setattr(
        "orroom.archive.wrong_finish.finish_of",
        lambda _, work, *__: next(ranges) if work == "placing" else None,
    )
    placing = wrong_finish(record.state)["placing"]
    assert (placing.forecasts, placing.held, placing.held_later) == (len(SHARES) - 1, 4, 7)
    monkeypatch.undo()
    row = case_row.looked_back(record.state)
    assert row["placing_forecasts"] == 9
    assert row["placing_held"] == row["placing_held_later"] == 9  # an even day
    assert row["cutting_forecasts"] == 0  # entered in one go


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive of seven days, two or one a month."""
    folder = tmp_path_factory.mktemp("measures")
    add(folder / "kept", *(written(folder / f"{number}.orroom", closed_day(number)) for number in range(7)))
    return folder / "kept"


def values_of(report_of: Sequence[Series], key: str) -> list[float]:
    return [value for each in report_of if each.measure.key == key for _, value in each.points]


def test_cases_of_a_month_are_in_the_order_in_which_they_were_made(tmp_path: Path):
    """Added in one go in any order: each day takes longer than the one before."""
    cases = [written(tmp_path / f"{name}.orroom", closed_day(number)) for number, name in enumerate("dbca")]
    with closing(Archive(tmp_path / "kept")) as archive:
        said = list(archive.add_all([cases[2], cases[0], cases[3], cases[1]], How()))
    assert [str(each).split("/")[-1][0] for each in said] == ["d", "b", "c", "a"]
    for path in (tmp_path / "kept" / "cases").rglob("*.parquet"):
        os.utime(path, (0, 0))  # a copy may have any times
    durations = values_of(across(tmp_path / "kept").series, "duration")
    assert durations == sorted(durations)
    assert len(set(durations)) == 4


def test_days_that_were_kept_set_the_order_within_a_month(tmp_path: Path):
    late = written(tmp_path / "late.orroom", closed_day(1, days_later=3))
    early = written(tmp_path / "early.orroom", closed_day(0))
    for kept, in_order in ((True, [120, 129]), (False, [129, 120])):  # added in the wrong order, one by one
        for path in (late, early):
            add(tmp_path / f"kept-{kept}", path, keep_dates=kept)
        cases = read_cases(tmp_path / f"kept-{kept}")
        assert [each.figures["cutting_done"] for each in cases] == in_order


def test_grafts_kept_from_an_earlier_day_are_among_those_that_could_be_discarded():
    row = row_of(day_2(day_1().state))
    assert row["discarded_of"] == 13 + 10


def test_a_case_given_twice_in_one_go_is_there_once(kept: Path, tmp_path: Path):
    case = kept.parent / "0.orroom"
    copy = Path(shutil.copy(case, tmp_path / "copy.orroom"))
    with closing(Archive(tmp_path / "kept")) as archive:
        said = [str(each) for each in archive.add_all([case, copy], How())]
    assert "added as" in said[0]
    assert "is in the archive already, as" in said[1]
    assert len(read_cases(tmp_path / "kept")) == 1


def test_a_second_day_is_linked_to_the_first_and_names_nobody(tmp_path: Path):
    first = written(tmp_path / "P7-1.orroom", day_1())
    with CaseFile.open(first, read_only=True) as case_file:
        seal = case_file.seal()
    second = written(tmp_path / "P7-2.orroom", day_2(day_1().state, seal=seal))
    other = written(tmp_path / "other.orroom", day_2(day_1("Q1").state, "Q2"))
    folder = tmp_path / "kept"
    add(folder, second, other)
    assert [each.goes_on for each in read_cases(folder)] == [False, False]
    add(folder, first)
    with closing(database()) as connection:
        linked = connection.execute(
            f"SELECT now.placed, earlier.placed FROM '{folder}/cases/*/*/*.parquet' AS now "
            f"JOIN '{folder}/cases/*/*/*.parquet' AS earlier ON earlier.seal_mark = now.goes_on_mark"
        ).fetchall()
        marks = connection.execute(f"SELECT goes_on_mark FROM '{folder}/cases/*/*/*.parquet'").fetchall()
    assert linked == [(11, 67)]
    assert not [mark for (mark,) in marks if mark and (mark in seal.hash or seal.hash.startswith(mark))]
    report = across(folder)
    assert (report.going_on, report.going_on_elsewhere) == (1, 1)
    said = "Second days: 1 of an earlier case of this archive, 1 of one that is not in it."
    assert said in " ".join(to_text(report).split())
    assert "Second days" not in to_text(report, single=False)


def test_what_an_earlier_version_did_not_keep_is_said_to_be_not_recorded(kept: Path, tmp_path: Path):
    folder = tmp_path / "earlier"
    shutil.copytree(Path(__file__).parents[1] / "recorded" / "archive", folder)
    assert [each.version for each in read_cases(folder / "kept")] == [0, 0]
    add(folder / "kept", written(tmp_path / "5.orroom", closed_day(5)))
    report = across(folder / "kept", chosen(("duration", "hairs_per_graft", "counts_agree")))
    found = [(each.measure.key, len(each.points), each.not_recorded, each.without) for each in report.series]
    assert found == [
        ("hairs_per_graft", 3, 0, 0),
        ("duration", 1, 2, 0),
        ("counts_agree", 1, 2, 0),
    ]
    text = to_text(report)
    assert text.count("Not recorded: 2 cases, added by an earlier version. Add again with --replace.") == 2
    assert "Not recorded" not in to_text(across(kept))
    (sites,) = across(kept, chosen(("sites_pace",))).series
    assert (sites.points, sites.not_recorded, sites.without) == ((), 0, 7)  # nobody entered any


def test_many_cases_are_worked_out_by_several_processes_and_come_to_the_same(
    kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(adding, "FEWEST_EACH", 1)
    monkeypatch.setattr(adding, "AHEAD", 2)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    cases = [kept.parent / f"{number}.orroom" for number in range(5)]
    with closing(Archive(tmp_path / "kept")) as archive:
        assert sum("added as" in str(each) for each in archive.add_all(cases[:1], How())) == 1
        said = list(archive.add_all([*cases, tmp_path / "none.orroom"], How()))
    assert sum("added as" in str(each) for each in said) == 4
    assert "is in the archive already" in str(said[0])
    assert isinstance(said[-1], OrroomError)
    assert said[-1].hint
    assert beside(tmp_path / "kept", catalogue.SUFFIX).exists()  # the next report need not make it
    assert read_cases(tmp_path / "kept") == read_cases(kept)[:5]


def test_what_is_wrong_with_a_case_comes_back_from_another_process(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(adding, "FEWEST_EACH", 1)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    good = written(tmp_path / "good.orroom", closed_day(0))
    changed = written(tmp_path / "changed.orroom", closed_day(1))
    changed.write_bytes(changed.read_bytes().replace(b"Somebody coughed", b"Somebody laughed"))
    done = orroom("archive", "add", good, changed, "--to", tmp_path / "kept")
    assert done.exit_code == 1
    assert f"[1 of 2] {good}: added as" in done.stdout
    assert f"[2 of 2] orroom: {changed} is not intact: " in done.stderr
    assert "1 of 2 cases were not added." in done.stderr


def test_cases_whose_process_was_ended_are_named_and_lost_from_no_list(
    kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    class Ended:
        """Processes of which one was ended while it worked on the first case: the next are refused."""

        def __init__(self) -> None:
            self.asked = 0

        def submit(self, _: object) -> Future[None]:
            self.asked += 1
            if self.asked > 1:
                raise BrokenProcessPool
            future: Future[None] = Future()
            future.set_exception(BrokenProcessPool())
            return future

    monkeypatch.setattr(adding, "_workers", lambda _: nullcontext(Ended()))
    cases = [kept.parent / f"{number}.orroom" for number in range(2)]
    with closing(Archive(tmp_path / "kept")) as archive:
        said = [str(each) for each in archive.add_all(cases, How())]
    assert said == [f"{case}: the process that worked it out has ended. Add it again." for case in cases]


def test_how_long_the_rest_takes_is_said_where_that_is_minutes():
    from orroom.cli.archive import _left

    assert _left(60, 100, 5000) == ", about 49 min left"
    assert _left(1, 10, 20) == ""


def test_measures_are_chosen_by_name_and_a_wrong_name_is_answered_with_all(kept: Path):
    shown = orroom("archive", "report", kept, "--measure", "care-missed", "--measure", "duration")
    assert shown.exit_code == 0
    assert [line for line in shown.stdout.splitlines() if line.startswith("## ")] == [
        "## Duration, from the first harvest to the last work",
        "## Care missed",
    ]
    wrong = orroom("archive", "report", kept, "--measure", "happiness")
    assert wrong.exit_code == 1
    assert "There is no measure happiness. Choose from: hairs-per-graft, duration, " in " ".join(
        wrong.stderr.split()
    )
    for each in MEASURES:
        assert each.name in wrong.stderr


def test_a_report_to_hand_on_has_no_single_case(kept: Path):
    words = ("archive", "report", kept, "--format", "html")
    whole, to_hand_on = (orroom(*words, *more).stdout for more in ((), ("--to-hand-on",)))
    assert SINGLE in whole
    assert "one by one" in whole
    assert SINGLE not in to_hand_on
    assert "one by one" not in to_hand_on
    levels = [
        {row["level"] for row in csv.DictReader(io.StringIO(to_csv(across(kept), single=single)))}
        for single in (True, False)
    ]
    assert levels == [{"all", "year", "month", "case"}, {"all", "year", "month"}]


def test_the_table_has_each_case_in_order_of_time(kept: Path):
    report = across(kept)
    rows = [
        row
        for row in csv.DictReader(io.StringIO(to_csv(report)))
        if (row["level"], row["measure"]) == ("case", "duration")
    ]
    assert [row["group"] for row in rows] == ["1", "2", "3", "4", "5", "6", "7"]
    minutes = values_of(report.series, "duration")
    assert [float(row["value"]) for row in rows] == [round(each) for each in minutes]
    assert [row["first_month"] for row in rows] == sorted(row["first_month"] for row in rows)


# Run charts.


def cases_with(values: Sequence[float], measure: Measure) -> list[Case]:
    """Cases one after the other, three a month, of which only this measure is known."""
    figures = dict.fromkeys((name for each in MEASURES for name in (each.value, each.of) if name), None)
    of = {} if measure.of is None else {measure.of: 1.0}
    months = [date(2026 + n // 36, n // 3 % 12 + 1, 1) for n in range(len(values))]
    return [
        Case("here", month, {**figures, measure.value: value, **of}, case_row.VERSION)
        for month, value in zip(months, values, strict=True)
    ]


def charted(values: Sequence[float], key: str) -> tuple[Chart, str]:
    (measure,) = chosen((key,))
    report = over(cases_with(values, measure), [measure])
    found = one_by_one(report.series[0])
    assert found is not None
    return found[0], " ".join(to_text(report).split())


def test_a_run_chart_has_its_median_and_points_out_shift_and_trend():
    minutes = [300.0, 330, 310, 320, 305, 325, 315, 400, 390, 395, 405, 385, 398, 399, 402, 410, 420, 300]
    chart, text = charted(minutes, "duration")
    (median,) = (each for each in chart.shown if isinstance(each, Level))
    assert (median.name, median.value) == ("median", pytest.approx(387.5 / 60))
    marks = {each.name: [round(x) for x, _ in each.points] for each in chart.shown if isinstance(each, Marks)}
    assert marks["case"] == [*range(1, 19)]
    [cases] = (each for each in chart.shown if isinstance(each, Marks) and each.name == "case")
    assert [hours for _, hours in cases.points] == pytest.approx([each / 60 for each in minutes])
    assert marks["trend"] == [12, 13, 14, 15, 16, 17]
    assert marks["shift"] == [*range(1, 8)]
    assert "Shift: cases 1 to 7, below." in text
    assert "Trend: cases 12 to 17, up." in text
    assert "5 runs, too few; by chance 6 to 14." in text


def test_a_run_chart_of_a_quiet_team_says_that_nothing_is_pointed_out():
    _, text = charted([1.0, 3, 2, 4, 1, 3, 2, 4, 1, 4, 2, 3], "hairs_per_graft")
    assert "Median 2.50. No shift, no trend. 12 runs, too many; by chance 4 to 10." in text
    _, few = charted([0.0] * 9 + [1, 2], "care_missed")
    assert "2 cases off the median: too few to count runs." in few


def test_only_the_last_cases_are_drawn_and_none_of_yes_and_no():
    chart, _ = charted([float(n % 7) for n in range(MOST_CASES + 5)], "care_missed")
    assert chart.title == f"Care missed, the last {MOST_CASES} cases one by one"
    (closed,) = chosen(("closed_without_count",))
    series = over(cases_with([0.0, 1, 0, 0, 1, 0], closed), [closed]).series[0]
    assert one_by_one(series) is None


def test_months_are_drawn_at_their_true_dates():
    """October is nine months from January and two from December."""
    (measure,) = chosen(("hairs_per_graft",))
    cases = [
        each._replace(month=date(2026, month, 1))
        for month in (1, 10, 12)
        for each in cases_with([1.8, 2.0, 2.2], measure)
    ]
    (chart,) = by_month(over(cases, [measure]), measure)
    (marks,) = (each for each in chart.shown if isinstance(each, Marks))
    january, october, december = (x for x, _ in marks.points)
    assert (october - january, december - october) == (9, 2)
    assert [words for _, words in chart.ticks] == ["2026-01", "2026-10", "2026-12"]
    few = [
        *cases[:3],
        *(each._replace(month=date(2026, month, 1)) for month in (3, 4, 4) for each in cases[:1]),
    ]
    (chart,) = by_month(over(few, [measure]), measure)
    (line,) = (each for each in chart.shown if isinstance(each, Line))
    (begins, _), (ends, _) = line.points
    assert (begins - january + 0.5, ends - begins) == (2, 2)  # March and April together


def test_yes_and_no_by_month_have_control_limits():
    """4 of 12 cases: 1/3 ± 3·√(2/9/3), which goes below 0 and above 1."""
    (closed,) = chosen(("closed_without_count",))
    report = over(cases_with([0.0, 1, 0, 0, 1, 0, 0, 1, 0, 0, 1, 0], closed), [closed])
    (chart,) = by_month(report, closed)
    assert chart.title.endswith("by month, with control limits")
    (whole,) = (each for each in chart.shown if isinstance(each, Level))
    assert (whole.name, whole.value) == ("all cases", pytest.approx(100 / 3))
    assert "by month, with control limits" in to_html(report)
    limits = [(each.low, each.high) for each in chart.shown if isinstance(each, Range)]
    assert limits == [(0, pytest.approx(100))] * 4
    assert "Outside the control limits: no month." in to_text(report)


def test_a_month_outside_its_control_limits_is_named():
    """2 of 60 cases, both of three in April: 67 %, above 1/30 + 3·√(1/30·29/30/3) = 34.4 %."""
    (closed,) = chosen(("closed_without_count",))
    values = [float(n in {9, 10}) for n in range(60)]
    report = over(cases_with(values, closed), [closed])
    assert "Outside the control limits: 2026-04." in to_text(report)
