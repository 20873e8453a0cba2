from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import OperationalError

from servicedesk.actions.tasks import load_task_defaults


class Command(BaseCommand):
    help = "Brings database, static files and task defaults up to this version of the program."

    def handle(self, *, verbosity, **options):
        try:
            call_command("migrate", verbosity=verbosity)
            if not settings.WHITENOISE_USE_FINDERS:
                call_command("collectstatic", interactive=False, verbosity=verbosity)
            load_task_defaults()
        except OperationalError as error:  # not there, not ours to write, full: no fault of ours
            named = "SERVICEDESK_DATABASE_URL" if settings.PRODUCTION else "the data folder"
            raise CommandError(
                f"The database cannot be used: {str(error).strip()}. Look at {named}.",
                returncode=2,
            ) from error
