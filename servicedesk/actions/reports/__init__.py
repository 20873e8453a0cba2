"""Reports on visits to owners: what is owed, what they say, and their papers."""

from servicedesk.actions.reports.write import owe_report, write_report, write_reports

__all__ = ["owe_report", "write_report", "write_reports"]
