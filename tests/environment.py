"""The settings of the tests, made before Django reads them: a data folder of their own each."""

import atexit
import os
import shutil
import sys
import tempfile
from pathlib import Path

FOLDER = Path(tempfile.mkdtemp(prefix="servicedesk-tests-"))
(FOLDER / "static").mkdir()
atexit.register(shutil.rmtree, FOLDER, ignore_errors=True)

KEPT = {"SERVICEDESK_DATABASE_URL", "SERVICEDESK_REDIS_URL"}  # the suite runs on these as given

for name in [name for name in os.environ if name.startswith("SERVICEDESK_")]:
    if name not in KEPT:
        del os.environ[name]
os.environ.update(
    SERVICEDESK_TESTING="yes",
    SERVICEDESK_DATA=str(FOLDER),
    SERVICEDESK_HTTPS="no",
    SERVICEDESK_HOSTS="testserver,localhost,127.0.0.1",
    SERVICEDESK_SECRET_KEY="the checks need no secret that is worth keeping",
    SERVICEDESK_SEAL_KEY="bm8gc2VjcmV0LCBqdXN0IDMyIGJ5dGVzIGxvbmcgISE=",
)

# Each process that a test starts would compile the whole program anew, for a second of its time.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
