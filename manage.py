"""Django's command."""

import os
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "servicedesk.settings")
    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as error:  # whoever set it wants the sentence, not our inner parts
        sys.stderr.write(f"{error}\n")
        sys.exit(2)
