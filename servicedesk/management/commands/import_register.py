import json
from argparse import RawDescriptionHelpFormatter

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from tqdm import tqdm

from servicedesk.actions.registers import RegisterRefused, import_register
from servicedesk.registers import columns
from servicedesk.registers.files import NotARegister


class Command(BaseCommand):
    help = (
        "Loads customers, sites, ponds and systems from a CSV or XLSX file: all of it or nothing. "
        "Loading the same file again changes nothing.\n\nColumns:\n" + columns.described()
    )

    def create_parser(self, *names, **options):
        return super().create_parser(*names, formatter_class=RawDescriptionHelpFormatter, **options)

    def add_arguments(self, parser):
        parser.add_argument("file", metavar="FILE")
        parser.add_argument("--dry-run", action="store_true", help="tell what it would do, only")
        parser.add_argument("--json", action="store_true", help="print the report as JSON")

    def handle(self, *, file, dry_run, **options):
        try:
            with open(file, "rb") as opened, tqdm(total=1, unit="step", leave=False) as bar:

                def progress(done, of):
                    bar.total, bar.n = of, done
                    bar.refresh()

                report = import_register(
                    opened, now=timezone.now(), dry_run=dry_run, progress=progress
                )
        except OSError as error:
            raise CommandError(
                f"{file} cannot be opened: {error.strerror}.", returncode=2
            ) from None
        except NotARegister as refusal:
            raise CommandError(str(refusal), returncode=2) from None
        except RegisterRefused as refusal:
            raise CommandError(self._faults(refusal, options["json"]), returncode=2) from None
        self.stdout.write(
            json.dumps(report.as_json(), indent=1) if options["json"] else _text(report)
        )

    def _faults(self, refusal, as_json):
        if as_json:
            return json.dumps({"faults": [vars(fault) for fault in refusal.faults]}, indent=1)
        lines = [f"row {f.row}, {f.column or 'whole row'}: {f.says}" for f in refusal.faults]
        return "\n".join([*lines, str(refusal)])


def _text(report):
    lines = [
        f"{kind}: {count.new} new, {count.changed} changed, {count.same} the same"
        for kind, count in report.counts.items()
    ]
    lines += [
        f"row {c.row}, {c.what}, {c.column}: {c.before} becomes {c.after}" for c in report.changes
    ]
    return "\n".join([*lines, *report.warnings, report.sentence()])
