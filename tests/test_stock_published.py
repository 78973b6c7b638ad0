"""The fewest boards of published problems, proved: the bound is the published optimum."""

import pytest

from tests.published_cutting import FAMILIES, Published, published

PATIENCE_S = 300.0
"""Far more than any of them takes, for a busy machine."""


@pytest.mark.parametrize(
    "problem", [p for family in FAMILIES for p in published(family)], ids=lambda p: str(p.name)
)
def test_bound_is_the_published_optimum(problem: Published) -> None:
    plan = problem.plan(time_limit_s=PATIENCE_S)
    assert plan.proved
    assert len(plan.boards) == problem.fewest
    assert plan.bound == problem.fewest * problem.board


def test_what_is_carried_is_what_was_asked_for() -> None:
    """At least 40 problems of several families, some with 200 blanks and more."""
    problems = [problem for family in FAMILIES for problem in published(family)]
    assert len(problems) == 60
    assert {len(problem.blanks) for problem in problems} == {60, 120, 250}
