"""Our settings of the solver against published instances; source in tests/reference/routing."""

import pytest

from tests.servicedesk.planning.routing.solomon import gap


@pytest.mark.parametrize(("name", "allowed"), [("C104", 0.01), ("R104", 0.03)])
def test_search_comes_near_the_best_known_cost(name, allowed):
    assert -1e-9 <= gap(name, iterations=1500) <= allowed
