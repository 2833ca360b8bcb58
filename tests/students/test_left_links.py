"""What outlives a change of people: a guardian's older link, and a consent whose giver was removed."""

import pytest
from django.test import Client
from django.urls import reverse

from students.links import sign
from students.models import Consent
from tests import factory


def people(cast, student, who="teacher", **query):
    return cast.client(who).get(reverse("students:people", args=[student.code]), query).content.decode()


def test_attaching_who_has_a_link_already_says_so_and_offers_a_new_one(cast):
    """Ada knows Gil's link by heart; Bo attaches Gil to a student of his."""
    old = f"/open/{sign(cast.guardian.code, 1)}/"
    client = cast.client("other_teacher")
    data = {"name": cast.guardian.name, "email": cast.guardian.email}
    answer = client.post(reverse("students:guardian-add", args=[cast.other_student.code]), data)
    assert answer.status_code == 302
    page = client.get(answer.url.partition("#")[0]).content.decode()
    assert "had a link before" in page
    replace = reverse("students:guardian-link-replace", args=[cast.other_student.code, cast.guardian.code])
    assert f"Give {cast.guardian.name} a new link" in page
    assert old.split("/")[2] not in page  # it opens Ada's student, too: not Bo's to read
    # until then it opens both children's pages, and after one tap neither
    knows = Client()
    knows.get(old)
    assert knows.get(f"/f/{cast.other_student.code}/").status_code == 200
    assert client.post(replace).status_code == 302
    assert [knows.get(f"/f/{child.code}/").status_code for child in (cast.other_student, cast.child)] == [404, 404]
    assert "had a link before" not in people(cast, cast.other_student, "other_teacher")


def test_somebody_new_has_no_older_link_to_speak_of(cast):
    client = cast.client("teacher")
    answer = client.post(reverse("students:guardian-add", args=[cast.child.code]), {"name": "May Parent"})
    assert "attached" not in answer.url
    assert "had a link before" not in client.get(answer.url).content.decode()


@pytest.mark.parametrize("text", ["x", "\x00", "'\"><script>", "0" * 4000])
def test_a_made_up_attachment_shows_nothing(cast, text):
    page = people(cast, cast.child, attached=text)
    assert "had a link before" not in page
    assert "<script>" not in page


def test_a_consent_that_outlives_its_giver_is_told_and_ended(cast):
    factory.make_consent(cast.child, guardian=cast.guardian)
    other = factory.make_guardian(cast.child, name="May Parent")
    kept = factory.make_consent(cast.child, guardian=other, name="May Parent")
    assert "not among the guardians" not in people(cast, cast.child)
    client = cast.client("teacher")
    remove = reverse("students:guardian-remove", args=[cast.child.code, cast.guardian.code])
    page = client.post(remove, follow=True).content.decode()
    assert f"The consent that {cast.guardian.name} gave still stands" in page
    assert "whose giver is not among the guardians above" in page
    end = reverse("students:consent-end-left", args=[cast.child.code])
    assert end in page
    assert client.post(end).status_code == 302
    left = Consent.objects.exclude(pk=kept.pk).get()
    assert left.withdrawn_at is not None
    assert "Ada Teacher" in left.withdrawn_name
    kept.refresh_from_db()
    assert kept.withdrawn_at is None  # who is still a guardian has not withdrawn
    assert "not among the guardians" not in people(cast, cast.child)
    assert client.post(end).status_code == 302


@pytest.mark.parametrize(
    ("over", "told"),
    [
        ({"way": "paper", "name": "Gil Guardian"}, False),  # on the list by name
        ({"way": "paper", "name": "Somebody Else"}, True),
        ({"way": "link", "name": "Gil Guardian"}, True),  # by a link of a row that is gone
        ({"given_by": "student", "name": "Kit Child"}, False),  # no guardian's
    ],
)
def test_which_consents_count_as_left_behind(cast, over, told):
    factory.make_consent(cast.child, **over)
    assert ("not among the guardians" in people(cast, cast.child)) is told


def test_a_removed_guardian_of_another_child_is_told_too(cast):
    """The guardian's row lives on with a sibling; here it is gone all the same."""
    sibling = factory.make_student(teacher=cast.teacher, name="Ida Child", birth_year=2018)
    cast.guardian.guardianships.create(student=sibling)
    factory.make_consent(cast.child, guardian=cast.guardian)
    factory.make_consent(sibling, guardian=cast.guardian)
    cast.client("teacher").post(reverse("students:guardian-remove", args=[cast.child.code, cast.guardian.code]))
    assert "not among the guardians" in people(cast, cast.child)
    assert "not among the guardians" not in people(cast, sibling)
    cast.client("teacher").post(reverse("students:consent-end-left", args=[cast.child.code]))
    assert sibling.consents.standing().count() == 1


def test_when_it_ends_no_hand_value_is_kept(cast):
    factory.make_consent(cast.child, name="Somebody Else", way="paper")
    assert cast.child.may_keep_hand_values(factory.TODAY)
    cast.client("teacher").post(reverse("students:consent-end-left", args=[cast.child.code]))
    assert not cast.child.may_keep_hand_values(factory.TODAY)
