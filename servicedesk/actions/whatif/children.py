"""The child processes that play a year, one for each setting."""

from servicedesk.actions.routes import children
from servicedesk.models import WhatIfSide


def launch(side: WhatIfSide) -> None:
    """Start the process that plays one side, and return at once."""
    children.start("simulate", str(side.what_if_id), "--side", side.side)
