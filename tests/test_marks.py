"""A mark planted in every text of one family's rows turns up nowhere but where it may.

Every address is asked for as everybody, with their own rows and with the marked family's. `tests/filled.py` fills the
rows by walking the models, so that a new table is planted too.
"""

import io
import logging
import re
import zipfile

import pytest
from django.core import mail
from django.urls import reverse
from django.utils import timezone

from practice.mailing import hear
from practice.models import Goal, HandEpisode, HandNote, HandReturn, Lesson, PracticeEntry
from students.models import Guardian
from tests import factory
from tests.filled import MARK, made, marked_student
from tests.test_access import ADDRESSES, TABLE, row, wanted

HAND, PRIVATE, BOOK = "Hq4Wd", "Pv8Nt", "Bk6Rs"

# Who is of another family or studio, and whose rows they have of their own.
STRANGERS = {
    "anonymous": "other_student",
    "other_teacher": "other_student",
    "stranger": "far_student",
    "student": "student",
    "other_student": "other_student",
    "other_guardian": "other_student",
}


@pytest.fixture
def marked(cast):
    """A child of `cast.teacher` with a mark in every text, and the rows that addresses name."""
    student = marked_student(cast.teacher)
    rows = made(student)
    guardian = rows["students.Guardian"]
    cast.marked, cast.marked_guardian = student, guardian
    # what stands before their pages is tested elsewhere; here they are in
    Guardian.objects.filter(pk=guardian.pk).update(link_expires=None, pin="")
    type(student).objects.filter(pk=student.pk).update(pin="")
    guardian.refresh_from_db()
    student.refresh_from_db()
    # the teacher's book is for the teacher's students too: it has a mark of its own
    song = factory.make_song(cast.teacher, title=f"{BOOK} song", chords="G C", level=BOOK, tags=BOOK)
    roots = factory.make_roots_goal(student, words=f"{MARK} roots")
    today = cast.studio.today(timezone.now())
    # lately, so that pages which show the last days show it
    for kind in (PracticeEntry, HandNote, Lesson):
        kind.objects.filter(student=student).update(day=today)
    return {
        "student": student.code, "guardian": guardian.code, "teacher": cast.teacher.code, "roots": roots.code,
        "goal": rows["practice.Goal"].code, "note": rows["practice.HandNote"].code, "song": song.code,
        "declined": rows["practice.Declined"].code, "performance": rows["practice.Performance"].code,
        "entry": rows["practice.PracticeEntry"].code, "tell": rows["practice.TellTeacher"].code,
        "token": "never-signed", "uidb64": "MQ",
    }  # fmt: skip


def own_rows(cast, name):
    """The same for somebody's own student, with rows of their own behind each address."""
    student = getattr(cast, name)
    guardian = student.guardians.first() or factory.make_guardian(student)
    return {
        "student": student.code, "guardian": guardian.code, "teacher": student.teacher.code,
        "roots": factory.make_roots_goal(student).code, "goal": factory.make_goal(student).code,
        "note": factory.make_note(student).code, "song": factory.make_song(student.teacher).code,
        "declined": factory.make_declined(student).code, "performance": factory.make_performance(student).code,
        "entry": factory.make_entry(student).code, "tell": student.code, "token": "never-signed", "uidb64": "MQ",
    }  # fmt: skip


def body(response):
    """All that an answer gives away: its heads, its page, the files in a ZIP."""
    content = b"".join(response) if response.streaming else response.content
    heads = "\n".join(f"{name}: {value}" for name, value in response.headers.items())
    if response.headers.get("Content-Type") == "application/zip":
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            content = b"\n".join(packed.read(one) for one in packed.namelist())
    return heads + content.decode("utf-8", "replace")


def answers(client, rows, only=None, skip=()):
    """(name, answer) of a GET of every address with these rows."""
    asked = 0
    for name, _pattern in ADDRESSES:
        if (only and name not in only) or name in skip or any(key not in rows for key in wanted(name)):
            continue
        asked += 1
        yield name, client.get(reverse(name, kwargs={key: rows[key] for key in wanted(name)}))
    assert asked > (40 if only is None else 5)


def test_the_rows_behind_every_address_are_known(marked):
    """Lest an address with a new kind of row were passed over."""
    assert {key for name, _pattern in ADDRESSES for key in wanted(name)} - {"start", "end", "week", "file"} <= {*marked}


def test_the_mark_is_seen_where_it_may_be(cast, marked):
    """Else the rest would prove nothing."""
    seen = {name for name, answer in answers(cast.client("teacher"), marked) if MARK in body(answer)}
    assert len(seen) > 12
    assert {"practice:student", "practice:record-zip", "practice:entries", "practice:roster-csv"} <= seen
    family = {name for name, answer in answers(cast.client("marked_guardian"), marked) if MARK in body(answer)}
    assert {"practice:f-week", "practice:f-record-zip"} <= family


@pytest.mark.parametrize(
    "who", [who if who == "stranger" else pytest.param(who, marks=pytest.mark.long) for who in STRANGERS]
)
def test_a_stranger_sees_no_mark_anywhere(cast, marked, who):
    """Not on their own pages, and not in what the marked family's addresses answer them."""
    client = cast.client(who)
    own = own_rows(cast, STRANGERS[who])
    for rows in (own, marked, {**own, "student": marked["student"]}, {**marked, "student": own["student"]}):
        for name, answer in answers(client, rows):
            held = body(answer)
            # an address that was asked for may come back in the answer, as in the sign-in page's `next`
            assert MARK.lower() not in held.lower(), (name, answer.status_code)
            if who != "student":
                assert BOOK not in held, (name, answer.status_code)


@pytest.mark.parametrize("who", ["child", "guardian", "student"])
def test_another_family_of_the_same_teacher_sees_none(cast, marked, who):
    own = own_rows(cast, "student" if who == "student" else "child")
    for name, answer in answers(cast.client(who), own):
        assert MARK.lower() not in body(answer).lower(), name


# -- what a family does not read -------------------------------------------------------------------------------------


@pytest.fixture
def kinds(cast, marked):
    """The marked family, with marks of their own in hand values and in the teacher's private words."""
    student = cast.marked
    Goal.objects.filter(student=student).update(hand_reason=f"{HAND} reason")
    HandNote.objects.filter(student=student).update(closed_words=f"{HAND} closed")
    HandEpisode.objects.filter(student=student).update(closed_words=f"{HAND} episode")
    HandReturn.objects.filter(student=student).update(
        cleared_by=f"{HAND} cleared", ended_words=f"{HAND} ended", ended_on=None,
        steps=[[1, "2026-11-01", f"{HAND} step"]],
    )  # fmt: skip
    Lesson.objects.filter(student=student).update(words=f"{PRIVATE} lesson")
    student.declined.update(words=f"{PRIVATE} declined")
    return marked


@pytest.mark.long
def test_without_consent_nobody_sees_a_hand_value(cast, kinds):
    """Not the teacher, not the owner, not the family; on no page and in no file."""
    assert not cast.marked.may_keep_hand_values(cast.studio.today(timezone.now()))
    for who in ("owner", "teacher", "marked", "marked_guardian"):
        for name, answer in answers(cast.client(who), kinds):
            assert HAND not in body(answer), (who, name)
    # and with one they are there: else this would prove nothing
    factory.make_consent(cast.marked)
    held = {name for name, answer in answers(cast.client("teacher"), kinds) if HAND in body(answer)}
    assert {"practice:hand-notes", "practice:record-zip"} <= held


def test_private_words_are_on_no_familys_page_but_in_the_file_they_may_ask_for(cast, kinds):
    for who in ("marked", "marked_guardian"):
        held = {name for name, answer in answers(cast.client(who), kinds) if PRIVATE in body(answer)}
        assert held <= {"practice:f-record-zip"}, who
    own = reverse("practice:f-record-zip", args=[cast.marked.code])
    assert PRIVATE in body(cast.client("marked_guardian").get(own))


def test_an_adults_hand_is_nobodys_but_the_teachers(cast, kinds):
    """The adult's own consent does not reach the guardians of former years."""
    cast.marked.birth_year = 1990
    cast.marked.save()
    factory.make_consent(cast.marked)
    for name, answer in answers(cast.client("marked_guardian"), kinds):
        assert HAND not in body(answer), name


# -- mails, logs, charts ---------------------------------------------------------------------------------------------


def test_a_mail_goes_to_the_family_and_says_nothing_of_the_hand(cast, kinds):
    """Three families hurt at once: each mail reaches its own people, its subject and body name no value."""
    Guardian.objects.filter(pk=cast.marked_guardian.pk).update(name="Mo Marked", email="mo@family.example")
    HandEpisode.objects.all().delete()
    now = timezone.now()
    today = cast.studio.today(now)
    people = {}
    for student in (cast.marked, cast.child, cast.other_student):
        factory.make_consent(student)
        factory.make_note(student, 9, day=today, at=now, place="wrist", sensation="numb")
        hear(student, now, lambda path: f"https://studio.example{path}")
        people[student.first_name] = {
            student.teacher.user.email, *student.guardians.exclude(email="").values_list("email", flat=True)
        }  # fmt: skip
    assert len(mail.outbox) == 6
    for sent in mail.outbox:
        assert len(sent.to) == 1
        assert not sent.cc
        assert not sent.bcc
        [named] = [name for name in people if name in sent.body]
        assert sent.to[0] in people[named]
        assert HAND not in sent.body
        for word in ("hand", "hurt", "pain", "wrist", "numb", "doctor", "9", *people):
            assert word not in sent.subject.lower(), word
        assert not re.search(r"\b(wrist|numb|ache|pain|9)\b", sent.body.lower())


@pytest.mark.long
def test_no_log_line_names_anybody_or_what_they_wrote(cast, kinds, caplog):
    """Asked and sent by the family and the teacher themselves, right forms and wrong ones, at the most talkative."""
    with caplog.at_level(logging.DEBUG):
        for who in ("teacher", "marked", "marked_guardian", "stranger"):
            client = cast.client(who)
            for name, _answer in answers(client, kinds):
                if name in ("practice:record-erase", "students:sign-out"):
                    continue
                path = reverse(name, kwargs={key: kinds[key] for key in wanted(name)})
                if 200 in row(name).values() or 405 in row(name).values():
                    client.post(path, {"note": f"{MARK} note", "words": f"{PRIVATE} x", "name": f"{MARK} Student"})
    assert caplog.records
    lines = [record.getMessage() for record in caplog.records if record.name != "django.db.backends"]
    for text in (MARK, HAND, PRIVATE, "family.example"):
        assert [line for line in lines if text.lower() in line.lower()] == []


@pytest.mark.long
def test_charts_mark_notes_and_name_nobody(cast, kinds):
    """No drawing on a teacher's, child's or family's page has a name in it, nor words that somebody typed."""
    factory.make_consent(cast.marked)
    drawings = 0
    for who in ("teacher", "owner", "marked", "marked_guardian"):
        for name, answer in answers(cast.client(who), kinds):
            if name == "students:link-qr":
                continue  # the code of a link says whose it is
            for drawing in re.findall(r"<svg.*?</svg>", body(answer), flags=re.DOTALL):
                drawings += 1
                for text in (MARK, HAND, PRIVATE, "Student", "Kit", "Robin"):
                    assert text not in drawing, (who, name, text)
    assert drawings > 10


def test_the_table_has_no_address_that_this_walk_leaves_out():
    assert {name for name, _pattern in ADDRESSES} == {*TABLE}
