"""Speed of the term report: composing, drawing its figures, and typst's part (`-m bench -s`). Nothing is asserted."""

import statistics
from time import perf_counter

import pytest

from practice.report import compose_term
from practice.report_charts import figures_of
from practice.report_pdf import term_pdf
from tests.practice.plain import TODAY, ago, entry, facts, goal, mark

pytestmark = pytest.mark.bench

ROUNDS = 15


def test_a_term_report_by_its_parts() -> None:
    """A student with five years behind them: 1,500 entries, twelve goals of 100 tries each; a term of 13 weeks."""
    goals = tuple(
        goal(code=f"g{number}", title=f"Goal {number}", set_on=ago(1800),
             marks=tuple(mark(ago(back), 3 + back % 4, back % 7 == 0) for back in range(600, 0, -6)))
        for number in range(12)
    )  # fmt: skip
    student = facts(goals=goals, entries=tuple(entry(ago(back)) for back in range(1800, 0, -1) if back % 6))
    spent: dict[str, list[float]] = {"compose": [], "figures": [], "pdf": []}
    for _round in range(ROUNDS + 1):
        begun = perf_counter()
        report = compose_term(student, ago(90), TODAY, TODAY, "Words of the teacher. " * 40)
        spent["compose"].append(perf_counter() - begun)
        begun = perf_counter()
        figures = figures_of(report, student)
        spent["figures"].append(perf_counter() - begun)
        begun = perf_counter()
        assert term_pdf(report, figures, "Test Lane", "Ada Teacher").startswith(b"%PDF-")
        spent["pdf"].append(perf_counter() - begun)
    told = ", ".join(f"{name} {statistics.median(times[1:]) * 1000:.1f} ms" for name, times in spent.items())
    print(f"\nterm report with {len(figures)} figures: {told}", end="")
