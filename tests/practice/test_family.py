"""The family's pages: one guardian's children and nobody else's, a week that can be turned back, a log."""

import datetime as dt

import pytest

from students.links import sign
from tests.factory import NOW, TODAY, make_consent, make_entry, make_goal, make_guardian, make_note, make_student

MONDAY = dt.date(2026, 11, 9)


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def get(cast, who="guardian", student=None, query=""):
    return cast.client(who).get(f"/f/{(student or cast.child).code}/{query}")


def test_the_week_is_told_in_one_sentence_and_three_numbers(cast):
    goal = make_goal(cast.child)
    make_entry(cast.child, (goal, 900), day=MONDAY - dt.timedelta(days=5))
    answer = get(cast)
    assert answer.status_code == 200
    assert answer.context["shown"] == MONDAY - dt.timedelta(days=7)
    assert len(answer.context["week"].numbers) == 3
    assert "One way to help" in answer.content.decode()


@pytest.mark.parametrize("who", ["anonymous", "other_guardian", "student", "teacher", "owner", "stranger"])
def test_nobody_else_gets_it(cast, who):
    assert get(cast, who).status_code == 404


def test_one_link_opens_all_of_a_guardians_children_and_no_other(cast):
    sibling = make_student(teacher=cast.other_teacher, name="Jo Child", birth_year=2014)
    guardian = make_guardian(cast.child, sibling, name="Sam Guardian")
    client = cast.client("anonymous")
    client.get(f"/open/{sign(guardian.code, guardian.link_version)}/")
    for child, status in ((cast.child, 200), (sibling, 200), (cast.other_student, 404)):
        assert client.get(f"/f/{child.code}/").status_code == status
    page = client.get(f"/f/{sibling.code}/").content.decode()
    assert "Kit" in page
    assert "Jo" in page
    assert "Gil" not in page


@pytest.mark.parametrize("text", ["x", "2026-13-01", "", "99999-01-01", "\x00"])
def test_a_week_that_is_none(cast, text):
    assert cast.client("guardian").get(f"/f/{cast.child.code}/", {"week": text}).status_code == 404


def test_weeks_can_be_turned_back_and_never_past_this_one(cast):
    assert get(cast, query="?week=2026-10-07").context["shown"] == dt.date(2026, 10, 5)
    assert get(cast, query="?week=2099-01-01").context["shown"] == MONDAY
    assert get(cast, query="?week=0001-01-01").status_code in (200, 404)


def test_queries_do_not_grow(cast, count_queries):
    goal = make_goal(cast.child)
    make_entry(cast.child, (goal, 900), day=MONDAY - dt.timedelta(days=5))
    url = f"/f/{cast.child.code}/"
    few = count_queries(cast.client("guardian"), url)
    for days in range(6, 60):
        make_entry(cast.child, (goal, 900), day=MONDAY - dt.timedelta(days=days))
    assert count_queries(cast.client("guardian"), url) == few
    # session, link's guardian, child, facts (7), children
    assert few <= 12


def test_the_chart_is_a_page_and_a_fragment(cast):
    make_entry(cast.child, seconds=900, day=TODAY - dt.timedelta(days=8))
    whole = get(cast, query="chart/").content.decode()
    part = get(cast, query="chart/?fragment").content.decode()
    assert "<html" in whole
    assert "<html" not in part
    assert "<svg" in part
    assert "style=" not in part


def test_an_adults_hand_is_not_for_the_guardian(cast):
    cast.child.birth_year = TODAY.year - 25
    cast.child.save()
    make_consent(cast.child)
    make_note(cast.child, 8, sensation="ache")
    week = get(cast, query=f"?week={MONDAY}").context["week"]
    assert (week.hand, week.advice) == ((), None)
    page = cast.client("guardian").get(f"/f/{cast.child.code}/log/").content.decode()
    assert "How tiring" not in page
    # and the same guardian may read it of a minor
    cast.child.birth_year = TODAY.year - 12
    cast.child.save()
    make_consent(cast.child)
    assert get(cast, query=f"?week={MONDAY}").context["week"].hand


def test_the_first_week_is_the_first_that_can_be_asked_for(cast):
    joined = cast.child.studio.week_of(cast.child.joined)
    assert get(cast, query="?week=0001-01-09").context["shown"] == joined
    assert get(cast, query="chart/?week=0001-01-09").status_code == 200


def test_no_cache_keeps_a_familys_page(cast):
    assert "no-store" in get(cast)["Cache-Control"]
