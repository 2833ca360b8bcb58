"""A student with five years of entries: the page of the teacher asks no more of the database than that of a new one."""

import datetime as dt

import pytest
from django.urls import reverse

from practice.models import PracticeEntry, Result, Segment
from tests import factory
from tests.factory import NOW, TODAY

ENTRIES, GOALS = 1500, 12


@pytest.fixture(autouse=True)
def _on_a_thursday(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def five_years(student):
    """1,500 entries with three segments each, 4,500 measurements, over twelve goals."""
    goals = [
        factory.make_goal(student, terms=factory.chord_terms("E-minor", root), day=TODAY - dt.timedelta(days=1825))
        for root in ("A", "Bb", "B", "C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab")
    ]
    days = [TODAY - dt.timedelta(days=round(number * 1825 / ENTRIES)) for number in range(ENTRIES)]
    entries = PracticeEntry.objects.bulk_create(
        PracticeEntry(student=student, begun=dt.datetime.combine(day, dt.time(17), tzinfo=dt.UTC), seconds=1200,
                      day=day, by="student") for day in days
    )  # fmt: skip
    parts = [(entry, goals[(at + 5 * part) % GOALS]) for at, entry in enumerate(entries) for part in range(3)]
    Segment.objects.bulk_create(Segment(entry=entry, goal=goal, seconds=400) for entry, goal in parts)
    Result.objects.bulk_create(
        Result(student=student, goal=goal, entry=entry, day=entry.day, at=entry.begun, measure="clean",
               value=3 + at % 3) for at, (entry, goal) in enumerate(parts)
    )  # fmt: skip


def test_at_most_fifteen_queries(cast, count_queries):
    client, url = cast.client("teacher"), reverse("practice:student", args=[cast.student.code])
    five_years(cast.student)
    # session, user, teacher; the student, this week's words, "tell my teacher", lessons; consent, goals, results,
    # segments, entries, notes, performances, stepwise returns
    assert count_queries(client, url) <= 15
    assert (PracticeEntry.objects.count(), Segment.objects.count()) == (1500, 4500)


@pytest.mark.bench
def test_the_whole_page(cast):
    from time import perf_counter

    client, url = cast.client("teacher"), reverse("practice:student", args=[cast.student.code])
    five_years(cast.student)
    spent = []
    for _ in range(7):
        begun = perf_counter()
        assert client.get(url).status_code == 200
        spent.append((perf_counter() - begun) * 1000)
    print(f"\nthe whole page, five years of entries: {sorted(spent)[3]:.0f} ms (first {spent[0]:.0f} ms)")
