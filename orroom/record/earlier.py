"""The case that a plan names as earlier: found, held against its seal, and taken into the plan.

It is named by its code, and is then looked for in the folder of the plan file and in that where the program
was started; or by the path of its file, which may begin at the plan file's folder. It must be signed off:
until then what it placed and kept may change.
"""

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from msgspec.structs import replace

from orroom.case.earlier import KeptBefore, Session, ZoneBefore
from orroom.case.evolve import fold
from orroom.case.final_count import waiting_by_group
from orroom.case.harvests import out_since_ms
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.case.terms import size_named
from orroom.errors import PlanInvalidError, Problem
from orroom.files.plan_file import load_plan
from orroom.record.case_file import CaseFile
from orroom.record.cases import found_cases
from orroom.record.chain import Seal
from orroom.record.opening import SUFFIX
from orroom.record.verify import verify

#: Harvests of grafts that were kept have this letter and a number, the oldest has 1.
KEPT: Final = "K"


def load_whole_plan(path: Path) -> Plan:
    """The plan in a TOML file, with what it takes over from an earlier case.

    Raises ``OrroomError`` if it cannot be read, ``PlanInvalidError`` if it or its earlier case is wrong.
    """
    return with_earlier(load_plan(path), path)


def revised_plan(path: Path, in_force: Plan) -> Plan:
    """The plan in a TOML file, to replace one in force, whose earlier case is not read again.

    Raises as ``load_whole_plan``, and for a file that names another earlier case.
    """
    plan = load_plan(path)
    if in_force.sessions is None:
        return with_earlier(plan, path)
    if plan.earlier is not None and Path(plan.earlier).stem != in_force.earlier:
        raise _wrong(
            path,
            f"{plan.earlier!r} is not {in_force.earlier!r}, which the case was opened with",
            f"write earlier = {in_force.earlier!r}",
        )
    return kept_as_taken(plan, in_force)


def kept_as_taken(plan: Plan, in_force: Plan) -> Plan:
    """A plan with what the plan in force took over from earlier cases."""
    if in_force.sessions is None:
        return plan
    return replace(plan, earlier=in_force.earlier, sessions=in_force.sessions)


def with_earlier(plan: Plan, path: Path) -> Plan:
    """The plan of the file ``path``, with what it takes over from the earlier case that it names, if any.

    Raises ``PlanInvalidError`` where that is missing, open, altered, or does not fit the plan.
    """
    if plan.earlier is None:
        return plan
    case = _found(plan.earlier, path)
    verdict = verify(case)
    if not (verdict.intact or verdict.says_so):
        raise _wrong(path, f"{case}: {verdict.sentence}", "find out what happened first: orroom verify")
    with CaseFile.open(case, read_only=True) as case_file:
        state = fold(case_file.entries_after(0))
    if problems := list(_not_usable(plan, state, case)):
        raise PlanInvalidError(str(path), [Problem("earlier", wrong, right) for wrong, right in problems])
    return replace(plan, earlier=state.plan.case, sessions=sessions_of(state, verdict.seal))


def _wrong(path: Path, wrong: str, right: str) -> PlanInvalidError:
    return PlanInvalidError(str(path), [Problem("earlier", wrong, right)])


def _found(earlier: str, path: Path) -> Path:
    """The file of the case that a plan file names."""
    folders = (path.parent, Path())
    if earlier.endswith(SUFFIX) or "/" in earlier or "\\" in earlier:
        for folder in folders:
            if (case := folder / Path(earlier).expanduser()).exists():
                return case
        raise _wrong(path, f"there is no {earlier}", f"give the path from {path.parent.resolve()}")
    found = found_cases(folders)
    cases = [each for each in found if each.standing is not None and each.standing.plan.case == earlier]
    originals = [each.path for each in cases if not each.copy] or [each.path for each in cases[:1]]
    if len(originals) == 1:
        return originals[0]
    where = path.parent.resolve()
    if not originals:
        raise _wrong(
            path,
            f"no case with the code {earlier!r} is in {where} or a folder in it"
            + "".join(f" ({each.problem})" for each in found if each.standing is None),
            f"put it there, or give the path of its case file, such as ../{earlier}/{earlier}{SUFFIX}",
        )
    named = ", ".join(map(str, originals))
    raise _wrong(path, f"{len(originals)} cases have the code {earlier!r}: {named}", "give the path of one")


def _not_usable(plan: Plan, state: CaseState, case: Path) -> Iterator[tuple[str, str]]:
    """What is wrong with taking over from a case, and what would be right."""
    if state.tally.plan is None:
        yield f"{case} has no case in it", "name a case that was opened"
        return
    code = state.plan.case
    if plan.case in {code, *(each.case for each in state.plan.sessions or ())}:
        yield f"{plan.case!r} is this case itself, or comes after it", "name the case before this one"
        return
    if not state.tally.signed_off:
        yield f"case {code} is still open", f"sign it off first: orroom sign-off {case}"
        return
    waiting = sum(max(0, count) for count in waiting_by_group(state.tally).values())
    if waiting:
        yield (
            f"case {code} has {waiting:,} {'graft' if waiting == 1 else 'grafts'} left without a fate",
            f"reopen it, say what became of them (orroom fates {case}), and sign it off again",
        )
    kept = kept_grafts(state)
    for size in sorted({size for each in kept for size in each.grafts} - set(plan.size_by_key)):
        count = sum(each.grafts.get(size, 0) for each in kept)
        yield (
            f"case {code} kept {count:,} {size_named(size, count)}; this plan has no size {size!r}",
            "add it under [[sizes]]",
        )
    for key in sorted({each.key for each in kept} & {harvest.key for harvest in plan.harvests}):
        yield f"harvest {key!r} is the key of grafts kept in case {code}", "give that harvest another key"


def sessions_of(state: CaseState, seal: Seal) -> tuple[Session, ...]:
    """What the next case takes over from a signed one, oldest first: the cases before it, and this one."""
    before = tuple(replace(each, kept=()) for each in state.plan.sessions or ())
    placed: dict[str, Counter[str]] = {}
    for (zone, size), count in state.tally.placed.items():
        if count > 0:
            placed.setdefault(zone, Counter())[size] += count
    taken: Counter[str] = Counter()
    for (_, what, size), count in state.tally.done.items():
        taken[size] += count if what == "cut" else 0
    zones = tuple(
        ZoneBefore(
            key=zone.key,
            label=zone.label,
            placed=_by_size(placed[zone.key]),
            hairs=sum(count * state.plan.size_by_key[size].hairs for size, count in placed[zone.key].items()),
        )
        for zone in state.plan.zones
        if zone.key in placed
    )
    here = Session(
        case=state.plan.case,
        seal=seal.hash,
        entries=seal.seq,
        opened_at_ms=state.tally.opened_at_ms or 0,
        utc_offset_minutes=state.tally.utc_offset_minutes,
        zones=zones,
        taken=_by_size(taken),
        kept=kept_grafts(state),
    )
    return (*before, here)


def kept_grafts(state: CaseState) -> tuple[KeptBefore, ...]:
    """The grafts that a case kept for another day, by harvest, oldest first, as the next case calls them."""
    grafts_of: dict[str, Counter[str]] = {}
    for (size, harvest, _, fate), count in state.tally.fates.items():
        if fate == "kept":
            grafts_of.setdefault(harvest, Counter())[size] += count
    since = out_since_ms(state)
    ordered = sorted(grafts_of, key=lambda harvest: (harvest not in since, since.get(harvest, 0), harvest))
    found = []
    for number, harvest in enumerate(ordered, 1):
        known = state.plan.kept.get(harvest)
        of = harvest if known is None else known.of
        found.append(
            KeptBefore(
                key=f"{KEPT}{number}",
                of=of,
                label=f"{KEPT}{number}, kept from harvest {of}",
                started_at_ms=since.get(harvest),
                grafts=_by_size(grafts_of[harvest]),
            )
        )
    return tuple(found)


def _by_size(counts: Counter[str]) -> dict[str, int]:
    """Counts in the order of their sizes, so that the same case gives the same text."""
    return dict(sorted(counts.items()))
