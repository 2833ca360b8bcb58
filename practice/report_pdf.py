"""The term report and the week's summary as PDF, drawn by typst from plain values (practice.report, practice.summary).

Every word is put in the reader's language here and goes to the page's style (report.typ) as data, never as markup. The
PDF is tagged and checked by typst against PDF/UA-1: headings, a title, a language, and words for every picture.

Conventions: fonts are those that come with typst, so that every machine makes the same page. They have Latin, Greek,
Cyrillic, Hebrew and Arabic letters, but no emoji and no East Asian ones, and PDF/UA-1 forbids a character without a
shape: a picture is then written by its name in brackets, a letter as a square, and a line says so. A word longer than a
line may be broken anywhere.
"""

from __future__ import annotations

import datetime as dt
import json
import logging
import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.utils.formats import date_format
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from practice.chart_draw import Chart
from practice.display import NONE, measured_text, number_text, state_mark
from practice.report import Report
from practice.summary import Number, WeekSummary
from practice.words import say

if TYPE_CHECKING:
    import typst

STYLE = Path(__file__).with_name("report.typ")
STANDARD = "ua-1"
# what stands for a letter that no font of typst's has
SQUARE = "□"

_LONG_WORD = re.compile(r"\S{41,}")
_PIECE = 40
_BREAK = "\u200b"
# joins and picks the looks of emoji; without the emoji they say nothing
_JOINERS = re.compile("[\u200d\ufe00-\ufe0f\U0001f3fb-\U0001f3ff\U000e0100-\U000e01ef]")

_VIEW_BOX = re.compile(r'viewBox="0 0 [\d.]+ ([\d.]+)"')
_TALL = 240.0  # of 360 across: higher than that, and two others stand beside it
_NO_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")

_TWO_FONTS = '#set text(font: ("Libertinus Serif", "DejaVu Sans Mono"))\n'
# a code point that stands for no character in any edition of Unicode: no font has a shape for it
_NEVER = "\U0001ffff"
_MEASURE = f"""{_TWO_FONTS}#set text(size: 100pt, top-edge: "bounds", bottom-edge: "bounds")
#let size(letter) = {{ let box = measure(text(letter)); (box.width.pt(), box.height.pt()) }}
#context [#metadata(json(bytes(sys.inputs.letters)).map(size)) <sizes>]""".encode()

_log = logging.getLogger(__name__)


# ---------------------------------------------------------------- what the pages say


def term_pdf(report: Report, figures: Sequence[Chart], studio: str, teacher: str) -> bytes:
    """The term report.  figures: drawn ones only are shown.  studio, teacher: whose report it is, for the foot."""
    title = _("Term report: %(name)s") % {"name": report.name}
    span = _span(report.start, report.end)
    parts = [
        _part(_("From %(teacher)s") % {"teacher": teacher}, _typed(report.words)),
        _part(
            _("Reached this term"),
            [] if report.reached else [_("No goal became secure this term.")],
            (_("Goal"), _("Target"), _("Secure since")),
            [(one.title, say(one.target), date_format(one.day, "j M Y")) for one in report.reached],
        ),
        _part(
            _("What comes next"),
            [] if report.coming else [_("Nothing else is set yet.")],
            (_("Goal"), _("State"), _("Last"), _("Target"), _("Due")),
            [
                (
                    one.title,
                    _("waits for now") if one.waits else state_mark(one.state.code).word,
                    say(one.last) if one.last else _("not measured"),
                    say(one.target),
                    NONE if one.waits else date_format(one.due, "j M Y"),
                )
                for one in report.coming
            ],
        ),
        _part(_hand_head(report.hand_week), [say(line) for line in report.hand]),
        _part(_("How the term went"), [], figures=figures),
    ]
    data = {
        "title": title,
        "eyebrow": f"{studio} · {_('Term report')} · {span}" + (f", {_('so far')}" if report.running else ""),
        "head": report.name,
        "sentence": say(report.sentence),
        "numbers": _numbers(report.numbers),
        "parts": [part for part in parts if _filled(part)],
        "foot": f"{studio} · {report.name} · {span}",
        "studio": studio,
    }
    return _pdf(data)


def week_pdf(week: WeekSummary, figures: Sequence[Chart], name: str, studio: str) -> bytes:
    """The week's summary: the same value that the family's page and mail draw.  name: the student's whole name."""
    span = _span(week.start, week.last_day)
    rows = [
        (
            goal.title,
            _("rests for now") if goal.rests else state_mark(goal.state.code).word,
            _("none yet") if goal.last is None else measured_text(goal.last, goal.measure),
        )
        for goal in week.goals
    ]
    parts = [
        _part(_("One way to help"), [say(week.help)]),
        _part(_("What is being worked on"), [], (_("Goal"), _("State"), _("Last first try")), rows, numeric=(2,)),
        _part(_("Back to playing, step by step"), [say(line) for line in week.coming_back]),
        _part(_hand_head(week.start), [say(line) for line in week.hand]),
        _part(
            _("Next lesson"),
            [date_format(week.next_lesson, "l j F")] if week.next_lesson else [],
        ),
        _part(_("Over the weeks"), [], figures=figures),
    ]
    data = {
        "title": _("%(name)s's week, %(span)s") % {"name": week.first_name, "span": span},
        "eyebrow": f"{studio} · {span}" + ("" if week.finished else f", {_('so far')}"),
        "head": _("%(name)s's week") % {"name": week.first_name},
        "sentence": say(week.sentence),
        "numbers": _numbers(week.numbers),
        "parts": [part for part in parts if _filled(part)],
        "foot": f"{studio} · {name} · {span}",
        "studio": studio,
    }
    return _pdf(data)


def _hand_head(week: dt.date | None) -> str:
    return _("The hand, week of %(day)s") % {"day": date_format(week, "j F")} if week else ""


def _span(start: dt.date, end: dt.date) -> str:
    first = date_format(start, "j F" if start.year == end.year else "j F Y")
    return _("%(start)s to %(end)s") % {"start": first, "end": date_format(end, "j F Y")}


def _numbers(numbers: Iterable[Number]) -> list[dict[str, str]]:
    return [
        {
            "value": number.value if isinstance(number.value, str) else number_text(number.value),
            "label": say(number.label),
            "beside": say(number.beside),
        }
        for number in numbers
    ]


def _typed(words: str) -> list[str]:
    return [line.strip() for line in words.splitlines() if line.strip()]


def _part(
    head: str,
    paragraphs: Iterable[str],
    columns: Sequence[str] = (),
    rows: Sequence[Sequence[str]] = (),
    *,
    numeric: Sequence[int] = (),
    figures: Sequence[Chart] = (),
) -> dict[str, Any]:
    return {
        "head": head,
        "paragraphs": [{"text": text, "rtl": _reads_right_to_left(text)} for text in paragraphs],
        "table": {"columns": list(columns), "rows": [list(row) for row in rows], "numeric": list(numeric)},
        "figures": _figures(chart for chart in figures if chart.raw),
    }


def _filled(part: dict[str, Any]) -> bool:
    return bool(part["paragraphs"] or part["table"]["rows"] or part["figures"])


def _figures(charts: Iterable[Chart]) -> list[dict[str, Any]]:
    """What is said of how to read the marks is said once on a page."""
    made, told = [], {""}
    for chart in charts:
        figure = _figure(chart)
        if figure["note"] in told:
            figure["note"] = ""
        told.add(figure["note"])
        made.append(figure)
    return made


def _figure(chart: Chart) -> dict[str, Any]:
    svg = chart.print_svg("light").replace('font-family="sans-serif"', 'font-family="Libertinus Serif"', 1)
    svg = _NO_XML.sub("", svg)  # what was typed into a goal's title stands in the drawing's own title
    alt = f"{chart.title}. {chart.sentence}"
    words = {"title": chart.title, "sentence": chart.sentence, "note": chart.note}
    return {**words, "svg": svg, "alt": alt, "tall": _height(svg) > _TALL}


def _height(svg: str) -> float:
    """By the drawing's view box."""
    found = _VIEW_BOX.search(svg)
    return float(found[1]) if found else 0.0


def _reads_right_to_left(text: str) -> bool:
    """Whether the first letter that has a direction runs from right to left."""
    for character in text:
        direction = unicodedata.bidirectional(character)
        if direction in ("L", "R", "AL"):
            return direction != "L"
    return False


# ---------------------------------------------------------------- typst


def _pdf(data: dict[str, Any]) -> bytes:
    """The PDF of one document's data.

    First as it is; where typst finds a character without a shape, once more with what stands for it; and at the very
    last without the check of the standard, so that nobody is left without a report.
    """
    import typst

    language, _dash, region = (get_language() or "en").partition("-")
    data |= {"lang": language, "region": region or None, "missing": ""}
    data = _shown(data, _calm)
    try:
        return _compiled(data, [STANDARD])
    except typst.TypstError:
        missing = unprintable(_characters(data))
    data = _shown(data, lambda text: replaced(text, missing))
    if any(SQUARE in text for text in _texts(data)):
        data["missing"] = _("%(square)s stands for a letter that this page's fonts do not have.") % {"square": SQUARE}
    try:
        return _compiled(data, [STANDARD])
    except typst.TypstError as error:
        _log.warning("A report is not %s: %s", STANDARD, error.message)
        return _compiled(data, [])


def _compiled(data: dict[str, Any], standards: list[Any]) -> bytes:
    import typst

    compiler = typst.Compiler(
        input=str(STYLE), root=str(STYLE.parent), font_paths=_fonts(), sys_inputs={"data": json.dumps(data)}
    )
    made = compiler.compile(format="pdf", pdf_standards=standards)
    assert isinstance(made, bytes)
    return made


@cache
def _fonts() -> typst.Fonts:
    import typst

    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True)


# ---------------------------------------------------------------- characters


# keys whose text is no text of the page: drawings, and what is only read out or stored beside it
_NOT_SHOWN = ("svg", "alt", "lang", "region")


def _shown(data: Any, change: Callable[[str], str], key: str = "") -> Any:
    """The data with every text that the page shows changed."""
    match data:
        case dict():
            return {name: _shown(value, change, name) for name, value in data.items()}
        case list():
            return [_shown(value, change, key) for value in data]
        case str() if key not in _NOT_SHOWN:
            return change(data)
    return data


def _texts(data: Any) -> list[str]:
    found: list[str] = []

    def keep(text: str) -> str:
        found.append(text)
        return text

    _shown(data, keep)
    return found


def _characters(data: Any) -> frozenset[str]:
    return frozenset("".join(_texts(data)))


def _calm(text: str) -> str:
    """Without control characters, and with a place to break in every word that is longer than a line."""
    text = "".join(
        " " if unicodedata.category(character) in ("Cc", "Cs", "Cn", "Co") else character for character in text
    )
    return _LONG_WORD.sub(
        lambda word: _BREAK.join(word[0][at : at + _PIECE] for at in range(0, len(word[0]), _PIECE)), text
    )


def unprintable(characters: Iterable[str]) -> frozenset[str]:
    """Those of the characters that no font of typst's has. ASCII is known to be there."""
    doubtful = "".join(sorted(character for character in set(characters) if ord(character) > 126))
    if _has_shapes(doubtful):
        return frozenset()
    missing = _boxed(doubtful)
    # marks that stand on a letter are never drawn as the box: what is left is looked at more closely
    return missing | frozenset(_failing("".join(character for character in doubtful if character not in missing)))


def _boxed(text: str) -> frozenset[str]:
    """Those of the text's characters that are as wide and high as the box that the first font draws for a letter that
    no font has. All are measured at once: thousands of letters take no longer to look at than one."""
    import typst

    compiler = typst.Compiler(input=_MEASURE, font_paths=_fonts(), sys_inputs={"letters": json.dumps([_NEVER, *text])})
    box, *sizes = json.loads(compiler.query("<sizes>", field="value", one=True))
    return frozenset(character for character, size in zip(text, sizes, strict=True) if size == box)


def _failing(text: str) -> Iterable[str]:
    """Halves what fails until single characters are left: most texts hold few of them."""
    if not text or _has_shapes(text):
        return
    if len(text) == 1:
        yield text
        return
    half = len(text) // 2
    yield from _failing(text[:half])
    yield from _failing(text[half:])


@lru_cache(maxsize=4096)
def _has_shapes(text: str) -> bool:
    import typst

    source = f'#set document(title: "t")\n{_TWO_FONTS}#sys.inputs.text'.encode()
    try:
        compiler = typst.Compiler(input=source, font_paths=_fonts(), sys_inputs={"text": f"a{' a'.join(text)}"})
        compiler.compile(format="pdf", pdf_standards=STANDARD)
    except typst.TypstError:
        return False
    return True


def replaced(text: str, missing: frozenset[str]) -> str:
    """The text with a picture written by its name, as in "(guitar)", and a letter as a square."""
    if not missing & set(text):
        return text
    made = []
    for character in _JOINERS.sub("", text):
        if character not in missing:
            made.append(character)
        elif unicodedata.category(character) in ("So", "Sk", "Sm", "Sc"):
            name = unicodedata.name(character, "").lower()
            made.append(f"({name})" if name else SQUARE)
        else:
            made.append(SQUARE)
    return "".join(made)
