"""README's two commands are what a reader runs, and what the check runs."""

import re
import subprocess
from pathlib import Path

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text()
BLOCKS = re.findall(r"^```\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def run_in_shell_of_the_check(line):
    """What a line prints where the functions of .ci/run are known."""
    check = (ROOT / ".ci/run").read_text()
    functions = [
        re.search(r"^readme_command\(\).*?^}$", check, re.M | re.S)[0],
        re.search(r"^tests_alone\(\).*}$", check, re.M)[0],
    ]
    script = "\n".join([*functions, line])
    return subprocess.run(["bash", "-c", script], cwd=ROOT, capture_output=True, text=True).stdout


def test_readme_opens_with_the_job_in_one_paragraph():
    title, job, _ = README.split("\n\n", 2)

    assert title.startswith("# ")
    assert job.startswith("A firm that installs pond aeration systems")


def test_first_two_blocks_are_one_line_each():
    assert [block.count("\n") for block in BLOCKS[:2]] == [1, 1]


def test_first_command_runs_the_demo_from_nothing():
    assert re.fullmatch(
        r"python3.11 -m venv .venv && .venv/bin/pip install .*-r requirements.txt"
        r" && .venv/bin/python manage.py demo\n",
        BLOCKS[0],
    )


def test_second_command_passes_the_tests_from_nothing():
    assert re.fullmatch(
        r"python3.11 -m venv .venv && .venv/bin/pip install .*-r tests/requirements.txt"
        r" && .venv/bin/python -m pytest .*\n",
        BLOCKS[1],
    )


def test_check_runs_exactly_the_commands_of_the_readme():
    assert run_in_shell_of_the_check("readme_command 1") == BLOCKS[0]
    assert run_in_shell_of_the_check("readme_command 2") == BLOCKS[1]
    check = (ROOT / ".ci/run").read_text()
    assert BLOCKS[1].endswith(f" && {run_in_shell_of_the_check('tests_alone')}")
    assert check.count('bash -c "$(readme_command 2)"') == 1
    assert check.count('bash -c "$(tests_alone)"') == 1
    assert check.count('"$(readme_command 1)"') == 1
    assert "-m pytest" not in check


def test_every_setting_in_the_readme_is_read_and_every_one_read_is_there():
    settings = (ROOT / "servicedesk/settings.py").read_text()
    read = set(re.findall(r"\b(?:text|yes_no|whole|kept_secret)\(\"([A-Z_]+)\"", settings))
    read |= set(re.findall(r"\baddress\(\"([A-Z_]+)\"", settings))
    told = set(re.findall(r"^\| `([A-Z_]+)` \|", README, re.MULTILINE))

    assert told == read - {"TESTING", "DEMO"}  # the checks' own; the demo command's own
