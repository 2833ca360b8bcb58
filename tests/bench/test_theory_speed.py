"""Speed of the theory core, as interleaved ratios. Nothing is asserted about time: read the table (`-m bench
-s`).

Each row times two ways of the same job turn about, so that a busy machine slows both, and gives the median of
the ratios. The bare versions do the arithmetic alone with tuples and dicts: no checks, no spelling, no
messages. They are asserted to give the same answers.
"""

import os
import statistics
import subprocess
import sys
from itertools import cycle
from time import perf_counter

import pytest
from music21 import chord as m21chord

from studio.theory import INSTRUMENTS, QUALITIES, SHAPES, ChordTerm, Goal, arrange, name_frets, place, places, validate
from studio.theory.pitch import MAJOR_ROOTS

pytestmark = pytest.mark.bench

STEEL = INSTRUMENTS["steel-string"]
TUNING = (40, 45, 50, 55, 59, 64)
MOVABLE = ("E-major", "E-minor", "A-minor", "A-7", "E-m7", "A-maj7", "D-major", "C-major")
ROUNDS, BATCH = 41, 200

# -- bare versions -------------------------------------------------------------------------------------------

PITCH = {"C": 0, "Db": 1, "D": 2, "Eb": 3, "E": 4, "F": 5, "F#": 6, "G": 7, "Ab": 8, "A": 9, "Bb": 10, "B": 11}
FORMS = {name: (SHAPES[name].moved_form.frets, 6 - SHAPES[name].root_string) for name in MOVABLE}


def bare_place(shape, root):
    """(frets, MIDI numbers) of a shape at a root, by arithmetic alone."""
    form, string = FORMS[shape]
    position = (PITCH[root] - TUNING[string] - form[string] - 1) % 12 + 1
    frets = tuple([None if fret is None else fret + position for fret in form])
    return frets, tuple([midi + fret for midi, fret in zip(TUNING, frets, strict=True) if fret is not None])


READINGS = {}
for _quality in QUALITIES.values():
    _all = frozenset(_quality.semitones)
    READINGS.setdefault(_all, []).append(_quality.id)
    if "5" in _quality.degrees and {"3", "b3"} & set(_quality.degrees):
        READINGS.setdefault(_all - {7}, []).append(_quality.id)


def bare_name(frets):
    """(root, quality) pairs of a grip, by looking sets of pitch classes up."""
    sounding = {(midi + fret) % 12 for midi, fret in zip(TUNING, frets, strict=True) if fret is not None}
    found = []
    for root in sounding:
        for quality in READINGS.get(frozenset([(pitch - root) % 12 for pitch in sounding]), ()):
            found.append((root, quality))
    return found


def music21_name(frets):
    found = m21chord.Chord([midi + fret for midi, fret in zip(TUNING, frets, strict=True) if fret is not None])
    return found.root(), found.quality


# -- measuring -----------------------------------------------------------------------------------------------


def seconds(call, arguments, times):
    queue = cycle(arguments)
    begun = perf_counter()
    for _ in range(times):
        call(*next(queue))
    return (perf_counter() - begun) / times


def compare(name, ours, other, arguments, times=BATCH, other_times=None):
    """Print microseconds of both and the median of interleaved ratios ours / other."""
    mine, theirs = [], []
    for _ in range(ROUNDS):
        mine.append(seconds(ours, arguments, times))
        theirs.append(seconds(other, arguments, other_times or times))
    ratio = statistics.median(a / b for a, b in zip(mine, theirs, strict=True))
    print(f"\n{name}: {min(mine) * 1e6:.2f} µs against {min(theirs) * 1e6:.2f} µs, ratio {ratio:.3g}", end="")


def once(name, call, aim, rounds=15):
    took = sorted(seconds(call, [()], 1) for _ in range(rounds))
    print(f"\n{name}: median {took[rounds // 2] * 1e3:.3f} ms, best {took[0] * 1e3:.3f} ms (aim: {aim})", end="")


PLACINGS = [(shape, root) for shape in MOVABLE for root in MAJOR_ROOTS]
GRIPS = [(place(shape, root).frets,) for shape, root in PLACINGS]


def test_placing_a_shape():
    for shape, root in PLACINGS:
        voicing = place(shape, root)
        assert (voicing.frets, voicing.midi) == bare_place(shape, root)
    compare("place against bare (aim: within 3)", place, bare_place, PLACINGS)
    compare(
        "place against music21 (aim: under 0.01)",
        place,
        lambda s, r: music21_name(bare_place(s, r)[0]),
        PLACINGS,
        100,
        2,
    )


def test_naming_six_frets():
    for (frets,) in GRIPS:
        assert {(name.root.pitch_class, name.quality) for name in name_frets(frets)} <= set(bare_name(frets))
    compare("name_frets against bare (aim: within 10)", name_frets, bare_name, GRIPS)
    compare("name_frets against music21 (aim: under 0.01)", name_frets, music21_name, GRIPS, 100, 2)


def test_naming_grips_never_seen_before():
    """The cache of readings emptied before each batch: the first sight of a grip."""
    from studio.theory import naming

    def fresh(frets):
        naming._names.cache_clear()
        return name_frets(frets)

    compare("name_frets without its cache against bare", fresh, bare_name, GRIPS)


def test_validating_a_goal():
    goals = [(Goal("chord", (ChordTerm(shape, root),), key="G"),) for shape, root in PLACINGS[:24]]
    took = [seconds(lambda goal: validate(goal, STEEL), goals, 100) for _ in range(ROUNDS)]
    print(f"\nvalidate a chord goal: median {statistics.median(took) * 1e6:.0f} µs (aim: under 200)", end="")


def test_arranging_sixty_four_chords():
    numerals = [
        "I",
        "vi",
        "ii",
        "V",
        "iii",
        "VI7",
        "ii7",
        "V7",
        "IV",
        "iv",
        "bVII",
        "Imaj7",
        "IVmaj7",
        "iii7",
        "vi7",
        "I7",
    ] * 4
    shapes = [s.id for s in SHAPES.values() if s.kind != "small" and not s.variant and s.family in "EACGD"]
    route = arrange(numerals, "C", shapes)[0]
    lives = [sum(p.voicing.shape in shapes for p in places(c.root, c.quality)) for c in route.chords]
    print(f"\n64 chords, {statistics.mean(lives):.1f} places each on average", end="")
    once("arrange them", lambda: arrange(numerals, "C", shapes), "under 20 ms")


def test_import_time(tmp_path):
    code = "import time as t; a, b = t.perf_counter(), t.process_time(); import studio.theory; "
    code += "print(t.perf_counter() - a, t.process_time() - b)"
    kept = {**os.environ, "PYTHONPYCACHEPREFIX": str(tmp_path), "PYTHONDONTWRITEBYTECODE": ""}
    took = [
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=kept).stdout
        for _ in range(16)
    ][1:]  # the first compiles, as an installation does
    # On a machine with other work the processor's own seconds say more than the clock's.
    wall, busy = (sorted(float(row.split()[column]) * 1e3 for row in took) for column in (0, 1))
    print(
        f"\nimport studio.theory: median {statistics.median(wall):.1f} ms, best {wall[0]:.1f} ms; of the processor"
        f" {statistics.median(busy):.1f} ms (aim: under 50)",
        end="",
    )
    code = "import sys; before = set(sys.modules); import studio.theory; print(*sorted(set(sys.modules) - before))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    strangers = {name.split(".")[0] for name in loaded} - set(sys.stdlib_module_names) - {"studio"}
    assert strangers == set()  # no third-party module
