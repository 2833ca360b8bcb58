"""The roster: what each row says, who is on it, in which order, and what the export writes."""

import csv
import datetime as dt
import io
import random
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from practice.models import HandNote, PracticeEntry
from practice.queries import student_facts
from practice.roster import by_column, looks_of, on_roster, reasons_of
from practice.tables import spreadsheet_safe
from students.models import Consent, Guardianship, Student
from students.viewer import Role, Viewer
from tests import factory
from tests.factory import NOW, TODAY

ROSTER, CSV = "/roster/", "/roster.csv"
DAY = dt.timedelta(days=1)
MONDAY = TODAY - 3 * DAY  # TODAY is a Thursday


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOW)


def viewer(cast, who="teacher"):
    teacher = getattr(cast, who)
    return Viewer(Role.OWNER if teacher.is_owner else Role.TEACHER, teacher.studio, user=teacher.user, teacher=teacher)


def row_of(cast, student, today=TODAY, who="owner"):
    return on_roster(viewer(cast, who), today).get(pk=student.pk)


def reasons(cast, student, today=TODAY):
    row = row_of(cast, student, today)
    return [reason.code for reason in reasons_of([row], today)[row.pk]]


def names(response):
    return [row.record.name for row in response.context["table"].paginated_rows]


def sheet(client, **query):
    response = client.get(CSV, query)
    assert response.status_code == 200
    assert response.content.startswith(b"\xef\xbb\xbf")
    return list(csv.reader(io.StringIO(response.content.decode("utf-8-sig"), newline="")))


# -- what a row says ---------------------------------------------------------------------------------------------


def test_each_sum_is_its_own_however_many_rows_lie_beside_it(cast):
    """Two to-many tables joined in one query multiply each other's sums; this would show it."""
    factory.make_consent(cast.child)
    factory.make_consent(cast.child)
    factory.make_guardian(cast.child, name="Second Guardian")
    goal = factory.make_goal(cast.child)
    for day in (MONDAY, MONDAY, TODAY):
        factory.make_entry(cast.child, (goal, 300), (factory.make_goal(cast.child), 301), day=day)
    for discomfort in (0, 2, 3):
        factory.make_note(cast.child, discomfort)
    row = row_of(cast, cast.child)
    assert (row.seconds_this_week, row.seconds_last_week, row.worst_hand, row.last_entry) == (1803, 0, 3, TODAY)
    assert Student.objects.filter(pk=row.pk).count() == 1


def test_weeks_are_cut_where_the_studio_cuts_them(cast):
    for day, seconds in ((MONDAY - DAY, 60), (MONDAY, 120), (MONDAY - 7 * DAY, 240), (MONDAY - 8 * DAY, 480)):
        factory.make_entry(cast.child, day=day, seconds=seconds)
    row = row_of(cast, cast.child)
    assert (row.seconds_this_week, row.seconds_last_week) == (120, 300)
    cast.studio.week_start = 6  # Sunday
    cast.studio.save()
    for teacher in (cast.owner, cast.teacher):
        teacher.studio.refresh_from_db()
    row = row_of(cast, cast.child)
    assert (row.seconds_this_week, row.seconds_last_week) == (180, 720)


def test_the_highest_discomfort_is_of_fourteen_days_and_only_with_the_right_consent(cast):
    for days, discomfort in ((0, 1), (13, 5), (14, 9), (-1, 10)):
        factory.make_note(cast.child, discomfort, day=TODAY - days * DAY, at=NOW - days * DAY)
    assert row_of(cast, cast.child).worst_hand is None
    factory.make_consent(cast.child, given_by="student", name="Kit Child")  # a minor's own does not count
    assert row_of(cast, cast.child).worst_hand is None
    given = factory.make_consent(cast.child)
    assert row_of(cast, cast.child).worst_hand == 5
    Consent.objects.filter(pk=given.pk).update(withdrawn_at=NOW)
    assert row_of(cast, cast.child).worst_hand is None


def test_sums_agree_with_plain_arithmetic_over_random_rows(cast):
    """Against a count in Python over every row [derived]."""
    draw = random.Random(20261112)
    students = [cast.child, cast.student, cast.other_student]
    for student in students:
        factory.make_consent(student)
        for _ in range(40):
            day = TODAY - draw.randrange(30) * DAY
            factory.make_entry(student, day=day, seconds=draw.randrange(1, 7200))
            if draw.random() < 0.4:
                factory.make_note(student, draw.randrange(11), day=day)
    entries, notes = list(PracticeEntry.objects.all()), list(HandNote.objects.all())
    for row in on_roster(viewer(cast, "owner"), TODAY):
        mine = [entry for entry in entries if entry.student_id == row.pk]
        felt = [n.discomfort for n in notes if n.student_id == row.pk and TODAY - 13 * DAY <= n.day <= TODAY]
        assert row.seconds_this_week == sum(entry.seconds for entry in mine if entry.day >= MONDAY)
        assert row.last_entry == max((entry.day for entry in mine), default=None)
        assert row.worst_hand == max(felt, default=None)


def test_the_page_says_it_in_words(cast):
    factory.make_consent(cast.child)
    factory.make_entry(cast.child, seconds=52 * 60, day=TODAY - DAY)
    factory.make_note(cast.child, 5, place="wrist", day=TODAY - DAY)
    page = re.sub(r"<[^>]+>", " ", cast.client("teacher").get(ROSTER).content.decode())
    row = " ".join(page[page.index("Kit Child") : page.index("Robin Example")].split())
    assert "10, three-quarter size" in row
    assert "Thursday 15:30" in row
    assert "52 of 100" in row
    assert "5 of 10" in row
    assert "wrist" not in row  # the number, no place
    other = " ".join(page[page.index("Robin Example") :].split())
    assert "no entry yet" in other
    assert "not asked" in other


# -- who needs attention -----------------------------------------------------------------------------------------


def test_each_reason_stands_alone(cast):
    """The rule table of the issue, a case each: what is there, what is said."""
    child = cast.child
    factory.make_entry(child, day=TODAY - DAY)
    assert reasons(cast, child) == []

    note = factory.make_note(child, 4)
    assert reasons(cast, child) == []  # without consent no hand value speaks
    factory.make_consent(child)
    assert reasons(cast, child) == ["hand"]
    HandNote.objects.filter(pk=note.pk).update(seen_at=NOW)
    assert reasons(cast, child) == []
    note.delete()
    factory.make_note(child, 1, settles="rest")
    assert reasons(cast, child) == ["hand"]
    HandNote.objects.all().delete()

    tell = child.tells.create(by="student", at=NOW)
    assert reasons(cast, child) == ["tell"]
    tell.delete()

    goal = factory.make_goal(child, due=TODAY - DAY)
    assert reasons(cast, child) == ["past-due"]
    goal.due = TODAY
    goal.save()
    assert reasons(cast, child) == []

    factory.make_entry(child, seconds=151 * 60)
    assert reasons(cast, child) == ["over-plan"]


def test_eight_days_without_an_entry(cast):
    factory.make_entry(cast.child, day=TODAY - 7 * DAY)
    assert reasons(cast, cast.child) == []
    PracticeEntry.objects.update(day=TODAY - 8 * DAY)
    assert reasons(cast, cast.child) == ["quiet"]
    cast.child.status = "paused"
    cast.child.save()
    assert reasons(cast, cast.child) == []


def test_a_goal_that_is_secure_may_be_past_due(cast):
    factory.make_entry(cast.child)
    goal = factory.make_goal(cast.child, due=TODAY - DAY)
    factory.make_result(goal, 6, day=TODAY - 3 * DAY)
    assert reasons(cast, cast.child) == ["past-due"]  # self-reported once: not secure
    factory.make_result(goal, 6, lesson=factory.make_lesson(cast.child))
    assert reasons(cast, cast.child) == []


def test_only_the_student_whose_row_changed_is_affected(cast):
    before = {student.pk: reasons(cast, student) for student in (cast.child, cast.student, cast.other_student)}
    factory.make_goal(cast.child, due=TODAY - DAY)
    factory.make_consent(cast.child)
    factory.make_note(cast.child, 6)
    after = {student.pk: reasons(cast, student) for student in (cast.child, cast.student, cast.other_student)}
    assert {pk for pk in before if before[pk] != after[pk]} == {cast.child.pk}
    assert set(after[cast.child.pk]) - set(before[cast.child.pk]) == {"hand", "past-due"}


# -- who is on it ------------------------------------------------------------------------------------------------


def test_a_teacher_sees_their_own_the_owner_all_of_the_studio(cast):
    assert names(cast.client("teacher").get(ROSTER)) == ["Kit Child", "Robin Example"]
    assert names(cast.client("other_teacher").get(ROSTER)) == ["Toni Other"]
    assert names(cast.client("owner").get(ROSTER)) == ["Kit Child", "Robin Example", "Toni Other"]
    assert names(cast.client("stranger").get(ROSTER)) == ["Far Student"]


def test_the_teacher_s_column_and_filter_are_the_owner_s(cast):
    teacher, owner = cast.client("teacher").get(ROSTER), cast.client("owner").get(ROSTER)
    assert "Ada Teacher</td>" in owner.content.decode()
    assert "Ada Teacher</td>" not in teacher.content.decode()
    assert "teacher" not in teacher.context["filter"].form.fields
    of_bo = {"teacher": str(cast.other_teacher.code)}
    assert names(cast.client("owner").get(ROSTER, of_bo)) == ["Toni Other"]
    assert names(cast.client("teacher").get(ROSTER, of_bo)) == ["Kit Child", "Robin Example"]
    far = cast.client("owner").get(ROSTER, {"teacher": str(cast.stranger.code)})
    assert far.context["filter"].form.errors["teacher"]
    assert "Far Student" not in far.content.decode()


def test_it_is_narrowed_by_name_status_and_weekday(cast):
    client = cast.client("teacher")
    factory.make_student(teacher=cast.teacher, name="Ash Paused", status="paused", lesson_weekday=0)
    factory.make_student(teacher=cast.teacher, name="Old Archived", status="archived")
    for query, found in (
        ({}, ["Ash Paused", "Kit Child", "Robin Example"]),
        ({"search": "  KIT "}, ["Kit Child"]),
        ({"search": "%"}, []),
        ({"search": "o"}, ["Robin Example"]),
        ({"status": "active"}, ["Kit Child", "Robin Example"]),
        ({"status": "paused"}, ["Ash Paused"]),
        ({"status": "archived"}, ["Old Archived"]),
        ({"status": "all"}, ["Ash Paused", "Kit Child", "Old Archived", "Robin Example"]),
        ({"weekday": "0"}, ["Ash Paused"]),
        ({"weekday": "3"}, ["Kit Child", "Robin Example"]),
        ({"weekday": "3", "search": "robin"}, ["Robin Example"]),
    ):
        assert names(client.get(ROSTER, query)) == found, query


def test_it_is_narrowed_to_those_who_need_attention(cast):
    for student in (cast.child, cast.student):
        factory.make_entry(student)
    factory.make_goal(cast.child, due=TODAY - DAY)
    response = cast.client("teacher").get(ROSTER, {"attention": "on"})
    assert names(response) == ["Kit Child"]
    assert [line[0] for line in sheet(cast.client("teacher"), attention="on")[1:]] == ["Kit Child"]


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ({"status": "gone"}, "status"),
        ({"weekday": "9"}, "weekday"),
        ({"weekday": "1" + "0" * 400}, "weekday"),
        ({"search": "a\x00"}, "search"),
        ({"search": "x" * 500}, "search"),
    ],
)
def test_a_filter_that_cannot_be_is_said_beside_the_field_and_kept(cast, query, field):
    response = cast.client("teacher").get(ROSTER, query)
    assert response.status_code == 200
    form = response.context["filter"].form
    assert set(form.errors) == {field}
    assert form[field].value() == query[field]
    assert f'id="id_{field}_error"' in response.content.decode()


# -- order and pages ---------------------------------------------------------------------------------------------


def test_whoever_has_no_value_stands_last_in_both_directions(cast):
    for number, (minutes, days, discomfort) in enumerate([(30, 2, 3), (10, 0, None), (None, None, 7), (50, 5, 0)]):
        student = factory.make_student(teacher=cast.other_teacher, name=f"S{number}", birth_year=1990)
        factory.make_consent(student)
        if minutes is not None:
            factory.make_entry(student, seconds=minutes * 60, day=TODAY - days * DAY)
        if discomfort is not None:
            factory.make_note(student, discomfort)
    cast.other_student.delete()
    client = cast.client("other_teacher")
    # S3's entry of five days ago lies in last week, so its minutes this week are 0
    for sort, found in (
        ("week", ["S2", "S3", "S1", "S0"]),
        ("-week", ["S0", "S1", "S2", "S3"]),
        ("quiet", ["S1", "S0", "S3", "S2"]),
        ("-quiet", ["S3", "S0", "S1", "S2"]),
        ("hand", ["S3", "S0", "S2", "S1"]),
        ("-hand", ["S2", "S0", "S3", "S1"]),
        ("name", ["S0", "S1", "S2", "S3"]),
        ("-name", ["S3", "S2", "S1", "S0"]),
    ):
        assert names(client.get(ROSTER, {"sort": sort})) == found, sort
        assert [line[0] for line in sheet(client, sort=sort)[1:]] == found, sort


def test_lessons_are_sorted_by_day_and_time(cast):
    for name, weekday, time in (("A", 4, "10:00"), ("B", 0, "18:00"), ("C", 0, "09:00"), ("D", None, None)):
        factory.make_student(teacher=cast.other_teacher, name=name, lesson_weekday=weekday, lesson_time=time)
    cast.other_student.delete()
    assert names(cast.client("other_teacher").get(ROSTER, {"sort": "lesson"})) == ["C", "B", "A", "D"]
    assert names(cast.client("other_teacher").get(ROSTER, {"sort": "-lesson"})) == ["A", "B", "C", "D"]


@pytest.mark.parametrize(
    "sort", ["", "-", "--name", "nobody", "attention", "password", "teacher", "name,-week", "\x00"]
)
def test_an_order_that_is_none_is_passed_over(cast, sort):
    assert set(names(cast.client("teacher").get(ROSTER, {"sort": sort}))) == {"Kit Child", "Robin Example"}


def test_a_page_never_holds_more_than_the_cap(cast):
    for number in range(105):
        factory.make_student(teacher=cast.other_teacher, name=f"S{number:03}")
    client = cast.client("other_teacher")
    for query, count in (
        ({}, 50),
        ({"page": "2"}, 50),
        ({"page": "3"}, 6),
        ({"page": "99"}, 6),
        ({"page": "1" + "0" * 400}, 6),
        ({"page": "x"}, 50),
        ({"page": "-1"}, 6),
        ({"per_page": "10"}, 10),
        ({"per_page": "100000"}, 100),
        ({"per_page": "1" + "0" * 400}, 100),
        ({"per_page": "0"}, 50),
        ({"per_page": "-3"}, 1),
    ):
        assert len(names(client.get(ROSTER, query))) == count, query
    page = client.get(ROSTER, {"page": "2", "sort": "-name", "status": "active"}).content.decode()
    assert 'href="?page=3&amp;sort=-name&amp;status=active"' in page
    assert len(sheet(client)) == 1 + 106  # the export is the whole list


# -- the export --------------------------------------------------------------------------------------------------


def test_the_export_is_the_same_list_and_leaks_nothing_more(cast):
    factory.make_consent(cast.child)
    factory.make_entry(cast.child, seconds=52 * 60, day=TODAY - DAY)
    factory.make_note(cast.child, 5, place="wrist")
    head, kit, robin = sheet(cast.client("teacher"))
    assert head == [
        "Student", "Age", "Instrument", "Status", "Lesson day", "Lesson time", "Minutes this week",
        "Planned minutes a week", "Days since last entry", "Highest discomfort in 14 days", "Needs attention",
    ]  # fmt: skip
    assert kit[:10] == ["Kit Child", "10", "three-quarter size", "active", "Thursday", "15:30", "52", "100", "1", "5"]
    assert "wrist" not in kit[10]
    assert kit[10]
    assert robin[8:10] == ["", ""]
    assert sheet(cast.client("owner"))[0][-1] == "Teacher"
    assert [line[0] for line in sheet(cast.client("teacher"), search="kit")[1:]] == ["Kit Child"]
    assert sheet(cast.client("teacher"), teacher=str(cast.other_teacher.code))[1:] == [kit, robin]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_cell_that_a_spreadsheet_would_compute_is_quoted(start):
    """The six starts that spreadsheets take for a formula or strip before one [from memory]."""
    assert spreadsheet_safe(f"{start}1+1") == f"'{start}1+1"
    assert spreadsheet_safe(f"a{start}1") == f"a{start}1"


def test_a_name_that_looks_like_a_formula_is_quoted_in_the_file(cast):
    name = '=HYPERLINK("http://elsewhere.example","Kit")'
    Student.objects.filter(pk=cast.child.pk).update(name=name)
    assert f"'{name}" in [line[0] for line in sheet(cast.client("teacher"))]


def test_no_name_writes_markup_into_the_page(cast):
    Student.objects.filter(pk=cast.child.pk).update(name="<script>alert(1)</script>")
    assert "<script>alert" not in cast.client("teacher").get(ROSTER).content.decode()


# -- days of rest -------------------------------------------------------------------------------------------------


def test_while_nothing_is_played_the_row_asks_for_nothing(cast):
    student = cast.student
    factory.make_consent(student)
    factory.make_entry(student, day=TODAY - 9 * DAY)
    factory.make_goal(student, due=TODAY - 2 * DAY)
    assert reasons(cast, student) == ["quiet", "past-due"]
    note = factory.make_note(student, 8, day=TODAY - 8 * DAY)
    assert reasons(cast, student) == ["hand"]
    assert "<b>0</b>, none asked" in cast.client("teacher").get(ROSTER).content.decode()
    line = next(line for line in sheet(cast.client("teacher")) if line[0] == student.name)
    assert line[7] == "0"
    # closed yesterday: of the nine days eight were for rest, and Monday to Wednesday leave four days of the week
    note.close("Had a look.", NOW - DAY, "Dr Reed")
    assert reasons(cast, student) == ["past-due"]
    assert "<b>0</b> of 80" in cast.client("teacher").get(ROSTER).content.decode()
    cast.student.consents.update(withdrawn_at=NOW)
    assert reasons(cast, student) == ["quiet", "past-due"]
    assert "<b>0</b> of 100" in cast.client("teacher").get(ROSTER).content.decode()


# fields of a note; whether it stops all playing
STOPPING = [
    ({"discomfort": 7}, True),
    ({"discomfort": 6}, False),
    ({"discomfort": 1, "sudden": True, "sensation": "numb"}, True),
    ({"discomfort": 1, "face_arm_leg": True, "also": ["weak"]}, True),
    ({"discomfort": 0, "also": ["fell"]}, True),
    ({"discomfort": 0, "also": ["hot"]}, True),
    ({"discomfort": 2, "also": ["shape"]}, True),
    ({"discomfort": 2, "also": ["weak", "extreme"]}, True),
    ({"discomfort": 2, "also": ["numb"]}, False),
    ({"discomfort": 2, "place": "index", "settles": "rest"}, False),
]


@pytest.mark.parametrize(("over", "stops"), STOPPING)
def test_what_stops_all_playing_is_read_however_old_it_is(cast, over, stops):
    factory.make_consent(cast.student)
    old = TODAY - 400 * DAY
    note = factory.make_note(cast.student, **over, day=old, seen_at=NOW)
    assert HandNote.objects.may_stop().filter(pk=note.pk).exists() or not stops
    read = student_facts(cast.student, TODAY, since=TODAY - 26 * 7 * DAY).notes
    assert [one.code for one in read] == ([str(note.code)] if stops else [])
    assert looks_of([row_of(cast, cast.student)], TODAY)[cast.student.pk].asked.nothing is stops
    note.close("Had a look.", NOW - 300 * DAY, "Dr Reed")
    assert student_facts(cast.student, TODAY, since=TODAY - 26 * 7 * DAY).notes == ()
    assert len(student_facts(cast.student, TODAY, since=TODAY - 350 * DAY).notes) == stops


# -- queries -----------------------------------------------------------------------------------------------------


def sixty(cast):
    """Sixty students of the studio, each with two guardians, a consent, entries, goals past due, results, notes."""
    for number in range(60 - 3):
        student = factory.make_student(teacher=cast.teacher, name=f"S{number:02}", birth_year=2012)
        guardian = factory.make_guardian(student)
        Guardianship.objects.create(guardian=factory.make_guardian(studio=cast.studio), student=student)
        factory.make_consent(student, guardian=guardian)
        goal = factory.make_goal(student, due=TODAY - DAY)
        factory.make_result(goal, 5)
        factory.make_note(student, 4)
        student.tells.create(by="student", at=NOW)


@pytest.mark.parametrize(
    ("path", "query", "who", "few"),
    [
        # session, user, teacher with studio, students counted, the page's students, their hand notes, their goals
        # past due, those goals' results
        (ROSTER, {}, "teacher", 8),
        # the same and the studio's teachers for the filter
        (ROSTER, {}, "owner", 9),
        # session, user, teacher with studio, all students, their hand notes, goals past due, results; those in need
        # counted, the page's students, the studio's teachers for the filter
        (ROSTER, {"attention": "on"}, "owner", 10),
        # as the page, without a count
        (CSV, {}, "teacher", 7),
    ],
)
def test_sixty_students_cost_as_many_queries_as_one(cast, path, query, who, few):
    factory.make_goal(cast.child, due=TODAY - DAY)
    factory.make_result(factory.make_goal(cast.child, due=TODAY - DAY), 3)
    factory.make_consent(cast.child)
    client = cast.client(who)
    client.get(path, query)  # what Django keeps between requests (content types, caches) is not the page's
    assert queries(client, path, query) == few <= 10
    sixty(cast)
    assert queries(client, path, query) == few


def queries(client, path, query):
    with CaptureQueriesContext(connection) as captured:
        response = client.get(path, query)
        assert response.status_code == 200
    return len(captured)


def test_the_query_itself_is_one(cast, django_assert_num_queries):
    sixty(cast)
    with django_assert_num_queries(1):
        rows = list(by_column(on_roster(viewer(cast, "owner"), TODAY), "hand", descending=True))
        assert {row.teacher.name for row in rows} == {"Ada Teacher", "Bo Teacher"}
    assert len(rows) == 60
