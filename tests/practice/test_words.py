"""Every statement that a computation can make has a sentence, and every sentence gets its values."""

import ast
import datetime as dt
import re
from pathlib import Path

import pytest

from practice import attention, handcare, handrows, measures, models
from practice.said import measured, said
from practice.words import TEMPLATES, say

PRACTICE = Path(models.__file__).parent
MODULES = ["progress", "load", "handcare", "attention", "summary", "suggest", "songbook", "stage", "handreturn"]
MODULES += ["studio_view", "report", "plateau", "trend", "handday", "dayplan", "handanswer", "handshown"]
# what the f-strings in codes stand for
FILLINGS = {
    "advice-": tuple(row.code for row in handrows.ROWS if row.level in handcare.URGENT),
    "advice-see-": (
        *(row.code for row in handrows.ROWS if row.level == handrows.SEE_SOMEONE), handcare.REPEATED,
    ),
    "advice-still-": handcare.URGENT,
    "sign-": handcare.SIGNS,
    "rule-": handcare.RULES,
    "source-": handcare.RULES,
    "attention-tell-": attention.TELLS,
    "measured-": tuple(measures.MEASURES),
    "number-": tuple(code for code in measures.MEASURES if code != "minutes"),
    "help-": tuple(measures.MEASURES),
    "help-hand-": handcare.LEVELS[1:],
    "week-can-": ("landings", "changes", "tempo", "seconds", "right", "runs", "mark"),
    "felt-": ("little", "some", "lot"),
    "place-": ("", *models.HandNote.Place.values),
    "string-": tuple("12345678"),
}


def statements():
    """(module, code, names of its values) of every said(...) call."""
    for module in MODULES:
        tree = ast.parse((PRACTICE / f"{module}.py").read_text())
        for node in ast.walk(tree):
            if not (isinstance(node, ast.Call) and getattr(node.func, "id", "") == "said"):
                continue
            names = {word.arg for word in node.keywords}
            for code in codes(node.args[0]):
                yield module, code, names


def codes(node):
    match node:
        case ast.Constant():
            return [node.value]
        case ast.IfExp():
            return codes(node.body) + codes(node.orelse)
        case ast.JoinedStr():
            start = node.values[0].value
            return [start + filling for filling in FILLINGS[start]]
        case ast.Name():
            return []  # a variable: its codes are the constants tested below
    raise AssertionError(ast.dump(node))


ALL = sorted({(module, code, tuple(sorted(n or "**" for n in names))) for module, code, names in statements()})


def test_the_walk_finds_the_statements():
    assert len(ALL) > 100


@pytest.mark.parametrize(("module", "code", "names"), ALL)
def test_a_statement_has_a_sentence_with_all_it_needs(module, code, names):
    if code == "list":
        return
    assert code in TEMPLATES
    if "**" in names or not names:
        return
    filled = say(said(code, **dict.fromkeys(names, 3)))
    assert filled
    assert "%(" not in filled


@pytest.mark.parametrize(
    "code",
    ["attention-over-this-week", "attention-over-last-week", "week-days", "week-days-so-far", "state-slipped",
     "state-not-met", "state-one-check", "state-met-once"],
)  # fmt: skip
def test_codes_chosen_in_a_variable(code):
    assert code in TEMPLATES


@pytest.mark.parametrize("name", measures.MEASURES)
def test_every_measure_can_be_said(name):
    assert "4" in say(measured(name, 4))
    assert say(measured("clean", 4, of=6)) == "4 of 6 strings"


def test_days_nested_statements_lists_and_plurals():
    day = dt.date(2026, 11, 5)
    assert say(said("attention-past-due", count=1, day=day)) == "1 goal is past due, since 5 November."
    assert "3 goals" in say(said("attention-past-due", count=3, day=day))
    assert say(said("help-listen", name="100 % Ann")) == "Ask 100 % Ann to play you something. Listening is enough."
    both = said("list", items=(said("advice-breaks"), said("advice-posture")))
    assert say(both) == f"{say(said('advice-breaks'))} {say(said('advice-posture'))}"
    assert say(None) == ""


def test_hand_advice_names_no_condition():
    # never diagnose: words of conditions must not come up in any sentence
    conditions = "tendon|carpal|arthri|syndrome|strain injury|rsi|sprain|dystonia|neuro|inflamm"
    for code, template in TEMPLATES.items():
        assert not re.search(conditions, str(getattr(template, "_kwargs", {}).get("plural", template)), re.I), code
