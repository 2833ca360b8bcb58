"""The theory core at length: anything typed, and thousands of random grips against music21.

`ROUNDS=0.1` makes a tenth of the rounds, as `.ci/run` does.
"""

import pytest
from hypothesis import given, settings

from tests.outside.test_naming import check
from tests.theory.test_bad_input import CASES, answers_or_says_why

pytestmark = pytest.mark.soak


def test_anything_typed_is_answered_or_refused_in_words(rounds):
    @settings(max_examples=rounds(20_000), deadline=None)
    @given(CASES)
    def run(case):
        answers_or_says_why(case)

    run()


def test_what_music21_hears_is_among_the_readings_of_thousands(rounds):
    """Source: music21; the rule, its spellings and the list of disagreements stand in tests/outside/test_naming.py."""
    check(rounds(5_000), seed=2005)
