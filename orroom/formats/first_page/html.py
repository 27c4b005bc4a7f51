"""The first page in a browser, on paper from there, and on a telephone."""

from collections.abc import Sequence
from typing import Final

from orroom.formats.drawing import Drawing
from orroom.formats.first_page.looks import Look, Mark
from orroom.formats.first_page.page import NO_WORK, NOTHING_TO_LOOK_AT, FirstPage, Followed, Headline
from orroom.formats.first_page.parts import Part
from orroom.formats.html import escaped, table_html, words_html

#: A look's mark, and what it is called for those who hear the page.
MARKS: Final[dict[Mark, str]] = {"open": "●", "beyond": "▲", "explained": "○"}
SAID: Final[dict[Mark, str]] = {"open": "open", "beyond": "beyond a limit or late", "explained": "explained"}


def page_html(page: FirstPage) -> str:
    """The page as one article."""
    return (
        '<article class="first">\n'
        + _head(page)
        + _intact(page)
        + f'<dl class="headlines">\n{"".join(map(_headline, page.headlines))}</dl>\n'
        + _looks(page)
        + _section("The day", "", _day(page), "day")
        + '<div class="columns">\n<div>\n'
        + _section("Zones as they lie, seen from above", "boxes to scale by area; grey: placed", _zones(page))
        + _part(page.count)
        + _signatures(page)
        + "</div>\n<div>\n"
        + _part(page.sizes)
        + _out(page)
        + _part(page.people)
        + "</div>\n</div>\n"
        + _foot(page)
        + "</article>\n"
    )


def _head(page: FirstPage) -> str:
    title = f" <small>{escaped(page.title)}</small>" if page.title else ""
    status = escaped(page.status)
    if page.open:
        status = f'<span class="accent" aria-hidden="true">●</span> <strong>{status}</strong>'
    return (
        f'<header>\n<h1>{escaped(page.case)}{title}</h1>\n<p class="date">{escaped(page.day)}</p>\n'
        f'<p>{status}</p>\n<p class="faint">{escaped(page.clock)}</p>\n</header>\n'
    )


def _intact(page: FirstPage) -> str:
    return f'<p class="alarm"><strong>{escaped(page.not_intact)}</strong></p>\n' if page.not_intact else ""


def _headline(headline: Headline) -> str:
    mark = '<span aria-hidden="true">▲ </span>' if headline.beyond else ""
    beyond = ' class="beyond"' if headline.beyond else ""
    return (
        f"<div{beyond}>\n<dt>{escaped(headline.what)}</dt>\n<dd>{mark}{escaped(headline.figure)}</dd>\n"
        f'<dd class="faint">{escaped(headline.detail)}</dd>\n</div>\n'
    )


def _looks(page: FirstPage) -> str:
    if not page.looks:
        return _section("What needs a look", "", f"<p>{NOTHING_TO_LOOK_AT}</p>\n")
    items = "".join(map(_look, page.looks))
    more = ""
    if page.left_out[0].words:
        where = ", ".join(map(_link, page.left_out[0].sections))
        where = f": {where}" if where else ""
        more = f"<p><strong>{escaped(page.left_out[0].words)}</strong>{where}</p>\n"
    return _section("What needs a look", page.looks_of, f'<ul class="looks">\n{items}</ul>\n{more}')


def _look(look: Look) -> str:
    how = ". ".join(filter(None, (escaped(look.how), f"<em>{escaped(look.said)}</em>" if look.said else "")))
    return (
        f'<li class="{look.mark}"><span class="mark" role="img" aria-label="{SAID[look.mark]}">'
        f"{MARKS[look.mark]}</span> <strong>{escaped(look.what)}</strong> "
        f'<span class="at">{escaped(look.at)}</span> <span>{how}</span></li>\n'
    )


def _day(page: FirstPage) -> str:
    if page.day_broad is None or page.day_narrow is None:
        return f"<p>{NO_WORK}</p>\n"
    return (
        f'<figure class="broad">{page.day_broad.svg()}</figure>\n'
        f'<figure class="narrow">{page.day_narrow.svg()}</figure>\n'
    )


def _zones(page: FirstPage) -> str:
    return _figure(page.zones[0] if page.zones else None)


def _figure(drawing: Drawing | None) -> str:
    return "" if drawing is None else f"<figure>{drawing.svg()}</figure>\n"


def _out(page: FirstPage) -> str:
    by_size = f"<p>{escaped(page.out_by_size)}</p>\n" if page.out_by_size else ""
    return _section(page.out.title, page.out.aside, _figure(page.out_curve) + _within(page.out) + by_size)


def _part(part: Part) -> str:
    return _section(part.title, part.aside, _within(part))


def _within(part: Part) -> str:
    table = "" if part.table is None else table_html(part.table)
    return table + "".join(f"<p>{words_html(each)}</p>\n" for each in part.paragraphs)


def _section(title: str, aside: str, body: str, name: str = "") -> str:
    named = f' class="{name}"' if name else ""
    said = f'<p class="aside faint">{escaped(aside)}</p>\n' if aside else ""
    return f"<section{named}>\n<h2>{escaped(title)}</h2>\n{said}{body}</section>\n"


def _signatures(page: FirstPage) -> str:
    lines: Sequence[str] = [
        f"<li><strong>{escaped(each.who)}</strong> <span>{escaped(each.words)}</span></li>\n"
        for each in page.signatures
    ]
    return _section("Signatures", "", f'<ul class="signatures">\n{"".join(lines)}</ul>\n')


def _foot(page: FirstPage) -> str:
    seal = ""
    if page.seal:
        seal = f' Seal of the record <span class="seal">{escaped(page.seal)}</span>'
    follows = ""
    if page.follows:
        follows = f"<nav>Below: {', '.join(map(_link, page.follows))}</nav>\n"
    entries = f"<p>{escaped(page.entries)}.{seal}</p>\n"
    return f"<footer>\n{follows}{entries}<p>{escaped(page.cautions)}</p>\n</footer>\n"


def _link(section: Followed) -> str:
    return f'<a href="#{section.name}">{escaped(section.title)}</a>'
