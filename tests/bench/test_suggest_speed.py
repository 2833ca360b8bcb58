"""Speed of the suggestions and of a whole song book against one student. Nothing is asserted about time: read the table
(`-m bench -n 0 -s`). Aim (issue 5): suggestions for 200 songs and 12 secure chords under half a second.

Rows are timed turn about, so that a busy machine slows all; ratios are medians of the turns.
"""

import statistics
from time import perf_counter

import pytest

from practice.songbook import SongFacts, read_song, stands
from practice.suggest import in_hand, learning_order, next_chords
from tests.outside.test_suggest import book, singles
from tests.practice.plain import TODAY, facts
from tests.practice.test_suggest import BARRE_3, BARRE_5, done, opened

pytestmark = pytest.mark.bench

TURNS = 15
SONGS = [
    SongFacts(f"{title} of book {seed}", " ".join(sorted(chords)), capo=seed)
    for seed in range(4)
    for title, chords in book(seed).items()
][:200]
STUDENT = facts(
    goals=opened(done(*BARRE_5), done(*BARRE_3), done("E-minor", "A", 5), done("A-minor", "D", 5))
)  # 8 open chords and 4 barres: 12 secure


def whole_book():
    known = in_hand(STUDENT, TODAY)
    return [stands(song, known, STUDENT.instrument, STUDENT.hand) for song in SONGS]


def order_alone():
    songs = {song.title: frozenset(song.chords.split()) for song in SONGS}
    known = {"C", "G", "D", "Em", "A", "E", "Am", "Dm"}
    return learning_order(songs, known, singles(songs, known), 6)


ROWS = {
    "suggestions without songs": lambda: next_chords(STUDENT, TODAY),
    "suggestions, 200 songs": lambda: next_chords(STUDENT, TODAY, songs=SONGS),
    "learning_order alone, 200 songs, 6 chords": order_alone,
    "200 songs for one student, with the way out": whole_book,
}


def test_suggestions_for_200_songs_and_12_secure_chords():
    assert len(SONGS) == 200
    assert sum(goal.kind == "chord" for goal in STUDENT.goals) == 12
    assert not any(read_song(song.chords).unread for song in SONGS)
    first = {}
    times = {name: [] for name in ROWS}
    for turn in range(TURNS + 1):
        for name, run in ROWS.items():
            begun = perf_counter()
            answer = run()
            spent = perf_counter() - begun
            assert answer
            if turn:
                times[name].append(spent)
            else:
                first[name] = spent  # caches of the theory core are empty
    base = times["suggestions without songs"]
    print(f"\n{'':44} {'first':>9} {'median':>9} {'ratio':>7}")
    for name, spent in times.items():
        ratio = statistics.median(one / other for one, other in zip(spent, base, strict=True))
        print(f"{name:44} {first[name] * 1000:6.0f} ms {statistics.median(spent) * 1000:6.1f} ms {ratio:6.1f}x")
