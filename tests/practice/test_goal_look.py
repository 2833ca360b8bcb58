"""What the set-goal page says of a goal while it is being made: ways along the neck, relations, other places."""

import html
import re

import pytest
from django.urls import reverse

from studio import theory
from tests import factory

pytestmark = pytest.mark.django_db


def look(cast, query):
    response = cast.client("teacher").get(reverse("practice:goal-set", args=[cast.student.code]) + query)
    return response.content.decode()


def text_of(page):
    return " ".join(re.sub(r"<[^>]+>", " ", html.unescape(page)).split())


def test_a_progression_is_drawn_chord_by_chord_along_its_way(cast):
    page = look(cast, "?kind=progression&numerals=I-bVII-IV&key=A&families=E&families=A&low=1&high=7")
    shapes = [shape.id for shape in theory.SHAPES.values() if shape.kind == "movable" and shape.family in "EA"]
    way = theory.arrange(["I", "bVII", "IV"], "A", shapes, cast.student.instrument, window=(1, 7))[0]
    assert page.count('<svg xmlns="http://www.w3.org/2000/svg" class="chord') == 3
    titles = [voicing.title for voicing in way.voicings]
    assert "; ".join(titles) in text_of(page)
    assert [title.split(",")[0] for title in titles] == ["A", "G", "D"]


def test_where_there_is_no_way_the_page_says_why_and_what_is_nearest(cast):
    # E minor at 7 with the A-shape reaches fret 9 (common practice, no source)
    words = text_of(look(cast, "?kind=progression&numerals=I V vi IV&key=G&low=2&high=8&families=E&families=A"))
    assert "Em (chord 3) has no place between frets 2 and 8 with the shapes allowed." in words
    assert "Nearest: Em, A-shape at 7" in words


def test_a_shape_is_explained_from_shapes_that_the_student_has(cast):
    """Common practice, no source: E-shape minor is E-shape major less one finger."""
    query = "?kind=chord&shape=E-minor&root=A"
    assert "From shapes at hand" not in look(cast, query)
    factory.make_goal(cast.student, terms=factory.chord_terms("E-major", "G"))
    assert "From E-shape major: E-shape minor is E-shape major less the second finger." in text_of(look(cast, query))
    over = text_of(look(cast, "?kind=chord&shape=A-minor&root=D"))
    assert "E-shape major moved one string over is A-shape minor." in over


def test_another_students_shapes_explain_nothing(cast):
    factory.make_goal(cast.other_student, terms=factory.chord_terms("E-major", "G"))
    assert "From shapes at hand" not in look(cast, "?kind=chord&shape=E-minor&root=A")


def test_the_same_chord_elsewhere_lists_each_form_once_from_low_to_high(cast):
    page = look(cast, "?kind=chord&shape=E-major&root=F")
    links = re.findall(r'<a class="button quiet" href="([^"]+)">(F, [^<]+), grip demand', page)
    titles = [title for _, title in links]
    assert len(titles) > 3
    assert len(set(titles)) == len(titles)
    frets = [int(found[0]) if (found := re.findall(r" at (\d+)", title)) else 1 for title in titles]
    assert frets == sorted(frets)
    assert not any(title.startswith("F, E-shape") for title in titles)
    followed = cast.client("teacher").get(html.unescape(links[-1][0]))
    assert links[-1][1] in text_of(followed.content.decode())
