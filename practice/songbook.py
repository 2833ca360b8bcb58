"""A song's chords as typed, read by the theory core, and what the song asks of one student's hands.

Conventions: chords are as fingered, whatever the capo; the key is as fingered too, so that numerals count from it; what
sounds lies `capo` half steps higher. A pair is a chord as (pitch class of its root, quality). Characters are counted
from 0 within the typed text.

How it is read: chords stand apart by spaces, commas, bars or dashes; "Verse:" at the start of a line, beat strokes (/),
repeats (%, x2) and N.C. ask for no chord. A bass note behind a stroke (D/F#) may be left out by the player, so that a
song is ready without it [C].

How a missing chord is best had: at the place that asks least of the hand, a quarter of a finger more for each fret up
the neck [C], and first by a shape that is secure at another root.

References
----------
[C] Common practice, no source. The weights are this project's own.
"""

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from practice.said import Said, said
from studio import theory

__all__ = [
    "Known",
    "Lack",
    "Reading",
    "SongFacts",
    "SongStanding",
    "Unread",
    "Way",
    "by_readiness",
    "key_of",
    "lacking",
    "moved_key",
    "pair_of",
    "place_of",
    "read_song",
    "stands",
    "transposed",
]

Pair = tuple[int, str]  # pitch class of the root, quality

HIGHEST_CAPO = 7  # further up few songs are played [C]
PER_FRET = 0.25
# A capo that leaves as much to learn is worth naming where the chords ask this share, or less, of the hand.
EASIER = 0.8


@dataclass(frozen=True)
class SongFacts:
    """A song as the computations see it. chords: as typed; key: as typed, "" for none; capo: 0 to 12."""

    title: str
    chords: str
    key: str = ""
    capo: int = 0
    code: str = ""


@dataclass(frozen=True)
class Known:
    """What one student has. pairs: chords in hand; shapes: secure somewhere; small: whether they play small forms;
    resting: of the chords in hand those that the hand lets rest today; flat_rests: so does every chord that lays a
    finger flat."""

    pairs: frozenset[Pair] = frozenset()
    shapes: frozenset[str] = frozenset()
    small: bool = False
    resting: frozenset[Pair] = frozenset()
    flat_rests: bool = False


# -- reading ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Unread:
    """A part of the typed text that is no chord. word: as typed; start: where it begins; at: the character that cannot
    be read (the end of the word where something is missing); why: the theory core's own sentence with its values."""

    word: str
    start: int
    at: int
    why: theory.TheoryError

    def line_and_column(self, text: str) -> tuple[int, int]:
        """Where it is for a reader, both counted from 1."""
        before = text[: self.at]
        return before.count("\n") + 1, self.at - (before.rfind("\n") + 1) + 1


@dataclass(frozen=True)
class Reading:
    """A song's chords. chords: as fingered, in order of appearance, none twice; heard: the same as they sound, () where
    no capo changes them; unread: what could not be read."""

    chords: tuple[theory.Chord, ...]
    heard: tuple[theory.Chord, ...] = ()
    unread: tuple[Unread, ...] = ()
    numerals: bool = False

    @property
    def pairs(self) -> tuple[Pair, ...]:
        """The chords without their basses, none twice."""
        return tuple(dict.fromkeys(map(pair_of, self.chords)))

    @property
    def symbols(self) -> tuple[str, ...]:
        return tuple(chord.symbol for chord in self.chords)

    @property
    def heard_symbols(self) -> tuple[str, ...]:
        return tuple(chord.symbol for chord in self.heard)


def pair_of(chord: theory.Chord) -> Pair:
    return chord.root.pitch_class, chord.quality


_WORD = re.compile(r"[^\s,;|–—→]+")
_LABEL = re.compile(r"^[ \t]*([^|:,;\n]{1,40}):(?=[ \t]|$)", re.MULTILINE)
_SILENT = re.compile(r"(?:N\.?C?\.?|N\.C\.?|/+|%|[x×]\d{1,2}|\d{1,2}[x×]|\.+|)", re.IGNORECASE)
_OPENING, _CLOSING = "([{:", ")]}:"


@lru_cache(maxsize=2048)
def read_song(text: str, key: str = "", capo: int = 0) -> Reading:
    """What a song's typed chords say.

    text : symbols and numerals, mixed as one likes.  key : as fingered, "" or unreadable for none (numerals are then
    unread).  capo : int, half steps from what is fingered to what sounds.
    Nothing typed is an error here: what cannot be read is named with its place.

    >>> reading = read_song("| G C | D Em |", "G", 3)
    >>> reading.symbols, reading.heard_symbols
    (('G', 'C', 'D', 'Em'), ('Bb', 'Eb', 'F', 'Gm'))
    >>> [(one.word, one.at) for one in read_song("G Hm D").unread]
    [('Hm', 2)]
    """
    home = key_of(key)
    chords: dict[theory.Chord, None] = {}
    unread: list[Unread] = []
    numerals = False
    for start, word in _words(text):
        try:
            chord = theory.read_step(word, home)
        except theory.TheoryError as error:
            at = min(getattr(error, "position", 0), len(word))
            unread.append(Unread(word, start, start + at, error))
            continue
        numerals |= word.lstrip("#♯b♭")[:1] in tuple("IViv")
        chords.setdefault(chord)
    heard = tuple(transposed(chord, capo, home) for chord in chords) if capo else ()
    return Reading(tuple(chords), heard, tuple(unread), numerals)


def key_of(name: str) -> theory.Key | None:
    """The key that a text names, None where it names none."""
    try:
        return theory.Key.parse(name) if name.strip() else None
    except theory.TheoryError:
        return None


def _words(text: str) -> list[tuple[int, str]]:
    """(where it begins, the text) of everything typed that should be a chord."""
    labels = [match.span() for match in _LABEL.finditer(text) if not _all_chords(match[1])]
    found: list[tuple[int, str]] = []
    for match in _WORD.finditer(text):
        if not any(start <= match.start() < end for start, end in labels):
            found += _parts(match.start(), match[0])
    return found


def _all_chords(words: str) -> bool:
    """Whether what stands before a colon is two chords or more, and so no name of a part of the song."""
    parts = words.split()
    return len(parts) > 1 and all(map(_is_symbol, parts))


def _parts(start: int, word: str) -> list[tuple[int, str]]:
    """The chords in what stands between two spaces: "(C)", "||:G", "I-IV" are written without any."""
    found = []
    pieces = [word] if _is_symbol(word) else word.split("-")
    for piece in pieces:
        begin, end = 0, len(piece)
        while begin < end and piece[begin] in _OPENING:
            begin += 1
        while begin < end and _loose(piece[begin:end]):
            end -= 1
        if not _SILENT.fullmatch(piece[begin:end]):
            found.append((start + begin, piece[begin:end]))
        start += len(piece) + 1
    return found


def _loose(piece: str) -> bool:
    """Whether a piece ends in a bracket that nothing in it opens, or in a colon."""
    last = piece[-1]
    if last not in _CLOSING:
        return False
    return last == ":" or piece.count(last) > piece.count(_OPENING[_CLOSING.index(last)])


def _is_symbol(text: str) -> bool:
    try:
        theory.read_chord(text)
    except theory.TheoryError:
        return False
    return True


def transposed(chord: theory.Chord, steps: int, home: theory.Key | None = None) -> theory.Chord:
    """The chord `steps` half steps higher (lower where negative), spelled for `home` moved as far, else commonly."""
    if not steps:
        return chord
    moved = moved_key(home, steps)
    root = _moved(chord.root, steps, moved, chord.quality)
    return theory.Chord.of(root, chord.quality, _bass(chord, root, steps, moved))


def moved_key(home: theory.Key | None, steps: int) -> theory.Key | None:
    """A key `steps` half steps higher, under its commoner name."""
    if home is None or not steps:
        return home
    return theory.Key(theory.common_root((home.tonic.pitch_class + steps) % 12, home.mode), home.mode)


def _moved(root: theory.Note, steps: int, home: theory.Key | None, quality: str) -> theory.Note:
    pitch_class = (root.pitch_class + steps) % 12
    return home.spell_root(pitch_class, quality) if home else theory.common_root(pitch_class, quality)


def _bass(chord: theory.Chord, root: theory.Note, steps: int, home: theory.Key | None) -> theory.Note | None:
    """The bass as the new chord spells it where it is one of its notes, else as the key does."""
    if chord.bass is None:
        return None
    pitch_class = (chord.bass.pitch_class + steps) % 12
    own = theory.chord_tones(root, chord.quality)
    spelled = home.spell(pitch_class) if home else theory.common_note(pitch_class)
    return next((tone for tone in own if tone.pitch_class == pitch_class), spelled)


# -- one student --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Lack:
    """A chord that the student has not yet. voicing: how it is best had, None where no shape gives it on this neck;
    again: by a shape that is secure at another root."""

    chord: theory.Chord
    voicing: theory.Voicing | None
    again: bool = False

    @property
    def words(self) -> str:
        """"F#m (E-shape minor at 2)", in English as a voicing's title is."""
        symbol = theory.chord_symbol(self.chord.root, self.chord.quality)
        return symbol if self.voicing is None else f"{symbol} ({place_words(self.voicing)})"


@dataclass(frozen=True)
class Way:
    """A capo that makes the song easier, its key unchanged. capo: fret from the nut, 0 for none; chords: as fingered
    then; lacks: of these the ones that the student has not; lighter: as many are missing, but they ask less."""

    capo: int
    chords: tuple[theory.Chord, ...]
    lacks: tuple[theory.Chord, ...] = ()
    lighter: bool = False


@dataclass(frozen=True)
class SongStanding:
    """Where a student stands with a song: ready, or what it lacks and the way out. rests: it needs a chord that rests
    today."""

    song: SongFacts
    reading: Reading
    lacks: tuple[Lack, ...] = ()
    way: Way | None = None
    rests: bool = False

    @property
    def code(self) -> str:
        """"ready", "rests" (every chord is in hand, and one rests today), "lacks", "no-shape" (a chord that no shape
        gives here) or "unread"."""
        if self.reading.unread:
            return "unread"
        if any(lack.voicing is None for lack in self.lacks):
            return "no-shape"
        return "lacks" if self.lacks else "rests" if self.rests else "ready"

    @property
    def ready(self) -> bool:
        return self.code == "ready"

    @property
    def says(self) -> Said:
        """In words, such as "lacks F#m (E-shape minor at 2)"."""
        if self.code == "unread":
            words = ", ".join(dict.fromkeys(one.word for one in self.reading.unread))
            return said("song-unread", words=words[:120])
        if self.code == "no-shape":
            none = ", ".join(lack.words for lack in self.lacks if lack.voicing is None)
            others = ", ".join(lack.words for lack in self.lacks if lack.voicing is not None)
            return said("song-no-shape-and", words=none, others=others) if others else said("song-no-shape", words=none)
        if self.lacks:
            return said("song-lacks", words=", ".join(lack.words for lack in self.lacks))
        if self.rests:
            return said("song-rests")
        return said("song-ready") if self.reading.chords else said("song-no-chord")

    @property
    def way_says(self) -> Said | None:
        """The capo that helps, in words."""
        if self.way is None:
            return None
        symbols = " ".join(chord.symbol for chord in self.way.chords)
        missing = ", ".join(theory.chord_symbol(chord.root, chord.quality) for chord in self.way.lacks)
        if not self.way.capo:
            if missing:
                return said("song-way-open-lacks", symbols=symbols, missing=missing)
            return said("song-way-open", symbols=symbols)
        values: dict[str, int | str] = {"capo": self.way.capo, "symbols": symbols}
        if not missing:
            return said("song-way", **values)
        return said("song-way-lighter" if self.way.lighter else "song-way-lacks", **values, missing=missing)


def place_words(voicing: theory.Voicing) -> str:
    """Where a chord is had: "E-shape minor at 2", "open", "small form"."""
    shape = theory.SHAPES[voicing.shape]
    if shape.kind == "small":
        return "small form"
    return f"{shape.name} at {voicing.position}" if shape.kind == "movable" else "open"


def lacking(song: SongFacts, known: Known) -> tuple[theory.Chord, ...] | None:
    """The chords of a song that are not in hand, one of each pair; None where something cannot be read."""
    reading = read_song(song.chords, song.key, song.capo)
    return None if reading.unread else _without(reading.chords, known)


def _without(chords: Iterable[theory.Chord], known: Known) -> tuple[theory.Chord, ...]:
    found: dict[Pair, theory.Chord] = {}
    for chord in chords:
        if pair_of(chord) not in known.pairs:
            found.setdefault(pair_of(chord), chord)
    return tuple(found.values())


def stands(
    song: SongFacts, known: Known, instrument: theory.Instrument, hand: theory.Hand, way_out: bool = True
) -> SongStanding:
    """Where a student stands with a song, on their own instrument with the song's capo.

    way_out: whether to look for a capo that helps.
    """
    reading = read_song(song.chords, song.key, song.capo)
    neck = _with_capo(instrument, song.capo)
    missing = _without(reading.chords, known)
    lacks = tuple(_lack(chord, known, neck, hand) for chord in missing)
    rests = any(pair_of(chord) in known.resting for chord in reading.chords) or (
        known.flat_rests and any(lack.voicing is not None and lack.voicing.lays_flat for lack in lacks)
    )
    way = None
    if missing and not reading.unread and not rests and way_out:
        way = _easiest_capo(song, reading, missing, known, instrument, hand)
    return SongStanding(song, reading, lacks, way, rests)


def _with_capo(instrument: theory.Instrument, capo: int) -> theory.Instrument | None:
    """The neck behind a capo, None where the instrument cannot have it there."""
    try:
        return instrument.with_(capo=capo) if capo else instrument
    except theory.TheoryError:
        return None


def _lack(chord: theory.Chord, known: Known, neck: theory.Instrument | None, hand: theory.Hand) -> Lack:
    found = _places(chord.root, chord.quality, neck, hand, known.small) if neck else ()
    again = [voicing for _, voicing in found if voicing.shape in known.shapes]
    voicing = next(iter([*again, *(voicing for _, voicing in found)]), None)
    return Lack(chord, voicing, bool(again))


def place_of(chord: theory.Chord, capo: int = 0) -> theory.Voicing | None:
    """The usual place of a chord on a steel-string guitar with the song's capo, None where no shape gives it."""
    found = _places(chord.root, chord.quality, _STEEL.with_(capo=capo) if capo else _STEEL, theory.Hand(), False)
    return found[0][1] if found else None


_STEEL = theory.INSTRUMENTS["steel-string"]


@lru_cache(maxsize=4096)
def _places(
    root: theory.Note, quality: str, neck: theory.Instrument, hand: theory.Hand, small: bool
) -> tuple[tuple[float, theory.Voicing], ...]:
    """(what it costs, the voicing) of a chord's places, the best first. Usual fingerings within reach where there are
    some; small forms for whoever plays those."""
    places = theory.places(root, quality, neck, hand)
    usual = [one for one in places if not theory.SHAPES[one.voicing.shape].variant and not one.past_joint]
    usual = [one for one in usual if small or theory.SHAPES[one.voicing.shape].kind != "small"]
    costed = [(one.demand.total + PER_FRET * one.position, one.voicing) for one in usual or places]
    return tuple(sorted(costed, key=lambda pair: (pair[0], pair[1].position, pair[1].shape)))


def _easiest_capo(
    song: SongFacts,
    reading: Reading,
    missing: tuple[theory.Chord, ...],
    known: Known,
    instrument: theory.Instrument,
    hand: theory.Hand,
) -> Way | None:
    """The capo, up to the 7th fret, with the fewest chords missing; of equals the one whose chords ask least.

    None where it helps nothing. What a chord asks is taken from the bare neck: a capo changes it by little.
    """
    home = key_of(song.key)

    def cost(chords: Iterable[theory.Chord]) -> float:
        return math.fsum(_cost(chord, instrument, hand, known.small) for chord in chords)

    found: list[tuple[int, float, float, int, Way]] = []
    for capo in range(HIGHEST_CAPO + 1):
        if capo == song.capo or _with_capo(instrument, capo) is None:
            continue
        chords = tuple(transposed(chord, song.capo - capo, home) for chord in reading.chords)
        lacks = _without(chords, known)
        asks = cost(chords)
        lighter = len(lacks) == len(missing)
        found.append((len(lacks), cost(lacks), asks, capo, Way(capo, chords, lacks, lighter)))
    if not found:
        return None
    count, _, asks, _, way = min(found, key=lambda one: one[:4])
    if count < len(missing):
        return way
    lightest = min((one for one in found if one[0] == len(missing)), key=lambda one: (one[2], one[3]), default=None)
    if lightest is not None and lightest[2] <= EASIER * cost(reading.chords):
        return lightest[4]
    return None


def _cost(chord: theory.Chord, instrument: theory.Instrument, hand: theory.Hand, small: bool) -> float:
    """What the best place of a chord asks; where there is none, as much as anything does."""
    found = _places(_plain_root(chord), chord.quality, instrument, hand, small)
    return found[0][0] if found else NO_PLACE


NO_PLACE = 12.0


def _plain_root(chord: theory.Chord) -> theory.Note:
    """The root under its commoner name, so that F# and Gb share what was computed."""
    return theory.common_root(chord.root.pitch_class, chord.quality)


def by_readiness(standings: Iterable[SongStanding]) -> tuple[list[SongStanding], list[SongStanding]]:
    """(songs that are ready, songs that are one chord away), each by title; what cannot be read, or rests, is
    neither."""
    ready, near = [], []
    for one in standings:
        if one.ready:
            ready.append(one)
        elif one.code == "lacks" and len(one.lacks) == 1 and not one.rests:
            near.append(one)
    return sorted(ready, key=_title), sorted(near, key=_title)


def _title(standing: SongStanding) -> tuple[str, str]:
    return standing.song.title.casefold(), standing.song.code
