"""A student with a row in every table, and a mark in every text: what an erasure must not leave, nor a stranger see.

`fill` walks the models, so that a new table or field is filled too. Nothing here knows which tables there are.
"""

import datetime as dt
import uuid
from decimal import Decimal

from django.apps import apps
from django.db import models

from practice import kept
from students.models import Student, Teacher
from tests import factory

# Long enough to occur nowhere by chance, short enough for every text field.
MARK = "Zq7Mk"


def label(model):
    return model._meta.label


def made(student: Student, mark: str = MARK, teacher: Teacher | None = None) -> dict[str, models.Model]:
    """One row of every table of practice.kept that hangs on the student, by "app.Model", those there already left out.

    Every free text holds the mark, every optional field something, every list the mark.
    """
    found: dict[str, models.Model] = {"students.Student": student}
    by_name = {table.model: apps.get_model(table.model) for table in kept.TABLES}
    by_name |= {name: apps.get_model(name) for name in kept.BESIDE}

    def row_of(name: str) -> models.Model:
        if name in found:
            return found[name]
        model, values, lists = by_name[name], {}, {}
        for one in model._meta.fields:
            if one.primary_key:
                continue
            target = one.related_model
            if target is not None and label(target) in by_name:
                values[one.name] = row_of(label(target))
            elif target is not None and label(target) == "students.Teacher":
                values[one.name] = teacher or student.teacher
            elif target is not None and label(target) == "students.Studio":
                values[one.name] = student.studio
            elif target is not None and label(target) == "students.User":
                values[one.name] = factory.make_user(email=f"{mark.lower()}.{name.lower()}@family.example")
            else:
                values[one.name] = value_of(one, mark)
        for one in model._meta.many_to_many:
            if label(one.related_model) in by_name and one.remote_field.through._meta.auto_created:
                lists[one.name] = [row_of(label(one.related_model))]
        values |= SPECIAL[name]() if name in SPECIAL else {}
        found[name] = model._base_manager.create(**values)
        for field, rows in lists.items():
            getattr(found[name], field).set(rows)
        return found[name]

    for name in by_name:
        row_of(name)
    # a result hangs on an entry or on a lesson: the second one on the lesson
    result = found["practice.Result"]
    type(result)._base_manager.create(
        student=student, goal=result.goal, lesson=found["students.Lesson"], day=result.day, at=result.at,
        measure=result.measure, value=result.value,
    )  # fmt: skip
    found.pop("students.Student")
    return found


# What a table asks beyond the types of its fields (its checks in the database).
SPECIAL = {
    "practice.Goal": lambda: {
        "terms": factory.chord_terms(), "kind": "chord", "measure": "clean", "acknowledged": [f"{MARK}-code"],
    },
    "practice.PracticeEntry": lambda: {"former": [former()], "tiring": 8},
    "practice.HandReturn": lambda: {"steps": [[1, "2026-11-01", f"{MARK} step"]]},
    "practice.Result": lambda: {"lesson": None, "measure": "clean"},
    "practice.HandNote": lambda: {"discomfort": 7, "rested": 3, "in_words": False},
}  # fmt: skip


def value_of(one: models.Field, mark: str) -> object:
    """A value that the field may have; the mark wherever free text may stand."""
    if one.choices:
        return next(value for value, _words in one.flatchoices if value not in ("", None))
    if isinstance(one, models.UUIDField):
        return uuid.uuid4()
    if isinstance(one, models.EmailField):
        return f"{mark.lower()}.{one.model.__name__.lower()}@family.example"
    if isinstance(one, models.CharField | models.TextField):
        return f"{mark} {one.name}"[: one.max_length]
    if isinstance(one, models.JSONField):
        return [f"{mark} {one.name}"]
    if isinstance(one, models.DateTimeField):
        return factory.NOW
    if isinstance(one, models.DateField):
        return factory.TODAY
    if isinstance(one, models.TimeField):
        return dt.time(17, 5)
    if isinstance(one, models.BooleanField):
        return True
    if isinstance(one, models.DecimalField):
        return Decimal(12)
    if isinstance(one, models.IntegerField | models.FloatField):
        return 3
    raise TypeError(f"tests/filled.py does not know how to fill {one}")


def former() -> dict:
    """Former values of an entry as practice.store keeps them, and with the hand values that it would never keep."""
    body = {
        "code": str(uuid.uuid4()), "begun": "2026-11-01T17:00:00+00:00", "seconds": 600, "segments": [], "results": [],
        "tiring": 8, "tiring_in_words": True, "hand": {"discomfort": 9}, "note": f"{MARK} former",
    }  # fmt: skip
    return {"version": 1, "until": "2026-11-02T17:00:00+00:00", "by": "student", "entry": body}


def marked_student(teacher: Teacher, mark: str = MARK, **over) -> Student:
    """A minor whose every text holds the mark, with an account."""
    values = {
        "name": f"{mark} Student", "birth_year": 2015, "string_gauge": f"{mark} gauge", "pin": f"{mark} pin",
        "user": factory.make_user(email=f"{mark.lower()}.own@family.example"), **over,
    }  # fmt: skip
    return factory.make_student(teacher=teacher, **values)


def everything(connection) -> dict[str, str]:
    """Every table of the database as one text each: all columns of all rows, whatever Django thinks of them."""
    found = {}
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT * FROM "{table}"')
            found[table] = "\n".join(" ".join(map(str, row)) for row in cursor.fetchall())
    return found
