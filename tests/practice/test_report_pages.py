"""The report's pages: who may make one, what is kept, what bad input is told, and the whole roster in one archive."""

import datetime as dt
import io
import zipfile

import pypdf
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from practice.models import TermReport
from tests import factory
from tests.factory import NOW, TODAY

TERM = {"start": "2026-09-01", "end": "2026-11-12"}


@pytest.fixture(autouse=True)
def _today(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def page(student) -> str:
    return f"/students/{student.code}/report/"


def pdf(student) -> str:
    return f"/students/{student.code}/report.pdf"


def text_of(data: bytes) -> str:
    return " ".join(" ".join(part.extract_text() for part in pypdf.PdfReader(io.BytesIO(data)).pages).split())


def opened(response) -> zipfile.ZipFile:
    return zipfile.ZipFile(io.BytesIO(b"".join(response.streaming_content)))


# ---------------------------------------------------------------- one student


def test_from_the_students_page_to_the_pdf(cast):
    factory.make_entry(cast.student, day=TODAY - dt.timedelta(days=3))
    client = cast.client("teacher")
    assert page(cast.student) in client.get(f"/students/{cast.student.code}/").content.decode()
    shown = client.get(page(cast.student), TERM).content.decode()
    assert "Robin logged 20 minutes of practice on 1 day this term." in shown
    answer = client.post(page(cast.student), {**TERM, "words": " Well on the way. ", "make": "pdf"})
    assert answer.status_code == 302
    assert answer.url.startswith(pdf(cast.student))
    kept = TermReport.objects.get()
    assert (kept.student, kept.words, kept.written_by) == (cast.student, "Well on the way.", cast.teacher)
    made = client.get(answer.url)
    assert made.headers["Content-Type"] == "application/pdf"
    assert made.headers["Content-Disposition"] == ('attachment; filename="term-report-robin-example-2026-11-12.pdf"')
    assert "Well on the way." in text_of(made.content)
    assert "1 September to 12 November 2026" in text_of(made.content)


def test_words_are_kept_by_term_and_found_again(cast):
    client = cast.client("teacher")
    client.post(page(cast.student), {**TERM, "words": "first", "keep": "words"})
    client.post(page(cast.student), {**TERM, "words": "second", "keep": "words"})
    client.post(page(cast.student), {"start": "2026-04-01", "end": "2026-07-01", "words": "summer"})
    assert sorted(TermReport.objects.values_list("words", flat=True)) == ["second", "summer"]
    shown = client.get(page(cast.student), TERM).content.decode()
    assert ">\nsecond</textarea>" in shown
    assert "?start=2026-04-01&amp;end=2026-07-01" in shown
    # without a term asked for, the one written for lately
    assert ">\nsecond</textarea>" in client.get(page(cast.student)).content.decode()
    assert 'value="2026-09-01"' in client.get(page(cast.child)).content.decode()


def test_without_words_the_usual_term_is_thirteen_weeks(cast):
    shown = cast.client("teacher").get(page(cast.student)).content.decode()
    assert 'value="2026-08-17"' in shown
    assert 'value="2026-11-12"' in shown


# start, end, what the page says
WRONG = [
    ("2026-11-13", "2026-12-01", "This term has not begun yet."),
    ("2026-10-01", "2026-09-01", "The term would end before it begins."),
    ("2024-10-01", "2026-09-01", "A report covers a year at most."),
    ("1026-10-01", "2026-09-01", "Is the year right?"),
    ("soon", "2026-09-01", "Enter a valid date."),
    ("", "2026-09-01", "This field is required."),
    ("0001-01-01", "9999-12-31", "Is the year right?"),
]


@pytest.mark.parametrize(("start", "end", "said"), WRONG)
def test_a_term_that_cannot_be_is_explained_and_words_are_not_lost(cast, start, end, said):
    client, asked = cast.client("teacher"), {"start": start, "end": end}
    shown = client.get(page(cast.student), asked)
    assert shown.status_code == 200
    assert said in shown.content.decode()
    assert said in client.get("/reports/", asked).content.decode()
    posted = client.post(page(cast.student), {**asked, "words": "kept as typed"})
    assert posted.status_code == 200
    assert said in posted.content.decode()
    assert "kept as typed" in posted.content.decode()
    assert not TermReport.objects.exists()
    for path in (pdf(cast.student), "/reports.zip"):
        answer = client.get(path, asked, follow=True)
        assert answer.status_code == 200
        assert said in answer.content.decode()


def test_too_many_words_are_said_to_be(cast):
    posted = cast.client("teacher").post(page(cast.student), {**TERM, "words": "w" * 2001})
    assert "at most 2000 characters" in posted.content.decode()
    assert not TermReport.objects.exists()


def test_another_teacher_writes_nothing(cast):
    for who, status in (("other_teacher", 404), ("stranger", 404), ("guardian", 404), ("student", 404)):
        assert cast.client(who).post(page(cast.student), {**TERM, "words": "x"}).status_code == status
    assert not TermReport.objects.exists()
    assert cast.client("owner").post(page(cast.student), {**TERM, "words": "x"}).status_code == 302


def test_of_a_minors_hand_only_the_familys_words_and_only_under_consent(cast):
    factory.make_note(cast.child, 6, day=TODAY - dt.timedelta(days=8))
    client = cast.client("teacher")
    without = text_of(client.get(pdf(cast.child), TERM).content)
    assert "hand" not in without.lower()
    factory.make_consent(cast.child)
    made = text_of(client.get(pdf(cast.child), TERM).content)
    assert "some discomfort on 1 day, at its most in the wrist" in made
    assert "6 of 10" not in made


def test_a_minors_report_says_of_the_hand_what_the_familys_page_says(cast):
    factory.make_consent(cast.child)
    factory.make_note(cast.child, 3, day=TODAY - dt.timedelta(days=8))
    family = " ".join(cast.client("guardian").get(f"/f/{cast.child.code}/").content.decode().split())
    made = text_of(cast.client("teacher").get(pdf(cast.child), TERM).content)
    said = "The hand: a little discomfort on 1 day, at its most in the wrist."
    assert said in family
    assert said in made


def test_an_adults_hand_is_not_in_the_report(cast):
    factory.make_consent(cast.student)
    factory.make_note(cast.student, 6, day=TODAY - dt.timedelta(days=8))
    assert "discomfort" not in text_of(cast.client("teacher").get(pdf(cast.student), TERM).content)


def test_a_hostile_name_makes_a_plain_file_name(cast):
    cast.student.name = 'Ω"/../\r\nX: y ☃'
    cast.student.save()
    answer = cast.client("teacher").get(pdf(cast.student), TERM)
    assert answer.headers["Content-Disposition"] == 'attachment; filename="term-report-x-y-2026-11-12.pdf"'


# ---------------------------------------------------------------- the roster


def test_every_student_on_the_roster_gets_a_report(cast):
    factory.make_student(teacher=cast.teacher, name="Robin Example")  # of the same name
    factory.make_student(teacher=cast.teacher, name="Long Gone", status="archived")
    cast.client("teacher").post(page(cast.child), {**TERM, "words": "Kit's words"})
    answer = cast.client("teacher").get("/reports.zip", TERM)
    assert answer.headers["Content-Type"] == "application/zip"
    archive = opened(answer)
    assert archive.testzip() is None
    assert sorted(archive.namelist()) == [
        "term-report-kit-child-2026-11-12.pdf",
        "term-report-robin-example-2026-11-12-2.pdf",
        "term-report-robin-example-2026-11-12.pdf",
    ]
    assert "Kit's words" in text_of(archive.read("term-report-kit-child-2026-11-12.pdf"))
    assert "Kit's words" not in text_of(archive.read("term-report-robin-example-2026-11-12.pdf"))


def test_the_owner_gets_the_whole_studios_and_nobody_elses(cast):
    names = opened(cast.client("owner").get("/reports.zip", TERM)).namelist()
    assert len(names) == 3
    assert not any("far" in name for name in names)


def test_one_report_that_fails_does_not_cost_the_others(cast, monkeypatch):
    from practice import report_pdf

    good = report_pdf.term_pdf

    def bad(report, *rest):
        if report.name == "Kit Child":
            raise RuntimeError
        return good(report, *rest)

    monkeypatch.setattr("practice.report_pdf.term_pdf", bad)
    archive = opened(cast.client("teacher").get("/reports.zip", TERM))
    assert sorted(archive.namelist()) == [
        "term-report-kit-child-2026-11-12.txt",
        "term-report-robin-example-2026-11-12.pdf",
    ]
    assert b"Kit Child" in archive.read("term-report-kit-child-2026-11-12.txt")


def test_an_empty_roster_is_told_so(cast):
    factory.make_teacher(studio=cast.studio, name="New Teacher")
    lone = factory.make_teacher(name="Lone Owner", is_owner=True)
    cast.lone = lone
    client = cast.client("lone")
    assert "Once somebody is on the roster" in client.get("/reports/").content.decode()
    answer = client.get("/reports.zip", follow=True)
    assert "There is nobody on the roster yet." in answer.content.decode()


def test_the_archive_asks_the_same_queries_for_any_number_of_a_batch(cast):
    def count() -> int:
        with CaptureQueriesContext(connection) as captured:
            opened(cast.client("teacher").get("/reports.zip", TERM))
        return len(captured)

    cast.client("teacher").get("/reports/")  # signs in
    few = count()
    for number in range(5):
        one = factory.make_student(teacher=cast.teacher, name=f"Student {number}")
        factory.make_result(factory.make_goal(one), 4)
    assert count() == few
    # session, user, teacher, the usual term, the keys; of the batch its students, the seven of facts_of, the words
    assert few <= 14


def test_pages_ask_the_same_queries_for_any_history(cast, count_queries):
    client = cast.client("teacher")
    few, list_few = count_queries(client, page(cast.student)), count_queries(client, "/reports/")
    goal = factory.make_goal(cast.student)
    for back in range(10):
        factory.make_result(goal, 4, day=TODAY - dt.timedelta(days=back))
        factory.make_student(teacher=cast.teacher, name=f"Student {back}")
    assert count_queries(client, page(cast.student)) == few
    assert count_queries(client, "/reports/") == list_few
    # session, user, teacher; student, the usual term, these words, eight of student_facts, other terms
    assert few <= 16
    assert list_few <= 8


# ---------------------------------------------------------------- the family's week


def test_the_familys_week_as_a_file(cast):
    factory.make_entry(cast.child, day=TODAY - dt.timedelta(days=8))
    client = cast.client("guardian")
    assert f"/f/{cast.child.code}/week.pdf?week=2026-11-02" in client.get(f"/f/{cast.child.code}/").content.decode()
    made = client.get(f"/f/{cast.child.code}/week.pdf?week=2026-11-02")
    assert made.headers["Content-Disposition"] == 'attachment; filename="week-kit-child-2026-11-02.pdf"'
    assert "Kit practised on 1 of 5 planned days, 20 minutes in all." in text_of(made.content)
    assert client.get(f"/f/{cast.child.code}/week.pdf?week=never").status_code == 404


def test_the_weeks_file_of_a_child_on_a_return_has_the_step_and_not_the_plan(cast):
    factory.make_consent(cast.child)
    factory.make_return(cast.child)
    factory.make_entry(cast.child, day=TODAY)
    made = cast.client("guardian").get(f"/f/{cast.child.code}/week.pdf?week=2026-11-09")
    text = text_of(made.content)
    assert "Back to playing, step by step" in text
    assert "Step 1: 2 times 5 minutes a day, and no more." in text
    assert "at most 10 a day since 11 November" in text
    assert "plan" not in text
    own = factory.make_return(cast.student)
    factory.make_consent(cast.student)
    page = cast.client("student").get(f"/s/{cast.student.code}/progress/").content.decode()
    assert "on step 1 of the return" in page
    own.delete()
    page = cast.client("student").get(f"/s/{cast.student.code}/progress/").content.decode()
    assert f"of {cast.student.plan_days} planned" in page
