"""The fewest boards of published problems, proved: the bound is the published optimum."""

import pytest

from tests.published_cutting import Published, families, published

PATIENCE_S = 300.0
"""Far more than any of them takes, for a busy machine."""

QUICK = ("falkenauer_triplets", "falkenauer_uniform", "scholl_1", "schwerin_1")
"""Families of which every problem carried here is proved in seconds; the benchmark takes all."""


@pytest.mark.parametrize(
    "problem", [p for family in QUICK for p in published(family)], ids=lambda p: str(p.name)
)
def test_bound_is_the_published_optimum(problem: Published) -> None:
    plan = problem.plan(time_limit_s=PATIENCE_S)
    assert plan.proved
    assert len(plan.boards) == problem.fewest
    assert plan.bound == problem.fewest * problem.board


def test_what_is_carried_is_what_was_asked_for() -> None:
    """At least 40 problems of several families with up to 200 blanks."""
    problems = [problem for family in families() for problem in published(family)]
    assert len(problems) >= 40
    assert len(families()) >= 5
    assert max(len(problem.blanks) for problem in problems) == 200
    assert sum(problem.family in QUICK for problem in problems) >= 40
