"""The sentence at the head of a student's page tells each story of the example studio as it is."""

import datetime as dt
from dataclasses import replace

import pytest

from practice import example
from practice.facts import PerformanceFacts
from practice.progress import state
from practice.standing import standing
from practice.standing_words import standing_text
from tests.practice.plain import note

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
        ("over-practiser", "standing-over-last-week", "time to slow down"),
        ("slipped", "standing-slip", "A to D has slipped back"),
        ("sunday-only", "standing-one-day", "falls on one day; over 3 days more would be kept"),
        ("fortnightly", "standing-review", "Am, E-shape at 5 waits for its review"),
        ("new", "standing-untried", "2 goals are set and not measured yet"),
    ],
)
def test_a_story_is_told(studio, story, code, word):
    told = head(studio, studio.stories[story].student)
    assert told[0] == code, told
    assert word in told[1]


def test_the_last_week_before_a_performance_comes_before_what_is_stuck(studio):
    name = studio.stories["stuck-barre"].student
    show = PerformanceFacts("show", "Sixth-form evening", TODAY + dt.timedelta(days=6))
    facts = replace(studio.facts(name), performances=(show,))
    states = {goal.code: state(goal, TODAY) for goal in facts.goals}
    told = standing(facts, states, TODAY)
    assert standing_text(told) == "Sixth-form evening is on 1 December: run-throughs now, nothing new."
    week_before = replace(facts, performances=(replace(show, day=TODAY + dt.timedelta(days=7)),))
    assert standing(week_before, states, TODAY).code == "standing-stuck"
    # while the hand asks for a person nothing is said of playing through, nor of the barre that stands still
    asks = replace(facts, notes=(note(TODAY, 5),))
    assert "F, E-shape at 1" not in standing_text(standing(asks, states, TODAY))
    assert standing(asks, states, TODAY).code not in ("standing-stage", "standing-stuck")
    assert standing(replace(asks, hand_consent=False), states, TODAY).code == "standing-stage"
    stopped = replace(facts, notes=(note(TODAY, 7),))
    assert standing_text(standing(stopped, states, TODAY)) == f"Nothing is asked of {facts.first_name} just now."


def test_everybody_gets_a_sentence(studio):
    for student in studio.students:
        assert head(studio, student.name)[1].endswith(".")
