"""Django's command."""

import os
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line
from django.db import OperationalError, ProgrammingError, connection
from django.db.migrations.executor import MigrationExecutor


def database_is_behind():
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def stop(sentence):
    sys.stderr.write(f"{sentence}\n")
    sys.exit(2)


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "servicedesk.settings")
    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as error:  # whoever set it wants the sentence, not our inner parts
        stop(error)
    except (OperationalError, ProgrammingError):
        if not database_is_behind():
            raise
        stop("The database is not at this version of the program. Run manage.py prepare first.")
