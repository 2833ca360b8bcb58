"""A song's chords as typed, and what the song asks of one student: reading, what sounds, what is missing, the capo."""

from dataclasses import replace

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from practice import suggest
from practice.example_songs import SONGS
from practice.songbook import (
    HIGHEST_CAPO,
    Known,
    SongFacts,
    by_readiness,
    key_of,
    lacking,
    pair_of,
    read_song,
    stands,
    transposed,
)
from practice.words import say
from studio import theory
from tests.practice.plain import TODAY, facts, note
from tests.practice.test_suggest import BARRE_5, done, opened

STEEL = theory.INSTRUMENTS["steel-string"]
HAND = theory.Hand()
OPEN = ("Em", "A", "D", "G", "E", "Am", "C", "Dm")


def known(*symbols: str, shapes: tuple[str, ...] = (), small: bool = False) -> Known:
    return Known(frozenset(pair_of(theory.read_chord(symbol)) for symbol in symbols), frozenset(shapes), small)


def standing(chords: str, has: Known, key: str = "", capo: int = 0, neck: theory.Instrument = STEEL):
    return stands(SongFacts("Song", chords, key, capo), has, neck, HAND)


# -- reading ------------------------------------------------------------------------------------------------------


# as typed, key, chords as fingered
@pytest.mark.parametrize(
    ("text", "key", "symbols"),
    [
        ("G C D Em", "", "G C D Em"),
        ("| G  C | D, Em; C |", "", "G C D Em"),
        ("G-C-D", "", "G C D"),
        ("G – Bm — D → A", "", "G Bm D A"),
        ("I vi IV V", "G", "G Em C D"),
        ("I-bVII-IV", "D", "D C G"),
        ("i bVI bIII bVII", "C# minor", "C#m A E B"),
        ("V7/V V7 I", "D", "E7 A7 D"),
        ("Verse: G C\nChorus 2: D", "", "G C D"),
        ("A: G C\nB: D", "", "G C D"),
        ("Bridge\u00a0one: Em", "", "Em"),
        ("||: G / / / | % | C x2 :|| N.C. (D)", "", "G C D"),
        ("B- Am7-5 F#:min7 C:maj7", "", "Bm Am7b5 F#m7 Cmaj7"),
        ("C(add9) (Am)", "", "Cadd9 Am"),
        ("D/F# Am/G", "", "D/F# Am/G"),
        ("N.C. | N | / /", "", ""),
        ("", "", ""),
    ],
)
def test_chords_as_people_type_them(text, key, symbols):
    reading = read_song(text, key)
    assert " ".join(reading.symbols) == symbols
    assert reading.unread == ()


# as typed, key, the word, the character at which reading stops, line and column for a reader
@pytest.mark.parametrize(
    ("text", "key", "word", "at", "place"),
    [
        ("G Hm D", "", "Hm", 2, (1, 3)),
        ("G D7x", "", "D7x", 4, (1, 5)),
        ("G C\nVerse Am", "", "Verse", 4, (2, 1)),
        ("I IV V", "", "I", 0, (1, 1)),  # no key to count from
        ("G (Zm) D", "", "Zm", 3, (1, 4)),
        ("G\n\n | C D/ |", "", "D/", 10, (3, 8)),
        ("G " + "C" * 60, "", "C" * 60, 42, (1, 43)),
        ("I VIII", "C", "VIII", 5, (1, 6)),
    ],
)
def test_what_cannot_be_read_is_named_with_its_place(text, key, word, at, place):
    first = read_song(text, key).unread[0]
    assert (first.word, first.at) == (word, at)
    assert text[first.start :].startswith(word)
    assert first.line_and_column(text) == place
    assert str(first.why)


def test_the_rest_of_a_song_is_read_all_the_same():
    assert read_song("G Hm D").symbols == ("G", "D")


@given(st.text(max_size=60), st.sampled_from(["", "G", "A minor", "no key"]), st.integers(0, 12))
def test_whatever_is_typed_is_read_or_told(text, key, capo):
    reading = read_song(text, key, capo)
    for one in reading.unread:
        assert text[one.start : one.start + len(one.word)] == one.word
        assert one.start <= one.at <= one.start + len(one.word)
        assert one.line_and_column(text) >= (1, 1)
    assert len(reading.heard) == (len(reading.chords) if capo else 0)
    said = stands(SongFacts("x", text, key, capo), known("G", "C"), STEEL, HAND, way_out=False)
    assert say(said.says)


# -- what sounds --------------------------------------------------------------------------------------------------


# as fingered, key, capo, what sounds
@pytest.mark.parametrize(
    ("text", "key", "capo", "heard"),
    [
        ("G C D Em", "G", 3, "Bb Eb F Gm"),  # issue 5
        ("G C D Em", "", 3, "Bb Eb F Gm"),
        ("D A Bm G", "D", 2, "E B C#m A"),
        ("C F G", "C", 1, "Db Gb Ab"),
        ("Am E7", "A minor", 4, "C#m G#7"),
        ("D/F# G", "D", 5, "G/B C"),
    ],
)
def test_chords_sound_higher_with_a_capo(text, key, capo, heard):
    assert " ".join(read_song(text, key, capo).heard_symbols) == heard


@pytest.mark.parametrize("capo", range(1, 13))
@pytest.mark.parametrize("text", ["G C D Em", "Am F C G7", "E B7 A C#m", "D/F# Bm7 Gmaj7 A7sus4"])
def test_what_sounds_is_what_music21_transposes(text, capo):
    """Source: music21, `ChordSymbol.transpose`, by pitch classes."""
    reading = read_song(text, "", capo)
    for fingered, heard in zip(reading.chords, reading.heard, strict=True):
        figure = fingered.symbol.replace("b", "-")
        moved = music21.harmony.ChordSymbol(figure).transpose(capo)
        own = set(heard.pitch_classes) | ({heard.bass.pitch_class} if heard.bass else set())
        assert {pitch.pitchClass for pitch in moved.pitches} == own, (fingered, heard)
        assert moved.root().pitchClass == heard.root.pitch_class


@given(st.sampled_from(["G", "C#m", "Bbmaj7", "F#m7b5", "D/F#", "Am7/C"]), st.integers(-12, 12), st.integers(-12, 12))
def test_moving_twice_is_moving_once(symbol, one, other):
    chord = theory.read_chord(symbol)
    both, once = transposed(transposed(chord, one), other), transposed(chord, one + other)
    assert pair_of(both) == pair_of(once)
    bass = [None if found.bass is None else found.bass.pitch_class for found in (both, once)]
    assert bass[0] == bass[1]


def test_a_key_that_names_none_is_no_error():
    assert key_of("H major") is key_of("") is key_of("  ") is None


# -- what is missing ----------------------------------------------------------------------------------------------


# chords, what it says
@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("G C D", "ready"),
        ("A D E F#m", "lacks F#m (E-shape minor at 2)"),  # issue 5
        ("G F", "lacks F (E-shape major at 1)"),
        ("Bm G F#m", "lacks Bm (A-shape minor at 2), F#m (E-shape minor at 2)"),
        ("B7 E A", "lacks B7 (open)"),
        ("D/F# G", "ready"),  # the bass may be left out
        ("C7b5 G", "no shape gives C7b5 on this guitar"),
        ("C7b5 G F", "no shape gives C7b5 on this guitar; lacks F (E-shape major at 1)"),
        ("G Hm", "not known: Hm cannot be read"),
        ("N.C.", "ready: it asks for no chord"),
    ],
)
def test_where_a_student_stands(text, words):
    assert say(standing(text, known(*OPEN)).says) == words


def test_a_shape_that_is_secure_elsewhere_is_named_first():
    assert say(standing("Bm", known()).says) == "lacks Bm (A-shape minor at 2)"
    lack = standing("Bm", known(shapes=("E-minor",))).lacks[0]
    assert (lack.words, lack.again) == ("Bm (E-shape minor at 7)", True)


def test_small_forms_are_for_whoever_plays_them():
    child = theory.INSTRUMENTS["three-quarter"]
    assert standing("G", known(small=True), neck=child).lacks[0].voicing.shape == "small-G"
    assert standing("G", known(), neck=child).lacks[0].voicing.shape == "open-G"


def test_a_tuning_without_the_shape_says_so():
    odd = STEEL.with_(tuning=theory.read_tuning("C2 C3 C3 C3 C4 C4"))
    found = standing("G C", known(), neck=odd)
    assert found.code == "no-shape"
    assert "no shape gives" in say(found.says)


def test_a_capo_that_the_neck_cannot_have_is_no_error():
    short = STEEL.with_(frets=12)
    found = standing("G F", known("G"), capo=12, neck=short)
    assert found.code in ("lacks", "no-shape")
    assert say(found.says)


def test_known_chords_are_those_of_the_log():
    student = facts(goals=opened(done(*BARRE_5)))
    has = suggest.in_hand(student, TODAY)
    assert say(stands(SongFacts("s", "A D E F#m"), has, student.instrument, student.hand).says).startswith("lacks F#m")
    learned = facts(goals=opened(done(*BARRE_5), done("E-minor", "F#", 2)))
    has = suggest.in_hand(learned, TODAY)
    assert stands(SongFacts("s", "A D E F#m"), has, learned.instrument, learned.hand).ready


def test_a_song_with_a_chord_that_rests_today_is_not_ready():
    """F#m as a barre rests, and with it the song; what is known in another way as well is played in that one."""
    learned = facts(goals=opened(done(*BARRE_5), done("E-minor", "F#", 2)))

    def stands_today(text, **over):
        student = replace(learned, **over)
        return stands(SongFacts("s", text), suggest.in_hand(student, TODAY), student.instrument, student.hand)

    hurt = {"notes": (note(TODAY, 5),)}
    assert stands_today("D A D E F#m").ready
    resting = stands_today("D A D E F#m", **hurt)
    assert (resting.code, resting.ready, say(resting.says)) == ("rests", False, "every chord known; waits for now")
    assert stands_today("D A E", **hurt).ready  # A is an open chord, too
    assert stands_today("D A D E F#m", **hurt, hand_consent=False).ready
    stopped = {"notes": (note(TODAY, 8),)}
    assert stands_today("D A E", **stopped).code == "rests"
    # what is one flat chord away is not told as the next one either
    near = by_readiness([stands_today("D A Bm")])[1]
    assert [one.song.title for one in near] == ["s"]
    assert by_readiness([stands_today("D A Bm", **hurt)]) == ([], [])
    lacking = stands_today("D A Bm", **hurt)
    assert (lacking.rests, lacking.way) == (True, None)


# -- the capo as a way out ------------------------------------------------------------------------------------------


# chords, key, capo, the way out
@pytest.mark.parametrize(
    ("text", "key", "capo", "words"),
    [
        ("A D E F#m", "A", 0, "With the capo at 2 it is G C D Em: every chord known."),
        ("Bb Eb F Gm", "Bb", 0, "With the capo at 3 it is G C D Em: every chord known."),
        ("Eb Ab Bb", "Eb", 0, "With the capo at 1 it is D G A: every chord known."),
        ("G C D", "G", 5, "Without a capo it is C F G: every chord known."),
        ("G C D", "G", 0, ""),
    ],
)
def test_the_capo_with_which_every_chord_is_known(text, key, capo, words):
    has = known("C", "F", "G") if capo else known(*OPEN)
    assert say(standing(text, has, key, capo).way_says) == words


songs = st.builds(
    SongFacts,
    title=st.just("Song"),
    chords=st.lists(
        st.sampled_from(["G", "C", "D", "Em", "Am", "F", "Bb", "Eb", "F#m", "C#m", "B7", "A7", "G#m", "Cdim"]),
        min_size=1, max_size=5,
    ).map(" ".join),
    key=st.just(""),
    capo=st.integers(0, 7),
)  # fmt: skip


@given(songs, st.sets(st.sampled_from([*OPEN, "F", "Bm", "B7", "A7"])))
def test_a_way_out_sounds_the_same_and_never_asks_for_more(song, symbols):
    has = known(*symbols)
    found = stands(song, has, STEEL, HAND)
    way = found.way
    if found.ready:
        assert way is None
        return
    least = min(
        len({pair_of(transposed(chord, song.capo - capo)) for chord in found.reading.chords} - has.pairs)
        for capo in range(HIGHEST_CAPO + 1)
    )
    if way is None:
        assert least >= len(found.lacks)
        return
    assert way.capo != song.capo
    sounding = [(chord.root.pitch_class + song.capo) % 12 for chord in found.reading.chords]
    assert [(chord.root.pitch_class + way.capo) % 12 for chord in way.chords] == sounding
    assert [chord.quality for chord in way.chords] == [chord.quality for chord in found.reading.chords]
    assert len(way.lacks) == least <= len(found.lacks)
    assert {pair_of(chord) for chord in way.lacks} == {pair_of(chord) for chord in way.chords} - has.pairs
    assert way.lighter == (len(way.lacks) == len(found.lacks))
    assert say(found.way_says)


@given(songs, st.sets(st.sampled_from(OPEN)), st.sampled_from([*OPEN, "F", "Bb"]))
def test_one_chord_more_never_lacks_more(song, symbols, learned):
    before, after = (lacking(song, known(*one)) for one in (symbols, symbols | {learned}))
    assert set(after) <= set(before)
    assert len(before) - len(after) <= 1


# -- the example studio's books -----------------------------------------------------------------------------------


def test_the_invented_songs_are_read_whole():
    assert len(SONGS) >= 24
    assert len({song.title for song in SONGS}) == len(SONGS)
    assert len({song.key for song in SONGS}) >= 8
    assert sum(song.capo > 0 for song in SONGS) >= 2
    for song in SONGS:
        reading = read_song(song.chords, song.key, song.capo)
        assert reading.unread == (), song.title
        home = key_of(song.key)
        assert home is not None, song.title
        # most stand on degrees of the key, sevenths of a blues too
        scale = {note.pitch_class for note in home.scale}
        own = sum(chord.root.pitch_class in scale for chord in reading.chords)
        assert own >= len(reading.chords) / 2, song.title


def test_ready_ones_and_those_one_chord_away_by_title():
    book = (("b", "G"), ("A", "C"), ("d", "F"), ("e", "F Bb"), ("f", "Hm"), ("g", "C7b5"))
    found = [stands(SongFacts(title, chords), known(*OPEN), STEEL, HAND, way_out=False) for title, chords in book]
    ready, near = by_readiness(found)
    assert [one.song.title for one in ready] == ["A", "b"]
    assert [one.song.title for one in near] == ["d"]
