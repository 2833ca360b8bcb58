"""The page of each of the example studio's stories tells that story: what a teacher, and a student, read there.

What is true of each story is drawn beside it (practice.example_cast) and held by test_example.py; here the rendered
pages are read. Screenshots of them were looked at when this was written.
"""

import datetime as dt
import html
import re
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse

from practice import example
from practice.goalwork import first_voicing
from practice.templatetags.ledger import diagram
from students.links import sign
from students.models import Student

TODAY = dt.date(2026, 11, 25)
NOW = dt.datetime(2026, 11, 25, 8, 0, tzinfo=ZoneInfo(example.cast.ZONE))


@pytest.fixture(scope="module")
def studio(django_db_setup, django_db_blocker):
    """Drawn and stored once; taken back at the end."""
    from django.db import transaction

    with django_db_blocker.unblock(), transaction.atomic():
        drawn = example.draw(example.SEED, TODAY)
        example.store(drawn, until=NOW)
        yield drawn
        transaction.set_rollback(True)


@pytest.fixture(autouse=True)
def _now(monkeypatch, studio, db):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def text(response):
    assert response.status_code == 200
    page = response.content.decode()
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def of(studio, story):
    return Student.objects.get(name=studio.stories[story].student)


def client_of(row):
    client = Client()
    client.force_login(row.teacher.user)
    return client


PAGES = {}  # nothing here writes: a page is asked for once


def page(studio, story, name="student"):
    if (story, name) not in PAGES:
        row = of(studio, story)
        PAGES[story, name] = text(client_of(row).get(reverse(f"practice:{name}", args=[row.code])))
    return PAGES[story, name]


def own_page(studio, story):
    row = of(studio, story)
    client = Client()
    client.get(reverse("students:open-link", args=[sign(row.code, row.link_version)]))
    return text(client.get(reverse("practice:s-progress", args=[row.code])))


# story, what the teacher's page says
TOLD = [
    ("stuck-barre", r"F, E-shape at 1: no change in \d+ weeks, though practised \d+ minutes\."),
    ("sunday-only", r"All of the week’s practice falls on one day; over 3 days more would be kept\."),
    ("paused", r"· paused Nothing logged for \d+ days\."),
    ("archived", r"archived since \d+ \w+ 2026 Nothing logged"),
    ("no-consent", r"Wants to talk to you\."),
    ("stuck-barre", r"▲ No change in \d+ weeks, though practised \d+ minutes\."),
    ("slipped", r"▲ Was 54 changes a minute on 8 October, the last three tries no better than 40\."),
    ("on-course", r"[^▲] On course for"),
    ("over-practiser", r"\d+ minutes last week, 150 planned: time to slow down\."),
    ("over-practiser", r"Slow down before Winter recital"),
    ("over-practiser", r"A bigger jump than usual"),
    ("sunday-only", r"In 6 of the last 6 weeks all practice fell on one day, usually \d+ minutes\. Over 3 days"),
    ("sunday-only", r"Latimier et al\. 2021.*Cepeda et al\. 2008.*facts, not motor skill"),
    ("stopped", r"Nothing logged for \d+ days\."),
    ("small-forms", r"three-quarter size"),
    ("small-forms", r"F, small form was due on \d+ November\."),
    ("left-hander", r"steel-string, left-handed"),
    ("on-course", r"On course for \d+ (November|December), likely between \d+ \w+ and \d+ December\."),
    ("slipped", r"A to D has slipped back: it was at 54 / min on 8 October, the last three tries no better than 40"),
    ("past-due", r"3 goals are past due, the oldest G: I IV V I, since 28 October\."),
    ("fortnightly", r"Am, E-shape at 5 waits for its review since"),
    ("new", r"2 goals are set and not measured yet\."),
    ("guardian-logged", r"\(logged by a parent\)"),
    ("paper-log", r"\(from paper\)"),
    ("fingertips", r"has been secure since|met its target|Nearest to its target"),
    ("steady", r"secure since"),
    ("stopped-at-8", r"Nothing is asked of Hamish just now\. ▲ A hand note to look at\."),
    ("stopped-at-8", r"none asked this week"),
    ("child-who-fell", r"Nothing is asked of Jonas just now\. ▲ A hand note to look at\."),
    ("coming-back", r"waits for now"),
]


@pytest.mark.parametrize(("story", "pattern"), TOLD)
def test_the_teachers_page_tells_it(studio, story, pattern):
    told = page(studio, story)
    assert re.search(pattern, told), told[:1500]


def test_nobody_else_is_told_the_same(studio):
    """A page that says everything of everybody would pass the table above."""
    for pattern, stories in (
        (r"time to slow down", {"over-practiser"}),
        (r"all practice fell on one day", {"sunday-only"}),
        (r"Nothing logged for \d+ days", {"stopped", "paused", "archived"}),
        (r"has slipped back", {"slipped"}),
    ):
        found = {story for story in studio.stories if re.search(pattern, page(studio, story))}
        assert found == stories, pattern


def test_a_left_hander_sees_the_neck_mirrored(studio):
    row = of(studio, "left-hander")
    shown = client_of(row).get(reverse("practice:student", args=[row.code])).content.decode()
    facts = studio.facts(row.name)
    voicing = first_voicing(facts.active_goals[0].theory, facts.instrument)
    assert diagram(voicing, "small", plays="left") in shown
    assert diagram(voicing, "small", plays="right") not in shown


def test_the_child_with_the_short_scale_is_offered_nothing_heavier(studio):
    told = page(studio, "small-forms", "next-chords")
    assert "small form" in told or "open" in told
    assert "E-shape at 1" not in told


def test_hand_values_of_the_over_practiser_wait_behind_one_tap(studio):
    told = page(studio, "over-practiser")
    assert "A hand note to look at." in told
    assert "wrist" not in told
    assert "wrist" in page(studio, "over-practiser", "hand-notes")


@pytest.mark.parametrize("story", ["no-consent", "unknown-birth-year"])
def test_without_consent_nothing_of_the_hand(studio, story):
    assert "A hand note to look at." not in page(studio, story)
    assert "wrist" not in page(studio, story, "hand-notes")


# story, what the student reads on "My progress"
OWN = [
    ("stuck-barre", r"F, E-shape at 1 .*?No change in \d+ weeks, though practised \d+ minutes\."),
    ("on-course", r"On course for \d+ \w+, likely between"),
    ("sunday-only", r"all practice fell on one day"),
    ("slipped", r"Was \d+ changes a minute on \d+ \w+, the last three tries no better than \d+\."),
    ("new", r"Nothing is logged this week yet\."),
    ("small-forms", r"The last tries, oldest first: [\d, ]+\."),
]


@pytest.mark.parametrize(("story", "pattern"), OWN)
def test_the_students_own_page_tells_it(studio, story, pattern):
    told = own_page(studio, story)
    assert re.search(pattern, told), told[:2500]
    assert "It rests on:" in told or story == "new"


# story, what the family reads first; what is asked of this week
FAMILIES = [
    ("stopped-at-8", "No playing yet.", "Hamish's hand is resting: nothing is asked for this week"),
    ("child-who-fell", "No playing yet.", "Jonas's hand is resting: nothing is asked for this week"),
]


@pytest.mark.parametrize(("story", "head", "way"), FAMILIES)
def test_a_family_reads_the_answer_first(studio, story, head, way):
    row = of(studio, story)
    guardian = row.guardians.get()
    client = Client()
    client.get(reverse("students:open-link", args=[sign(guardian.code, guardian.link_version)]))
    page = client.get(reverse("practice:f-week", args=[row.code]))
    heading = re.search(r"<h1>(.*?)</h1>", page.content.decode())[1]
    assert html.unescape(heading).startswith(head)
    assert way in text(page)


def test_every_statement_names_the_days_and_values_behind_it(studio):
    told = page(studio, "slipped")
    found = re.search(r"It rests on: ([^.]+)\.", told[told.index("A to D") :]).group(1)
    assert len(found.split(" · ")) >= 5
    assert re.match(r"\d+ \w{3} \d+", found)


def test_siblings_pages_name_only_their_own_work(studio):
    names = {one.name.split()[0] for one in studio.students}
    for story in ("siblings", "two-guardians"):
        own = studio.student(studio.stories[story].student).name.split()[0]
        told = own_page(studio, story)
        assert not (names - {own}) & set(re.findall(r"[A-Z]\w+", told))


def test_the_overview_finds_who_is_stuck_and_who_stopped(studio):
    row = of(studio, "stuck-barre")
    told = text(client_of(row).get(reverse("practice:overview")))
    for story in ("stuck-barre", "stopped", "over-practiser"):
        assert studio.stories[story].student in told
