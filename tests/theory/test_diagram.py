"""Chord diagrams and the fretboard strip: what is drawn, where, and what a screen reader gets."""

import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.theory.diagram import describe, diagram_svg, fretboard_svg
from studio.theory.errors import OffNeck, TheoryError
from studio.theory.instrument import INSTRUMENTS
from studio.theory.shapes import SHAPES
from studio.theory.voicing import place

SVG = "{http://www.w3.org/2000/svg}"


def drawn(text):
    """The SVG parsed; raises where it is not well-formed."""
    return ET.fromstring(text)


def by_class(svg, name):
    return [element for element in svg.iter() if name in element.get("class", "").split()]


def everywhere():
    for shape_id, shape in SHAPES.items():
        for root in ("C", "F#", "Bb") if shape.moves else (None,):
            try:
                yield place(shape_id, root, "electric")
            except OffNeck:
                continue


VOICINGS = list(everywhere())
OPTIONS = [
    {},
    {"labels": "notes", "plays": "left"},
    {"labels": "intervals", "tappable": True, "uid": "goal-12"},
    {"labels": "none"},
]


@pytest.mark.parametrize("options", OPTIONS, ids=str)
def test_every_voicing_draws_small_and_clean(options):
    assert len(VOICINGS) > 150
    for voicing in VOICINGS:
        text = diagram_svg(voicing, **options)
        assert len(text.encode()) < 4096, voicing
        svg = drawn(text)
        assert svg.tag == SVG + "svg"
        assert "style" not in text
        for element in svg.iter():
            assert not any(name.startswith("on") for name in element.attrib)
        _, _, width, height = (float(number) for number in svg.get("viewBox").split())
        for circle in svg.iter(SVG + "circle"):
            assert 0 < float(circle.get("cx")) < width
            assert 0 < float(circle.get("cy")) < height


def test_each_string_is_said_once_above_or_on_the_neck():
    for voicing in VOICINGS:
        svg = drawn(diagram_svg(voicing))
        crosses = [e for e in by_class(svg, "mark") if e.tag == SVG + "path"]
        rings = [e for e in by_class(svg, "mark") if e.tag == SVG + "circle"]
        bars = [e for e in by_class(svg, "dot") if e.tag == SVG + "rect"]
        dots = [e for e in by_class(svg, "dot") if e.tag == SVG + "circle"]
        assert len(crosses) == voicing.frets.count(None)
        assert len(rings) == voicing.frets.count(0)
        assert len(bars) == len(voicing.barres)
        held = {barre.finger for barre in voicing.barres}
        assert len(dots) == sum(finger not in held for finger in voicing.pressed)
        assert len(by_class(svg, "root")) == voicing.degrees.count("1")
        assert sorted(e.text for e in by_class(svg, "num")) == [str(f) for f in voicing.pressed]


def test_a_barred_e_shape_at_seven():
    svg = drawn(diagram_svg(place("E-minor", "B")))
    assert not by_class(svg, "nut")
    assert [e.text for e in by_class(svg, "fr")] == ["7"]
    (bar,) = [e for e in by_class(svg, "dot") if e.tag == SVG + "rect"]
    assert (float(bar.get("x")), float(bar.get("width"))) == (19.4, 69.2)  # strings at 24 to 84, half a dot over
    assert float(bar.get("rx")) == float(bar.get("height")) / 2
    number = by_class(svg, "fr")[0]
    assert float(number.get("x")) < 24
    assert abs(float(number.get("y")) - 3.4 - (float(bar.get("y")) + 4.6)) < 0.1  # level with the top row


def test_the_nut_is_thick_only_in_view():
    for voicing in VOICINGS:
        svg = drawn(diagram_svg(voicing))
        in_view = voicing.highest_fret <= 4
        assert bool(by_class(svg, "nut")) == in_view
        assert [e.text for e in by_class(svg, "fr")] == ([] if in_view else [str(voicing.lowest_fret)])


def columns(text):
    svg = drawn(text)
    return sorted((float(e.get("cx")), float(e.get("cy"))) for e in by_class(svg, "dot") if e.tag == SVG + "circle")


def test_left_handed_is_the_mirror_image():
    voicing = place("open-C")
    mirrored = sorted((24 + 84 - x, y) for x, y in columns(diagram_svg(voicing)))
    assert columns(diagram_svg(voicing, plays="left")) == mirrored
    svg = drawn(diagram_svg(place("E-major", "B"), plays="left"))
    assert float(by_class(svg, "fr")[0].get("x")) < 24  # the fret number keeps its side


def test_labels():
    voicing = place("A-dim7", "C")
    svg = drawn(diagram_svg(voicing, labels="notes"))
    assert [e.text for e in by_class(svg, "num")] == ["C", "Gb", "Bbb", "Eb"]
    svg = drawn(diagram_svg(voicing, labels="intervals"))
    assert [e.text for e in by_class(svg, "num")] == ["1", "b5", "bb7", "b3"]
    svg = drawn(diagram_svg(place("open-C"), labels="notes"))
    assert [e.text for e in by_class(svg, "lab")] == ["G", "E"]  # the open strings' names stand above
    assert not by_class(drawn(diagram_svg(voicing, labels="none")), "num")


def test_screen_readers_get_title_and_description():
    voicing = place("A-major-partial", "D")
    svg = drawn(diagram_svg(voicing, uid="a1"))
    title, desc = svg.find(SVG + "title"), svg.find(SVG + "desc")
    assert svg.get("aria-labelledby") == title.get("id") == "a1-t"
    assert svg.get("aria-describedby") == desc.get("id") == "a1-d"
    assert svg.get("role") == "img"
    assert title.text == voicing.title
    assert (
        desc.text
        == describe(voicing)
        == (
            "6th string not played. 5th string fret 5, finger 1, D, root. 4th string fret 7, finger 3, A."
            " 3rd string fret 7, finger 3, D, root. 2nd string fret 7, finger 3, F#. 1st string not played."
            " Finger 3 lies over strings 4 to 2 at fret 7."
        )
    )
    without = diagram_svg(voicing)
    assert " id=" not in without
    assert drawn(without).get("aria-label") == voicing.title


@given(st.text(max_size=60), st.text(max_size=60))
def test_any_title_leaves_the_text_well_formed(title, desc):
    svg = drawn(diagram_svg(place("open-E"), title=title, desc=desc, uid="x"))
    kept = "".join(char for char in " ".join(title.split()) if char.isprintable())
    assert (svg.find(SVG + "title").text or "") == kept


def test_tappable_strings_are_buttons_over_each_string():
    svg = drawn(diagram_svg(place("A-minor", "B"), tappable=True))
    hits = by_class(svg, "hit")
    assert [hit.get("data-string") for hit in hits] == list("654321")
    assert hits[0].get("aria-label") == "6th string"
    assert {(h.get("role"), h.get("tabindex"), h.get("aria-pressed")) for h in hits} == {("button", "0", "false")}
    assert svg.get("role") == "group"
    left = drawn(diagram_svg(place("A-minor", "B"), tappable=True, plays="left"))
    assert float(by_class(left, "hit")[0].get("x")) > float(by_class(left, "hit")[5].get("x"))


@pytest.mark.parametrize(
    "options",
    [{"labels": "colours"}, {"plays": "both"}, {"uid": ""}, {"uid": "1a"}, {"uid": "a b"}, {"uid": 'a"'}, {"uid": 5}],
)
def test_other_options_are_refused(options):
    with pytest.raises(TheoryError):
        diagram_svg(place("open-E"), **options)


def test_seven_strings():
    voicing = place("E-major", "B", INSTRUMENTS["electric"].with_(tuning="B E A D G B E"))
    svg = drawn(diagram_svg(voicing))
    assert len(re.findall("v64", by_class(svg, "wire")[0].get("d"))) == 7
    assert describe(voicing).startswith("7th string not played.")


def test_the_strip_shows_where_roots_lie_up_to_the_last_fret():
    svg = drawn(fretboard_svg("G", 6))
    dots = [float(e.get("cx")) for e in by_class(svg, "dot")]
    assert svg.find(SVG + "desc").text == "G on the 6th string: fret 3, fret 15."
    assert len(dots) == len(by_class(svg, "root")) == 2
    guitar = INSTRUMENTS["steel-string"]
    scale = 600 / guitar.fret_distance(20)
    for fret, x in zip((3, 15), dots, strict=True):  # a dot stands in the space before its fret
        assert 40 + guitar.fret_distance(fret - 1) * scale < x < 40 + guitar.fret_distance(fret) * scale
    assert [e.text for e in by_class(svg, "lab")] == list("EFABCDEFABC")
    assert [e.text for e in by_class(svg, "num")] == ["G", "G"]
    numbers = [e.text for e in by_class(svg, "fr") if "lab" not in e.get("class")]
    assert numbers == ["3", "5", "7", "9", "12", "15", "17", "19"]


def test_a_strip_without_a_root_names_the_strings_notes():
    svg = drawn(fretboard_svg(None, 5))
    assert not by_class(svg, "dot")
    assert svg.find(SVG + "title").text == "Notes on the 5th string"
    assert svg.find(SVG + "desc").text.startswith("open A, B 2, C 3, D 5, E 7")
    assert len(by_class(svg, "lab")) == 13


def test_the_strip_in_a_key_left_handed_and_off_the_neck():
    svg = drawn(fretboard_svg("F#", 5, "classical", key="D", plays="left", uid="s"))
    assert "C#" in [e.text for e in by_class(svg, "lab")]
    assert by_class(svg, "nut")[0].get("d").startswith("M610 ")  # the nut is at the right of a width of 650
    short = INSTRUMENTS["half-size"].with_(capo=10)
    assert "beyond the last fret" in drawn(fretboard_svg("Eb", 6, short)).find(SVG + "desc").text


@given(st.text(max_size=5) | st.none() | st.integers(), st.integers() | st.text(max_size=3), st.text(max_size=9))
def test_bad_input_to_the_strip_raises_theory_errors_only(root, string, instrument):
    for call in (
        lambda: fretboard_svg(root, string),
        lambda: fretboard_svg("C", string, instrument),
        lambda: fretboard_svg("C", 6, key=root),
    ):
        try:
            call()
        except TheoryError:
            continue
