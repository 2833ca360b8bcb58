"""How long a record is kept: the day's arithmetic, the day of leaving, what the owner sees."""

import datetime as dt
import doctest

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from students import retention
from tests import factory

DAYS = st.dates(dt.date(1990, 1, 1), dt.date(2090, 12, 31))


def test_examples():
    assert doctest.testmod(retention).attempted == 1
    assert doctest.testmod(retention).failed == 0


@pytest.mark.parametrize(
    ("left", "months", "day"),
    [
        (dt.date(2024, 11, 25), 24, dt.date(2026, 11, 25)),
        (dt.date(2024, 2, 29), 12, dt.date(2025, 2, 28)),
        (dt.date(2024, 12, 31), 2, dt.date(2025, 2, 28)),
        (dt.date(2026, 8, 31), 1, dt.date(2026, 9, 30)),
        (dt.date(2026, 1, 1), 120, dt.date(2036, 1, 1)),
    ],
)
def test_the_day_of_erasing(left, months, day):
    assert retention.erased_on(left, months) == day


@given(DAYS, st.integers(1, 120))
def test_the_latest_leaving_is_the_inverse(today, months):
    """What the query asks and what the page says is the same rule."""
    latest = retention.latest_leaving(today, months)
    assert retention.erased_on(latest, months) <= today
    assert retention.erased_on(latest + dt.timedelta(days=1), months) > today


def test_the_day_of_leaving_is_noted_once_and_taken_back(cast):
    path = reverse("students:student-status", args=[cast.child.code])
    today = cast.studio.today(timezone.now())

    def left_on(status):
        cast.client("teacher").post(path, {"status": status})
        cast.child.refresh_from_db()
        return cast.child.left_on

    assert left_on("archived") == today
    cast.child.left_on = dt.date(2026, 1, 5)
    cast.child.save()
    assert left_on("archived") == dt.date(2026, 1, 5)  # a second tap does not begin anew
    assert left_on("active") is None
    assert left_on("paused") is None
    assert left_on("archived") == today


def test_the_owner_sees_who_is_erased_when(cast, count_queries):
    client = cast.client("owner")
    assert "Nobody is archived" in client.get("/studio/").content.decode()
    few = count_queries(client, "/studio/")
    for number, day in enumerate([None, dt.date(2026, 3, 31), dt.date(2026, 2, 1)]):
        factory.make_student(teacher=cast.teacher, name=f"Gone {number}", status="archived", left_on=day)
    factory.make_student(teacher=cast.stranger, name="Gone Elsewhere", status="archived", left_on=dt.date(2026, 1, 1))
    page = client.get("/studio/").content.decode()
    assert page.index("Gone 2") < page.index("Gone 1") < page.index("Gone 0")
    assert "1 Feb 2028" in page
    assert "31 Mar 2028" in page
    assert "counted from the next run" in page
    assert "Gone Elsewhere" not in page
    assert count_queries(client, "/studio/") == few


def test_the_list_counts_with_what_is_stored_not_with_what_is_typed(cast):
    factory.make_student(teacher=cast.teacher, name="Gone", status="archived", left_on=dt.date(2026, 2, 1))
    page = cast.client("owner").post("/studio/", {"name": "", "retention_months": "1"}).content.decode()
    assert "1 Feb 2028" in page


def test_the_owner_is_told_that_a_contact_is_missing(cast):
    said = "No safeguarding contact yet"
    assert said in cast.client("owner").get("/studio/").content.decode()
    cast.studio.safeguarding_contact = "Oona, 555 0100"
    cast.studio.save()
    assert said not in cast.client("owner").get("/studio/").content.decode()
