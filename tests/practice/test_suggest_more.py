"""What the song book, refusals, a stepwise return and a teacher's own order change in the suggestions, and that no
guard gives way to them.
"""

import datetime as dt
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from practice.facts import ReturnFacts
from practice.songbook import SongFacts, read_song
from practice.suggest import (
    RUNGS,
    STEPS,
    Refusal,
    in_hand,
    in_turn,
    learning_order,
    next_chords,
    refused,
    steps_of,
    word,
)
from practice.suggest_words import OF_HAND
from practice.words import say
from studio import theory
from tests.practice.plain import TODAY, ago, chord, facts, goal, note
from tests.practice.test_suggest import BARRE_2, BARRE_3, BARRE_5, done, opened

USUAL = tuple(STEPS)
ABLE = facts(goals=opened(done(*BARRE_5), done(*BARRE_3), done(*BARRE_2), done("E-minor", "A", 5)))
RETURN = ReturnFacts(ago(3), 2, ago(3), 10, 30, 3)


def song(chords, title="", **over):
    return SongFacts(title or chords, chords, **over)


def by_title(student, count=99, **given):
    return {one.title: one for one in next_chords(student, TODAY, count, **given)}


def codes(one):
    return [reason.code for reason in one.reasons]


# -- songs --------------------------------------------------------------------------------------------------------


def test_a_chord_that_completes_songs_gains_by_a_term_of_its_own():
    book = [song("G D Bm"), song("A Bm", "Tin Roof"), song("Bm F#m C#m")]
    before, after = by_title(ABLE), by_title(ABLE, songs=book)
    one = after["Bm, A-shape at 2"]
    # two songs ready, one nearer that lacks two more after it, first in the order of learning
    assert one.terms["songs"] == pytest.approx(2 * 0.5 + 0.1 * 0.5 + 1.5)
    assert "songs" not in before["Bm, A-shape at 2"].terms
    told = " ".join(say(reason) for reason in one.reasons)
    assert "It makes 2 songs of the song book ready: “G D Bm”, “Tin Roof”." in told
    assert "1 song that lacks other chords too comes nearer." in told
    assert "number 1 in the order that makes songs playable early" in told


def test_songs_ask_for_roots_that_no_key_names():
    def asked(**given):
        return {voicing.title for voicing in in_turn(ABLE, TODAY, **given)}

    assert not any(title.startswith("G#m") for title in asked())
    assert "G#m, E-shape at 4" in asked(songs=[song("G#m E")])
    # spelled as the song spells it
    assert "Abm, E-shape at 4" in asked(songs=[song("Abm E")])


def test_what_alone_is_missing_brings_in_shapes_beyond_the_order():
    asked = by_title(ABLE, songs=[song("G Cm6")])
    beyond = [one for one in asked.values() if one.voicing.shape not in RUNGS]
    assert beyond
    assert {one.voicing.symbol for one in beyond} == {"Cm6"}
    assert not [one for one in by_title(ABLE, songs=[song("G Cm6 Bb7")]).values() if one.voicing.shape not in RUNGS]
    assert not [one for one in in_turn(ABLE, TODAY, songs=[song("G Bm")]) if one.shape not in RUNGS]


def test_songs_that_are_ready_or_cannot_be_read_change_nothing():
    book = [song("G C D"), song("G Hm"), song("N.C."), song("")]
    assert next_chords(ABLE, TODAY, 99, songs=book) == next_chords(ABLE, TODAY, 99)


def test_a_capo_changes_nothing_since_chords_are_as_fingered():
    with_capo = next_chords(ABLE, TODAY, 99, songs=[song("G D Bm", "one", capo=5)])
    assert with_capo == next_chords(ABLE, TODAY, 99, songs=[song("G D Bm", "one")])


def test_the_order_is_the_one_of_learning_order():
    book = [song("Bm F#m", str(n)) for n in range(3)] + [song("B", "alone")]
    places = {}
    for one in by_title(ABLE, songs=book).values():
        for reason in one.reasons:
            if reason.code == "suggest-songs-order":
                places[one.voicing.symbol] = reason.values["place"]
    pairs = in_hand(ABLE, TODAY).pairs
    known = {theory.chord_symbol(theory.common_root(root, quality), quality) for root, quality in pairs}
    asked = {voicing.symbol for voicing in in_turn(ABLE, TODAY, songs=book)} - known
    names = sorted(asked & {"Bm", "F#m", "B"})
    order = learning_order({one.title: set(one.chords.split()) for one in book}, known, {n: {n} for n in names}, 3)
    # of one shape only the best is suggested, so that not every chord need come up
    assert set(places) <= set(names)
    assert len(places) >= 2
    assert places["B"] == order.index("B") + 1 == 3
    assert {places.get("Bm"), places.get("F#m")} - {None} <= {1, 2}


SYMBOLS = ("G", "C", "D", "Em", "Bm", "F#m", "Bb", "F", "G#m", "B7", "Cm6", "Am7", "C7b5", "Hm", "E", "C#m")
books = st.lists(
    st.lists(st.sampled_from(SYMBOLS), min_size=1, max_size=5).map(lambda chords: " ".join(chords)), max_size=12
).map(lambda texts: [song(text, f"song {n}") for n, text in enumerate(texts)])
hands = st.sampled_from(
    [
        facts(),
        facts(goals=opened()),
        ABLE,
        facts(goals=opened(done(*BARRE_5)), notes=(note(ago(2), 2),)),
        facts(goals=opened(done(*BARRE_5)), hand_return=RETURN),
        facts(age=8, hand=theory.Hand.of(age=8), goals=(done("small-G", "G"), done("small-C", "C"))),
        facts(goals=opened(), notes=(note(ago(2), 5),)),
        facts(goals=opened(), notes=(note(ago(2), 1, sensation="numb"),)),
        facts(goals=opened(*(goal(code=f"n{n}", theory=chord("open-A7", "A", 0), set_on=ago(1)) for n in range(2)))),
    ]
)
orders = st.one_of(st.just(()), st.permutations(USUAL), st.lists(st.sampled_from((*USUAL, "nonsense")), max_size=9))
refusals = st.lists(
    st.builds(
        Refusal,
        st.sampled_from(
            ["E-minor@B", "E-major@A", "open-Em@E", "open-G@G", "small-G@G", "roots@6", "x@y", "@", "A-minor@Cb"]
        ),
        st.integers(-2, 40).map(ago),
    ),
    max_size=5,
)


@settings(max_examples=200)
@given(hands, books, orders, refusals)
def test_terms_add_up_and_no_guard_gives_way_to_songs_orders_or_refusals(student, book, order, declined):
    given_ = {"songs": book, "order": order, "declined": declined}
    found = next_chords(student, TODAY, 99, **given_)
    shut = refused(declined, TODAY)
    held = {one.code for one in next_chords(student, TODAY, 99)} if word(student, TODAY) else set()
    for one in found:
        assert one.score == pytest.approx(math.fsum(one.terms.values()))
        assert one.reasons
        assert all(say(reason) for reason in one.reasons)
        if one.voicing is None:
            assert ("roots", one.goal.string) not in shut
            continue
        assert (one.voicing.shape, one.voicing.root.pitch_class) not in shut
        assert not any(finding.is_error for finding in theory.validate(one.goal, student.instrument, student.hand))
        fret = one.voicing.position
        if one.voicing.has_barre:
            assert not (student.age and student.age < 10)
            secure = [v.position for g in student.goals for v in (g.theory.chords[0].voicing(student.instrument),)
                      if v.has_barre and g.marks]  # fmt: skip
            assert fret >= (5 if not secure else 3 if min(secure) >= 5 else 2 if min(secure) >= 3 else 1)
            assert not student.notes
            assert student.hand_return is None
    said = word(student, TODAY)
    if said is not None and said.code in ("suggest-rest", "suggest-enough-new"):
        assert {one.code for one in found} <= held
    if said is not None and said.code == "suggest-pause":
        assert all(one.goal.kind == "roots" for one in found)
    assert found == next_chords(student, TODAY, 99, **given_)


def place(one):
    return next((reason.values["place"] for reason in one.reasons if reason.code == "suggest-songs-order"), None)


@settings(max_examples=60)
@given(books, st.sampled_from(["G#m E", "Bm A", "F#m D A"]))
def test_one_song_more_takes_points_from_no_chord_that_it_lacks(book, chords):
    before = by_title(ABLE, songs=book)
    after = by_title(ABLE, songs=[*book, song(chords, "one more")])
    lacks = set(read_song(chords).symbols)
    for title, one in before.items():
        if title in after and one.voicing.symbol in lacks:
            more = after[title].terms.get("songs", 0.0) - one.terms.get("songs", 0.0)
            if place(one) == place(after[title]):
                assert more >= 0


# -- refusals -----------------------------------------------------------------------------------------------------


# days ago, whether it may come again
@pytest.mark.parametrize(("days", "again"), [(0, False), (27, False), (28, True), (200, True), (-1, True)])
def test_what_was_declined_comes_again_after_four_weeks(days, again):
    first = next_chords(facts(), TODAY)[0]
    assert first.code == "open-Em@E"
    found = next_chords(facts(), TODAY, 99, declined=[Refusal(first.code, ago(days))])
    assert (first.code in {one.code for one in found}) is again
    assert Refusal(first.code, ago(days)).until == ago(days) + dt.timedelta(weeks=4)


def test_the_next_best_takes_its_place():
    three = next_chords(ABLE, TODAY)
    left = next_chords(ABLE, TODAY, declined=[Refusal(three[0].code, TODAY)])
    assert len(left) == 3
    assert three[0].code not in {one.code for one in left}
    assert left[0].title == three[1].title


def test_a_refusal_holds_for_the_chord_however_it_is_spelled():
    given_ = {"songs": [song("Abm E")]}
    assert "Abm, E-shape at 4" in {voicing.title for voicing in in_turn(ABLE, TODAY, **given_)}
    given_["declined"] = [Refusal("E-minor@G#", TODAY)]
    assert "Abm, E-shape at 4" not in {voicing.title for voicing in in_turn(ABLE, TODAY, **given_)}


def test_roots_are_declined_by_their_string():
    hurt = facts(goals=opened(), notes=(note(ago(2), 5),))
    assert [one.code for one in next_chords(hurt, TODAY)] == ["roots@6", "roots@5", "roots@4"]
    left = next_chords(hurt, TODAY, declined=[Refusal("roots@6", TODAY)])
    assert [one.code for one in left] == ["roots@5", "roots@4"]


def test_a_review_can_be_declined_too():
    slept = done("open-C", "C", marks=(), set_aside=True, title="old C", set_aside_on=ago(70))
    slept = replace(slept, marks=done("open-C", "C").marks)
    slept = replace(slept, marks=tuple(replace(one, day=one.day - dt.timedelta(days=80)) for one in slept.marks))
    student = facts(goals=(slept,))
    assert "old C" in by_title(student)
    assert "old C" not in by_title(student, declined=[Refusal("open-C@C", ago(3))])


# set aside so many days ago, whether it may be suggested
@pytest.mark.parametrize(("days", "again"), [(1, False), (27, False), (28, True)])
def test_what_was_set_aside_counts_from_that_day(days, again):
    aside = goal(theory=chord("open-Em", "E", 0), set_aside=True, set_aside_on=ago(days), set_on=ago(300))
    assert ("Em, open" in by_title(facts(goals=(aside,)))) is again


# -- a stepwise return --------------------------------------------------------------------------------------------


def test_a_return_without_barres_offers_roots_alone():
    resting = replace(ABLE, hand_return=replace(RETURN, barre=False))
    found = next_chords(resting, TODAY, 99, songs=[song("G Bm"), song("F#m B")])
    assert found
    assert {one.goal.kind for one in found} == {"roots"}
    assert word(resting, TODAY).code == "suggest-pause"


def test_an_open_return_allows_nothing_heavier():
    back = replace(ABLE, hand_return=replace(RETURN, barre=True))
    found = next_chords(back, TODAY, 99, songs=[song("G Bm"), song("F#m B")])
    assert found
    assert not any(one.voicing.has_barre for one in found)
    most = max(theory.grip_demand(one.theory.chords[0].voicing()).total for one in opened())
    assert all(theory.grip_demand(one.voicing, back.hand).total <= most for one in found)
    said = word(back, TODAY)
    assert said.code == "suggest-return"
    assert said.code in OF_HAND
    hidden = replace(back, hand_consent=False)
    assert word(hidden, TODAY) is None
    assert next_chords(hidden, TODAY) == next_chords(ABLE, TODAY)


# -- a teacher's own order ----------------------------------------------------------------------------------------


def test_the_usual_order_is_no_order_of_ones_own():
    assert steps_of(USUAL) == steps_of([]) == steps_of(["nonsense", 3, None]) == ()
    assert next_chords(ABLE, TODAY, 99, order=USUAL) == next_chords(ABLE, TODAY, 99)


@given(st.lists(st.sampled_from((*USUAL, "nonsense")), max_size=12))
def test_an_own_order_is_always_whole(order):
    whole = steps_of(order)
    assert whole == () or sorted(whole) == sorted(USUAL)
    assert steps_of(whole) == whole


MINORS_FIRST = ("open", "no-index", "small-barre", "minors", "e-major", "a-major", "sevenths", "later")


def test_with_minors_first_a_minor_barre_is_the_first_one():
    student = facts(goals=opened())
    usual = {voicing.shape for voicing in in_turn(student, TODAY)}
    own = {voicing.shape for voicing in in_turn(student, TODAY, order=MINORS_FIRST)}
    assert "E-major" in usual
    assert "A-minor" not in usual
    assert {"A-minor", "E-minor"} <= own
    assert "E-major" not in own
    barres = [one for one in next_chords(student, TODAY, 99, order=MINORS_FIRST) if one.voicing.has_barre]
    assert barres
    assert all(5 <= one.voicing.position <= 7 for one in barres)
    assert all("suggest-own-order" in codes(one) for one in barres)
    assert "Step 4 of your own teaching order." in {say(reason) for one in barres for reason in one.reasons}


def test_then_the_next_step_opens_and_gains_most():
    student = facts(goals=opened(done("A-minor", "D", 5)))
    own = next_chords(student, TODAY, 99, order=MINORS_FIRST)
    step = {one.voicing.shape: one.terms["step"] for one in own}
    assert (step["E-minor"], step["E-major"]) == (4, 3.25)
    assert "A-major-partial" not in step


def test_groundwork_holds_nobody_up():
    order = ("no-index", "small-barre", "open", "e-major", "minors", "a-major", "sevenths", "later")
    assert "E-major" in {voicing.shape for voicing in in_turn(facts(goals=opened()), TODAY, order=order)}


def test_sevenths_first_still_stand_on_their_plain_chord():
    order = ("open", "sevenths", "e-major", "minors", "a-major", "later", "no-index", "small-barre")
    found = {voicing.shape for voicing in in_turn(facts(goals=opened()), TODAY, order=order)}
    assert "open-A7" in found
    assert "E-7" not in found
    able = facts(goals=opened(done(*BARRE_5)))
    assert "E-7" in {voicing.shape for voicing in in_turn(able, TODAY, order=order)}


def test_a_child_gets_no_barre_in_any_order():
    child = facts(age=8, hand=theory.Hand.of(age=8), goals=opened(done(*BARRE_5)))
    assert not any(voicing.has_barre for voicing in in_turn(child, TODAY, order=MINORS_FIRST))
