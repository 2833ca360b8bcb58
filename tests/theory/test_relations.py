"""What shapes have to do with each other."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.theory import INSTRUMENTS, SHAPES, ShapeError, TheoryError, common_note, place, relation

STEEL = INSTRUMENTS["steel-string"]
MOVING = [shape.id for shape in SHAPES.values() if shape.moves]


@pytest.mark.parametrize(
    ("a", "b", "said"),
    # Common practice, no source: E-shape minor is E-shape major less one finger; E-shapes moved one string over are
    # A-shapes; the open form without the index becomes the shape when the index is laid as the new nut.
    [
        ("E-major", "E-minor", "E-shape minor is E-shape major less the second finger."),
        ("E-minor", "E-major", "E-shape major is E-shape minor with the second finger added."),
        ("E-major", "E-7", "E-shape 7 is E-shape major less the fourth finger."),
        ("E-major", "A-minor", "E-shape major moved one string over is A-shape minor."),
        ("A-minor", "E-major", "A-shape minor moved one string back is E-shape major, with one string more."),
        ("E-7", "A-m7", "E-shape 7 moved one string over is A-shape m7."),
        ("E-minor", "A-sus2", "E-shape minor moved one string over is A-shape sus2."),
        ("E-5", "A-5", "E-shape power chord moved one string over is A-shape power chord."),
        ("open-E", "open-Am", "Open E moved one string over is open Am."),
        (
            "open-E-no-index",
            "E-major",
            (
                "E-shape major is open E (without the index) with the first finger added."
                " The index is laid down as a barre."
            ),
        ),
        (
            "open-E",
            "E-major",
            (
                "E-shape major has the frets of open E with other fingers. The second finger takes over from the"
                " first, the third from the second, the fourth from the third. The index is laid down as a barre."
            ),
        ),
        (
            "open-Am",
            "open-C",
            "The first and second fingers stay down. The third finger moves two strings back and one fret up.",
        ),
        ("E-major", "E-major", "E-shape major is the same shape."),
    ],
)
def test_what_teachers_show(a, b, said):
    assert relation(a, b).text == said


def test_values():
    found = relation("E-major", "E-minor")
    assert (found.stay, found.moves, found.lifted, found.added) == ((1, 3, 4), (), (2,), ())
    assert (found.barre, found.strings_over, found.frets_up) == ("stays", None, None)
    over = relation("E-major", "A-minor")
    assert over.strings_over == 1
    assert {(move.finger, move.strings, move.frets) for move in over.moves} == {(2, 1, 0), (3, 1, 0), (4, 1, 0)}


def test_placed_chords_are_compared_where_they_stand():
    # Common practice, no source: moving an E-shape major bodily one string over at fret 5: A becomes D minor.
    a, dm, b = place("E-major", "A"), place("A-minor", "D"), place("E-major", "B")
    assert relation(a, dm).text == "A, E-shape at 5 moved one string over is Dm, A-shape at 5."
    assert relation(a, b).text == "A, E-shape at 5 moved two frets up is B, E-shape at 7."
    assert relation(b, a).frets_up == -2
    assert relation(a, a).text == "A, E-shape at 5 is the same shape."


@given(st.sampled_from(list(SHAPES)), st.sampled_from(list(SHAPES)))
def test_any_two_shapes_have_a_relation_in_words(a, b):
    there, back = relation(a, b), relation(b, a)
    for found in (there, back):
        assert found.words
        for sentence in found.words:
            assert sentence[0].isupper()
            assert sentence.endswith(".")
            assert "  " not in sentence
    assert there.stay == back.stay
    assert (there.lifted, there.added) == (back.added, back.lifted)
    assert {(m.finger, m.strings, m.frets) for m in there.moves} == {
        (m.finger, -m.strings, -m.frets) for m in back.moves
    }
    used = {*there.stay, *(m.finger for m in there.moves), *there.lifted, *there.added}
    assert used <= {1, 2, 3, 4}
    assert len(there.stay) + len(there.moves) + len(there.lifted) + len(there.added) == len(used)


@given(st.sampled_from(MOVING), st.sampled_from(MOVING))
def test_moved_over_means_that_the_frets_are_the_same(a, b):
    found = relation(a, b)
    if found.strings_over is not None:
        assert relation(b, a).strings_over == -found.strings_over
        frets_a, frets_b = SHAPES[a].form.frets, SHAPES[b].form.frets
        pairs = [(frets_a[i], frets_b[i + found.strings_over]) for i in range(6) if 0 <= i + found.strings_over < 6]
        both = [(one, two) for one, two in pairs if one is not None or two is not None]
        assert len(both) >= 2
        assert abs(found.gained) <= abs(found.strings_over) <= 2
        assert all(one == two for one, two in both)


@given(st.sampled_from(MOVING), st.integers(1, 8), st.integers(1, 8))
def test_a_shape_at_two_places_is_moved_along(shape, low, high):
    from_, to = at(shape, low), at(shape, high)
    found = relation(from_, to)
    assert found.frets_up == high - low
    assert not found.lifted
    assert not found.added


def at(shape, position):
    form = SHAPES[shape].form
    string = 6 - form.root_string
    root = common_note(STEEL.tuning[string] + form.frets[string] + position)
    return place(shape, root, STEEL, position)


@pytest.mark.parametrize(
    ("a", "b"),
    [
        ("E-major", "E-fancy"),
        (None, "E-major"),
        (3, 4),
        ("E-major", place("E-major", "F")),
        (place("E-major", "F"), "E-major"),
        (place("E-major", "F"), place("E-major", "F", STEEL.with_(tuning="B E A D G B E"))),
    ],
)
def test_what_cannot_be_compared(a, b):
    with pytest.raises(ShapeError):
        relation(a, b)


@given(st.one_of(st.none(), st.integers(), st.text(max_size=5), st.lists(st.integers())), st.sampled_from(list(SHAPES)))
def test_a_relation_or_a_theory_error(a, b):
    with pytest.raises(TheoryError):
        relation(a, b)
