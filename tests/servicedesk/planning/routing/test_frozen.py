import json

from hypothesis import given, settings

from servicedesk.planning.routing.frozen import plan_data, plan_from, problem_data, problem_from
from servicedesk.planning.routing.greedy import plan_week_greedily
from tests.servicedesk.planning.routing.weeks import random_weeks


@settings(max_examples=40, deadline=None)
@given(random_weeks())
def test_week_and_plan_come_back_from_json_as_they_were(problem):
    plan = plan_week_greedily(problem)

    assert problem_from(json.loads(json.dumps(problem_data(problem)))) == problem
    assert plan_from(json.loads(json.dumps(plan_data(plan)))) == plan
