from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from servicedesk.actions import setup


class Command(BaseCommand):
    help = "Prints the link that opens the first start, while the firm has no manager."

    def handle(self, **options):
        if setup.manager_exists():
            raise CommandError("The firm has its manager already. Sign in instead.", returncode=2)
        self.stdout.write(setup.start_address(settings.PUBLIC_ADDRESS))
