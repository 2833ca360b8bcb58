"""What lies heavy on a hand: a finger flat over three strings or more rests like a barre, whichever finger it is, and
is set or taken up with the teacher's reason alone, by whatever way."""

import pytest
from django.urls import reverse

from practice.goal_voicings import has_barre, lays_flat
from practice.models import Goal
from studio import theory
from tests import factory
from tests.factory import NOW

STEEL = theory.INSTRUMENTS["steel-string"]
DROPPED = STEEL.with_(tuning="D A D G B E")
HAND = theory.Hand()


def chord(shape, root, **terms):
    return theory.Goal("chord", (theory.ChordTerm(shape, root),), **terms)


def change(*terms):
    return theory.Goal("change", tuple(theory.ChordTerm(*term) for term in terms))


BM_F = change(("A-minor", "B"), ("E-major", "F"))

# shape, root, lays flat, has a barre by the index
SHAPES = [
    ("A-major-partial", "D", True, False),  # the third finger over three strings
    ("A-6", "D", True, False),
    ("A-7-fourth-finger", "D", True, False),
    ("D-maj7", "G", True, False),
    ("D-m7b5-partial", "G", True, False),
    ("E-major", "F", True, True),
    ("A-minor", "B", True, True),
    ("small-F", "F", False, False),  # two strings under the index may stay
    ("D-m7b5", "G", False, False),
    ("open-Em", "E", False, False),
]


@pytest.mark.parametrize(("shape", "root", "flat", "barre"), SHAPES)
def test_what_lays_a_finger_flat(shape, root, flat, barre):
    goal = chord(shape, root)
    assert lays_flat(goal, STEEL, HAND) is flat
    assert has_barre(goal, STEEL, HAND) is barre


def test_a_full_barre_always_lies_flat():
    for shape in theory.SHAPES:
        for root in "CDEFGAB":
            try:
                voicing = theory.place(shape, root, STEEL)
            except theory.TheoryError:
                continue
            assert voicing.lays_flat or not voicing.has_barre, voicing.title


def test_one_flat_chord_of_a_change_or_a_way_is_enough():
    assert lays_flat(change(("open-Em", "E"), ("A-major-partial", "D")), STEEL, HAND)
    assert not lays_flat(change(("open-Em", "E"), ("small-F", "F")), STEEL, HAND)
    way = theory.Goal("progression", key="D", numerals=("I", "IV"), shapes=("A-major-partial", "E-major"))
    assert lays_flat(way, STEEL, HAND)
    opened = theory.Goal("progression", key="G", numerals=("I", "IV"), shapes=("open-G", "open-C"))
    assert not lays_flat(opened, STEEL, HAND)
    assert not lays_flat(theory.Goal("roots", string=6), STEEL, HAND)
    assert not lays_flat(theory.Goal("piece", title="Kites"), STEEL, HAND)


def test_of_what_cannot_be_placed_whole_the_rest_is_asked():
    """In D A D G B E the E-shape is lost, and the B minor beside it is as flat as ever."""
    with pytest.raises(theory.TheoryError):
        BM_F.chords[1].voicing(DROPPED)
    assert lays_flat(BM_F, DROPPED, HAND)
    assert not lays_flat(change(("open-Am", "A"), ("E-major", "F")), DROPPED, HAND)
    assert not lays_flat(chord("E-major", "F"), DROPPED, HAND)
    # a way that there is not: its shapes are asked
    no_way = theory.Goal(
        "progression", key="D", numerals=("I", "ii"), shapes=("A-major-partial", "E-major"), window=(2, 9)
    )
    with pytest.raises(theory.TheoryError):
        theory.arrange(no_way.numerals, no_way.key, no_way.shapes, DROPPED, HAND, no_way.window, count=1)
    assert lays_flat(no_way, DROPPED, HAND)


def test_a_capo_that_the_neck_does_not_have_is_no_error():
    assert lays_flat(chord("E-major", "F", capo=15), theory.INSTRUMENTS["classical"], HAND) is False


# -- with a reason alone, by every way ---------------------------------------------------------------------------


@pytest.fixture(autouse=True)
def _on_a_thursday(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def resting(cast):
    """The change from Bm to F, set aside; the sixth string is tuned to D; the hand asks for a person."""
    student = cast.student
    student.tuning = "D A D G B E"
    student.save()
    factory.make_consent(student)
    factory.make_note(student, 5)
    return factory.make_goal(
        student, kind="change", measure="changes", target=30, terms=BM_F.to_terms(), set_aside_at=NOW
    )


def test_the_change_in_the_dropped_tuning_is_taken_up_with_a_reason_alone(cast, resting):
    url = reverse("practice:goal-act", args=[cast.student.code, resting.code])
    client = cast.client("teacher")
    asked = client.post(url, {"action": "take-back"})
    assert "Take it up all the same" in asked.content.decode()
    resting.refresh_from_db()
    assert resting.set_aside_at is not None
    client.post(url, {"action": "take-back", "hand_reason": "Dr Reed agreed to it."})
    resting.refresh_from_db()
    assert (resting.set_aside_at, resting.hand_reason) == (None, "Dr Reed agreed to it.")


def test_it_is_not_set_by_the_form_without_one(cast, resting):
    """Neither as it stands nor put into a form: the address of the goal fills it."""
    client, url = cast.client("teacher"), reverse("practice:goal-set", args=[cast.student.code])
    page = client.get(url, {"from": resting.code}).content.decode()
    assert "it can be set with your reason alone" in page
    assert "No problems found" not in page
    sent = {
        "kind": "change", "shape": "A-minor", "root": "B", "shape2": "A-major-partial", "root2": "D",
        "measure": "changes", "target": "30", "due": "2026-11-19",
    }  # fmt: skip
    assert list(client.post(url, sent).context["form"].errors) == ["hand_reason"]
    assert Goal.objects.count() == 1


def test_no_lesson_takes_it_up_and_no_tap_sets_its_next_root(cast, resting):
    flat = factory.make_goal(cast.student, terms=chord("A-major-partial", "D").to_terms(), target=4)
    lesson = reverse("practice:lesson", args=[cast.student.code])
    client = cast.client("teacher")
    page = client.get(lesson).content.decode()
    assert f"act-{flat.code}" in page
    assert f"act-{resting.code}" not in page
    assert 'value="next-root"' not in page
    sent = {"outcome": "held", "minutes": "30", f"act-{flat.code}": "next-root", f"act-{resting.code}": "take-back"}
    client.post(lesson, sent)
    client.post(reverse("practice:goal-act", args=[cast.student.code, flat.code]), {"action": "next-root"})
    resting.refresh_from_db()
    assert resting.set_aside_at is not None
    assert Goal.objects.count() == 2
    words = client.get(cast.student.get_absolute_url()).content.decode()
    assert "Next root with your reason: " in words
