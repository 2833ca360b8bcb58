"""Histories that make no sense, on every page that computes something from them: each has a sentence, none an error.

The plain values behind the sentences are held in test_trend.py; here the pages are read, charts and PDF included.
"""

import datetime as dt
import html
import re

import pytest
from django.urls import reverse

from studio import theory
from tests import factory
from tests.factory import NOW, TODAY


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def ago(days):
    return TODAY - dt.timedelta(days=days)


# (days ago, value) of a count with a ceiling and of a measure with a slope, and what else is odd
CHORD = {"measure": "clean"}
BOATS = theory.Goal("piece", title="Paper Boats")
TEMPO = {"kind": "piece", "measure": "tempo", "target": 80, "terms": BOATS.to_terms()}
EVERY_THIRD = range(40, 0, -3)
HISTORIES = {
    "no entry": ([], [], {}),
    "one entry": ([(3, 4)], [(3, 60)], {}),
    "entries on one day": ([(2, value) for value in (2, 3, 4)], [(2, value) for value in (50, 60, 70)], {}),
    "all zeros": ([(day, 0) for day in EVERY_THIRD], [(day, 0) for day in EVERY_THIRD], {}),
    "a gap of a year": (
        [(400 + day, 3) for day in range(6)] + [(1, 4)], [(400 + day, 50) for day in range(6)] + [(1, 60)], {},
    ),
    "a target below the start": (
        [(day, 3) for day in EVERY_THIRD], [(day, 60) for day in EVERY_THIRD], {"start_value": 100},
    ),
    "an instrument changed midway": (
        [(day, 3) for day in EVERY_THIRD], [(day, 40 + day % 7) for day in EVERY_THIRD], {},
    ),
}  # fmt: skip

TEACHERS = ("student", "charts", "next-chords", "student-songs", "report", "report-pdf", "performances", "entries")


@pytest.fixture(params=HISTORIES)
def odd(cast, request):
    """The cast's child with that history, joined two years ago, and a song with a chord that no shape gives."""
    chords, tempos, over = HISTORIES[request.param]
    child = cast.child
    child.joined = ago(730)
    if request.param == "an instrument changed midway":
        child.instrument_since = ago(20)
    child.save()
    first = factory.make_goal(child, day=ago(600), **CHORD, **over)
    second = factory.make_goal(child, day=ago(600), **TEMPO, **over)
    for goal, steps in ((first, chords), (second, tempos)):
        for number, (day, value) in enumerate(steps):
            at = dt.datetime.combine(ago(day), dt.time(15, number), tzinfo=dt.UTC)
            factory.make_result(goal, value, day=ago(day), at=at)
    factory.make_song(child.teacher, title="A Chord Too Far", chords="C7b5 G")
    return request.param


def text(response):
    assert response.status_code == 200
    page = html.unescape(re.sub(r"<[^>]+>", " ", response.content.decode()))
    assert not re.search(r"%\(|\bNone\b|\bnan\b|\binf\b", page)
    return " ".join(page.split())


def test_every_page_has_its_sentence_and_none_an_error(cast, odd):
    teacher, child = cast.client("teacher"), cast.child
    for name in TEACHERS:
        answer = teacher.get(reverse(f"practice:{name}", args=[child.code]))
        if name == "report-pdf":
            assert answer.content.startswith(b"%PDF-")
        else:
            assert text(answer)
    for name in ("today", "roster", "overview", "songs"):
        assert text(teacher.get(reverse(f"practice:{name}")))
    family = cast.client("guardian")
    assert text(family.get(reverse("practice:f-week", args=[child.code])))
    assert text(family.get(reverse("practice:f-chart", args=[child.code])))
    assert family.get(reverse("practice:f-week-pdf", args=[child.code])).content.startswith(b"%PDF-")
    lead = re.search(r'<p class="lead">([^<]+)</p>', teacher.get(child.get_absolute_url()).content.decode()).group(1)
    assert lead.endswith(".")
    told = text(teacher.get(reverse("practice:songs"), {"student": child.code}))
    assert "no shape gives C7b5 on this guitar" in told


# the history, the page, what stands on it
SAID = [
    ("no entry", "student", r"Nothing has been logged so far\."),
    ("no entry", "charts", r"No practice is logged in these \d+ weeks\.|Nothing is logged"),
    ("one entry", "student", r"Too early to say which way it goes: it needs 4 more days with a result\."),
    ("entries on one day", "student", r"Too early to say which way it goes: it needs 2 more days with a result\."),
    ("all zeros", "student", r"No change in 5 weeks, though practised 140 minutes\."),
    ("a gap of a year", "student", r"Too early to say which way it goes: it needs 4 more days with a result\."),
    ("an instrument changed midway", "student", r"Results before 23 October 2026 were played on another instrument"),
    ("an instrument changed midway", "charts", r"another instrument|earlier instrument"),
]


@pytest.mark.parametrize(("odd", "name", "said"), SAID, indirect=["odd"])
def test_what_is_said_of_it(cast, odd, name, said):
    told = text(cast.client("teacher").get(reverse(f"practice:{name}", args=[cast.child.code])))
    assert re.search(said, told), told[:3000]
