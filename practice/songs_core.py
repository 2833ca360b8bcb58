"""In which order chords make songs playable, and how hard a song's chords are: two functions that stand alone.

Conventions: a chord is its symbol as written ("F#m"); a learnable item is a chord or a shape that yields many. The
area under "songs playable against items known" is the sum, over the items in the order learnt, of how many songs
are playable once that item is there: it rewards songs that come early.

References
----------
How `learning_order` judges a partial order (a half for each chord still missing, weight 0.6) was found by trial on
song lists; it is no theory of learning. Experts' ratings of whole songs follow sums over distinct chords and kinds
of chord (Spearman about .71 to .73), not means (.19): hence the form of `song_level`, whose weights are this
project's own.
"""

import math
from collections.abc import Hashable, Iterable, Iterator, Mapping, Set
from functools import lru_cache
from typing import TypeVar

from studio import theory

Item = TypeVar("Item", bound=Hashable)

WIDTH = 24  # partial orders kept
NEAR = 0.6  # what the songs that come nearer count beside those playable


def learning_order(
    songs: Mapping[str, Set[str]],
    known: Set[str],
    candidates: Mapping[Item, Set[str]],
    count: int,
) -> list[Item]:
    """In which order to learn chords or shapes so that songs become playable early.

    songs : name -> chord symbols needed.  known : symbols in hand.  candidates : learnable item -> symbols that it
    yields, one for a chord, many for a shape.  count : how many; fewer come back only when candidates run out.
    Symbols are compared as written. Chords that nobody yields are allowed.

    A beam search for the largest area under "songs playable against items known". A partial order is judged by its
    area so far plus the steps left times (songs playable + 0.6 x the sum over songs of a half to the power of chords
    still missing); the best 24 are kept, of several with the same items the best one. The best order found is then
    improved by moving and exchanging items while that helps. Equal orders are decided by the candidates' own order.

    >>> learning_order({"a": {"C", "G"}, "b": {"F"}}, {"C"}, {"g": {"G"}, "f": {"F"}, "e": {"E"}}, 2)
    ['g', 'f']
    """
    names = list(candidates)
    count = min(count, len(names))
    if count <= 0:
        return []
    book = _Book(songs, known, [candidates[name] for name in names])
    return [names[index] for index in _exchanged(book, _beam(book, count))]


class _Book:
    """The songs as bit masks. gives: per item the chords that some song lacks; lacking: per kind of song the chords
    it lacks, with `times` how often; touches: per item the kinds of song that ask for one of its chords.

    Songs that ask for the same chords are looked at once; songs that nothing here completes, not at all.
    """

    def __init__(self, songs: Mapping[str, Set[str]], known: Set[str], items: list[Set[str]]) -> None:
        bits: dict[str, int] = {}

        def mask(symbols: Iterable[str]) -> int:
            found = 0
            for symbol in symbols:
                found |= bits.setdefault(symbol, 1 << len(bits))
            return found

        have = mask(known)
        gives = [mask(symbols) for symbols in items]
        reachable = have
        for given in gives:
            reachable |= given
        counted: dict[int, int] = {}
        for symbols in songs.values():
            lacks = mask(symbols) & ~have
            if not lacks & ~reachable:
                counted[lacks] = counted.get(lacks, 0) + 1
        self.at_once = counted.pop(0, 0)
        self.lacking, self.times = list(counted), list(counted.values())
        useful = 0
        for lacks in self.lacking:
            useful |= lacks
        self.gives = [given & useful for given in gives]
        self.touches = [[n for n, lacks in enumerate(self.lacking) if lacks & given] for given in self.gives]

    def missing(self, owned: int) -> list[int]:
        """How many chords each kind of song still lacks."""
        return [(lacks & ~owned).bit_count() for lacks in self.lacking]

    def worth(self, missing: list[int]) -> tuple[int, float]:
        """Songs playable, and what the others count by how near they are."""
        playable, near = self.at_once, 0.0
        for left, times in zip(missing, self.times, strict=True):
            if left:
                near += times * 0.5**left
            else:
                playable += times
        return playable, near

    def gain(self, index: int, owned: int, missing: list[int]) -> tuple[int, float]:
        """What one item more adds to `worth`."""
        fresh = self.gives[index] & ~owned
        playable, near = 0, 0.0
        if fresh:
            for n in self.touches[index]:
                came = (self.lacking[n] & fresh).bit_count()
                if came:
                    before = missing[n]
                    near -= self.times[n] * 0.5**before
                    if came == before:
                        playable += self.times[n]
                    else:
                        near += self.times[n] * 0.5 ** (before - came)
        return playable, near

    def area(self, order: Iterable[int]) -> int:
        """The area under "songs playable against items known"."""
        owned = total = 0
        playable = self.at_once
        for index in order:
            fresh = self.gives[index] & ~owned
            if fresh:
                owned |= fresh
                for n in self.touches[index]:
                    lacks = self.lacking[n]
                    if lacks & fresh and not lacks & ~owned:
                        playable += self.times[n]
            total += playable
        return total


def _beam(book: _Book, count: int) -> tuple[int, ...]:
    """The best order of `count` items that the beam finds."""
    # (area so far, chosen in order, chords owned)
    beam: list[tuple[int, tuple[int, ...], int]] = [(0, (), 0)]
    for left in range(count - 1, -1, -1):
        best: dict[frozenset[int], tuple[float, int, tuple[int, ...], int]] = {}
        for area, chosen, owned in beam:
            missing = book.missing(owned)
            playable, near = book.worth(missing)
            for index in range(len(book.gives)):
                if index in chosen:
                    continue
                more, nearer = book.gain(index, owned, missing)
                reached = area + playable + more
                judged = reached + left * (playable + more + NEAR * (near + nearer))
                judged += 1e-6 * (near + nearer)  # the last step has nothing left to look at
                order, items = (*chosen, index), frozenset((*chosen, index))
                if items not in best or judged > best[items][0]:
                    best[items] = (judged, reached, order, owned | book.gives[index])
        ranked = sorted(best.values(), key=lambda one: (-one[0], one[2]))[:WIDTH]
        beam = [(reached, order, owned) for _, reached, order, owned in ranked]
    return max(beam, key=lambda one: one[0])[1]


def _exchanged(book: _Book, order: tuple[int, ...]) -> tuple[int, ...]:
    """The order with items moved to another place, or replaced by ones left out, as long as the area grows."""
    area = book.area(order)
    better = True
    while better:
        better = False
        for trial in _neighbours(order, len(book.gives)):
            reached = book.area(trial)
            if reached > area:
                order, area, better = trial, reached, True
                break
    return order


def _neighbours(order: tuple[int, ...], size: int) -> Iterator[tuple[int, ...]]:
    for at, item in enumerate(order):
        rest = order[:at] + order[at + 1 :]
        for to in range(len(order)):
            if to != at:
                yield (*rest[:to], item, *rest[to:])
    for at in range(len(order)):
        for other in range(size):
            if other not in order:
                yield (*order[:at], other, *order[at + 1 :])


# -- how hard a song's chords are -----------------------------------------------------------------------------------

KIND_WEIGHT = 2.5  # a kind of chord weighs as two to three chords


@lru_cache(maxsize=4096)
def _easiest(pitch_class: int, quality: str) -> float | None:
    """The grip demand of a chord's easiest placement on a steel-string guitar; None where no shape gives it.

    Usual fingerings only: small forms and inner strings leave out what a song's listener expects to hear.
    """
    places = theory.places(theory.common_root(pitch_class, quality), quality)
    usual = (one for one in places if _is_usual(theory.SHAPES[one.voicing.shape]) and not one.past_joint)
    return min((one.demand.total for one in usual), default=None)


def _is_usual(shape: theory.Shape) -> bool:
    return shape.kind != "small" and not shape.variant


@lru_cache(maxsize=1)
def _hardest() -> float:
    """The grip demand of the chord whose easiest placement asks most."""
    every = (_easiest(pitch_class, quality) for quality in theory.QUALITIES for pitch_class in range(12))
    return max(demand for demand in every if demand is not None)


def song_level(symbols: Iterable[str]) -> float:
    """How hard a song's chords are, as a number that orders songs; 0.0 for a song without chords.

    symbols : chord symbols, repeats allowed. The sum over distinct chords of 1 and the grip demand of the easiest
    placement as a share of the hardest there is, and 2.5 for each distinct kind of chord (quality).
    A chord that no shape gives, or that cannot be read, costs as the hardest; it is never an error. "N" and "N.C."
    stand for no chord and cost nothing.
    Experts' ratings of whole songs follow such sums (Spearman about .71 to .73) and not means (.19); the geometry
    alone earns little of that.

    >>> song_level(["C", "G"]) < song_level(["C", "G", "D"]) < song_level(["C", "G", "Am"])
    True
    """
    distinct: dict[Hashable, float] = {}
    kinds: set[str] = set()
    for symbol in symbols:
        if symbol in ("N", "N.C."):
            continue
        try:
            chord = theory.read_chord(symbol)
        except theory.TheoryError:
            distinct[str(symbol)] = _hardest()
            kinds.add("")
            continue
        demand = _easiest(chord.root.pitch_class, chord.quality)
        bass = None if chord.bass is None else chord.bass.pitch_class
        distinct[chord.root.pitch_class, chord.quality, bass] = _hardest() if demand is None else demand
        kinds.add(chord.quality)
    return math.fsum(1.0 + demand / _hardest() for demand in distinct.values()) + KIND_WEIGHT * len(kinds)
