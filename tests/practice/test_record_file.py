"""The whole record as a file: what it holds equals what the rows say, by walking the models."""

import csv
import io
import json
import zipfile
from zoneinfo import ZoneInfo

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.dateparse import parse_datetime

from practice import kept, record_file
from practice.models import PracticeEntry
from practice.record_file import Reader
from tests import factory
from tests.filled import MARK, made, marked_student

STUDIO = Reader("Oona Owner", studio=True)
ZONE = ZoneInfo("Europe/London")


@pytest.fixture
def marked(cast):
    student = marked_student(cast.teacher)
    made(student)
    return student


def unpacked(file):
    """(name -> text) of a ZIP."""
    with zipfile.ZipFile(file) as packed:
        assert packed.testzip() is None
        return {one.filename: packed.read(one).decode("utf-8") for one in packed.infolist()}


def made_for(student, reader=STUDIO, hand=True):
    return unpacked(record_file.write_record(student, factory.NOW, hand, reader))


def lines(text):
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))


def said(row, name):
    """What a field of a row should be in the file, worked out anew from the row: the other way round."""
    field = row._meta.get_field(name)
    value = getattr(row, name)
    if field.many_to_many:
        return [str(one.code) for one in value.all()]
    if value is None:
        return None
    if field.related_model is not None:
        return getattr(value, "email" if name == "user" else "name", None) or str(value.code)
    kind = field.get_internal_type()
    if kind == "DateTimeField":
        return value.astimezone(ZONE).isoformat()
    if kind in ("DateField", "TimeField", "UUIDField"):
        return str(value) if kind != "TimeField" else f"{value:%H:%M:%S}"
    return float(value) if kind == "DecimalField" else value


@pytest.mark.parametrize("table", [table for table in kept.TABLES if table.file], ids=lambda table: table.model)
def test_the_file_holds_what_the_rows_say(marked, table):
    """Every field but those that practice.kept leaves out with a reason, of every row, in JSON and CSV alike."""
    files = made_for(marked)
    whole = json.loads(files["record.json"])
    rows = list(apps.get_model(table.model)._base_manager.filter(**{table.path: marked.pk}).order_by("pk"))
    wanted = {one.name for one in (*rows[0]._meta.fields, *rows[0]._meta.many_to_many)} - {*table.left_out}
    assert len(rows) == len(whole[table.file]) == len(lines(files[f"{table.file}.csv"])) >= 1
    for row, held, line in zip(rows, whole[table.file], lines(files[f"{table.file}.csv"]), strict=True):
        assert {name for name in held if not name.endswith(" in words")} - wanted <= {"title"}
        for name in wanted:
            assert held[name] == said(row, name), name
            if name == "also":
                # what is no known code stands as it is
                assert held["also in words"] == row.also
            elif f"{name} in words" in held:
                assert held[f"{name} in words"] == getattr(row, f"get_{name}_display")()
        assert line == {name: record_file.cell(value) for name, value in held.items()} | {
            name: "" for name in line if name not in held
        }


def test_every_text_of_the_record_is_in_it(marked):
    """The other way: each marked text of the rows is found in the file, but the PINs, which are secrets."""
    text = made_for(marked)["record.json"]
    for table in kept.TABLES:
        model = apps.get_model(table.model)
        for row in model._base_manager.filter(**{table.path: marked.pk}):
            for one in row._meta.fields:
                value = getattr(row, one.name)
                if isinstance(value, str) and MARK in value:
                    assert (value in text) is (one.name not in table.left_out), (table.model, one.name)
    assert f"{MARK} pin" not in text


def test_without_consent_no_hand_value_is_in_it(marked):
    with_it, without = made_for(marked), made_for(marked, hand=False)
    whole = json.loads(without["record.json"])
    for table in kept.TABLES:
        if table.hand_rows:
            assert table.file in json.loads(with_it["record.json"])
            assert table.file not in whole
            assert f"{table.file}.csv" not in without
        elif table.file:
            for name in table.hand:
                assert name in json.loads(with_it["record.json"])[table.file][0]
                assert all(name not in row for row in whole[table.file]), name
    for text in without.values():
        assert "tiring" not in text
        assert "hand_reason" not in text
    assert "no consent stands" in without["READ-ME.txt"]
    assert "because a consent stands" in with_it["READ-ME.txt"]


def test_a_field_that_nobody_has_classed_stays_out(marked, monkeypatch):
    """Until somebody has thought about a new field it is given to nobody."""
    [lesson] = [table for table in kept.TABLES if table.file == "lessons"]
    fewer = kept.Table(lesson.model, lesson.path, lesson.file, plain=("code", "day"), left_out=lesson.left_out)
    tables = [fewer if table is lesson else table for table in kept.TABLES]
    monkeypatch.setattr(record_file, "TABLES", tables)
    [row] = json.loads(made_for(marked)["record.json"])["lessons"]
    assert set(row) == {"code", "day"}


def test_a_familys_file_holds_no_other_guardians_address(cast, marked):
    mine = factory.make_guardian(marked, name="Mine", email="mine@family.example", user=factory.make_user())
    files = made_for(marked, Reader(mine.name, guardian=mine.pk))
    held = {row["name"]: row for row in json.loads(files["record.json"])["guardians"]}
    assert held["Mine"]["email"] == "mine@family.example"
    other = held[f"{MARK} name"]
    assert (other["email"], other["user"], other["link_expires"]) == (None, None, None)
    assert not any("zq7mk.guardian@" in text or "students.guardian@" in text for text in files.values())
    # an adult's own file names guardians and no address of theirs
    files = made_for(marked, Reader(marked.name))
    assert all({*row} == {"name"} for row in json.loads(files["record.json"])["guardians"])


def test_nobody_elses_rows_are_in_it(cast, marked):
    other = marked_student(cast.teacher, "Xw9Lv")
    made(other, "Xw9Lv")
    assert not any("xw9lv" in text.lower() for text in made_for(marked).values())


@pytest.mark.parametrize(
    ("typed", "cell"),
    [("=1+1", "'=1+1"), ("@SUM(A1)", "'@SUM(A1)"), ("-2", "'-2"), ("plain", "plain"), ("a\nb", "a\nb")],
)
def test_a_note_is_no_formula(cast, typed, cell):
    factory.make_entry(cast.child, note=typed)
    files = made_for(cast.child)
    assert [line["note"] for line in lines(files["entries.csv"])] == [cell]
    assert json.loads(files["record.json"])["entries"][0]["note"] == typed


def test_an_empty_record_is_a_file_too(cast):
    files = made_for(cast.student)
    whole = json.loads(files["record.json"])
    assert whole["entries"] == []
    assert whole["student"][0]["name"] == "Robin Example"
    assert lines(files["entries.csv"]) == []


def test_instants_are_the_studios(cast):
    """17:00 UTC in winter is 17:00 in London; in July it would be 18:00."""
    factory.make_entry(cast.child, day=factory.dt.date(2026, 7, 9))
    [row] = json.loads(made_for(cast.child)["record.json"])["entries"]
    assert row["begun"] == "2026-07-09T18:00:00+01:00"
    assert parse_datetime(row["begun"]) == PracticeEntry.objects.get().begun


def test_the_queries_do_not_grow_with_the_history(cast):
    """One a table that is a file, and one for the goals of performances."""

    def count():
        with CaptureQueriesContext(connection) as captured:
            record_file.write_record(cast.child, factory.NOW, True, STUDIO)
        return len(captured)

    made(cast.child)
    few = count()
    assert few == len(record_file.tables_for(True)) + 1
    goals = [factory.make_goal(cast.child) for _ in range(5)]
    for day in range(30):
        before = factory.TODAY - factory.dt.timedelta(days=day)
        entry = factory.make_entry(cast.child, (goals[day % 5], 300), day=before)
        factory.make_note(cast.child, entry=entry)
        factory.make_performance(cast.child, *goals)
        factory.make_lesson(cast.child, day=factory.TODAY - factory.dt.timedelta(days=day + 100))
    assert count() == few


def test_the_documentation_names_every_file():
    from pathlib import Path

    told = (Path(__file__).resolve().parents[2] / "studio" / "docs" / "data.md").read_text("utf-8")
    for table in kept.TABLES:
        if table.file:
            assert f"| `{table.file}.csv` |" in told, table.file


# -- the pages ------------------------------------------------------------------------------------------------------


def got(client, name, student):
    response = client.get(reverse(f"practice:{name}", args=[student.code]))
    assert response.status_code == 200
    assert response.headers["Content-Type"] == "application/zip"
    assert response.headers["Cache-Control"] == "no-store"
    assert response.headers["Content-Disposition"].startswith('attachment; filename="record-20')
    assert student.first_name not in response.headers["Content-Disposition"]
    return unpacked(io.BytesIO(b"".join(response.streaming_content)))


def test_who_gets_which_file(cast):
    """The child's note and the teacher's private words reach the guardian; no hand value without consent."""
    factory.make_lesson(cast.child, words="Between us: slow down.")
    factory.make_entry(cast.child, note="I do not like it.", tiring=8)
    for who, name in (("owner", "record-zip"), ("teacher", "record-zip"), ("guardian", "f-record-zip")):
        files = got(cast.client(who), name, cast.child)
        assert "Between us: slow down." in files["record.json"]
        assert "I do not like it." in files["record.json"]
        assert "tiring" not in files["record.json"]
        assert getattr(cast, who).name in files["READ-ME.txt"]
    factory.make_consent(cast.child)
    assert '"tiring": 8' in got(cast.client("guardian"), "f-record-zip", cast.child)["record.json"]
    PracticeEntry.objects.update(tiring_in_words=True)
    files = got(cast.client("guardian"), "f-record-zip", cast.child)
    assert '"tiring_in_words": true' in files["record.json"]
    (line,) = lines(files["entries.csv"])
    assert (line["tiring"], line["tiring_in_words"]) == ("8", "yes")
    factory.make_entry(cast.student, note="Own words.")
    assert "Own words." in got(cast.client("student"), "s-record-zip", cast.student)["record.json"]


def test_an_adults_record_is_not_the_guardians(cast):
    cast.child.birth_year = 1990
    cast.child.save()
    address = reverse("practice:f-record-zip", args=[cast.child.code])
    assert cast.client("guardian").get(address).status_code == 404
    page = cast.client("guardian").get(reverse("practice:f-record", args=[cast.child.code])).content.decode()
    assert "is an adult and asks for the record alone" in page
    assert address not in page
    assert got(cast.client("child"), "s-record-zip", cast.child)


def test_a_minors_page_says_who_can_ask(cast):
    page = cast.client("child").get(reverse("practice:s-record", args=[cast.child.code])).content.decode()
    assert "a parent or guardian can open all of it" in page
    assert "record.zip" not in page


@pytest.mark.parametrize(
    ("who", "name"),
    [("owner", "record"), ("owner", "record-erase"), ("guardian", "f-record"), ("guardian", "f-record-zip")],
)
def test_the_pages_queries_do_not_grow(cast, count_queries, who, name):
    made(cast.child)
    client, path = cast.client(who), reverse(f"practice:{name}", args=[cast.child.code])
    few = count_queries(client, path)
    for day in range(10):
        factory.make_entry(cast.child, day=factory.TODAY - factory.dt.timedelta(days=day))
        factory.make_guardian(cast.child)
    assert count_queries(client, path) == few
