"""What entries say in the last-entries list and the summary."""

from __future__ import annotations

import pytest
from cases import small_plan
from rich.console import Console
from rich.text import Text

from orroom.case import events as e
from orroom.case.plan import Harvest, Size, Zone
from orroom.words.entries import entry_words

ONE_HARVEST = (Harvest(key="A", label="strip"),)
SIZES = tuple(Size(key=key, label=f"{key} hairs", hairs=int(key)) for key in ("1", "2", "3"))
ZONES = (
    Zone(key="FL", label="frontal left", area_cm2=10, targets={"2": 50}),
    Zone(key="HL", label="hairline left", area_cm2=4, targets={"1": 40}),
)
PLAN = small_plan(sizes=SIZES, zones=ZONES, harvests=ONE_HARVEST)
COLUMNS = 44

SENTENCES: tuple[tuple[e.AnyEvent, str], ...] = (
    (e.CaseOpened(plan=PLAN, utc_offset_minutes=0), "case SMALL-1 opened"),
    (e.PlanRevised(plan=PLAN, reason="one more zone"), "plan revised: one more zone"),
    (e.StationJoined(role="placing"), "placing station opened"),
    (e.StationLeft(), "station closed"),
    (e.TeamChanged(work="sites", people=1), "1 person making sites"),
    (e.TeamChanged(work="placing", people=3), "3 people placing"),
    (e.BreakPlanned(starts_at_ms=0, minutes=30.0), "break planned: everybody, 30 min"),
    (e.BreakPlanned(starts_at_ms=0, minutes=15.0, work="cutting"), "break planned: cutting, 15 min"),
    (e.HarvestStarted(harvest="A", started_at_ms=0), "harvest started: strip"),
    (e.HarvestEnded(harvest="A"), "harvest ended: strip"),
    (e.SegmentCut(harvest="A", segment=3), "segment 3 of strip done"),
    (e.SegmentCut(harvest="A", segment=3, length_mm=10.5), "segment 3 of strip done, 10.5 mm"),
    (e.GraftsCut(harvest="A", size="2", count=1), "+1 two"),
    (
        e.GraftsDivided(size="3", into=("1", "2"), count=1, hairs_lost=0, drawn=()),
        "1 three divided: one + two",
    ),
    (
        e.GraftsDivided(size="3", into=("1", "1"), count=2, hairs_lost=2.0, drawn=()),
        "2 threes divided: one + one, 2 hairs lost",
    ),
    (
        e.GraftsDiscarded(size="3", count=1, reason="transected"),
        "discarded 1 three, transected",
    ),
    (
        e.GraftsDiscarded(size="3", count=1, reason="transected", harvest="A"),
        "discarded 1 three in cutting, transected",
    ),
    (e.SitesMade(zone="HL", count=40), "40 sites made in hairline left"),
    (e.SitesMade(zone="HL", count=1), "1 site made in hairline left"),
    (e.GraftsIssued(size="2", count=25, drawn=()), "25 twos to the placers"),
    (e.GraftsReturned(size="2", count=5, drawn=()), "5 twos back to the dish"),
    (e.GraftsPlaced(zone="FL", size="2", count=25, drawn=()), "25 twos → frontal left"),
    (e.GraftReseated(zone="FL", count=2), "2 reseated in frontal left"),
    (e.CareGiven(care="wet", due_at_ms=None), "wet the dishes"),
    (e.CareGiven(care="bench", due_at_ms=None), "wet the grafts with the placers"),
    (e.CareGiven(care="cold", due_at_ms=None, temperature_c=4.2), "temperature 4.2 °C"),
    (e.PromptPaused(care="wet", until_ms=0), "prompt paused: wet the dishes"),
    (
        e.SpotChecked(subject="placing", zone="HL", looked_at=10, faulty=1, fault=None),
        "placing checked in hairline left: 1 of 10 faulty",
    ),
    (
        e.SpotChecked(subject="cutting", zone=None, looked_at=9, faulty=2, fault="bare"),
        "cutting checked: 2 of 9 faulty, bare",
    ),
    (
        e.SpotChecked(
            subject="placing",
            zone="HL",
            looked_at=20,
            faulty=3,
            fault=None,
            whose="GH",
            faults=(e.FaultFound(fault="turned", count=2), e.FaultFound(fault="crushed", count=1)),
        ),
        "GH's placing checked in hairline left: 3 of 20 faulty, 2 turned, 1 crushed",
    ),
    (
        e.SpotChecked(
            subject="cutting", zone=None, looked_at=3, faulty=0, fault=None, follicles=9, transected=3
        ),
        "cutting checked: 0 of 3 faulty; 3 of 9 follicles transected",
    ),
    (e.HandedOver(left="AB"), "replaced AB"),
    (e.LaneOpened(lane="a", by="GH"), "lane a opened for GH"),
    (e.LaneHandedOver(lane="a", by="JK", left="GH"), "lane a: JK replaced GH"),
    (e.LaneClosed(lane="a"), "lane a closed"),
    (e.FateGiven(size="2", count=4, fate="left over", drawn=()), "4 twos: left over"),
    (e.BreakStarted(), "break started"),
    (e.BreakEnded(), "break ended"),
    (e.KeysSetAside(cause="held", keys="2 2 2", count=3, counted=False), "3 keys not counted, held down"),
    (
        e.KeysSetAside(cause="bounce", keys="2", count=1, counted=False),
        "1 key not counted, bounced after an answer",
    ),
    (e.EntriesLost(count=12), "12 entries that had been saved gone"),
    (
        e.RecordDiffered(anchored=19, expected_hash="a" * 64, found_hash=None, same=9, last=17),
        "record changed: 10 gone, 8 in their place",
    ),
    (e.ClockStepped(by_ms=-3_600_000), "clock set back by 1 h 00"),
    (e.NoteAdded(text="dish 2 [/b] moved"), "note: dish 2 [/b] moved"),
    (
        e.MismatchExplained(mismatch="x", amount=1, text="two sites spare"),
        "mismatch explained: two sites spare",
    ),
    (e.StickAndPlaceSet(zone="HL", on=True), "hairline left: stick and place"),
    (e.StickAndPlaceSet(zone="HL", on=False), "hairline left: sites entered again"),
    (e.LimitAnswered(limit="temperature:cold", done="ice added"), "broken limit: ice added"),
    (
        e.PlacingMoved(entry=17, from_zone="HL", zone="FL", size="2", count=12),
        "entry 17 moved to frontal left: 12 twos",
    ),
    (e.EntryCorrected(entry=17, reason="taken back"), "entry 17 undone"),
    (e.EntryCorrected(entry=17, reason="other zone"), "entry 17 cancelled: other zone"),
    (
        e.DishCounted(size="2", harvest="A", place="dish", tallied=40, found=38),
        "dish counted: 38 twos, tally 40",
    ),
    (
        e.DishCounted(size="2", harvest="A", place="bench", tallied=40, found=38),
        "with placers counted: 38 twos, tally 40",
    ),
    (
        e.FinalCounted(groups=(e.CountedGroup(size="1", harvest="A", place="dish", found=12),), since=3),
        "final count of 1 group",
    ),
    (
        e.FinalCounted(
            groups=(e.CountedGroup(size="1", harvest="A", place="dish", found=12),), since=3, recount_of=2
        ),
        "final count of 1 group again",
    ),
    (e.FinalCountBegun(), "final count begun"),
    (e.FinalCountGivenUp(begun=7), "final count begun in entry 7 stopped"),
    (e.CaseSignedOff(second="CD"), "signed off with CD"),
    (
        e.CaseSignedOff(second="CD", open_because="one lost", informed="RS"),
        "signed with CD, open: one lost (RS informed)",
    ),
    (
        e.CaseSignedOff(
            second="CD", left_open=(e.LeftOpen(key="no-count", sentence="x", because="y", informed="RS"),)
        ),
        "signed off with CD, 1 thing left open",
    ),
    (e.CaseReopened(reason="late graft"), "reopened: late graft"),
)


@pytest.mark.parametrize(("event", "sentence"), SENTENCES, ids=lambda each: getattr(each, "kind", ""))
def test_each_entry_says_one_short_sentence(event: e.AnyEvent, sentence: str) -> None:
    assert entry_words(event, PLAN) == sentence
    assert len(sentence) <= COLUMNS or isinstance(event, e.SpotChecked)


def test_every_event_kind_has_a_sentence() -> None:
    assert {event.kind for event, _ in SENTENCES} == set(e.EVENT_KINDS)


def test_grafts_cut_name_their_harvest_once_there_are_several() -> None:
    event = e.GraftsCut(harvest="B", size="2", count=3)
    assert entry_words(event, small_plan()) == "+3 twos, punches"


@pytest.mark.parametrize(
    ("event", "sentence"),
    [
        (e.GraftsPlaced(zone="VERTEX", size="4", count=3, drawn=()), "3 fours → VERTEX"),
        (e.SegmentCut(harvest="Z", segment=1), "segment 1 of harvest Z done"),
        (e.CareGiven(care="shake", due_at_ms=None), "shake"),
        (
            e.SpotChecked(subject="placing", zone="VERTEX", looked_at=1, faulty=0, fault=None),
            "placing checked in VERTEX: 0 of 1 faulty",
        ),
    ],
)
def test_what_the_plan_does_not_know_is_told_by_its_key(event: e.AnyEvent, sentence: str) -> None:
    assert entry_words(event, PLAN) == sentence


def test_a_sentence_is_text_and_no_markup() -> None:
    """Rich reads ``[/b]`` in a ``str`` as markup and fails; as ``Text`` the sentence stands as written."""
    sentence = entry_words(e.NoteAdded(text="dish 2 [/b] moved"), PLAN)
    console = Console(width=80)
    with console.capture() as capture:
        console.print(Text(sentence))
    assert capture.get() == "note: dish 2 [/b] moved\n"
