"""The sentence at the head of a student's page tells each story of the example studio as it is."""

import datetime as dt

import pytest

from practice import example
from practice.progress import state
from practice.standing import standing
from practice.standing_words import standing_text

TODAY = dt.date(2026, 11, 25)


@pytest.fixture(scope="module")
def studio():
    return example.draw(example.SEED, TODAY)


def head(studio, name):
    facts = studio.facts(name)
    said = standing(facts, {goal.code: state(goal, TODAY) for goal in facts.goals}, TODAY)
    return said.code, standing_text(said)


@pytest.mark.parametrize(
    ("story", "code", "word"),
    [
        ("stuck-barre", "standing-stuck", "F, E-shape at 1: no change in"),
        ("stopped", "standing-quiet", "Nothing logged for"),
        ("past-due", "standing-late", "past due"),
    ],
)
def test_a_story_is_told(studio, story, code, word):
    told = head(studio, studio.stories[story].student)
    assert told[0] == code, told
    assert word in told[1]


def test_everybody_gets_a_sentence(studio):
    for student in studio.students:
        assert head(studio, student.name)[1].endswith(".")
