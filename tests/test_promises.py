"""No page, mail or paper calls anything free of danger: it is decided where a person stands."""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parent.parent
HOUSES = ("customers", "equipment", "servicedesk", "fixtures")
KINDS = {".html", ".txt", ".toml", ".json", ".js", ".csv", ".svg"}
WORD = re.compile(r"\bsafe(ly|r|st)?\b", re.IGNORECASE)
ABOUT_THE_WORD = {
    "Owners read these words, and the word safe promises too much. Say what is done.",
    "SERVICEDESK_SEAL_KEY must be 32 bytes in URL-safe base64, as Fernet.generate_key() prints",
}


def files(*endings):
    for house in HOUSES:
        yield from (p for p in sorted((ROOT / house).rglob("*")) if p.suffix in endings)


def literals(text):
    """Every string of a program but its docstrings, which nobody reads on a page."""
    tree = ast.parse(text)
    silent = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        if (
            isinstance(node, ast.Constant)
            and isinstance(node.value, str)
            and id(node) not in silent
        ):
            yield node.value


def promises(text):
    """Where the word stands; the template filter of that name is no word."""
    found = WORD.finditer(re.sub(r"\|\s*safe\b", "", text))
    return [text[max(0, m.start() - 40) : m.end() + 40] for m in found]


def test_no_string_of_the_program_promises_that_anything_is_without_danger():
    said = [
        (path.name, found)
        for path in files(".py")
        for text in literals(path.read_text())
        if text not in ABOUT_THE_WORD
        for found in promises(text)
    ]

    assert said == []


def test_no_template_list_of_causes_task_or_script_promises_it_either():
    looked_at = list(files(*KINDS))
    said = [(path.name, found) for path in looked_at for found in promises(path.read_text())]

    assert len(looked_at) > 100
    assert {path.suffix for path in looked_at} >= {".html", ".txt", ".toml", ".js"}
    assert said == []


def test_checker_sees_the_word_and_lets_the_filter_pass():
    assert promises("The ice is Safe.")
    assert promises("Walk on it safely.")
    assert not promises("{{ chart|safe }} by safety rules")
    assert list(literals('"""safe"""\nx = "safe ice"')) == ["safe ice"]
