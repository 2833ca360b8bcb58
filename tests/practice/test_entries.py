"""The teacher's list of a student's entries."""

import datetime as dt

import pytest

from tests.factory import TODAY, make_entry, make_goal, make_result


def test_entries_stand_newest_first_with_what_was_tried(cast):
    goal = make_goal(cast.student)
    make_result(goal, 5)
    make_entry(cast.student, day=TODAY - dt.timedelta(days=2), note="fingers cold <b>today</b>", by="paper")
    page = cast.client("teacher").get(f"/students/{cast.student.code}/entries/").content.decode()
    assert page.index("12 Nov") < page.index("10 Nov")
    assert "from paper" in page
    assert "&lt;b&gt;" in page


@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("anonymous", 302),
        ("owner", 200),
        ("teacher", 200),
        ("other_teacher", 404),
        ("stranger", 404),
        ("student", 404),
    ],
)
@pytest.mark.parametrize("address", ["entries", "log"])
def test_who_gets_it(cast, who, status, address):
    assert cast.client(who).get(f"/students/{cast.student.code}/{address}/").status_code == status


def test_queries_do_not_grow(cast, count_queries):
    goal = make_goal(cast.student)
    make_result(goal, 5)
    url = f"/students/{cast.student.code}/entries/"
    few = count_queries(cast.client("teacher"), url)
    for days in range(1, 30):
        make_result(goal, 5, day=TODAY - dt.timedelta(days=days))
    assert count_queries(cast.client("teacher"), url) == few


@pytest.mark.parametrize("number", ["x", "-1", "0", "99999999999"])
def test_a_page_number_that_is_none_shows_a_page(cast, number):
    make_entry(cast.student)
    assert (
        cast.client("teacher").get(f"/students/{cast.student.code}/entries/?page={number}").status_code == 200
    )
