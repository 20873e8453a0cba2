from servicedesk.actions.recalls.campaigns import (
    RecallRefused,
    close_recall,
    count_units,
    list_units,
    look_again,
    open_recall,
    record_outcome,
    record_serial,
)

__all__ = [
    "RecallRefused",
    "close_recall",
    "count_units",
    "list_units",
    "look_again",
    "open_recall",
    "record_outcome",
    "record_serial",
]
