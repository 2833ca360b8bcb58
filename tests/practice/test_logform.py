"""The log and the order of the goals on the student's page: minutes of the plan, what is folded, words, and a wish."""

import datetime as dt
import uuid
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from practice.cards import BARRE_STRETCH, SHORTEST_TURN, WARM_UP, GoalCard, card, find, in_order, suggested_order
from practice.entry_form import OPEN_GOALS, folded
from practice.goal_terms import METRES
from practice.logwork import entry_form
from practice.models import TellTeacher
from practice.queries import student_facts
from practice.store import MOST_WISHES
from studio import theory
from tests.factory import NOW, TODAY, chord_terms, make_consent, make_goal, make_result, make_student
from tests.practice import plain

INSTRUMENT = theory.INSTRUMENTS["steel-string"]
HAND = theory.Hand()


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def cards_of(db):
    """cards_of("bf") -> cards with (b) and without (f) a barre."""
    student = make_student()
    made = {
        "b": make_goal(student, terms=chord_terms("E-major", "A")),
        "f": make_goal(student, terms=chord_terms("small-G", "G")),
    }
    facts = {str(goal.code): goal for goal in student_facts(student, TODAY).goals}
    cards = {
        letter: card(facts[str(goal.code)], INSTRUMENT, HAND) for letter, goal in made.items()
    }
    assert (cards["b"].has_barre, cards["f"].has_barre) == (True, False)
    return lambda letters: [cards[letter] for letter in letters]


# What each goal was worth the last time, of a target of 6 clean strings, or None where it was never tried.
LASTS = st.sampled_from([None, 0, 1, 2, 3, 4, 5, 6])
BARRE, FREE = (theory.place(*one, INSTRUMENT) for one in (("E-major", "A"), ("small-G", "G")))


def far(shown):
    """How far a card of the next test is from its target; never tried is farthest."""
    return 6 if shown.last is None else 6 - shown.last.value


@given(st.lists(st.tuples(st.booleans(), LASTS), max_size=8))
def test_a_short_warm_up_then_the_hardest_while_fresh_and_barres_by_turns(goals):
    """Common practice, no source, as the page says."""
    cards = [
        GoalCard(
            plain.goal(code=str(number)),
            (BARRE if barred else FREE,),
            last=None if last is None else plain.mark(plain.ago(1), last),
        )
        for number, (barred, last) in enumerate(goals)
    ]
    ordered = suggested_order(cards, plain.TODAY)
    assert sorted(one.goal.code for one in ordered) == sorted(one.goal.code for one in cards)
    barred = [one for one in ordered if one.has_barre]
    free = [one for one in ordered if not one.has_barre]
    if free:
        # the easiest without a barre warms up
        assert ordered[0] is free[0]
        assert far(free[0]) == min(map(far, free))
    for rest in (barred, free[1:]):
        assert list(map(far, rest)) == sorted(map(far, rest), reverse=True)
    for number, (one, other) in enumerate(pairwise(ordered)):
        if one.has_barre and other.has_barre:
            assert all(later.has_barre for later in ordered[number:]), "two barres meet while a rest was to be had"


def test_the_page_says_why_in_this_order_and_where_it_comes_from(cast):
    make_goal(cast.student, terms=chord_terms("small-G", "G"))
    make_goal(cast.student, terms=chord_terms("E-major", "A"))
    page = cast.client("student").get(f"/s/{cast.student.code}/").content.decode()
    why = page.split("Why in this order?")[1].split("</details>")[0]
    assert "while the hand is fresh (common practice, no source)" in why
    assert "5 minutes of barre in one stretch, then a goal without one (common practice, no source)" in why
    # pianists who practised by turns were slower at first and faster two days later
    assert "Abushanab and Bishara, Mem Cognit 2013;41:928" in why


# goals in order (f without, b with a barre), plan, minutes of each, left. Five minutes of barre in one stretch, a short
# warm-up: common practice, no source. The split is derived.
@pytest.mark.parametrize(
    ("letters", "plan", "minutes", "left"),
    [
        ("fbf", 20, [5, 5, 10], 0),
        ("fbfb", 20, [5, 5, 5, 5], 0),
        ("fbfb", 30, [5, 5, 15, 5], 0),
        ("f", 20, [20], 0),
        ("fb", 20, [15, 5], 0),
        ("b", 20, [5], 15),
        ("bb", 20, [5, 5], 10),
        ("fffffff", 12, [2, 2, 2, 2, 2, 2, 0], 0),
        ("fff", 10, [4, 3, 3], 0),
        ("ff", 1, [1, 0], 0),
        ("ff", 0, [0, 0], 0),
        ("", 20, [], 0),
    ],
)
def test_the_plans_minutes_over_the_goals(cards_of, letters, plan, minutes, left):
    order = in_order(cards_of(letters), plan)
    assert ([one.minutes for one in order.cards], order.left) == (minutes, left)


def test_between_two_barres_stands_a_rest(cards_of):
    order = in_order(cards_of("fbbfb"), 30)
    assert [one.rest_first for one in order.cards] == [False, False, True, False, False]
    assert order.rests
    assert not in_order(cards_of("fbfb"), 30).rests


@given(barres=st.lists(st.booleans(), max_size=9), plan=st.integers(0, 240))
def test_no_minute_is_lost_and_no_barre_is_long(barres, plan):
    held = theory.place("E-major", "A", INSTRUMENT)
    free = theory.place("small-G", None, INSTRUMENT)
    goal = object()
    order = in_order([GoalCard(goal, (held if barre else free,)) for barre in barres], plan)
    spent = [one.minutes for one in order.cards]
    assert sum(spent) + order.left == (plan if barres else 0)
    assert all(one.minutes <= BARRE_STRETCH for one in order.cards if one.has_barre)
    if plan >= SHORTEST_TURN * len(barres):
        assert all(minutes >= SHORTEST_TURN for minutes in spent)
    if barres and not barres[0] and barres.count(False) > 1 and plan >= SHORTEST_TURN * len(barres):
        assert spent[0] <= WARM_UP


def test_each_movable_voicing_says_where_it_lies(cast):
    make_goal(
        cast.student,
        kind="change",
        measure="changes",
        target=30,
        terms=theory.Goal(
            kind="change", chords=(theory.ChordTerm("E-major", "A"), theory.ChordTerm("A-minor", "D"))
        ).to_terms(),
    )
    page = cast.client("student").get(f"/s/{cast.student.code}/").content.decode()
    # common practice, no source: A lies at fret 5 of the 6th string, D at fret 5 of the 5th
    assert page.count("Index at fret 5. Count up the") == 2
    assert "A 5" in page
    assert "D 5" in page
    assert "minutes" in page


# shape, root, position, where the index goes, the count and whether twelve are added: E lies open on the 6th string and
# at fret 12, A at 5 and 17 (common practice, no source); C-shapes lie three frets below their root
@pytest.mark.parametrize(
    ("shape", "root", "position", "fret", "root_fret", "octave"),
    [("E-major", "A", None, 5, 5, False), ("E-major", "E", 12, 12, 12, True), ("C-major", "E", None, 4, 7, False)],
)
def test_where_a_voicing_lies(shape, root, position, fret, root_fret, octave):
    found = find(theory.ChordTerm(shape, root, position).voicing(INSTRUMENT))
    assert (found.fret, found.root_fret, found.octave) == (fret, root_fret, octave)
    assert found.walk.fret == root_fret - 12 * octave


def test_a_chord_at_the_nut_needs_no_finding():
    assert find(theory.place("open-G", None, INSTRUMENT)) is None


def test_todays_first_try_is_said_where_changes_are_counted(cast):
    terms = theory.Goal(
        kind="change", chords=(theory.ChordTerm("open-G", "G"), theory.ChordTerm("open-C", "C"))
    ).to_terms()
    goal = make_goal(cast.student, kind="change", measure="changes", target=30, terms=terms)
    client = cast.client("student")
    make_result(goal, 24, day=TODAY - dt.timedelta(days=1))
    assert "data-first=" not in client.get(f"/s/{cast.student.code}/").content.decode()
    make_result(goal, 18)
    make_result(goal, 40)
    page = client.get(f"/s/{cast.student.code}/").content.decode()
    assert page.count('data-first="18"') == 2


# how many goals, how many stand open, how many are folded
@pytest.mark.parametrize(("goals", "shown", "others"), [(0, 0, 0), (3, 3, 0), (4, 4, 0), (5, 3, 2), (7, 3, 4)])
@pytest.mark.django_db
def test_of_many_goals_the_first_stand_open(goals, shown, others):
    student = make_student()
    for root in ("G", "A", "C", "D", "E", "B", "F")[:goals]:
        make_goal(student, terms=chord_terms("E-major", root))
    parts = entry_form(student, NOW).goal_parts()
    found = folded(parts)
    assert (len(found.shown), len(found.others), found.open) == (shown, others, False)
    assert [*found.shown, *found.others] == parts
    if others:
        assert shown == OPEN_GOALS


@pytest.mark.parametrize(("field", "text"), [("minutes", "7"), ("minutes", "soon"), ("value", "3"), ("failed", "2")])
@pytest.mark.django_db
def test_what_was_typed_in_a_folded_goal_opens_it(field, text):
    student = make_student()
    for root in ("G", "A", "C", "D", "E"):
        make_goal(student, terms=chord_terms("E-major", root))
    last = entry_form(student, NOW).goal_parts()[-1].goal
    sent = {"code": str(uuid.uuid4()), "day": TODAY.isoformat(), "total": "9", f"{field}-{last.code}": text}
    form = entry_form(student, NOW, sent)
    form.is_valid()
    assert folded(form.goal_parts()).open
    other = entry_form(student, NOW, sent | {f"{field}-{last.code}": ""})
    other.is_valid()
    assert not folded(other.goal_parts()).open


# plays, the words of the two hands: the fretting hand follows from how the student plays
@pytest.mark.parametrize(("plays", "frets", "picks"), [("right", "left", "right"), ("left", "right", "left")])
@pytest.mark.django_db
def test_which_hand_says_its_side(plays, frets, picks):
    student = make_student(plays=plays)
    make_consent(student)
    words = {value: str(label) for value, label in entry_form(student, NOW).fields["hand"].choices}
    assert words["fretting"] == f"fretting hand, {frets}"
    assert words["picking"] == f"picking hand, {picks}"
    assert words["both"] == "both"


@pytest.mark.django_db
def test_fingers_carry_the_numbers_of_the_diagrams():
    student = make_student()
    make_consent(student)
    words = {value: str(label) for value, label in entry_form(student, NOW).fields["place"].choices}
    numbered = [words[place] for place in ("index", "second", "third", "little", "thumb")]
    assert [word[0] for word in numbered] == ["1", "2", "3", "4", "T"]


@pytest.mark.django_db
def test_a_child_under_eight_is_asked_how_tiring_in_words():
    student = make_student(birth_year=TODAY.year - 7)
    make_consent(student)
    form = entry_form(student, NOW)
    assert [value for value, _ in form.fields["tiring"].choices] == ["0", "2", "5", "8"]
    sent = {"code": str(uuid.uuid4()), "day": TODAY.isoformat(), "total": "10"}
    for tiring, kept in (("5", (5, True)), ("0", (0, True)), ("", (None, False))):
        form = entry_form(student, NOW, {**sent, "tiring": tiring})
        assert form.is_valid(), form.errors
        assert (form.record().tiring, form.record().tiring_in_words) == kept
    assert "tiring" in entry_form(student, NOW, {**sent, "tiring": "4"}).errors
    older = make_student(birth_year=TODAY.year - 20)
    make_consent(older, given_by="student")
    form = entry_form(older, NOW, {**sent, "tiring": "5"})
    assert len(form.fields["tiring"].choices) == 11
    assert form.is_valid(), form.errors
    assert not form.record().tiring_in_words


def test_an_adult_too_reads_who_can_read_the_note(cast):
    page = cast.client("student").get(f"/s/{cast.student.code}/").content.decode()
    assert "owner can read this note" in page


def test_every_metre_of_the_metronome_can_be_set_as_a_goal():
    # derived: the metronome's list is the (2/4 to 12/8); three beats and compound metres are named in it
    assert set(METRES) == {"2/4", "3/4", "4/4", "5/4", "6/8", "12/8"}


# -- a wish for a word, as the phone sends it --------------------------------------------------------------------------


def send(cast, code, who="student", student=None, body=b"{}"):
    address = f"/s/{(student or cast.student).code}/tell/{code}/"
    return cast.client(who).put(address, body, content_type="application/json")


def test_a_wish_is_kept_once_and_its_code_is_echoed(cast):
    code = uuid.uuid4()
    for status in (201, 200, 200):
        answer = send(cast, code)
        assert (answer.status_code, answer.json()["code"]) == (status, str(code))
        assert answer.json()["said"]
    wish = TellTeacher.objects.get()
    assert (wish.code, wish.student, wish.by) == (code, cast.student, "student")


def test_a_wish_that_was_seen_meanwhile_is_not_wished_again(cast):
    code = uuid.uuid4()
    send(cast, code)
    TellTeacher.objects.update(seen_at=NOW)
    assert send(cast, code).status_code == 200
    assert TellTeacher.objects.count() == 1


def test_wishes_that_nobody_has_seen_do_not_pile_up(cast):
    codes = [uuid.uuid4() for _ in range(9)]
    answers = [send(cast, code) for code in codes]
    assert [answer.status_code for answer in answers] == [201] * MOST_WISHES + [200] * (9 - MOST_WISHES)
    # the phone lets go of each: its code comes back
    assert [answer.json()["code"] for answer in answers] == [str(code) for code in codes]
    for _ in range(3):
        cast.client("student").post(f"/s/{cast.student.code}/tell/", {"code": uuid.uuid4()})
        cast.client("guardian").post(f"/f/{cast.student.code}/tell/", {"code": uuid.uuid4()})
    assert TellTeacher.objects.count() == MOST_WISHES
    # another student's are not counted, and once the teacher has seen them, a new one is a new one
    assert send(cast, uuid.uuid4(), "other_student", cast.other_student).status_code == 201
    TellTeacher.objects.update(seen_at=NOW)
    assert send(cast, codes[-1]).status_code == 201


def test_a_code_of_somebody_else_tells_nothing(cast):
    code = uuid.uuid4()
    send(cast, code, "other_student", cast.other_student)
    answer = send(cast, code)
    assert answer.status_code == 409
    assert answer.json()["taken"] is True
    assert str(code) not in answer.content.decode()
    assert TellTeacher.objects.count() == 1


@pytest.mark.parametrize("body", [b"", b"[1", b"\xff" * 9, b'{"discomfort": 9}'])
def test_whatever_stands_in_the_body_is_not_read(cast, body):
    assert send(cast, uuid.uuid4(), body=body).status_code == 201


@pytest.mark.parametrize("who", ["anonymous", "stranger", "guardian", "other_student"])
def test_nobody_else_can_wish_for_the_student(cast, who):
    answer = send(cast, uuid.uuid4(), who)
    assert answer.status_code in (401, 404)
    assert not TellTeacher.objects.exists()


def test_a_bad_token_is_refused_as_json(cast):
    from django.test import Client

    client = Client(enforce_csrf_checks=True)
    client.cookies = cast.client("student").cookies
    address = f"/s/{cast.student.code}/tell/{uuid.uuid4()}/"
    answer = client.put(address, b"{}", "application/json", headers={"accept": "application/json"})
    assert answer.status_code == 403
    assert answer.headers["Content-Type"].startswith("application/json")
    assert not TellTeacher.objects.exists()
