"""A song for the page: its chords as fingered and as heard, where they live, and what could not be read."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from practice.display import number_text
from practice.songbook import Reading, SongFacts, Unread, key_of, moved_key, place_of, read_song
from practice.songs_core import song_level
from studio import theory

MOST_DIAGRAMS = 12


@dataclass(frozen=True)
class UnreadRow:
    """A place that cannot be read: line and character counted from 1, and why."""

    word: str
    line: int
    character: int
    why: str


@dataclass(frozen=True)
class SongLook:
    """What the page shows. pieces: (typed text, whether it cannot be read), in order; voicings: the usual places of the
    chords on a steel-string guitar; heard_key: as it sounds, "" where no capo changes it or no key is given."""

    song: SongFacts
    reading: Reading
    pieces: tuple[tuple[str, bool], ...]
    unread: tuple[UnreadRow, ...]
    voicings: tuple[theory.Voicing, ...]
    heard_key: str
    level: str

    @property
    def basses(self) -> bool:
        """Whether a bass note stands behind a stroke somewhere."""
        return any(chord.bass is not None for chord in self.reading.chords)

    @property
    def fingered(self) -> str:
        return " ".join(self.reading.symbols)

    @property
    def heard(self) -> str:
        return " ".join(self.reading.heard_symbols)


def look_at_song(song: SongFacts, diagrams: bool = True) -> SongLook:
    reading = read_song(song.chords, song.key, song.capo)
    pieces, at = [], 0
    for one in reading.unread:
        end = one.start + len(one.word)
        pieces += [(song.chords[at : one.start], False), (song.chords[one.start : end], True)]
        at = end
    pieces.append((song.chords[at:], False))
    voicings = [place_of(chord, song.capo) for chord in reading.chords[:MOST_DIAGRAMS]] if diagrams else []
    home = key_of(song.key)
    moved = moved_key(home, song.capo)
    return SongLook(
        song=song,
        reading=reading,
        pieces=tuple(piece for piece in pieces if piece[0]),
        unread=tuple(_unread_row(one, song.chords) for one in reading.unread),
        voicings=tuple(voicing for voicing in voicings if voicing),
        heard_key=str(moved) if moved is not None and moved != home else "",
        level=number_text(song_level(reading.symbols)),
    )


def _unread_row(one: Unread, text: str) -> UnreadRow:
    line, character = one.line_and_column(text)
    return UnreadRow(one.word, line, character, _(one.why.template).format(**one.why.values))
