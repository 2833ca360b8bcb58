"""In which order chords make songs playable, and how hard a song's chords are. The exact optima of whole song books are
in tests/outside/test_suggest.py."""

import itertools
import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from practice.suggest import learning_order, song_level

ROOT = Path(__file__).parents[2]


def area(songs, known, candidates, order):
    owned, total = set(known), 0
    for item in order:
        owned |= candidates[item]
        total += sum(symbols <= owned for symbols in songs.values())
    return total


symbols = st.sampled_from(["A", "B", "C", "D", "E", "F"])
sets = st.frozensets(symbols, min_size=1, max_size=4)


@settings(max_examples=150, derandomize=True)
@given(
    st.dictionaries(st.integers(0, 9).map(str), sets, max_size=7),
    st.frozensets(symbols, max_size=2),
    st.dictionaries(st.sampled_from("uvwxyz"), sets, max_size=5),
    st.integers(0, 6),
)
def test_small_cases_reach_the_optimum_of_every_order_tried(songs, known, candidates, count):
    order = learning_order(songs, known, candidates, count)
    assert len(order) == len(set(order)) == min(count, len(candidates))
    assert set(order) <= set(candidates)
    every = itertools.permutations(candidates, len(order))
    assert area(songs, known, candidates, order) == max(area(songs, known, candidates, one) for one in every)


def test_beam_beats_the_nearest_step_where_that_goes_wrong():
    # one song asks for x alone; three ask for y and z together
    songs = {"a": {"x"}, "b": {"y", "z"}, "c": {"y", "z"}, "d": {"y", "z"}}
    single = {name: {name} for name in "xyz"}
    assert set(learning_order(songs, set(), single, 3)[:2]) == {"y", "z"}


@pytest.mark.long
def test_the_order_does_not_hang_on_how_sets_are_walked():
    """Python walks a set of texts differently in every run; the order learnt stays the same."""
    code = (
        "from tests.outside.test_suggest import book, shapes, singles, learning_order\n"
        "songs = book(3)\n"
        "print(learning_order(songs, set(), singles(songs, set()), 12), learning_order(songs, set(), shapes(), 12))"
    )
    told = {
        subprocess.run(
            [sys.executable, "-c", code], env=os.environ | {"PYTHONHASHSEED": seed}, cwd=ROOT, check=True,
            capture_output=True, text=True,
        ).stdout
        for seed in ("1", "2")
    }  # fmt: skip
    assert len(told) == 1
    assert "E-shape" in told.pop()


@settings(max_examples=50)
@given(st.integers(0, 60), st.randoms(use_true_random=False))
def test_exactly_count_keys_none_twice(count, rng):
    symbols = [f"{letter}{quality}" for letter in "ABCDEFG" for quality in ("", "m", "7")]
    songs = {str(n): set(rng.sample(symbols, rng.randint(1, 7))) for n in range(rng.randint(0, 30))}
    candidates = {n: set(rng.sample(symbols, rng.randint(0, 5))) for n in range(rng.randint(0, 25))}
    order = learning_order(songs, set(rng.sample(symbols, 3)), candidates, count)
    assert len(order) == len(set(order)) == min(count, len(candidates))
    assert set(order) <= set(candidates)


def test_a_negative_count_is_none():
    assert learning_order({"a": {"C"}}, set(), {"c": {"C"}}, -1) == []


def test_learning_order_of_odd_input():
    assert learning_order({}, set(), {}, 3) == []
    assert learning_order({"a": {"C"}}, set(), {"c": {"C"}}, 0) == []
    assert learning_order({"a": {"C", "never"}}, set(), {"c": {"C"}}, 5) == ["c"]
    assert sorted(learning_order({}, set(), {"c": {"C"}, "g": set()}, 2)) == ["c", "g"]


# -- how hard a song's chords are --------------------------------------------------------------------------------


# symbols of the easier song, of the harder one
@pytest.mark.parametrize(
    ("easier", "harder"),
    [
        ("", "C"),
        ("G D", "G D C"),  # more chords
        ("G D C", "G D Am"),  # a second kind
        ("G D C", "G D Bb"),  # a heavier grip
        ("G D C Em", "Gm7 C7 Fmaj7 Bm7b5"),
        ("C", "Cdim"),
        ("E5 A5", "Eaug A7sus4"),
    ],
)
def test_what_is_harder(easier, harder):
    assert song_level(easier.split()) < song_level(harder.split())


def test_repeats_and_spelling_do_not_count():
    assert song_level(["C", "G", "C", "C"]) == song_level(["G", "C"])
    assert song_level(["Bb"]) == song_level(["A#"])
    assert song_level(iter(["C"])) == song_level({"C"})


def test_what_no_shape_gives_costs_as_the_hardest_and_is_no_error():
    readable = song_level(["C", "Bbm7b5"])
    assert song_level(["C", "H?"]) >= readable
    assert song_level(["C", "C7b5"]) > 0
    assert song_level(["???", "", "x"]) > song_level(["???"]) > 0
    assert song_level([None, 3]) > 0  # type: ignore[list-item]


def test_no_chord_costs_nothing():
    assert song_level(["N", "C", "N.C."]) == song_level(["C"])
    assert song_level([]) == song_level(["N"]) == 0.0


# the easier chord, the harder one [common practice, no source]
@pytest.mark.parametrize(
    ("easier", "harder"), [("Em", "Am"), ("G", "F"), ("Am", "Bm"), ("D", "Bb"), ("E", "Eb"), ("E", "G#")]
)
def test_barred_chords_are_harder_than_open_ones(easier, harder):
    assert song_level([easier]) < song_level([harder])


@pytest.mark.parametrize("symbol", ["Cdim", "Caug", "C7sus4", "C5"])
def test_every_kind_that_songs_use_is_read(symbol):
    assert song_level(["C", symbol]) < song_level(["C", "C unreadable"])


CHORDS = ("C", "G", "Em", "F", "F#m7b5", "Bdim", "Caug", "A7sus4", "E5", "?")


@given(st.lists(st.sampled_from(CHORDS), max_size=8))
def test_another_chord_never_makes_a_song_easier(symbols):
    assert song_level(symbols) <= song_level([*symbols, "Ebmaj7"])
