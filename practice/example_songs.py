"""The song books of the example studio's two teachers. Titles and songs are invented; the progressions are everyday
ones, as fingered [common practice, no source]. A fixed list: nothing here is drawn.
"""

from typing import NamedTuple

__all__ = ["SONGS", "ExampleSong"]


class ExampleSong(NamedTuple):
    """whose: which books hold it, of "owner" and "second"; the rest as in practice.models.Song."""

    title: str
    key: str
    capo: int
    chords: str
    level: str
    tags: str
    whose: tuple[str, ...] = ("owner", "second")


OWNERS = ("owner",)
SECONDS = ("second",)

SONGS: tuple[ExampleSong, ...] = (
    ExampleSong("Two Buckets to the Well", "G", 0, "G | C | G | C", "1", "children, two chords"),
    ExampleSong("Nettle Soup on Thursday", "C", 0, "C | C | G7 | C", "1", "children, two chords", OWNERS),
    ExampleSong("Grandmother’s Yellow Tram", "D", 0, "D A | D A", "1", "two chords"),
    ExampleSong("The Heron Keeps the Time", "E minor", 0, "Em | D | Em | D", "1", "two chords, slow", SECONDS),
    ExampleSong("Kettle Lane, No. 9", "G", 0, "Verse: G C | D G\nChorus: C D | G G", "2", "three chords"),
    ExampleSong("Ninepenny Bridge", "D", 0, "D G A D", "2", "three chords, folk"),
    ExampleSong("Ferryman’s Second Coat", "A", 0, "A D | E A", "2", "three chords, folk", OWNERS),
    ExampleSong("Moss on the Milestone", "A minor", 0, "Am G | Am Em | Am", "2", "slow"),
    ExampleSong("Paper Boats before Noon", "G", 3, "G C D Em", "2", "capo, singing"),
    ExampleSong("Harbour Clerk’s Holiday", "C", 0, "I vi IV V", "3", "numerals, singing"),
    ExampleSong("Corduroy Weather", "G", 0, "G D | Em C", "2", "singing"),
    ExampleSong("Letters to the Lock-keeper", "D", 2, "D A | Bm G", "3", "capo, barre"),
    ExampleSong("Quince and Candle", "A minor", 0, "Am F | C G", "3", "barre, singing"),
    ExampleSong("Salt Road Rondo", "E minor", 0, "Em C | G D/F#", "3", "bass notes", SECONDS),
    ExampleSong("Tin Roof Serenade", "A", 0, "A F#m | D E", "3", "barre"),
    ExampleSong("Blackthorn Ferry", "B minor", 0, "Bm G | D A | Bm G | F#", "4", "barre, minor", SECONDS),
    ExampleSong("Half a Mile of Rope", "D", 0, "I bVII IV I", "3", "numerals, loud"),
    ExampleSong("Cellar Door Shuffle", "E", 0, "E7 | A7 | E7 | B7 A7", "3", "sevenths, twelve bars"),
    ExampleSong("Slow Train past Ashcombe", "A", 0, "A7 | D7 | A7 | E7", "3", "sevenths, twelve bars", OWNERS),
    ExampleSong("Orchard after the Fair", "F", 0, "F Dm | Bb C7", "4", "barre, sevenths", OWNERS),
    ExampleSong("Umbrella Samba", "C", 0, "Cmaj7 Am7 | Dm7 G7", "4", "sevenths, samba", SECONDS),
    ExampleSong("The Cartographer’s Cat", "Bb", 0, "Bb Gm | Eb F", "5", "barre", SECONDS),
    ExampleSong("Lamplighter’s Arithmetic", "E", 0, "E C#m | A B", "5", "barre"),
    ExampleSong("Winter Swimming Club", "C# minor", 0, "i bVI bIII bVII", "5", "numerals, barre, minor", SECONDS),
    ExampleSong("Ladder to the Weathercock", "G", 0, "G B7 | Em C | Am D7", "4", "sevenths", OWNERS),
    ExampleSong("Eleven Geese and a Postman", "D", 0, "D Gdim7 | Em7 A7sus4 A7", "5", "sevenths, odd chords", OWNERS),
)
