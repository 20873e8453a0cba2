"""Any calculation by name: one on the command line, or many as JSON lines."""

import json
import sys

from django.core.management.base import BaseCommand, CommandError

from servicedesk.planning.calculations import CALCULATIONS, CalculationRefused, calculated, found

EXAMPLE = '{"name": "add_months", "inputs": {"date": "2026-11-30", "months": 3}}'


class Command(BaseCommand):
    help = "Calculate something by name; without a name, list what there is."

    def add_arguments(self, parser):
        parser.add_argument("name", nargs="?", help="such as add_months")
        parser.add_argument("inputs", nargs="*", metavar="key=value", help="such as months=3")
        parser.add_argument("--lines", action="store_true", help=f"read lines such as {EXAMPLE}")
        parser.add_argument("--json", action="store_true", help="answer in JSON")

    def handle(self, *, name, inputs, lines, **options):
        if lines:
            if name:
                raise CommandError("--lines takes no name: it reads them", returncode=2)
            for line in filter(str.strip, sys.stdin):
                self.stdout.write(json.dumps(_answer(line), ensure_ascii=False))
        elif not name:
            self._list(as_json=options["json"])
        else:
            self._print(name, _pairs(inputs), as_json=options["json"])

    def _list(self, *, as_json):
        rows = [calculation.described() for calculation in CALCULATIONS]
        if as_json:
            self.stdout.write(json.dumps(rows, indent=1, ensure_ascii=False))
            return
        for row in rows:
            self.stdout.write(f"{row['name']}: {row['does']}")
            for key, text in row["inputs"].items():
                self.stdout.write(f"    {key}: {text}")
            rests = row["mark"].replace("_", " ")
            self.stdout.write(f"    gives {row['result']}\n    source ({rests}): {row['source']}\n")
            if row["says"]:
                self.stdout.write(f"    {row['says']}")

    def _print(self, name, inputs, *, as_json):
        try:
            result = calculated(name, inputs)
        except CalculationRefused as error:
            raise CommandError(str(error), returncode=2) from None
        said = _said(name)
        if as_json:
            result = json.dumps({"name": name, "result": result, **said}, ensure_ascii=False)
        elif isinstance(result, list):
            result = "\n".join(
                part if isinstance(part, str) else json.dumps(part) for part in result
            )
        elif result is None or isinstance(result, bool | dict):
            result = json.dumps(result)
        self.stdout.write(str(result))
        if said and not as_json:
            self.stderr.write(said["says"])


def _pairs(inputs):
    pairs = dict(part.split("=", 1) for part in inputs if "=" in part)
    if len(pairs) < len(inputs):
        wrong = next((part for part in inputs if "=" not in part), None)
        said = f"{wrong!r} is no input" if wrong else "an input is given twice"
        raise CommandError(f"{said}: write each once as key=value", returncode=2)
    return pairs


def _answer(line):
    try:
        asked = json.loads(line)
        name, inputs = asked["name"], asked.get("inputs") or {}
        if not isinstance(name, str) or not isinstance(inputs, dict):
            raise TypeError
    except (ValueError, TypeError, KeyError, AttributeError):
        return {"name": None, "error": f"This line cannot be read. Write lines such as {EXAMPLE}"}
    try:
        return {"name": name, "result": calculated(name, inputs), **_said(name)}
    except CalculationRefused as error:
        return {"name": name, "error": str(error)}


def _said(name):
    """What nobody may read into the result, where there is such a thing."""
    says = found(name)[0].says
    return {"says": says} if says else {}
