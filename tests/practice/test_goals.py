"""Goals: what follows from their terms, the form that sets them, and the one-tap actions."""

import datetime as dt
import html
import re
import uuid

import pytest
from django.http import QueryDict
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from practice.goal_form import GoalForm, prefilled
from practice.goal_terms import FAMILIES, fields_of, goal_query, split_progression
from practice.goalwork import clean_count, into_change, most_of, next_root, raised
from practice.measures import MEASURES, MEASURES_OF_KIND
from practice.models import Goal
from studio import theory
from studio.theory import ChordTerm
from tests import factory
from tests.factory import NOW, TODAY

STEEL = theory.INSTRUMENTS["steel-string"]
NEXT_LESSON = TODAY + dt.timedelta(days=7)  # Thursdays; TODAY is one, and its lesson is not "after today"


@pytest.fixture(autouse=True)
def _on_a_thursday(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def chord(shape, root, position=None, **over):
    return theory.Goal(kind="chord", chords=(ChordTerm(shape, root, position),), **over)


def text_of(response):
    """What a reader sees: tags away, entities read, white space made one."""
    return " ".join(re.sub(r"<[^>]+>", " ", html.unescape(response.content.decode())).split())


# -- what follows from the terms ----------------------------------------------------------------------------------

# measure, target, most, raised to
RAISES = [
    ("clean", 5, 6, 6),
    ("clean", 6, 6, None),
    ("landings", 4, 5, 5),
    ("landings", 5, 5, None),
    ("changes", 36, 240, 40),
    ("tempo", 72, 300, 76),
    ("tempo", 298, 300, 300),
    ("tempo", 300, 300, None),
    ("seconds", 40, 5, 35),
    ("seconds", 7, 5, 5),
    ("seconds", 5, 5, None),
    ("mark", 5, 5, None),
    ("minutes", 30, 2000, 40),
]


@pytest.mark.parametrize(("measure", "target", "most", "further"), RAISES)
def test_a_target_is_raised_by_a_step_until_its_ceiling(measure, target, most, further):
    assert raised(MEASURES[measure], target, most) == further


@given(st.sampled_from(sorted(MEASURES)), st.integers(0, 300))
def test_a_raised_target_is_always_harder(code, target):
    measure = MEASURES[code]
    further = raised(measure, target, measure.lowest if measure.fewer_is_better else measure.highest)
    assert further is None or measure.better(further, target)


# Positions of E- and A-shapes up the neck: common practice, no source (B at 7, A at 5, G at 3, F at 1 on the E-shape;
# D at 5, E at 7, F at 8, G at 10 on the A-shape; A-shape minor B at 2).
# goal, taken already, next root and position
NEXT_ROOTS = [
    (chord("E-major", "F"), (), ("G", 3)),
    (chord("E-major", "G"), (), ("A", 5)),
    (chord("E-major", "A"), (), ("B", 7)),
    (chord("E-major", "G"), (chord("E-major", "A"),), ("B", 7)),
    (chord("E-major", "G"), (chord("A-major", "A"),), ("A", 5)),
    (chord("A-major", "D"), (), ("E", 7)),
    (chord("A-major", "E"), (), ("F", 8)),
    (chord("A-minor", "B"), (), ("C", 3)),
    (chord("E-major", "Bb"), (), ("B", 7)),
    # in a key: the next root whose chord the key owns (G: Am Bm Em; the next minor chord above Em at 12 is Am at 5)
    (chord("E-minor", "A", key="G"), (), ("B", 7)),
    (chord("E-minor", "B", key="G"), (), ("E", 12)),
    (chord("E-minor", "E", 12, key="G"), (), ("A", 5)),
    # D major owns F#m and its spelling
    (chord("E-minor", "E", 12, key="D"), (), ("F#", 2)),
    # above fret 12 it starts again at the bottom
    (chord("E-major", "F", 13), (), ("G", 3)),
]


@pytest.mark.parametrize(("goal", "taken", "expected"), NEXT_ROOTS)
def test_the_next_root_is_the_next_that_fits_up_the_root_string(goal, taken, expected):
    new = next_root(goal, STEEL, [goal, *taken])
    assert (new.chords[0].root, new.chords[0].position) == expected
    assert new.chords[0].shape == goal.chords[0].shape
    assert new.key == goal.key
    assert new.chords[0].voicing(STEEL).position == expected[1]


@pytest.mark.parametrize(
    "goal",
    [
        chord("open-C", "C"),  # its open strings tie it to the nut
        chord("E-major", "H"),
        theory.Goal(kind="roots", string=5),
        theory.Goal(kind="piece", title="A waltz"),
    ],
)
def test_there_is_no_next_root_where_nothing_can_move(goal):
    assert next_root(goal, STEEL) is None


def test_every_root_is_met_before_one_comes_again():
    goal, seen = chord("E-major", "F"), []
    while goal is not None:
        seen.append(goal)
        goal = next_root(goal, STEEL, seen)
    assert [one.chords[0].root for one in seen] == ["F", "G", "A", "B", "C", "D", "E"]


def test_clean_strings_are_those_that_sound_and_rang():
    d_at_5 = theory.place("A-major-partial", "D")  # x5777x: strings 5 to 2 sound
    assert clean_count(d_at_5, []) == 4
    assert clean_count(d_at_5, [2, 3]) == 2
    assert clean_count(d_at_5, [6, 1]) == 2  # strings marked x that rang: a fault each, as one that did not ring
    assert clean_count(d_at_5, [1, 2, 3, 4, 5, 6]) == 0


@pytest.mark.parametrize(
    ("shape", "root", "most"), [("E-minor", "B", 6), ("A-major-partial", "D", 4), ("small-F", "F", 4)]
)
def test_the_most_clean_strings_are_those_the_voicing_sounds(shape, root, most):
    assert most_of(chord(shape, root), MEASURES["clean"], STEEL) == most


def test_a_change_goes_to_the_chord_that_shares_most_keys():
    # D and Bm live together in D, A and G major; D and F#m in D and A only; D and Eb in none
    others = [chord("A-minor", "B"), chord("E-minor", "F#"), chord("E-major", "Eb")]
    for listed in (others, others[::-1]):
        change = into_change(chord("A-major", "D"), listed, STEEL)
        assert [term.root for term in change.chords] == ["D", "B"]
    assert into_change(chord("A-major", "D"), [chord("E-major", "D")], STEEL) is None
    assert into_change(theory.Goal(kind="roots", string=5), others, STEEL) is None


# -- terms and fields ---------------------------------------------------------------------------------------------

MOVABLE = [shape.id for shape in theory.SHAPES.values() if shape.moves]
NOTES = st.sampled_from(["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"])
CHORDS = st.builds(ChordTerm, st.sampled_from(MOVABLE), NOTES, st.none() | st.integers(0, 24))
KEYS = st.sampled_from([None, "G", "Bb", "A minor", "F# minor"])
GOALS = st.one_of(
    st.builds(lambda c, k, o, f: theory.Goal("chord", (c,), k, o and k is not None, f), CHORDS, KEYS, st.booleans(),
              st.integers(0, 7)),
    st.builds(lambda a, b, k: theory.Goal("change", (a, b), k), CHORDS, CHORDS, KEYS),
    st.builds(
        lambda n, k, w, m, b: theory.Goal(
            "progression", (), k, numerals=tuple(n), window=w, metre=m, beats_per_chord=b
        ),
        st.lists(st.sampled_from(["I", "vi", "bVII", "V7", "iv", "G", "Em", "F#m7b5"]), min_size=1, max_size=8),
        st.sampled_from(["G", "E minor"]),
        st.none() | st.sampled_from([(0, 4), (2, 7), (5, 12)]),
        st.sampled_from(["4/4", "3/4", "6/8"]),
        st.integers(1, 32),
    ),
    st.builds(
        lambda s, n: theory.Goal("roots", string=s, notes=n),
        st.integers(1, 6), st.sampled_from([(), ("naturals",), ("C", "F#", "Bb")]),
    ),
    st.builds(
        lambda t, s, m: theory.Goal("piece", title=t, section=s, from_memory=m),
        st.sampled_from(["A slow waltz", "Reading in 5th position"]), st.sampled_from(["", "bars 9 to 16"]),
        st.booleans(),
    ),
)  # fmt: skip


def form_of(kind, data, context=None, instrument=STEEL):
    query = QueryDict(mutable=True)
    for name, value in data.items():
        query.setlist(name, value if isinstance(value, list) else [value])
    return GoalForm(
        query, kind=kind, instrument=instrument, hand=theory.Hand(), context=context or theory.Context(), today=TODAY
    )


@given(GOALS)
def test_a_goal_written_into_the_form_is_read_back_the_same(goal):
    form = form_of(goal.kind, fields_of(goal))
    form.is_valid()
    assert form.goal == goal


@given(GOALS)
def test_an_address_carries_the_whole_goal(goal):
    query = QueryDict(goal_query(goal))
    form = GoalForm(
        query, kind=query["kind"], instrument=STEEL, hand=theory.Hand(), context=theory.Context(), today=TODAY
    )
    form.is_valid()
    assert form.goal == goal


def test_shapes_allowed_in_a_progression_survive_the_form():
    form = form_of("progression", {"numerals": "I vi IV V", "key": "G", "families": ["E", "A"]})
    form.is_valid()
    assert form.goal.shapes
    assert {theory.SHAPES[shape].family for shape in form.goal.shapes} == {"E", "A"}
    assert {theory.SHAPES[shape].quality for shape in form.goal.shapes} == {"major", "minor"}
    again = form_of("progression", fields_of(form.goal))
    again.is_valid()
    assert again.goal == form.goal
    everything = form_of("progression", {"numerals": "I", "key": "G", "families": list(FAMILIES)})
    everything.is_valid()
    assert everything.goal.shapes == ()


@pytest.mark.parametrize(
    ("typed", "parts"),
    [
        ("I vi IV V", ("I", "vi", "IV", "V")),
        ("I-bVII-IV", ("I", "bVII", "IV")),
        ("| G | Em | C, D |", ("G", "Em", "C", "D")),
        ("i – iv – V7", ("i", "iv", "V7")),
        ("B- E7", ("B-", "E7")),  # a hyphen that belongs to the symbol
        ("", ()),
        (" - | - ", ()),
    ],
)
def test_a_progression_is_read_as_people_write_it(typed, parts):
    assert split_progression(typed) == parts


# -- the form -----------------------------------------------------------------------------------------------------

GOOD = {
    "measure": "clean", "target": "6", "due": NEXT_LESSON.isoformat(), "shape": "E-minor", "root": "B",
}  # fmt: skip

# kind, what is typed over a good form, field with the message, words in it
BAD = [
    ("chord", {"root": "H"}, "root", "not a note"),
    ("chord", {"root": ""}, "root", "name a root"),
    ("chord", {"root": "B" * 500}, "root", "at most 12"),
    ("chord", {"root": "💥"}, "root", "not a note"),
    ("chord", {"shape": ""}, "shape", "Choose a shape"),
    ("chord", {"shape": "Z-major"}, "shape", "not one of the available"),
    ("chord", {"position": "-1"}, "position", "greater than or equal to 0"),
    ("chord", {"position": "99999999999999999999"}, "position", "less than or equal to 24"),
    ("chord", {"position": "seven"}, "position", "whole number"),
    ("chord", {"position": "5"}, "position", "fret 7"),
    ("chord", {"shape": "open-C"}, "root", "gives C"),
    ("chord", {"key": "H dur"}, "key", "not a key"),
    ("chord", {"key": "Eb", "own_chords_only": "on"}, "key", "only those were asked for"),
    ("chord", {"capo": "40"}, "capo", "15"),
    ("chord", {"target": ""}, "target", "required"),
    ("chord", {"target": "7"}, "target", "6 strings"),
    ("chord", {"target": "-3"}, "target", "Between 0 and 6"),
    ("chord", {"target": "0"}, "target", "0 is met"),
    ("chord", {"target": "2.5"}, "target", "whole number"),
    ("chord", {"target": "nan"}, "target", "Enter a number"),
    ("chord", {"target": "1e400"}, "target", "Enter a number"),
    ("chord", {"start_value": "9"}, "start_value", "6 strings"),
    ("chord", {"measure": "tempo"}, "measure", "not one of the available"),
    ("chord", {"due": "2026-11-01"}, "due", "That day is over"),
    ("chord", {"due": "9999-12-31"}, "due", "two years"),
    ("chord", {"due": "soon"}, "due", "like 2026-11-19"),
    ("chord", {"words": "x" * 301}, "words", "at most 300"),
    ("chord", {"words": "a\x00b"}, "words", "Null characters"),
    ("change", {"shape2": "E-minor", "root2": "B"}, "shape", "two different voicings"),
    ("change", {"shape2": "A-major", "root2": ""}, "root2", "name a root"),
    ("change", {"shape2": "A-major", "root2": "X"}, "root2", "not a note"),
    ("progression", {"numerals": ""}, "numerals", "Write the progression"),
    ("progression", {"numerals": "I vi"}, "key", "choose a key"),
    ("progression", {"numerals": "I xyz", "key": "G"}, "numerals", "cannot be read"),
    ("progression", {"numerals": "I", "key": "G", "low": "9", "high": "2"}, "low", "lower to a higher"),
    ("progression", {"numerals": "I", "key": "G", "beats": "99"}, "beats", "less than or equal to 32"),
    ("progression", {"numerals": "I", "key": "G", "metre": "5/3"}, "metre", "not one of the available"),
    ("progression", {"numerals": "I", "key": "G", "low": "10", "high": "11", "families": ["C"]}, "families", "no way"),
    ("progression", {"numerals": "I", "key": "G", "target": "5"}, "target", "Between 20 and 300"),
    ("roots", {"string": ""}, "string", "Choose a string"),
    ("roots", {"string": "9"}, "string", "not one of the available"),
    ("roots", {"string": "5", "notes": "named", "note_names": ""}, "note_names", "Name the notes"),
    ("roots", {"string": "5", "notes": "named", "note_names": "C H"}, "note_names", "not a note"),
    ("piece", {"title": ""}, "title", "name"),
    ("piece", {"title": "x" * 121}, "title", "at most 120"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "over", "field", "words"), BAD)
def test_bad_input_is_told_beside_its_field(kind, over, field, words):
    data = {**GOOD, "measure": MEASURES_OF_KIND[kind][0], **over}
    if kind != "chord" and "target" not in over:
        data["target"] = "40"
    form = form_of(kind, data)
    assert not form.is_valid()
    assert field in form.errors, form.errors
    assert words in " ".join(form.errors[field])


@given(
    st.sampled_from([kind for kind, _ in Goal.Kind.choices]),
    st.dictionaries(
        st.sampled_from(sorted(GoalForm.base_fields)), st.text(max_size=40) | st.integers().map(str), max_size=12
    ),
)
def test_no_input_breaks_the_form(kind, data):
    form_of(kind, {**GOOD, **data}).is_valid()


def test_the_target_follows_the_voicing_until_the_teacher_changes_it():
    full, partial = chord("E-minor", "B"), chord("A-major-partial", "D")
    fresh = prefilled("chord", {}, full, STEEL, NEXT_LESSON)
    assert (fresh["target"], fresh["measure"], fresh["due"]) == ("6", "clean", NEXT_LESSON.isoformat())
    assert prefilled("chord", fresh, partial, STEEL, NEXT_LESSON)["target"] == "4"
    typed = {**fresh, "target": "5"}
    assert prefilled("chord", typed, partial, STEEL, NEXT_LESSON)["target"] == "5"
    assert prefilled("chord", {}, None, STEEL, NEXT_LESSON)["target"] == ""


# -- the page -----------------------------------------------------------------------------------------------------


def set_url(student):
    return reverse("practice:goal-set", args=[student.code])


def post_goal(cast, student=None, **over):
    data = {**GOOD, "kind": "chord", **over}
    return cast.client("teacher").post(set_url(student or cast.student), data)


def shown_in(response):
    return re.findall(r'name="shown" value="([^"]+)"', response.content.decode())


def test_a_new_goal_is_prefilled_and_due_at_the_next_lesson(cast):
    response = cast.client("teacher").get(set_url(cast.student) + "?shape=A-major-partial&root=D")
    page = response.content.decode()
    assert f'value="{NEXT_LESSON.isoformat()}"' in page
    assert re.search(r'name="target" value="4"', page)
    assert "Index at fret 5." in page
    assert "Root D on the 5th string." in page
    assert "x D A D F# x" in page  # x5777x, spelled; derived from the form and standard tuning
    assert "open A, B 2, C 3, D 5" in page


def test_a_goal_that_nothing_stands_against_is_set_at_once(cast):
    factory.make_consent(cast.student)
    response = post_goal(cast)
    assert response.status_code == 302
    goal = cast.student.goals.get()
    assert goal.title == "Bm, E-shape at 7"
    assert (goal.target, goal.due, goal.day) == (6, NEXT_LESSON, TODAY)
    assert (goal.created_by, goal.start_value, goal.acknowledged) == (cast.teacher, None, [])


KINDS = [
    ({"kind": "change", "measure": "changes", "target": "36", "shape2": "A-major", "root2": "D"}, "Bm to D"),
    (
        {"kind": "progression", "measure": "tempo", "target": "72", "numerals": "I-vi-IV-V", "key": "g", "low": "2",
         "high": "7", "metre": "3/4", "beats": "3"},
        "G: I vi IV V",
    ),
    ({"kind": "roots", "measure": "seconds", "target": "40", "string": "5", "notes": "naturals"}, "Roots, 5th string"),
    ({"kind": "piece", "measure": "mark", "target": "4", "title": "A slow waltz", "section": "bars 1 to 8",
      "from_memory": "on"}, "A slow waltz, bars 1 to 8"),
]  # fmt: skip


@pytest.mark.parametrize(("data", "title"), KINDS)
def test_every_kind_of_goal_can_be_set(cast, data, title):
    response = post_goal(cast, **data)
    if response.status_code == 200:
        response = post_goal(cast, **data, shown=shown_in(response))
    assert response.status_code == 302
    goal = cast.student.goals.get()
    assert (goal.kind, goal.measure, goal.title) == (data["kind"], data["measure"], title)


@pytest.mark.parametrize("kind", [kind for kind, _ in Goal.Kind.choices])
def test_every_kind_has_its_empty_form(cast, kind):
    response = cast.client("teacher").get(set_url(cast.student) + f"?kind={kind}")
    assert response.status_code == 200
    assert "The goal will stand here" in text_of(response)
    assert "is not a note" not in text_of(response)  # nobody is told off before typing


def test_a_caution_is_shown_first_and_then_saved_as_acknowledged(cast):
    low_f = {"shape": "E-major", "root": "F"}
    first = post_goal(cast, **low_f)
    assert first.status_code == 200
    assert not cast.student.goals.exists()
    assert "hard place for a first barre" in text_of(first)
    shown = shown_in(first)
    assert len(shown) == 1
    second = post_goal(cast, **low_f, shown=shown)
    assert second.status_code == 302
    assert cast.student.goals.get().acknowledged == ["first-barre-low"]


def test_a_caution_of_another_goal_does_not_count_as_seen(cast):
    shown = shown_in(post_goal(cast, shape="E-major", root="F"))
    response = post_goal(cast, shape="E-major", root="F#", shown=shown)
    assert response.status_code == 200
    assert not cast.student.goals.exists()


def test_an_error_blocks_saving_and_keeps_what_was_typed(cast):
    response = post_goal(cast, root="H", words="Slowly, & <b>loud</b>")
    page = response.content.decode()
    assert response.status_code == 200
    assert not cast.student.goals.exists()
    assert 'value="H"' in page
    assert "Slowly, &amp; &lt;b&gt;loud" in page
    assert "is not a note" in page
    assert 'id="id_root_error"' in page


def test_a_way_out_is_a_link_that_fills_the_form(cast):
    response = post_goal(cast, root="H", words="Slowly", shape="E-major")
    links = [
        html.unescape(link)
        for link in re.findall(r'href="([^"]*goals/set/\?[^"]*root=[^"]*)"', response.content.decode())
    ]
    assert links
    there = cast.client("teacher").get(links[0]).content.decode()
    assert "is not a note" not in there
    assert "Slowly" in there
    assert re.search(r'name="root" value="B"', there)  # the German H is B


def test_looking_sets_nothing_and_works_without_a_script(cast):
    response = post_goal(cast, look="1", root="A")
    assert "Am, E-shape at 5" in text_of(response)
    assert not cast.student.goals.exists()


def test_the_fragment_shows_the_goal_and_moves_the_target(cast):
    url = reverse("practice:goal-preview", args=[cast.student.code])
    client = cast.client("teacher")
    data = {"kind": "chord", "shape": "A-major-partial", "root": "D", "target": "6", "offered": "6"}
    response = client.post(url, data, headers={"HX-Request": "true"})
    page = response.content.decode()
    assert "<html" not in page
    assert "<svg" in page
    assert "D, A-shape at 5" in text_of(response)
    assert 'id="goal-target" hx-swap-oob="true"' in page
    assert 'name="target" value="4"' in page
    # the teacher's own target stays
    mine = client.post(url, {**data, "target": "3"}, headers={"HX-Request": "true"}).content.decode()
    assert "hx-swap-oob" not in mine


def test_the_capo_names_what_sounds(cast):
    response = cast.client("teacher").get(set_url(cast.student) + "?shape=open-C&root=C&capo=2")
    assert "With the capo at 2 it sounds as D." in text_of(response)  # C up a whole tone: common practice, no source


def test_what_the_student_has_is_known_to_the_checks(cast):
    """Changing one known chord changes exactly the caution it should."""
    url = set_url(cast.student) + "?shape=E-major&root=F"
    client = cast.client("teacher")
    assert "first barre" in text_of(client.get(url))
    goal = factory.make_goal(cast.student, terms=factory.chord_terms("E-major", "A"))
    factory.make_result(goal, 6, day=TODAY - dt.timedelta(days=9))
    lesson = factory.make_lesson(cast.student, day=TODAY - dt.timedelta(days=7))
    factory.make_result(goal, 6, lesson=lesson, day=lesson.day)
    assert "first barre" not in text_of(client.get(url))
    assert "already an active goal" in text_of(client.get(set_url(cast.student) + "?shape=E-major&root=A"))
    factory.make_consent(cast.student)
    assert "open hand note" not in text_of(client.get(url))
    factory.make_note(cast.student, 4)
    assert "open hand note" in text_of(client.get(url))


def test_from_a_goal_the_form_starts_with_its_terms(cast):
    goal = factory.make_goal(cast.student)
    client = cast.client("teacher")
    page = text_of(client.get(set_url(cast.student) + f"?from={goal.code}"))
    assert "Bm, E-shape at 7" in page
    assert client.get(set_url(cast.student) + f"?from={uuid.uuid4()}").status_code == 404
    assert client.get(set_url(cast.student) + "?from=nonsense").status_code == 404
    foreign = factory.make_goal(cast.other_student)
    assert client.get(set_url(cast.student) + f"?from={foreign.code}").status_code == 404


def test_an_unknown_kind_is_a_chord(cast):
    assert cast.client("teacher").get(set_url(cast.student) + "?kind=opera").status_code == 200
    assert post_goal(cast, kind="opera").status_code == 302
    assert cast.student.goals.get().kind == "chord"


def test_without_a_weekly_slot_a_goal_is_due_in_a_week(cast):
    student = factory.make_student(teacher=cast.teacher, lesson_weekday=None)
    page = cast.client("teacher").get(set_url(student)).content.decode()
    assert f'value="{(TODAY + dt.timedelta(days=7)).isoformat()}"' in page


def test_setting_a_goal_asks_a_constant_number_of_questions(cast, count_queries):
    client, url = cast.client("teacher"), set_url(cast.student) + "?shape=E-major&root=F"
    few = count_queries(client, url)
    for root in ("A", "G", "C", "D"):
        goal = factory.make_goal(cast.student, terms=factory.chord_terms("E-major", root))
        factory.make_result(goal, 5)
    # session, user, teacher; student; goals, results, segments, entries, notes, consent
    assert count_queries(client, url) == few <= 11


# -- one tap ------------------------------------------------------------------------------------------------------


def tap(cast, goal, action, who="teacher", **data):
    url = reverse("practice:goal-act", args=[goal.student.code, goal.code])
    return cast.client(who).post(url, {"action": action, **data})


def test_keep_moves_the_due_day_to_the_next_lesson(cast):
    goal = factory.make_goal(cast.student, due=TODAY)
    assert tap(cast, goal, "keep").status_code == 302
    goal.refresh_from_db()
    assert (goal.due, goal.target) == (NEXT_LESSON, 6)


def test_raise_goes_one_step_up_once(cast):
    goal = factory.make_goal(cast.student, target=4)
    tap(cast, goal, "raise", seen="4.0")
    goal.refresh_from_db()
    assert goal.target == 5
    tap(cast, goal, "raise", seen="4.0")  # the same form sent twice
    goal.refresh_from_db()
    assert goal.target == 5


def test_raise_at_the_ceiling_says_so(cast):
    goal = factory.make_goal(cast.student, target=6)
    response = cast.client("teacher").post(
        reverse("practice:goal-act", args=[cast.student.code, goal.code]), {"action": "raise"}, follow=True
    )
    assert "at its most" in text_of(response)
    goal.refresh_from_db()
    assert goal.target == 6


def test_the_next_root_becomes_a_goal_of_its_own(cast):
    secure_a_barre(cast.student)
    goal = factory.make_goal(cast.student, terms=factory.chord_terms("E-minor", "B"))
    assert tap(cast, goal, "next-root").url == reverse("practice:student", args=[cast.student.code])
    new = cast.student.goals.order_by("-pk").first()
    assert (new.title, new.target, new.due, new.measure) == ("Cm, E-shape at 8", 6, NEXT_LESSON, "clean")


def secure_a_barre(student):
    goal = factory.make_goal(student, terms=factory.chord_terms("E-major", "A"), set_aside_at=NOW)
    lesson = factory.make_lesson(student, day=TODAY - dt.timedelta(days=14))
    factory.make_result(goal, 6, lesson=lesson, day=lesson.day)
    factory.make_result(goal, 6, day=TODAY - dt.timedelta(days=10))


def test_a_next_root_with_a_caution_is_shown_before_it_is_set(cast):
    factory.make_consent(cast.student)
    factory.make_note(cast.student, 5)
    goal = factory.make_goal(cast.student)
    response = tap(cast, goal, "next-root")
    assert response.url.startswith(set_url(cast.student))
    assert cast.student.goals.count() == 1
    assert "open hand note" in text_of(cast.client("teacher").get(response.url))


def test_putting_a_chord_in_a_change_fills_the_form(cast):
    goal = factory.make_goal(cast.student, terms=factory.chord_terms("A-minor", "B"))
    factory.make_goal(cast.student, terms=factory.chord_terms("A-major", "D"))
    response = tap(cast, goal, "into-change")
    page = text_of(cast.client("teacher").get(response.url))
    assert "Bm to D" in page


def test_a_lone_chord_in_a_change_asks_for_its_partner(cast):
    goal = factory.make_goal(cast.student)
    response = tap(cast, goal, "into-change")
    page = cast.client("teacher").get(response.url)
    assert page.status_code == 200
    assert "Choose the chord to change to." in text_of(page)


def test_a_goal_is_set_aside_and_taken_up_again(cast):
    goal = factory.make_goal(cast.student)
    tap(cast, goal, "set-aside")
    goal.refresh_from_db()
    assert goal.set_aside_at == NOW
    tap(cast, goal, "take-back")
    goal.refresh_from_db()
    assert (goal.set_aside_at, goal.due) == (None, NEXT_LESSON)


@pytest.mark.parametrize("action", ["", "explode", "next-root\x00"])
def test_an_action_that_is_none_changes_nothing(cast, action):
    goal = factory.make_goal(cast.student)
    before = Goal.objects.values().get(pk=goal.pk)
    assert tap(cast, goal, action).status_code == 302
    assert Goal.objects.values().get(pk=goal.pk) == before


@pytest.mark.parametrize("seen", ["nan", "many", "1e999", ""])
def test_a_strange_seen_target_breaks_nothing(cast, seen):
    goal = factory.make_goal(cast.student, target=4)
    assert tap(cast, goal, "raise", seen=seen).status_code == 302


# -- refusals -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "method"), [("goal-set", "get"), ("goal-preview", "post")])
def test_who_gets_the_pages(cast, name, method):
    url = reverse(f"practice:{name}", args=[cast.student.code])
    expected = {"teacher": 200, "owner": 200, "other_teacher": 404, "stranger": 404, "anonymous": 302}
    assert {who: getattr(cast.client(who), method)(url).status_code for who in expected} == expected
    nobodys = reverse(f"practice:{name}", args=[uuid.uuid4()])
    assert getattr(cast.client("teacher"), method)(nobodys).status_code == 404


def test_nobody_acts_on_a_goal_that_is_not_theirs(cast):
    goal = factory.make_goal(cast.student)
    for who in ("other_teacher", "stranger"):
        assert tap(cast, goal, "set-aside", who=who).status_code == 404
    assert tap(cast, goal, "set-aside", who="anonymous").status_code == 302
    goal.refresh_from_db()
    assert goal.set_aside_at is None
    crossed = reverse("practice:goal-act", args=[cast.child.code, goal.code])
    assert cast.client("teacher").post(crossed, {"action": "keep"}).status_code == 404
    assert (
        cast.client("teacher").get(reverse("practice:goal-act", args=[cast.student.code, goal.code])).status_code == 405
    )


def test_a_preview_stores_nothing_and_is_asked_for_by_no_address(cast):
    """What is typed may be a reason that names the hand: it stands in no address that a log keeps."""
    url = reverse("practice:goal-preview", args=[cast.student.code])
    assert cast.client("teacher").get(url).status_code == 405
    data = {"kind": "chord", "shape": "E-major", "root": "A", "target": "6", "words": "ю" * 300}
    assert cast.client("teacher").post(url, data, headers={"HX-Request": "true"}).status_code == 200
    assert not cast.student.goals.exists()
    assert f'hx-post="{url}"' in cast.client("teacher").get(set_url(cast.student)).content.decode()
