"""Reference tones and the metronome's grid, against published frequencies and music21's metres and tempos."""

import doctest
from itertools import pairwise

import pytest
from django.template.loader import render_to_string
from music21 import meter, tempo
from music21 import pitch as m21pitch

from practice import sound
from practice.goal_terms import METRES
from studio import theory
from studio.theory import INSTRUMENTS, TheoryError
from tests.factory import NOW, make_goal

STEEL = INSTRUMENTS["steel-string"]

# Standard tuning, 6th to 1st string, Hz with A4 = 440 Hz (published, ISO 16)
ISO_16 = (82.407, 110.000, 146.832, 195.998, 246.942, 329.628)


def test_standard_tuning_sounds_the_published_frequencies():
    strings = sound.open_strings(STEEL)
    assert [string.number for string in strings] == [6, 5, 4, 3, 2, 1]
    assert [string.note for string in strings] == ["E2", "A2", "D3", "G3", "B3", "E4"]
    assert [string.hz for string in strings] == pytest.approx(ISO_16, abs=0.0006)


@pytest.mark.parametrize("capo", range(1, 13))
def test_a_capo_raises_every_string_by_its_half_steps(capo):
    """Twelve equal steps to the octave (published, ISO 16): each fret multiplies by 2 ** (1 / 12)."""
    strings = sound.open_strings(STEEL.with_(capo=capo))
    assert [string.hz for string in strings] == pytest.approx([f * 2 ** (capo / 12) for f in ISO_16], rel=1e-5)


# tuning, capo, notes from the lowest string as they sound (derived by counting half steps)
TUNED = [
    ("D A D G B E", 0, "D2 A2 D3 G3 B3 E4"),
    ("D A D G A D", 0, "D2 A2 D3 G3 A3 D4"),
    ("Eb Ab Db Gb Bb Eb", 0, "Eb2 Ab2 Db3 Gb3 Bb3 Eb4"),
    ("E A D G B E", 2, "F#2 B2 E3 A3 C#4 F#4"),
    ("E A D G B E", 3, "G2 C3 F3 Bb3 D4 G4"),
    ("D A D G A D", 2, "E2 B2 E3 A3 B3 E4"),
    ("B E A D G B E", 0, "B1 E2 A2 D3 G3 B3 E4"),
]


@pytest.mark.parametrize(("tuning", "capo", "notes"), TUNED)
def test_own_tuning_and_capo(tuning, capo, notes):
    strings = sound.open_strings(STEEL.with_(tuning=tuning, capo=capo))
    assert [string.note for string in strings] == notes.split()
    for string in strings:
        # music21 as outside reference for a note's frequency ("-" is its flat)
        assert string.hz == pytest.approx(m21pitch.Pitch(string.note.replace("b", "-")).frequency, rel=1e-6)


def metres():
    # 3/8 and 3/16 are counted in three here and in one by music21 (both are done; common practice, no source)
    pairs = [(upper, lower) for upper in range(2, 20) for lower in (2, 4, 8, 16)]
    return [f"{upper}/{lower}" for upper, lower in pairs if (upper, lower) not in {(3, 8), (3, 16)}]


@pytest.mark.parametrize("metre", metres())
def test_beats_of_a_bar_are_music21s(metre):
    theirs = meter.TimeSignature(metre)
    ours = sound.read_metre(metre)
    assert ours.beats == theirs.beatCount
    assert (ours.parts == 3) is (theirs.beatDivisionCountName == "Compound")


# bpm, metre, how long the metre's own beat is in quarter notes (music21's referent)
@pytest.mark.parametrize(
    ("bpm", "metre"), [(60, "4/4"), (72, "3/4"), (30, "2/4"), (240, "5/4"), (97, "6/8"), (144, "12/8")]
)
def test_beats_fall_where_music21_puts_them(bpm, metre):
    signature = meter.TimeSignature(metre)
    beat = signature.beatDuration.quarterLength
    mark = tempo.MetronomeMark(number=bpm, referent=beat)
    clicks = sound.clicks(bpm, metre, 60, parts=1)
    assert len(clicks) == bpm  # so many beats in a minute, by the meaning of the number
    for index, click in enumerate(clicks):
        assert click.at == pytest.approx(mark.durationToSeconds(index * beat), abs=1e-9)
        assert (click.bar, click.beat) == divmod(index, signature.beatCount)


@pytest.mark.parametrize("parts", [1, 2, 3, 4])
def test_parts_divide_the_beat_evenly(parts):
    clicks = sound.clicks(75, "3/4", 12, parts=parts)
    assert len(clicks) == 15 * parts
    gaps = [b.at - a.at for a, b in pairwise(clicks)]
    assert gaps == pytest.approx([0.8 / parts] * len(gaps))
    assert [click.part for click in clicks] == [*range(parts)] * 15


def test_six_eight_sounds_six_eighths_stressed_on_one_and_four():
    bar = [click for click in sound.clicks(40, "6/8", 3) if click.bar == 0]
    assert [click.at for click in bar] == pytest.approx([0, 0.5, 1, 1.5, 2, 2.5])
    assert [number for number, click in enumerate(bar, 1) if click.part == 0] == [1, 4]


@pytest.mark.parametrize(("metre", "beats"), [("4/4", 4), ("5/4", 5), ("6/8", 2)])
def test_the_count_in_is_one_bar_before_the_first_beat(metre, beats):
    clicks = sound.clicks(60, metre, 5, parts=1, count_in=True)
    assert [click.at for click in clicks[: beats + 1]] == pytest.approx([*range(-beats, 1)])
    assert {click.bar for click in clicks[:beats]} == {-1}
    assert (clicks[beats].bar, clicks[beats].beat) == (0, 0)


@pytest.mark.parametrize("metre", ["", "4", "0/4", "20/4", "4/3", "4/4 ", "four", None, 4, ("4/4",)])
def test_what_is_no_metre_is_refused_by_name(metre):
    with pytest.raises(TheoryError, match="A metre is written like"):
        sound.read_metre(metre)


@pytest.mark.parametrize(
    "wrong",
    [{"bpm": 29}, {"bpm": 241}, {"bpm": float("nan")}, {"bpm": True}, {"parts": 0}, {"parts": 5}, {"seconds": -1}],
)
def test_what_no_metronome_plays_is_refused_by_name(wrong):
    given = {"bpm": 60, "metre": "4/4", "seconds": 1} | wrong
    with pytest.raises(TheoryError, match=f"{next(iter(wrong))} lies between"):
        sound.clicks(**given)


def test_every_metre_a_goal_may_have_can_be_chosen():
    page = render_to_string("practice/_metronome.html")
    for metre in METRES:
        assert f'value="{metre}"' in page


def test_the_tones_stand_on_the_page_with_note_string_and_frequency():
    strings = sound.open_strings(STEEL.with_(capo=2))
    page = render_to_string("practice/_tune.html", {"strings": strings, "capo": 2})
    assert page.count("data-hz=") == 6
    assert 'data-hz="92.499"' in page
    assert 'aria-label="F#2, 6th string"' in page
    assert "capo at fret 2" in page


def test_the_examples_hold():
    found = doctest.testmod(sound)
    assert found.attempted > 0
    assert found.failed == 0


# -- on the student's page


@pytest.fixture
def cast(cast, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    return cast


def page_of(cast):
    return cast.client("student").get(f"/s/{cast.student.code}/").content.decode()


def item(page, goal):
    """The opening tag of the goal's item."""
    return page.split(f'<li class="goal" data-goal="{goal.code}"')[1].split(">")[0]


def test_a_progression_brings_its_tempo_metre_and_chords_as_fingered(cast):
    terms = theory.Goal(
        kind="progression", key="G", numerals=("I", "vi", "IV", "V"), shapes=("open-G", "open-Em", "open-C", "open-D"),
        metre="6/8", beats_per_chord=2, capo=2,
    ).to_terms()  # fmt: skip
    goal = make_goal(cast.student, kind="progression", measure="tempo", target=64, terms=terms)
    tag = item(page_of(cast), goal)
    # common practice, no source: I vi IV V in G major
    assert 'data-chords="G Em C D "' in tag
    for said in ('data-tempo="64"', 'data-metre="6/8"', 'data-beats="2"'):
        assert said in tag


def test_a_change_brings_its_two_chords_and_no_tempo(cast):
    chords = (theory.ChordTerm("E-minor", "B"), theory.ChordTerm("A-minor", "D"))
    terms = theory.Goal(kind="change", chords=chords).to_terms()
    goal = make_goal(cast.student, kind="change", measure="changes", target=36, terms=terms)
    tag = item(page_of(cast), goal)
    assert 'data-chords="Bm Dm "' in tag
    assert "data-tempo" not in tag
    assert "data-metre" not in tag


def test_a_piece_brings_its_tempo_alone_and_a_chord_nothing(cast):
    piece = theory.Goal(kind="piece", title="Study in A minor").to_terms()
    played = make_goal(cast.student, kind="piece", measure="tempo", target=97, terms=piece)
    held = make_goal(cast.student)
    page = page_of(cast)
    assert 'data-tempo="97"' in item(page, played)
    assert "data-chords" not in item(page, played)
    assert "data-tempo" not in item(page, held)
    assert "data-chords" not in item(page, held)


def test_the_page_tunes_the_students_own_guitar(cast):
    assert page_of(cast).count("data-hz=") == 6
    assert 'data-hz="82.407"' in page_of(cast)
    cast.student.tuning, cast.student.capo = "D A D G A D", 2
    cast.student.save()
    page = page_of(cast)
    assert 'aria-label="E2, 6th string"' in page
    assert 'aria-label="B3, 2nd string"' in page
    assert "capo at fret 2" in page
