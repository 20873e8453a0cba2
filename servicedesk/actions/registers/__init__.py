from servicedesk.actions.registers.loading import import_register
from servicedesk.actions.registers.report import Change, Count, RegisterRefused, Report

__all__ = ["Change", "Count", "RegisterRefused", "Report", "import_register"]
