"""Consent: whose, by which way, to which wording; withdrawn at once."""

import datetime as dt
import hashlib
import re

import pytest
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from students.consent import WORDING_VERSION
from students.models import Consent, Student, Studio
from tests import factory


def at(name, student):
    return reverse(f"students:{name}", args=[student.code])


def today(cast):
    return cast.studio.today(timezone.now())


GIVE = {"action": "give", "wording": WORDING_VERSION}
WITHDRAW = {"action": "withdraw"}

# A changed sentence is a changed wording: a new version gets a line of its own, a former one keeps its own.
WORDINGS = {"2026-1": "2b0c07d324f833b1", "2026-2": "c0c4931421a73362", "2026-3": "64ba81538dc74eb1"}


def test_the_wording_that_is_shown_is_the_one_of_its_version():
    student = Student(name="N", studio=Studio(retention_months=24))
    page = render_to_string("students/_consent_wording.html", {"student": student, "version": "v"})
    words = " ".join(re.sub(r"<[^>]+>", " ", page).split())
    assert hashlib.sha256(words.encode()).hexdigest()[:16] == WORDINGS[WORDING_VERSION]
    for needed in ("What is stored", "Who reads it", "How long", "Taking it back", "24 months after"):
        assert needed in words


# -- on their own page -------------------------------------------------------------------------------------------


def test_a_guardian_gives_and_withdraws_in_one_click(cast):
    client, path = cast.client("guardian"), at("f-consent", cast.child)
    page = client.get(path).content.decode()
    assert "It starts only if you agree" in page
    assert 'type="checkbox"' not in page  # nothing is ticked for anybody
    assert f"Wording {WORDING_VERSION}" in page
    assert not cast.child.may_keep_hand_values(today(cast))

    assert client.post(path, GIVE).url == path
    [row] = cast.child.consents.all()
    assert (row.given_by, row.guardian, row.name, row.way) == ("guardian", cast.guardian, "Gil Guardian", "link")
    assert (row.wording, row.recorded_by, row.withdrawn_at) == (WORDING_VERSION, None, None)
    assert abs(timezone.now() - row.given_at) < dt.timedelta(minutes=1)
    assert cast.child.may_keep_hand_values(today(cast))
    assert "You agreed on" in client.get(path).content.decode()

    client.post(path, GIVE)  # a second click, a second tab
    assert cast.child.consents.count() == 1

    assert client.post(path, WITHDRAW).url == path
    row.refresh_from_db()
    assert row.withdrawn_name == "Gil Guardian"
    assert row.withdrawn_at >= row.given_at
    assert not cast.child.may_keep_hand_values(today(cast))


def test_an_adult_gives_and_withdraws_their_own(cast):
    client, path = cast.client("student"), at("s-consent", cast.student)
    client.post(path, GIVE)
    [row] = cast.student.consents.all()
    assert (row.given_by, row.guardian, row.name, row.way) == ("student", None, "Robin Example", "link")
    assert cast.student.may_keep_hand_values(today(cast))
    client.post(path, WITHDRAW)
    assert not cast.student.may_keep_hand_values(today(cast))


@pytest.mark.parametrize("birth_year", [2016, None])
def test_a_minor_sees_that_a_guardian_decides_and_cannot_give_it(cast, birth_year):
    cast.child.birth_year = birth_year
    cast.child.save()
    client, path = cast.client("child"), at("s-consent", cast.child)
    page = client.get(path).content.decode()
    assert "a parent or guardian decides" in page
    assert 'value="give"' not in page
    for data in (GIVE, WITHDRAW, {}):
        assert client.post(path, data).status_code == 403
    assert not Consent.objects.exists()


def test_a_minor_cannot_withdraw_what_a_guardian_gave(cast):
    factory.make_consent(cast.child)
    assert cast.client("child").post(at("s-consent", cast.child), WITHDRAW).status_code == 403
    assert cast.child.may_keep_hand_values(today(cast))


def test_a_guardian_does_not_decide_for_an_adult(cast):
    cast.child.birth_year = 1990
    cast.child.save()
    factory.make_consent(cast.child)
    client, path = cast.client("guardian"), at("f-consent", cast.child)
    assert "decides alone" in client.get(path).content.decode()
    for data in (GIVE, WITHDRAW):
        assert client.post(path, data).status_code == 403
    assert cast.child.may_keep_hand_values(today(cast))


def test_a_guardian_s_consent_ends_to_count_when_the_child_is_an_adult_and_may_still_be_withdrawn(cast):
    factory.make_consent(cast.child, given_by="guardian", guardian=cast.guardian)
    cast.child.birth_year = 1990
    cast.child.save()
    assert not cast.child.may_keep_hand_values(today(cast))
    client, path = cast.client("guardian"), at("f-consent", cast.child)
    assert "no longer counts" in client.get(path).content.decode()
    assert client.post(path, WITHDRAW).status_code == 302
    assert not cast.child.consents.standing().exists()


def test_guardians_do_not_see_each_other_s_names_and_each_may_withdraw(cast):
    factory.make_guardian(cast.child, name="May Parent")
    other = cast.child.guardians.get(name="May Parent")
    factory.make_consent(cast.child, guardian=other, name="May Parent")
    client, path = cast.client("guardian"), at("f-consent", cast.child)
    page = client.get(path).content.decode()
    assert "A guardian agreed on" in page
    assert "May Parent" not in page
    client.post(path, WITHDRAW)
    assert cast.child.consents.get().withdrawn_name == "Gil Guardian"


@pytest.mark.parametrize(
    "data",
    [
        {},
        {"action": "give"},
        {"action": "give", "wording": "2019-1"},
        {"action": "give", "wording": "\x00"},
        {"action": "give", "wording": "9" * 4000},
        {"action": "take"},
        {"action": "\N{GUITAR}"},
    ],
)
def test_a_click_that_is_none_or_for_a_former_wording_stores_nothing(cast, data):
    response = cast.client("guardian").post(at("f-consent", cast.child), data)
    assert response.status_code == 200
    assert response.context["form"].errors
    assert 'role="alert"' in response.content.decode()
    assert not Consent.objects.exists()


# -- by the teacher ----------------------------------------------------------------------------------------------


def paper(cast, **over):
    return {
        "name": "Gil Guardian",
        "guardian": str(cast.guardian.code),
        "day": today(cast).isoformat(),
        "wording": WORDING_VERSION,
        "signed": "on",
        **over,
    }


def test_a_teacher_records_a_signed_paper(cast):
    path = at("consent-record", cast.child)
    assert f"Wording {WORDING_VERSION}" in cast.client("teacher").get(path).content.decode()
    assert cast.client("teacher").post(path, paper(cast)).url == at("people", cast.child)
    [row] = cast.child.consents.all()
    assert (row.given_by, row.guardian, row.name, row.way) == ("guardian", cast.guardian, "Gil Guardian", "paper")
    assert (row.recorded_by, row.wording) == (cast.teacher, WORDING_VERSION)
    assert row.given_at <= timezone.now()
    assert cast.child.may_keep_hand_values(today(cast))
    page = cast.client("teacher").get(at("people", cast.child)).content.decode()
    assert "on paper, entered by a teacher (Ada Teacher)" in page
    assert "Hand values may be kept" in page


def test_an_adult_s_paper_is_their_own(cast):
    data = {key: value for key, value in paper(cast, name="Robin Example").items() if key != "guardian"}
    cast.client("teacher").post(at("consent-record", cast.student), data)
    assert cast.student.consents.get().given_by == "student"
    assert cast.student.may_keep_hand_values(today(cast))


def test_a_second_paper_is_not_recorded_while_one_stands(cast):
    factory.make_consent(cast.child)
    path = at("consent-record", cast.child)
    assert "stands already" in cast.client("teacher").get(path).content.decode()
    assert cast.client("teacher").post(path, paper(cast)).status_code == 302
    assert cast.child.consents.count() == 1


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("name", ""),
        ("name", "x" * 121),
        ("name", "a\nb"),
        ("day", ""),
        ("day", "9999-12-31"),
        ("day", "2001-01-01"),
        ("day", "soon"),
        ("day", "1" + "0" * 400),
        ("signed", ""),
        ("wording", "2019-1"),
        ("guardian", "\N{GUITAR}"),
    ],
)
def test_a_paper_that_cannot_be_is_said_beside_the_field_and_kept(cast, field, typed):
    response = cast.client("teacher").post(at("consent-record", cast.child), paper(cast, **{field: typed}))
    assert response.status_code == 200
    assert set(response.context["form"].errors) == {field}
    if field != "signed":
        assert response.context["form"][field].value() == typed
    assert not Consent.objects.exists()


def test_only_a_guardian_of_the_student_can_be_named(cast):
    data = paper(cast, guardian=str(cast.other_guardian.code))
    assert cast.client("teacher").post(at("consent-record", cast.child), data).context["form"].errors["guardian"]


def test_a_withdrawal_told_to_the_teacher_ends_every_consent_at_once(cast):
    data = paper(cast)
    cast.client("teacher").post(at("consent-record", cast.child), data)
    factory.make_consent(cast.child)
    path = at("consent-withdraw", cast.child)
    assert cast.client("teacher").get(path).status_code == 405
    empty = cast.client("teacher").post(path)
    assert empty.context["form"].errors["name"]
    assert cast.child.consents.standing().count() == 2
    assert cast.client("teacher").post(path, {"name": "Gil Guardian"}).url == at("people", cast.child)
    assert not cast.child.consents.standing().exists()
    assert set(cast.child.consents.values_list("withdrawn_name", flat=True)) == {"Gil Guardian"}
    page = cast.client("teacher").post(path, {"name": "Gil Guardian"}, follow=True)
    assert "No consent stands." in page.content.decode()


def test_the_history_stays_on_the_page(cast):
    factory.make_consent(cast.child, name="First Giver", withdrawn_at=factory.NOW, withdrawn_name="First Withdrawer")
    factory.make_consent(cast.child, name="Second Giver")
    page = cast.client("teacher").get(at("people", cast.child)).content.decode()
    for said in ("First Giver", "First Withdrawer", "Second Giver", WORDING_VERSION, "12 November 2026"):
        assert said in page
