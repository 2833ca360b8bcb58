"""What comes next against outside references.

- Every chord suggested as a key's own against music21's keys and chord symbols: own chords are those whose notes lie
  in the scale, in a minor key the harmonic minor's too (DESIGN.md), and are spelled as the key spells them.
- `learning_order` against the exact optimum by mixed-integer programming, scipy.optimize.milp, on song books drawn
  here with realistic overlap: shared keys, a few common chords, a long tail. The shares of keys and chords are
  invented, not counted. Bars from issue 5: a mean area ratio of 0.94 for single chords and 0.99 for shapes.
"""

import random

import music21
import numpy
import pytest
from scipy import optimize, sparse

from practice.suggest import learning_order, next_chords
from studio import theory
from tests.practice.plain import TODAY, ago, chord, facts, goal, mark

# -- keys ---------------------------------------------------------------------------------------------------------


def scale(key: theory.Key) -> tuple[set[str], set[str]]:
    """The key's scale by music21, and in a minor key the harmonic minor's notes too: (scale, all), as note names."""
    tonic = key.tonic.letter + {-1: "-", 0: "", 1: "#"}[key.tonic.accidental]
    plain = {pitch.name for pitch in music21.key.Key(tonic, key.mode).pitches}
    if key.mode == "major":
        return plain, plain
    harmonic = music21.scale.HarmonicMinorScale(tonic).getPitches(f"{tonic}3", f"{tonic}4")
    return plain, plain | {pitch.name for pitch in harmonic}


def secure(shape: str, root: str, position: int | None = None):
    marks = (mark(ago(9), 6), mark(ago(7), 6, check=True))
    return goal(code=f"{shape} {root}", theory=chord(shape, root, position), target=4, marks=marks)


BARRES = (
    secure("E-major", "A", 5),
    secure("E-major", "G", 3),
    secure("E-major", "F#", 2),
    secure("E-minor", "A", 5),
    secure("A-minor", "D", 5),
)
HISTORIES = {
    "a beginner": (),
    "a first barre": BARRES[:1],
    "barres down to 2": BARRES,
    "barres and partial barres": (*BARRES, secure("A-major-partial", "D", 5)),
}


@pytest.mark.parametrize("name", [str(key) for key in theory.KEYS])
def test_what_is_said_to_belong_to_a_key_belongs_to_it(name):
    key = theory.Key.parse(name)
    scale_only, own = scale(key)
    names_it = goal(code="key", theory=chord("E-5", "A", 5, key=name))
    seen = 0
    for history in HISTORIES.values():
        for one in next_chords(facts(goals=(*history, names_it)), TODAY, 99):
            if one.reasons[0].code not in ("suggest-key", "suggest-key-last", "suggest-key-seventh"):
                continue
            seen += 1
            assert one.reasons[0].values["key"] == str(key)
            symbol = one.voicing.symbol
            figure = symbol[0] + "-" + symbol[2:] if symbol[1:2] == "b" else symbol
            notes = {pitch.name for pitch in music21.harmony.ChordSymbol(figure).pitches}
            assert notes <= own, (one.title, sorted(notes))
            assert notes <= scale_only or one.voicing.quality in ("major", "7"), one.title
            # the voicing itself, note by note
            assert {str(note.without_octave()).replace("b", "-") for note in one.voicing.notes if note} <= notes
    assert seen >= 3


# -- the order of learning ----------------------------------------------------------------------------------------

NAMES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
TONICS = (10, 0.3, 9, 0.5, 6, 3, 0.3, 12, 0.3, 8, 1.5, 0.7)
# semitones above the tonic, quality -> share
MAJOR = {
    (0, ""): 10, (7, ""): 10, (5, ""): 9, (9, "m"): 7, (2, "m"): 5, (4, "m"): 4, (7, "7"): 3, (10, ""): 2,
    (2, "m7"): 2, (5, "m"): 1, (2, "7"): 1, (0, "7"): 1, (0, "maj7"): 1, (9, "m7"): 1, (7, "sus4"): 0.7,
    (4, "7"): 0.7, (8, ""): 0.5, (3, ""): 0.5, (11, "dim"): 0.3,
}  # fmt: skip
MINOR = {
    (0, "m"): 10, (8, ""): 7, (10, ""): 7, (3, ""): 6, (5, "m"): 6, (7, "7"): 4, (7, "m"): 3, (7, ""): 3,
    (0, "m7"): 1, (5, ""): 1, (2, "m7b5"): 0.4, (2, "dim"): 0.4,
}  # fmt: skip
SIZES = {2: 1, 3: 5, 4: 9, 5: 7, 6: 4, 7: 2, 9: 1}  # distinct chords of a song -> share
SONGS = 60
STEPS = 8
SOME = {"G", "C", "D", "Em"}


def book(seed: int) -> dict[str, frozenset[str]]:
    """Sixty songs, the same for the same seed."""
    rng = random.Random(seed)
    songs = {}
    for number in range(SONGS):
        tonic = rng.choices(range(12), TONICS)[0]
        table = MINOR if rng.random() < 0.25 else MAJOR
        size = rng.choices(list(SIZES), list(SIZES.values()))[0]
        chords = {NAMES[tonic] + next(iter(table))[1]}
        while len(chords) < size:
            step, quality = rng.choices(list(table), list(table.values()))[0]
            chords.add(NAMES[(tonic + step) % 12] + quality)
        songs[f"song {number}"] = frozenset(chords)
    return songs


def singles(songs: dict[str, frozenset[str]], known: set[str]) -> dict[str, set[str]]:
    return {symbol: {symbol} for symbol in sorted(set().union(*songs.values()) - known)}


def shapes() -> dict[str, set[str]]:
    """Open chords, each its own item, and movable shapes, each with the roots within reach."""
    found = {name: {name} for name in ("C", "G", "D", "A", "E", "Am", "Em", "Dm", "A7", "E7", "D7", "G7", "B7", "C7")}
    for quality in ("", "m", "7", "m7", "maj7", "sus4"):
        found[f"E-shape {quality}"] = {NAMES[(5 + fret) % 12] + quality for fret in range(8)}  # F to C
        found[f"A-shape {quality}"] = {NAMES[(10 + fret) % 12] + quality for fret in range(9)}  # Bb to F#
    found["A-shape m7b5"] = {name + "m7b5" for name in NAMES}
    found["A-shape dim"] = {name + "dim" for name in NAMES}
    return found


def area(songs, known, candidates, order) -> int:
    """The sum over the order of the songs playable by then, counted anew."""
    owned, total = set(known), 0
    for item in order:
        owned |= candidates[item]
        total += sum(needed <= owned for needed in songs.values())
    return total


def optimum(songs, known, candidates, count) -> float:
    """The largest area that any order reaches, exactly.

    Variables for each step, 0 or 1: an item is learnt; a chord that several items give is owned; a song is playable.
    At most one item more at each step, none unlearnt; a chord is owned by one of its items, a song playable by all of
    its chords. Songs that lack the same chords are one variable with a weight; one that lacks more chords than the
    steps so far can have given is not playable yet (said outright, which saves most of the search).
    """
    most = max(map(len, candidates.values()))
    counted: dict[frozenset[str], int] = {}
    reachable = set().union(*candidates.values())
    for needed in songs.values():
        lacks = frozenset(needed - known)
        if lacks <= reachable and len(lacks) <= most * count:
            counted[lacks] = counted.get(lacks, 0) + 1
    at_once = counted.pop(frozenset(), 0)
    kinds = list(counted)
    useful = sorted(set().union(*kinds))
    items = [item for item in candidates if candidates[item] & set(useful)]
    givers = {name: [n for n, item in enumerate(items) if name in candidates[item]] for name in useful}
    several = [name for name in useful if len(givers[name]) > 1]
    width = len(items) + len(several) + len(kinds)
    rows, columns, weights, low, high, limits = [], [], [], [], [], []

    def bound(terms, least, most):
        for column, weight in terms:
            rows.append(len(low))
            columns.append(column)
            weights.append(weight)
        low.append(least)
        high.append(most)

    for step in range(count):
        item = step * width
        owned, song = item + len(items), item + len(items) + len(several)
        limits += [1] * (len(items) + len(several)) + [int(len(kind) <= most * (step + 1)) for kind in kinds]
        bound([(item + n, 1) for n in range(len(items))], 0, step + 1)
        for n in range(len(items) if step else 0):
            bound([(item + n, 1), (item - width + n, -1)], 0, 1)
        for n, name in enumerate(several):
            bound([*((item + giver, 1) for giver in givers[name]), (owned + n, -1)], 0, numpy.inf)
        for n, kind in enumerate(kinds):
            for name in kind:
                column = owned + several.index(name) if name in several else item + givers[name][0]
                bound([(column, 1), (song + n, -1)], 0, numpy.inf)
    solved = optimize.milp(
        numpy.array(([0.0] * (len(items) + len(several)) + [-float(counted[kind]) for kind in kinds]) * count),
        constraints=optimize.LinearConstraint(
            sparse.csr_array((weights, (rows, columns)), shape=(len(low), width * count)), low, high
        ),
        integrality=numpy.array(([1] * len(items) + [0] * (width - len(items))) * count),
        bounds=optimize.Bounds(0, numpy.array(limits)),
    )
    assert solved.status == 0, solved.message
    return at_once * count - solved.fun


def ratio(seed: int, kind: str) -> float:
    """The area reached as a share of the largest. Every second student knows some chords already."""
    songs, known = book(seed), SOME if seed % 2 else set()
    candidates = singles(songs, known) if kind == "singles" else shapes()
    order = learning_order(songs, known, candidates, STEPS)
    assert len(order) == len(set(order)) == STEPS
    best = optimum(songs, known, candidates, STEPS)
    reached = area(songs, known, candidates, order)
    assert reached <= best + 1e-6  # else the outside computation is wrong
    return reached / best


BARS = {"singles": 0.94, "shapes": 0.99}
BOOKS = 2  # a tenth of a hundred runs with the soak tests in CI


@pytest.mark.parametrize("kind", BARS)
def test_the_order_of_learning_comes_near_the_exact_optimum(kind):
    ratios = [ratio(seed, kind) for seed in range(BOOKS)]
    assert sum(ratios) / len(ratios) >= BARS[kind], ratios


@pytest.mark.soak
@pytest.mark.parametrize("kind", BARS)
def test_the_order_of_learning_comes_near_the_exact_optimum_in_many_books(kind, rounds):
    ratios = [ratio(seed, kind) for seed in range(1000, 1000 + rounds(100))]
    print(f"{kind}: mean {sum(ratios) / len(ratios):.4f}, least {min(ratios):.4f} of {len(ratios)} books")
    assert sum(ratios) / len(ratios) >= BARS[kind]


def test_the_next_best_step_each_time_would_not_do():
    """The bar is worth something: choosing the best next chord each time stays far below it."""
    ratios = []
    for seed in range(3):
        songs = book(seed)
        candidates = singles(songs, set())
        order: list[str] = []
        while len(order) < STEPS:
            left = [item for item in candidates if item not in order]
            order.append(max(left, key=lambda item: area(songs, set(order), candidates, [item])))
        best = learning_order(songs, set(), candidates, STEPS)
        ratios.append(area(songs, set(), candidates, order) / area(songs, set(), candidates, best))
    assert sum(ratios) / len(ratios) < 0.9
