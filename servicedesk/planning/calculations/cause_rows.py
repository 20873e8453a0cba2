"""Signs to causes, by name."""

from dataclasses import replace

from equipment.condition import causes
from servicedesk.planning.calculations.engine import Calculation


def causes_of_signs(
    signs: list[str],
    compressor_kind: str | None = None,
    absent: list[str] | None = None,
    counts: dict | None = None,
) -> list[str] | str:
    """The causes that fit what was measured and seen, best first.

    signs: those that are there, a list of words such as pressure_up or of codes such as P_UP.
    compressor_kind: piston, vane, linear or other; none where nobody knows.
    absent: signs that were looked for and are not there.
    counts: how often a firm confirmed each cause, by its slug.
    Returns slugs, or "no fault shown by these readings"; `diagnosis` gives reasons, checks and
        what to do before anything else.
    Raises ValueError for a word that is no sign or no kind of compressor.
    Source: judgement; the matrix of causes says so.
    """
    found = _ranked(signs, compressor_kind, absent, counts)
    return [cause.slug for cause in found.causes] or found.says


def diagnosis(
    signs: list[str],
    compressor_kind: str | None = None,
    absent: list[str] | None = None,
    counts: dict | None = None,
) -> causes.Ranking:
    """What to do first, the three causes that fit best, and the check that tells them apart.

    signs: those that are there, a list of words such as pressure_up or of codes such as P_UP.
    compressor_kind: piston, vane, linear or other; none where nobody knows.
    absent: signs that were looked for and are not there.
    counts: how often a firm confirmed each cause, by its slug.
    Returns overrides, causes with reason, check, minutes, who may make it and caution, and a
        sentence.
    Raises ValueError for a word that is no sign or no kind of compressor.
    Source: judgement; the matrix of causes says so.
    """
    return replace(_ranked(signs, compressor_kind, absent, counts), others=())


CALCULATIONS = (
    Calculation(
        "causes",
        causes_of_signs,
        (r"signs to causes", r"causes? .*", r"expected.cause.in.first.two"),
        {"present": "signs", "kind": "compressor_kind"} | {"signs": "signs"},
    ),
    Calculation("diagnosis", diagnosis, (), {"present": "signs", "signs": "signs"}),
)


def _ranked(signs, compressor_kind, absent, counts):
    if not isinstance(counts or {}, dict):
        raise ValueError('write counts such as {"membrane_fouled": 9}')
    counts = {slug: int(times) for slug, times in (counts or {}).items()}
    return causes.ranked(
        _words(signs), _words(absent or []), compressor_kind=compressor_kind or None, counts=counts
    )


def _words(given):
    if not isinstance(given, list | tuple) or not all(isinstance(part, str) for part in given):
        raise ValueError("write a list of signs, such as pressure_up, one_boil_weak")
    return given
