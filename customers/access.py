"""The roles of the firm, and what each may open or change."""

from customers.kinds import Role

OFFICE = frozenset({Role.MANAGER, Role.OFFICE})


def is_manager(user) -> bool:
    """Decides: approves starts, publishes weeks, overrides."""
    return user.is_active and user.role == Role.MANAGER


def is_office(user) -> bool:
    """Manager or office: plans, edits parties, handles answers."""
    return user.is_active and user.role in OFFICE


def is_technician(user) -> bool:
    return user.is_active and user.role == Role.TECHNICIAN
