"""The map of what is kept: every table and field of the models stands in it, once."""

import doctest

import pytest
from django.apps import apps
from django.contrib.contenttypes.models import ContentType
from django.db import models

from practice import kept, record_file
from students.models import Student, Studio, Teacher, User

OURS = [*apps.get_app_config("students").get_models(), *apps.get_app_config("practice").get_models()]

# Tables of the studio and its teachers: they name no student. A new model that is neither here nor in the map fails.
# Tries: counters under keyed hashes, from which nobody can be read.
OF_THE_STUDIO = {"students.User", "students.Studio", "students.Teacher", "students.Tries", "practice.Song"}

BY_NAME = {table.model: table for table in kept.TABLES}


def label(model):
    return model._meta.label


def own_fields(model):
    return {one.name for one in (*model._meta.fields, *model._meta.many_to_many)}


def hangs_on(model, seen=()):
    """Whether rows of a model are bound to a student or a guardian by foreign keys, however many steps away."""
    for one in (*model._meta.fields, *model._meta.many_to_many):
        target = one.related_model
        if target is None or target in seen or target in (Studio, Teacher, User, ContentType):
            continue
        if label(target) in ("students.Student", "students.Guardian") or hangs_on(target, (*seen, model)):
            return True
    return False


def test_every_table_stands_in_the_map_or_is_the_studios():
    names = {label(model) for model in OURS}
    assert len(names) > 15
    assert names == set(BY_NAME) | set(kept.BESIDE) | OF_THE_STUDIO
    assert not (set(BY_NAME) | set(kept.BESIDE)) & OF_THE_STUDIO


@pytest.mark.parametrize("model", OURS, ids=label)
def test_no_table_of_the_studio_names_a_student(model):
    """Lest a table that should be erased and exported were called the studio's."""
    if label(model) in OF_THE_STUDIO:
        assert not hangs_on(model)


@pytest.mark.parametrize("name", BY_NAME)
def test_every_field_is_classed_once(name):
    """A new field: is it a hand value? May the family read it? Put it into practice.kept.TABLES."""
    table, model = BY_NAME[name], apps.get_model(name)
    assert table.fields == own_fields(model)
    listed = [*table.plain, *table.hand, *table.of_others, *table.left_out]
    assert len(listed) == len(set(listed))
    assert not (table.hand_rows and table.hand)


@pytest.mark.parametrize("name", BY_NAME)
def test_the_path_leads_to_the_student(name):
    table, model = BY_NAME[name], apps.get_model(name)
    if model is Student:
        return
    related = model
    for step in table.path.split("__"):
        related = related._meta.get_field(step).related_model
    assert related is Student


@pytest.mark.parametrize("name", BY_NAME)
def test_a_row_goes_with_the_student_or_is_erased_by_name(name):
    """Every table but the guardians', who may have another child, hangs on the student by a CASCADE."""
    model = apps.get_model(name)
    if name in ("students.Student", "students.Guardian"):
        return
    first = model._meta.get_field(BY_NAME[name].path.split("__")[0])
    assert first.remote_field.on_delete is models.CASCADE


def test_what_tells_of_a_hand_by_its_name_is_classed_as_a_hand_value():
    """A field or table with such a word in its name that is called plain must be on this list, with its reason."""
    harmless = {
        ("students.Student", "hand_size"): "how large the hand is, to check stretches; not how it feels",
        ("students.Student", "reach_mm"): "the same in millimetres",
        ("students.Student", "fingertip_mm"): "the same",
    }
    words = ("hand", "tiring", "discomfort", "pain", "_ache", "health", "sore", "fingertip", "reach", "effort")
    found = set()
    for name, table in BY_NAME.items():
        if table.hand_rows:
            continue
        found |= {(name, one) for one in (*table.plain, *table.of_others) if any(word in one for word in words)}
    assert found == {*harmless}
    for name in BY_NAME:
        if "hand" in name.lower():
            assert BY_NAME[name].hand_rows, name


def test_files_are_named_once_and_tell_what_is_in_them():
    named = [table.file for table in kept.TABLES if table.file]
    assert len(named) == len(set(named)) > 12
    assert set(named) == set(record_file.ABOUT)
    # a table without a file gives no field away either
    assert all(not table.plain and not table.hand for table in kept.TABLES if not table.file)


def test_examples():
    assert doctest.testmod(kept).failed == 0


@pytest.mark.parametrize(
    ("session", "left"),
    [
        ({}, {}),
        ({"links": [["guardian", "x", 1]]}, {"links": []}),
        ({"pins": {"x": 1, "y": 2}}, {"pins": {"y": 2}}),
        ({"pins": {"y": "at x"}}, {"pins": {}}),
        ({"seen": ("x",)}, {}),
        ({"x": 1}, {}),
        ({"a": 1, "b": None}, {"a": 1, "b": None}),
    ],
)
def test_what_a_session_keeps(session, left):
    assert kept.without_marks(session, frozenset({"x"})) == left
