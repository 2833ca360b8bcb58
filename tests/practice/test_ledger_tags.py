"""The template tags and the short forms behind them."""

import datetime as dt

import pytest
from django.template import Context, Template

from practice import display, measures, progress, words
from studio import theory

DAY = dt.date(2026, 11, 12)


def draw(text: str, **context) -> str:
    return Template("{% load ledger %}" + text).render(Context(context))


# value, measure, of, text: forms of the project's own look
SHORT = [
    (31, "changes", None, "31 / min"),
    (64.0, "tempo", None, "64 bpm"),
    (60.5, "tempo", None, "60.5 bpm"),
    (58, "seconds", None, "58 s"),
    (4, "landings", None, "4 landings of 5"),
    (1, "landings", None, "1 landing of 5"),
    (5, "clean", 6, "5 of 6 strings"),
    (5, "clean", None, "5 clean strings"),
    (1, "clean", None, "1 clean string"),
    (20, "right", None, "20 right / min"),
    (2, "runs", None, "2 of 3 runs"),
    (3, "mark", None, "3 of 5"),
    (30, "minutes", None, "30 min a week"),
    (None, "tempo", None, "–"),
]


@pytest.mark.parametrize(("value", "measure", "of", "text"), SHORT)
def test_measured_in_short(value, measure, of, text):
    assert display.measured_text(value, measure, of) == text


def test_every_measure_has_a_short_form():
    assert {row[1] for row in SHORT} == set(measures.MEASURES)


def test_every_state_has_its_own_mark_and_word():
    marks = [display.state_mark(code) for code in progress.STATES]
    assert len(marks) == 5
    assert len({mark.mark for mark in marks}) == len({mark.word for mark in marks}) == 5
    assert all(mark.mark and mark.word for mark in marks)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(None, "–"), (0, "0 min"), (10, "under 1 min"), (31, "1 min"), (1500, "25 min"), (89, "1 min")],
)
def test_minutes(seconds, text):
    assert draw("{{ s|minutes }}", s=seconds) == text


@pytest.mark.parametrize(
    ("back", "text"), [(0, "today"), (1, "yesterday"), (3, "3 days ago"), (-1, "tomorrow"), (-2, "in 2 days")]
)
def test_days_ago(back, text):
    day = DAY - dt.timedelta(days=back)
    assert draw("{{ day|days_ago:today }}", day=day, today=DAY) == text


def test_state_shows_mark_and_word_and_hides_the_mark_from_readers():
    html = draw("{% state code %}", code=progress.State("secure", progress.RULE))
    assert "secure" in html
    assert "●" in html
    assert 'aria-hidden="true"' in html
    assert draw("{% state 'secure' %}") == html


def test_measured_filter_and_tag():
    assert draw("{{ 31|measured:'changes' }} {% measure 5 'clean' of=6 %}") == "31 / min 5 of 6 strings"


def test_what_is_said_is_written_as_a_sentence():
    said = progress.said("state-introduced", day=DAY)
    assert draw("{{ said|say }}", said=said) == words.say(said)
    assert "12 November" in draw("{{ said|say }}", said=said)
    assert draw("{{ said|say }}", said=None) == ""


def test_diagram_is_svg_without_inline_style():
    html = draw("{% diagram v uid='d1' %}", v=theory.place("E-minor", "B"))
    assert html.startswith("<svg")
    assert 'id="d1-t"' in html
    assert "style" not in html
    assert "&lt;svg" not in html


def test_diagram_escapes_a_hostile_title():
    hostile = '</title><script>alert("x")</script>'
    for options in ("title=t", "title=t uid='d1'", "desc=t"):
        html = draw("{% diagram v " + options + " %}", v=theory.place("E-minor", "B"), t=hostile)
        assert "<script" not in html
        assert "&lt;script&gt;" in html


def test_diagram_sizes_and_nothing():
    voicing = theory.place("E-minor", "B")
    assert 'class="chord small"' in draw("{% diagram v size='small' %}", v=voicing)
    assert draw("{% diagram v %}", v=None) == ""


def test_diagram_is_mirrored_for_a_left_handed_player():
    right = theory.place("E-minor", "B")
    left = theory.place("E-minor", "B", theory.INSTRUMENTS["steel-string"].with_(plays="left"))
    assert draw("{% diagram v %}", v=left) != draw("{% diagram v %}", v=right)
    assert draw("{% diagram v plays='right' %}", v=left) == draw("{% diagram v %}", v=right)
