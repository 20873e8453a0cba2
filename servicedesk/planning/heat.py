"""What waits while a region has a heat hold: starts, and work that stops the air for long."""

NOT_IN_HEAT = frozenset(
    {
        "spring_restart",
        "post_outage_restart",
        "valve_balancing",
        "membrane_cleaning",
        "membrane_replacement",
        "winter_shut_down",
    }
)


def waits_in_heat(slug: str) -> bool:
    """Whether a task waits until the heat is over.

    slug: of the task.
    Returns True for starts, blow-downs and work that stops the air for more than an hour.
    Source: our own rule, common practice, no source.
    """
    return slug in NOT_IN_HEAT
