"""Daily temperatures of regions from a CSV file."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from customers.models import Region
from servicedesk.actions.weather import WeatherRefused, load_weather
from servicedesk.registers.weather import BYTES_MAX, FAULTS_MAX, NotWeather


class Command(BaseCommand):
    help = (
        "Load daily temperatures from a CSV file with the columns date and mean_c, or min_c and "
        "max_c (or _f), and region unless --region names it. All of it is written, or nothing."
    )

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path)
        parser.add_argument("--region", default="", help="whose weather it is")

    def handle(self, *, file, region, **options):
        named = Region.objects.filter(name=region).first()
        if region and not named:
            raise CommandError(f"there is no region {region!r}", returncode=2)
        try:
            if file.stat().st_size > BYTES_MAX:
                raise CommandError("the file is larger than 4 MB: load it in parts", returncode=2)
            text = file.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise CommandError(f"{file} cannot be read: {error}", returncode=2) from None
        try:
            days = load_weather(text, source=f"file {file.name}", now=timezone.now(), region=named)
        except NotWeather as error:
            raise CommandError(str(error), returncode=2) from None
        except WeatherRefused as refused:
            for fault in refused.faults[:FAULTS_MAX]:
                self.stderr.write(f"line {fault.line}: {fault.says}")
            raise CommandError(str(refused), returncode=2) from None
        self.stdout.write(f"{days} days were written.")
