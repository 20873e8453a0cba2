"""Where a restart stands, as plain words."""

from enum import StrEnum


class RestartState(StrEnum):
    PROPOSED = "proposed"  # read, and waiting for a manager
    APPROVED = "approved"  # a named manager said yes; nothing runs yet
    UNDER_WAY = "under_way"  # a ramp, day by day; also while it is on hold
    DONE = "done"
    CLOSED = "closed"  # given up, or missed for too long: the table is read anew
    OVERRIDDEN = "overridden"  # started without one, by a name and a reason


# In an order: the database keeps a condition with the states as they stand here.
OPEN = (RestartState.PROPOSED, RestartState.APPROVED, RestartState.UNDER_WAY)
