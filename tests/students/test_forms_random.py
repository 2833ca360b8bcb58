"""Whatever is typed into a form of people, the page answers with messages by the field and never breaks."""

import os

import pytest
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from students.consent import WORDING_VERSION
from students.models import Student
from tests import factory
from tests.students.test_people import STUDENT

HOSTILE = [
    "", " ", "\x00", "a\x00b", "0", "-1", "1e400", "1" + "0" * 400, "9" * 5000, "NaN", "Infinity", "-0", "１２", "٣",
    "9999-12-31", "0001-01-01", "2026-02-30", "24:00", "23:59:59.999999", "\N{GUITAR}", "\u202e", "\ufeff", "<b>",
    "E2 A2 D3 G3 B3 E4", "E99 A2 D3 G3 B3 E4", "Cb-9 " * 6, "';--", "%s%n{0}", "true", "[]", "\r\n", "x" * 100_000,
]  # fmt: skip
typed = st.one_of(
    st.sampled_from(HOSTILE),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=40),
    st.integers().map(str),
    st.floats().map(str),
    st.dates().map(str),
    st.times().map(str),
)
_rows_stay = {"suppress_health_check": [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]}
# on every change all of it, on a laptop a sixth
_share = 1 if os.environ.get("CI") == "true" else 6
many = settings(max_examples=300 // _share, **_rows_stay)
few = settings(max_examples=60 // _share, **_rows_stay)


def some_of(valid):
    """A valid form of which some fields are overwritten with anything, others left out."""
    over = st.dictionaries(st.sampled_from(sorted(valid)), typed, min_size=1, max_size=4)
    out = st.sets(st.sampled_from(sorted(valid)), max_size=2)
    return st.tuples(over, out).map(lambda pair: {k: v for k, v in (valid | pair[0]).items() if k not in pair[1]})


def answers(client, path, data):
    """200 with a message by every wrong field and everything typed kept, or 302 for what can be stored."""
    response = client.post(path, data)
    assert response.status_code in {200, 302}, data
    if response.status_code == 200:
        form = response.context["form"]
        assert form.errors
        page = response.content.decode()
        for name in form.errors:
            assert name in form.fields, f"{name}: no message beside a field"
            assert f'id="id_{name}_error"' in page or form[name].is_hidden
        for name, value in data.items():
            if name in form.fields:
                assert str(form[name].value() or "") == (value or ""), name


@many
@given(data=some_of(STUDENT | {"teacher": ""}))
def test_a_student(cast, data):
    answers(cast.client("owner"), "/students/add/", data)
    for student in Student.objects.filter(teacher=cast.owner):
        # what was stored can be used: an instrument the theory core knows, a lesson that comes round
        student.theory_instrument()
        student.theory_hand(factory.TODAY)
        student.next_lesson(factory.TODAY)
        assert student.first_name
    Student.objects.filter(teacher=cast.owner).delete()


GUARDIAN = {"existing": "", "name": "May Parent", "email": "may@home.example", "link_expires": ""}


@few
@given(data=some_of(GUARDIAN))
def test_a_guardian(cast, data):
    answers(cast.client("teacher"), reverse("students:guardian-add", args=[cast.child.code]), data)
    answers(cast.client("teacher"), reverse("students:guardian-edit", args=[cast.child.code, cast.guardian.code]), data)


PAPER = {"name": "May", "guardian": "", "day": "2026-11-12", "wording": WORDING_VERSION, "signed": "on"}


@few
@given(data=some_of(PAPER))
def test_a_signed_paper(cast, data):
    data.pop("signed", None)  # a box that is ticked or not: whatever is sent means ticked
    answers(cast.client("teacher"), reverse("students:consent-record", args=[cast.child.code]), data)


STUDIO = {
    "name": "S", "zone": "Europe/London", "week_start": "0", "adult_age": "18", "safeguarding_contact": "",
    "retention_months": "24",
}  # fmt: skip


@few
@given(data=some_of(STUDIO))
def test_the_studio(cast, data):
    answers(cast.client("owner"), "/studio/", data)


@few
@given(data=some_of({"name": "New", "email": "new@studio.example"}))
def test_a_teacher(cast, data):
    answers(cast.client("owner"), "/studio/teachers/add/", data)


QUERY = {
    "search": "",
    "teacher": "",
    "status": "",
    "weekday": "",
    "attention": "",
    "sort": "",
    "page": "",
    "per_page": "",
}


@few
@given(data=some_of(QUERY))
def test_the_roster_s_address(cast, data):
    for path in ("/roster/", "/roster.csv"):
        assert cast.client("owner").get(path, data).status_code == 200


@pytest.mark.parametrize("value", HOSTILE)
def test_a_choice_of_status_or_a_withdrawal(cast, value):
    for name, field in (("student-status", "status"), ("consent-withdraw", "name")):
        path = reverse(f"students:{name}", args=[cast.child.code])
        assert cast.client("teacher").post(path, {field: value}).status_code in {200, 302}
