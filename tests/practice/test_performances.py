"""Performances as the teacher puts them down: pages, due days that move when shown, and what others then read."""

import datetime as dt
import html
import re
import uuid

import pytest
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from practice.models import Goal, Performance
from practice.progress import state
from practice.queries import facts_of, student_facts
from practice.stage import final_week
from practice.stagework import PerformanceForm
from students.calendar import local_day
from studio import theory
from tests import factory
from tests.factory import NOW, TODAY


@pytest.fixture(autouse=True)
def _on_a_thursday(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def day_in(days):
    return TODAY + dt.timedelta(days=days)


def url_of(student, name="performances", performance=None):
    return reverse(f"practice:{name}", args=[student.code, *([performance.code] if performance else [])])


def text_of(response):
    return " ".join(re.sub(r"<[^>]+>", " ", html.unescape(response.content.decode())).split())


def read(cast, student, name="performances", performance=None):
    response = cast.client("teacher").get(url_of(student, name, performance))
    assert response.status_code == 200
    return text_of(response)


def send(cast, student, performance=None, name=None, **fields):
    """POSTs the form of a new performance, or of one that there is, and follows to the page that answers."""
    name = name or ("performance" if performance else "performances")
    given = {"title": "Winter concert", "day": day_in(30).isoformat(), "pieces": "", "goals": [], **fields}
    return cast.client("teacher").post(url_of(student, name, performance), given, follow=True)


# -- put down, changed, removed -----------------------------------------------------------------------------------


def test_a_performance_is_put_down_with_its_pieces_and_goals(cast):
    goal = factory.make_goal(cast.student)
    factory.make_goal(cast.student, measure="landings", target=5)
    answer = send(cast, cast.student, pieces=" Morning \r\n\r\nThe  Mill\n", goals=[str(goal.code)])
    row = Performance.objects.get()
    assert (row.student, row.title, row.day) == (cast.student, "Winter concert", day_in(30))
    assert row.pieces == "Morning\nThe Mill"
    assert list(row.goals.all()) == [goal]
    assert answer.redirect_chain == [(url_of(cast.student, "performance", row), 302)]
    said = text_of(answer)
    assert "Put down: Winter concert, Saturday, 12 December 2026." in said
    assert "Saturday, 12 December 2026 In 30 days." in said
    # a piece can be set as a goal, due seven days before
    assert "kind=piece&amp;title=Morning&amp;due=2026-12-05" in answer.content.decode()


def test_nothing_is_moved_before_the_teacher_says_so(cast):
    goal = factory.make_goal(cast.student, due=day_in(7))
    said = text_of(send(cast, cast.student, goals=[str(goal.code)]))
    row = Performance.objects.get()
    goal.refresh_from_db()
    assert goal.due == day_in(7)
    assert "Due now Would be" in said
    assert "Thu 19 Nov 2026 → Sat 5 Dec 2026" in said
    due = {"to": day_in(23).isoformat(), "move": [str(goal.code)], f"from-{goal.code}": day_in(7).isoformat()}
    said = text_of(send(cast, cast.student, row, "performance-due", **due))
    goal.refresh_from_db()
    assert goal.due == day_in(23)
    assert "is due on 5 December, no longer on 19 November." in said
    assert "Would be" not in said
    # sent again, nothing happens: the goal is where it should be
    assert "stays as it is" in text_of(send(cast, cast.student, row, "performance-due", **due))
    assert Goal.objects.get().due == day_in(23)


def test_a_later_move_of_the_day_offers_the_due_days_again(cast):
    goal = factory.make_goal(cast.student, due=day_in(23))
    row = factory.make_performance(cast.student, goal, day=day_in(30))
    assert "Would be" not in read(cast, cast.student, "performance", row)
    said = text_of(send(cast, cast.student, row, title=row.title, day=day_in(37).isoformat(), goals=[str(goal.code)]))
    goal.refresh_from_db()
    assert goal.due == day_in(23)
    assert "The day has moved. Look at the due days below; none has been changed." in said
    assert "Sat 5 Dec 2026 → Sat 12 Dec 2026" in said


@pytest.mark.parametrize("change", ["due", "aside", "day", "other", "forged", "none"])
def test_a_due_day_that_was_changed_meanwhile_is_left_alone(cast, change):
    goal = factory.make_goal(cast.student, due=day_in(7))
    other = factory.make_goal(cast.other_student, due=day_in(7))
    row = factory.make_performance(cast.student, goal, day=day_in(30))
    code, to = str(goal.code), day_in(23)
    if change == "due":
        goal.keep_until(day_in(9))
    elif change == "aside":
        goal.set_aside(NOW)
    elif change == "day":
        Performance.objects.update(day=day_in(31))
    elif change == "other":
        code = str(other.code)
    elif change == "forged":
        code = "not-a-code"
    before = dict(Goal.objects.values_list("code", "due"))
    due = {"to": to.isoformat(), "move": [code], f"from-{code}": day_in(7).isoformat()}
    if change == "none":
        due["move"] = []
    answer = send(cast, cast.student, row, "performance-due", **due)
    assert answer.status_code == 200
    assert dict(Goal.objects.values_list("code", "due")) == before
    assert "no longer on" not in text_of(answer)


def test_it_is_removed_and_its_goals_stay(cast):
    goal = factory.make_goal(cast.student)
    row = factory.make_performance(cast.student, goal)
    answer = cast.client("teacher").post(url_of(cast.student, "performance-remove", row), follow=True)
    assert not Performance.objects.exists()
    assert Goal.objects.get() == goal
    assert "is removed. Its goals stay, with their due days." in text_of(answer)
    for name in ("performance", "performance-due", "performance-remove"):
        assert cast.client("teacher").post(url_of(cast.student, name, row)).status_code == 404


def test_it_can_be_changed(cast):
    first, second = factory.make_goal(cast.student), factory.make_goal(cast.student, measure="landings", target=4)
    row = factory.make_performance(cast.student, first)
    send(cast, cast.student, row, title=" Exam ", day=day_in(25).isoformat(), pieces="One", goals=[str(second.code)])
    row.refresh_from_db()
    assert (row.title, row.day, row.pieces, list(row.goals.all())) == ("Exam", day_in(25), "One", [second])


# -- bad input ----------------------------------------------------------------------------------------------------


# field, value, what is said beside it
WRONG = [
    ("title", "", "This field is required."),
    ("title", "x" * 121, "at most 120 characters"),
    ("title", "two\nlines", "Write this in one line"),
    ("title", "nul\0", "Null characters are not allowed."),
    ("day", "", "This field is required."),
    ("day", "32.13.2026", "Enter a valid date."),
    ("day", "2026-05-01", "Robin Example has been with the studio since 14 May 2026."),
    ("day", "2036-12-12", "That is more than three years ahead. Check the year."),
    ("day", "9999-12-31", "That is more than three years ahead. Check the year."),
    ("pieces", "\n".join("abcdefghijklmnopqrstu"), "That is 21 pieces; write at most 20."),
    ("pieces", "y" * 161, "is too long for one piece"),
    ("pieces", "x" * 1001, "at most 1000 characters"),
    ("pieces", "bell\x07", "without control characters"),
    ("goals", ["not-a-code"], "not this student’s any more"),
    ("goals", [str(uuid.uuid4())], "not this student’s any more"),
]


@pytest.mark.parametrize(("field", "value", "said"), WRONG)
def test_a_wrong_field_is_said_beside_it_and_what_was_typed_stays(cast, field, value, said):
    factory.make_goal(cast.student)
    answer = send(cast, cast.student, **{"title": "Keep me", "pieces": "Keep this", field: value})
    assert answer.status_code == 200
    assert not Performance.objects.exists()
    errors = answer.context["form"].errors
    assert list(errors) == [field]
    assert said in html.unescape(str(errors[field]))
    assert f'id="id_{field}_error"' in answer.content.decode()
    for name, kept in (("title", "Keep me"), ("pieces", "Keep this")):
        assert name == field or kept in answer.content.decode()


def test_another_students_goal_cannot_be_ticked(cast):
    factory.make_goal(cast.student)
    theirs = factory.make_goal(cast.child)
    answer = send(cast, cast.student, goals=[str(theirs.code)])
    assert list(answer.context["form"].errors) == ["goals"]


def test_a_refused_change_leaves_the_page_with_what_is_stored(cast):
    row = factory.make_performance(cast.student, title="Stored title")
    answer = send(cast, cast.student, row, title="", day="never")
    assert answer.status_code == 200
    assert "<h1>Stored title</h1>" in answer.content.decode()
    assert set(answer.context["form"].errors) == {"title", "day"}


def test_a_past_day_is_a_record_and_nothing_counts_back_from_it(cast):
    goal = factory.make_goal(cast.student)
    said = text_of(send(cast, cast.student, day=day_in(-10).isoformat(), goals=[str(goal.code)]))
    assert "That day is past: it is kept as a record" in said
    assert "The day is past, so nothing counts back from it." in said
    assert "Would be" not in said
    assert "1 performance so far" in read(cast, cast.student)


def test_in_its_last_week_no_due_day_in_the_past_is_offered(cast):
    goal = factory.make_goal(cast.student, due=day_in(20))
    said = text_of(send(cast, cast.student, day=day_in(3).isoformat(), goals=[str(goal.code)]))
    assert "Secure seven days before would have been Sunday, 8 November. That day is past" in said
    assert "The last week: run-throughs only" in said
    assert "Would be" not in said


def test_two_at_once_are_both_kept_and_said_and_the_same_twice_is_not(cast):
    first = factory.make_performance(cast.student, title="Concert", day=day_in(20))
    said = text_of(send(cast, cast.student, title="Exam", day=day_in(20).isoformat()))
    assert "Concert on Wednesday, 2 December lies within a week of it" in said
    assert Performance.objects.count() == 2
    answer = send(cast, cast.student, title="CONCERT", day=day_in(20).isoformat())
    assert "This is put down for that day already." in html.unescape(str(answer.context["form"].errors["title"]))
    assert Performance.objects.count() == 2
    # the same again is no other: a change without a change is stored
    assert send(cast, cast.student, first, title="Concert", day=day_in(20).isoformat()).redirect_chain


def test_a_performance_whose_goals_are_set_aside_says_so(cast):
    goal = factory.make_goal(cast.student)
    row = factory.make_performance(cast.student, goal, day=day_in(20))
    goal.set_aside(NOW)
    said = read(cast, cast.student, "performance", row)
    assert "Every goal of this performance is set aside, so nothing leads up to it." in said
    assert "Would be" not in said
    # it stays ticked, so that storing a change does not drop it; for a new one it is not offered
    page = cast.client("teacher").get(url_of(cast.student, "performance", row)).content.decode()
    assert f'value="{goal.code}"' in page
    assert str(goal.code) not in cast.client("teacher").get(url_of(cast.student)).content.decode()


def test_without_a_goal_the_pages_say_what_would_stand_there(cast):
    assert "Nothing lies ahead." in read(cast, cast.student)
    row = factory.make_performance(cast.student)
    assert "No goal belongs to it yet." in read(cast, cast.student, "performance", row)


@settings(max_examples=60)
@given(
    title=st.text(max_size=130), day=st.one_of(st.text(max_size=12), st.dates().map(str)),
    pieces=st.text(max_size=300), goals=st.lists(st.text(max_size=8), max_size=3),
)  # fmt: skip
def test_whatever_is_typed_ends_in_a_row_or_in_an_error_by_field(title, day, pieces, goals):
    """Only what needs no database: title, day, pieces; a form without rows beside it."""
    student = factory.Student(name="Robin Example", joined=day_in(-100))
    data = {"title": title, "day": day, "pieces": pieces, "goals": goals}
    form = PerformanceForm(data, student=student, facts=_no_goals(), states={}, today=TODAY)
    form.clean = lambda: form.cleaned_data  # the one rule that asks the database
    if form.is_valid():
        assert form.cleaned_data["title"]
        assert form.cleaned_data["day"] >= student.joined
        assert all(line.strip() == line and line for line in form.cleaned_data["pieces"].splitlines())
    else:
        assert set(form.errors) <= {"title", "day", "pieces"}


def _no_goals():
    from tests.practice.plain import facts

    return facts()


# -- what others read ---------------------------------------------------------------------------------------------


def test_facts_bring_the_performances_and_how_long_goals_must_last(cast):
    goal, other = factory.make_goal(cast.student), factory.make_goal(cast.student, measure="landings", target=5)
    made = NOW - dt.timedelta(days=20)
    late = factory.make_performance(cast.student, goal, title="Late", day=day_in(40), created_at=made, pieces="A\n\nB")
    soon = factory.make_performance(cast.student, goal, other, title="Soon", day=day_in(5), created_at=made)
    old = factory.make_performance(cast.student, title="Old", day=day_in(-300))
    factory.make_performance(cast.child)
    facts = student_facts(cast.student, TODAY, since=day_in(-7))
    assert [(one.code, one.title) for one in facts.performances] == [
        (str(old.code), "Old"), (str(soon.code), "Soon"), (str(late.code), "Late")
    ]  # fmt: skip
    assert facts.performances[2].pieces == ("A", "B")
    assert facts.performances[1].goals == (str(goal.code), str(other.code))
    put_down = local_day(made, "Europe/London")
    assert facts.goals[0].kept_for == ((put_down, day_in(5)), (put_down, day_in(40)))
    assert facts.goals[1].kept_for == ((put_down, day_in(5)),)


def test_a_goal_of_a_performance_is_reviewed_until_its_day(cast):
    goal = factory.make_goal(cast.student)
    lesson = factory.make_lesson(cast.student, day=day_in(-9))
    factory.make_result(goal, 6, day=day_in(-10))
    factory.make_result(goal, 6, day=day_in(-9), lesson=lesson)
    assert "secure" in read(cast, cast.student, "student")
    factory.make_performance(cast.student, goal, day=day_in(20), created_at=NOW - dt.timedelta(days=30))
    # 50 days to last, in gaps of 7: due two days ago
    facts = student_facts(cast.student, TODAY)
    assert (state(facts.goals[0], TODAY).code, state(facts.goals[0], TODAY).review_on) == ("review-due", day_in(-2))
    assert "review due" in read(cast, cast.student, "student")


@pytest.mark.parametrize("days", [3, 20])
def test_the_students_page_says_what_the_week_asks(cast, days):
    student = cast.student
    for ago in range(8, 20):
        factory.make_entry(student, day=day_in(-ago), seconds=25 * 60)
    factory.make_performance(student, day=day_in(days))
    page = cast.client("student").get(reverse("practice:s-page", args=[student.code]))
    said = text_of(page)
    assert f"in {days} days." in said
    assert ("play the pieces through from beginning to end" in said) == (days == 3)
    # the plan is 20 minutes a day and the daily most 40: usual are 25
    assert page.context["day"].most == (25 if days == 3 else 40)


def test_in_the_last_week_the_students_page_starts_with_what_is_played(cast):
    student = cast.student
    factory.make_goal(student)
    piece = factory.make_goal(
        student, kind="piece", measure="mark", target=4, terms=theory.Goal(kind="piece", title="The Mill").to_terms()
    )
    show = factory.make_performance(student, piece, day=day_in(4), pieces="The Mill")
    page = cast.client("student").get(reverse("practice:s-page", args=[student.code]))
    assert [shown.goal.title for shown in page.context["day"].cards] == ["The Mill"]
    said = text_of(page)
    assert "To play through: The Mill." in said
    assert "Waiting until then: Bm, E-shape at 7." in said
    # what waits can still be logged
    assert len(page.context["parts"]) == 2
    show.day = day_in(14)
    show.save()
    page = cast.client("student").get(reverse("practice:s-page", args=[student.code]))
    assert len(page.context["day"].cards) == 2
    assert "Waiting until then" not in text_of(page)


def test_in_the_last_week_the_hand_still_comes_first(cast):
    student = cast.student
    factory.make_consent(student)
    goal, other = factory.make_goal(student), factory.make_roots_goal(student)
    factory.make_performance(student, goal, day=day_in(4))
    factory.make_note(student, 5, day=day_in(-1))
    page = cast.client("student").get(reverse("practice:s-page", args=[student.code]))
    assert [shown.goal.code for shown in page.context["day"].cards] == [str(other.code)]
    assert "The hand comes first" in text_of(page)
    assert "play the pieces through" not in text_of(page)
    assert page.context["day"].most <= student.daily_most // 2


def test_today_says_it_on_the_students_line(cast):
    factory.make_performance(cast.student, day=day_in(2))
    said = text_of(cast.client("teacher").get(reverse("practice:today")))
    assert "Summer concert on 14 November, in 2 days. The last week: run-throughs only" in said
    assert "Nothing new in the last week before Summer concert" in said


def test_the_line_of_another_day_counts_from_that_lesson(cast):
    factory.make_performance(cast.student, day=day_in(16))
    today = reverse("practice:today")
    for weeks, words in ((0, "in 16 days."), (1, "in 9 days."), (2, "in 2 days. The last week: run-throughs only")):
        said = text_of(cast.client("teacher").get(f"{today}?day={day_in(7 * weeks).isoformat()}"))
        assert f"Summer concert on 28 November, {words}" in said
    # a lesson after it has nothing to say of it
    said = text_of(cast.client("teacher").get(f"{today}?day={day_in(21).isoformat()}"))
    assert "Summer concert" not in said


def test_the_over_practiser_is_slowed_down_on_every_page(cast):
    child = cast.child
    factory.make_performance(child, day=day_in(12))
    for ago in (4, 5, 6):
        factory.make_entry(child, day=day_in(-ago), seconds=100 * 60)
    slow = "Slow down before Summer concert on 24 November: 300 minutes last week, 100 planned."
    assert slow in read(cast, child, "student")
    today = text_of(cast.client("teacher").get(reverse("practice:today")))
    assert slow in today
    assert today.count("300 minutes last week, 100 planned.") == 1  # said once, not as over the plan too
    assert "need a word before you start" in today or "needs a word before you start" in today
    said = text_of(cast.client("child").get(reverse("practice:s-page", args=[child.code])))
    assert "More minutes now do not make it safer: stop at 40 a day." in said
    week = reverse("practice:f-week", args=[child.code]) + "?week=2026-11-02"
    said = text_of(cast.client("guardian").get(week))
    assert "Help Kit to stop in time until then: at most 40 minutes a day" in said


def test_nobody_else_sees_them(cast):
    row = factory.make_performance(cast.student)
    for who in ("other_teacher", "stranger", "child", "guardian", "student"):
        for name in ("performance", "performance-due", "performance-remove"):
            assert cast.client(who).post(url_of(cast.student, name, row)).status_code == 404, (who, name)
    # under another student of the same teacher it is not found either
    assert cast.client("teacher").get(url_of(cast.child, "performance", row)).status_code == 404
    assert Performance.objects.count() == 1


# Session and user (2), the teacher's viewer (1), the student with studio (1), consent (1) and the seven of facts_of.
# One performance: itself and its goals (2).
@pytest.mark.parametrize(("name", "queries"), [("performances", 12), ("performance", 14)])
def test_queries_do_not_grow(cast, count_queries, name, queries):
    def more(n):
        goals = [factory.make_goal(cast.student) for _ in range(n)]
        rows = [factory.make_performance(cast.student, *goals, title=f"T{i} {n}", pieces="A\nB") for i in range(n)]
        return rows[0]

    row = more(1)
    path = url_of(cast.student, name, row if name == "performance" else None)
    first = count_queries(cast.client("teacher"), path)
    more(6)
    assert count_queries(cast.client("teacher"), path) == first <= queries


def test_many_students_cost_as_many_queries_as_one(cast, django_assert_num_queries):
    students = [cast.student, cast.child, cast.other_student]
    for student in students:
        student.hand_consent = True
        factory.make_performance(student, factory.make_goal(student), day=day_in(3))
    with django_assert_num_queries(7):
        found = facts_of(students, TODAY)
    assert all(final_week(facts, TODAY) for facts in found.values())
