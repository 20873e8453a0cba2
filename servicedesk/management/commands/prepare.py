from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand

from servicedesk.actions.tasks import load_task_defaults


class Command(BaseCommand):
    help = "Brings database, static files and task defaults up to this version of the program."

    def handle(self, *, verbosity, **options):
        call_command("migrate", verbosity=verbosity)
        if not settings.WHITENOISE_USE_FINDERS:
            call_command("collectstatic", interactive=False, verbosity=verbosity)
        load_task_defaults()
