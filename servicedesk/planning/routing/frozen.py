"""Weeks and plans as plain data, to be kept with a run and handed to another process."""

from dataclasses import asdict
from typing import Any

from servicedesk.kinds import Harm, Skill
from servicedesk.planning.routing.barriers import area_from
from servicedesk.planning.routing.problem import (
    Job,
    LeftOut,
    LeftOutReason,
    Lock,
    Lunch,
    Place,
    PlannedRoute,
    PlannedStop,
    Shift,
    StopWish,
    WeekPlan,
    WeekProblem,
    Window,
)


def problem_data(problem: WeekProblem) -> dict[str, Any]:
    """A week to plan as data that JSON can hold.

    problem: the week.
    Returns dictionaries, lists, words and numbers.
    Source: our own form.
    """
    data = asdict(problem)
    for shift in data["shifts"]:
        shift["skills"] = sorted(shift["skills"])
    return data


def problem_from(data: dict[str, Any]) -> WeekProblem:
    """The week that `problem_data` wrote down.

    data: what it returned, perhaps by way of JSON.
    Returns an equal WeekProblem.
    Source: our own form.
    """
    return WeekProblem(
        places=tuple(Place(**place) for place in data["places"]),
        shifts=tuple(
            Shift(**shift | {"skills": frozenset(map(Skill, shift["skills"]))})
            for shift in data["shifts"]
        ),
        wishes=tuple(_wish(wish) for wish in data["wishes"]),
        lunch=Lunch(**data["lunch"]),
        full_percent=data["full_percent"],
        names=tuple((key, name) for key, name in data["names"]),
        road_factor=data["road_factor"],
        speed_km_h=data["speed_km_h"],
        weeks=data.get("weeks", 1),
        roads=data.get("roads", ""),
        areas=tuple(area_from(area) for area in data.get("areas", ())),
    )


def plan_data(plan: WeekPlan) -> dict[str, Any]:
    """A plan as data that JSON can hold.

    plan: of a week.
    Returns dictionaries, lists, words and numbers.
    Source: our own form.
    """
    return asdict(plan)


def plan_from(data: dict[str, Any]) -> WeekPlan:
    """The plan that `plan_data` wrote down.

    data: what it returned, perhaps by way of JSON.
    Returns an equal WeekPlan.
    Source: our own form.
    """
    routes = tuple(_route(route) for route in data["routes"])
    ahead = tuple(_route(route) for route in data.get("ahead", []))
    left_out = tuple(
        LeftOut(**out | {"reason": LeftOutReason(out["reason"])}) for out in data["left_out"]
    )
    return WeekPlan(**data | {"routes": routes, "left_out": left_out, "ahead": ahead})


def _route(data: dict[str, Any]) -> PlannedRoute:
    stops = (PlannedStop(**stop | {"jobs": tuple(stop["jobs"])}) for stop in data["stops"])
    return PlannedRoute(**data | {"stops": tuple(stops)})


def _wish(data: dict[str, Any]) -> StopWish:
    jobs = tuple(
        Job(**job | {"harm": Harm(job["harm"]), "skill": Skill(job["skill"])})
        for job in data["jobs"]
    )
    windows = tuple(Window(**window) for window in data["windows"])
    locks = tuple(Lock(**lock) for lock in data["locks"])
    more = {
        "detours_hm": tuple(data.get("detours_hm", ())),
        "pins": tuple(Lock(**pin) for pin in data.get("pins", ())),
    }
    return StopWish(**data | {"jobs": jobs, "windows": windows, "locks": locks} | more)
