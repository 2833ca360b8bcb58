"""studio/docs/hand-care.md lists every text about a hand as users read it, with its rule, source and mark."""

import re

import pytest

from practice import handcare, handrows
from practice.hand_words import ANSWER, HAND, SIGNS, TICKED
from practice.words import TEMPLATES
from tests.practice import hand_texts

WRITTEN = hand_texts.DOCUMENT.read_text("utf-8")


def test_the_page_is_what_the_words_say():
    assert hand_texts.document() == WRITTEN, "run .venv/bin/python -m tests.practice.hand_texts"


def pieces(code):
    """The text of a template between its values, in the plural where it has one."""
    template = TEMPLATES[code]
    text = str(getattr(template, "_kwargs", {}).get("plural", template))
    return [piece.strip() for piece in re.split(r"%\(\w+\)s", text) if len(piece.strip()) > 2]


@pytest.mark.parametrize(
    "code",
    [*HAND, *ANSWER, *SIGNS, *(code for code in TEMPLATES if code.startswith("return-")), "load-jump", "help-hand-skin",
     *(f"help-hand-{level}" for level in handrows.LEVELS[1:]),
     *(code for code in TEMPLATES if code.startswith(("attention-hand", "attention-tell"))), "hand-felt",
     "hand-comfortable", "hand-newer", "hand-no-note"],
)  # fmt: skip
def test_no_text_about_a_hand_is_left_out(code):
    for piece in pieces(code):
        assert piece in WRITTEN, code


def test_what_is_asked_is_there():
    for text in TICKED.values():
        assert str(text) in WRITTEN


def test_every_rule_has_its_answer_source_and_mark():
    assert set(hand_texts.MARKS) == set(handcare.RULES)
    for rule in handcare.RULES:
        part = WRITTEN.split(f"**{HAND[f'rule-{rule}']}**")[1].split("**The rule")[0]
        assert "\n> " in part
        assert "Source: " in part
        assert "Mark: " in part


@pytest.mark.parametrize(("template", "text", "_where"), hand_texts.PAGE_TEXTS)
def test_what_stands_on_a_page_stands_there(template, text, _where):
    assert text in (hand_texts.ROOT / "templates" / template).read_text("utf-8")


def test_it_names_no_condition_and_defers_to_care():
    assert not re.search(r"tendon|carpal|arthri|syndrome|strain injury|\brsi\b|sprain|dystonia|inflamm", WRITTEN, re.I)
    for rule in handcare.SIGNS:
        part = WRITTEN.split(f"**{HAND[f'rule-{rule}']}**")[1].split("**The rule")[0]
        assert re.search("doctor or (a )?hand therapist|clinician who knows musicians", part)


def test_nothing_speaks_in_alarm():
    """No exclamation mark, no capitals for shouting, none of the words that make people afraid."""
    assert "!" not in WRITTEN
    assert not re.search(r"\b(danger|injur\w+|damage\w*|serious|severe|warning|permanent)\b", WRITTEN, re.I)
