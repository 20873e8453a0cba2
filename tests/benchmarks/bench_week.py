"""Time of planning the coming week of the demo and of its pages. Builds a demo in a new folder.

Run: python -m tests.benchmarks.bench_week [SYSTEMS]
"""

import json
import os
import subprocess
import sys
import tempfile
import time

PAGES = """
import django
django.setup()
import sys, time
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from customers.models import User
client = Client(HTTP_HOST="127.0.0.1")
client.force_login(User.objects.get(username="priya"))
for address in sys.argv[1:]:
    client.get(address)
    with CaptureQueriesContext(connection) as queries:
        begin = time.perf_counter()
        page = client.get(address)
        took = time.perf_counter() - begin
    sys.stdout.write(f"{address:<34} {took * 1000:7.0f} ms  {len(queries)} queries  "
                     f"{len(page.content) // 1024} KiB\\n")
"""


def run(*arguments, environment):
    done = subprocess.run(
        [sys.executable, *arguments], env=environment, stdout=subprocess.PIPE, text=True, check=True
    )
    return done.stdout


def main(systems="180", write=sys.stdout.write):
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {
            "SERVICEDESK_DATA": folder,
            "SERVICEDESK_DEMO": "yes",
            "DJANGO_SETTINGS_MODULE": "servicedesk.settings",
        }
        demo = ["manage.py", "demo", "--no-serve", "--json", "--systems", systems]
        facts = json.loads(run(*demo, environment=environment))
        write(f"{facts['systems']} systems, {facts['open_tickets']} open tickets\n")
        week = run("-c", COMING, environment=environment).strip()
        begin = time.perf_counter()
        plan = json.loads(run("manage.py", "plan_week", week, "--json", environment=environment))
        took = time.perf_counter() - begin
        routes = plan["routes"]
        write(
            f"plan_week {week}: {took:.1f} s, {sum(r['tickets'] for r in routes)} tickets on "
            f"{len(routes)} days, {sum(r['drive_km'] for r in routes):.0f} km, "
            f"{len(plan['left_out'])} left out. {plan['says']}\n"
        )
        day = routes[0]
        addresses = [f"/week/{week}/", f"/week/{week}/dario/{day['day']}/"]
        write(run("-c", PAGES, *addresses, environment=environment))


COMING = """
import sys
from datetime import date, timedelta
from servicedesk.planning.calendar import week_name
today = date.today()
sys.stdout.write(week_name(today + timedelta(days=7 - today.weekday())))
"""

if __name__ == "__main__":
    main(*sys.argv[1:])
