"""Load arithmetic against worked values from outside, each with its source and mark."""

import pytest

from practice.load import ewma, ewma_ratio, monotony, rolling_ratio, strain

# 21 days of 30, then 7 of 50
LOADS = [30.0] * 21 + [50.0] * 7


def test_ewma_of_the_first_fictitious_athlete():
    # Williams et al., Br J Sports Med 2017;51:209: ratio 1.25, read to two decimals (published). The figures
    # to four decimals are derived from the paper's formula.
    assert ewma(LOADS, 7)[-1] == pytest.approx(47.3303, abs=5e-5)
    assert ewma(LOADS, 28)[-1] == pytest.approx(37.8720, abs=5e-5)
    assert ewma_ratio(LOADS) == pytest.approx(1.2497, abs=5e-5)
    assert round(ewma_ratio(LOADS), 2) == 1.25


def test_rolling_ratios_of_the_same_athlete():
    # the same paper: 1.43 (published); 1.4286 coupled and 1.6667 uncoupled (derived)
    assert rolling_ratio(LOADS) == pytest.approx(1.4286, abs=5e-5)
    assert round(rolling_ratio(LOADS), 2) == 1.43
    assert rolling_ratio(LOADS, coupled=False) == pytest.approx(1.6667, abs=5e-5)


def test_monotony_and_strain():
    # formulas: Foster, Med Sci Sports Exerc 1998;30:1164 (published); the worked week is derived from them
    week = [300, 0, 240, 180, 0, 320, 210]
    assert sum(week) == 1250
    assert monotony(week) == pytest.approx(1.361, abs=5e-4)
    assert strain(week) == pytest.approx(1701.3, abs=0.05)


def test_ewma_agrees_with_pandas():
    # pandas' exponentially weighted mean of span N, adjust=False, begins with the first value too (its
    # documents)
    pandas = pytest.importorskip("pandas")
    loads = [float((n * 37) % 101) for n in range(90)]
    for days in (7, 28):
        wanted = pandas.Series(loads).ewm(span=days, adjust=False).mean()
        assert ewma(loads, days) == pytest.approx(tuple(wanted))
