"""The teacher's help prints the rules as the modules state them."""

import html
import re

import pytest
from django.urls import reverse

from practice import plateau, progress, stage, trend
from practice.views.next import TERM_WORDS
from practice.words import say


@pytest.fixture
def told(cast):
    response = cast.client("teacher").get(reverse("practice:help"))
    assert response.status_code == 200
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", response.content.decode())).split())


@pytest.mark.parametrize("rule", [progress.RULE, trend.RULE, plateau.RULE, trend.INSTRUMENT_RULE, stage.RULE])
def test_every_rule_is_printed(told, rule):
    assert len(say(rule)) > 100
    assert say(rule) in told


def test_every_term_of_a_suggestion_is_named(told):
    assert len(TERM_WORDS) >= 7
    assert all(str(words) in told for words in TERM_WORDS.values())


def test_the_numbers_of_the_rule_before_a_performance_are_the_modules(told):
    assert (stage.SECURE_BEFORE.days, stage.WEEK.days, stage.NEAR.days, stage.USUAL_OVER.days) == (7, 7, 28, 28)
    assert "secure seven days before" in told
    assert (stage.OVER_PLAN, stage.DAYS_OVER_MOST) == (1.5, 2)
    assert "over 150 % of the week's plan, or more than the daily most on two days of seven" in told


def test_the_numbers_in_the_rules_are_the_modules(told):
    assert f"less than {plateau.FLAT:.0%} ".replace("%", " %") in told
    assert plateau.WINDOWS[0] == 5
    assert "five weeks or more" in told
    assert (trend.WINDOW.days, trend.NARROW.days, trend.HORIZON.days) == (56, 28, 56)
    assert "last eight weeks" in told
    assert "within four weeks of each other" in told
    assert "within eight weeks from now" in told
    assert f"at {trend.CONFIDENCE:.0%}".replace("%", " %") in told


def test_each_teachers_page_leads_to_it(cast):
    page = cast.client("teacher").get(reverse("practice:roster")).content.decode()
    assert f'href="{reverse("practice:help")}"' in page


def test_queries(cast, count_queries):
    assert count_queries(cast.client("teacher"), reverse("practice:help")) <= 3  # session, user, teacher
