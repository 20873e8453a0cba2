from django.core.management import call_command
from django.core.management.base import BaseCommand

from servicedesk import embedded
from servicedesk.actions import setup


class Command(BaseCommand):
    help = "Serves the pages and runs the jobs of a firm, together, on this machine."

    def add_arguments(self, parser):
        parser.add_argument(
            "--port", type=int, help="the port to serve at; without it the first free one from 8000"
        )

    def handle(self, *, port, **options):
        embedded.run(port=port, prepare=self.prepare, announce=self.announce)

    def prepare(self):
        call_command("prepare", verbosity=0)

    def announce(self, address):
        self.stdout.write(f"Pages and jobs run at {address} (Ctrl-C stops both)")
        if not setup.manager_exists():
            self.stdout.write(
                f"Nobody has a login yet. Open {setup.start_address(address)} to enter the first "
                "manager, the firm and its people, and to load its register."
            )
        self.stdout.flush()
