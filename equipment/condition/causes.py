"""Which faults fit what was measured and seen, ranked, with the check that tells them apart.

The matrix stands in `causes.toml` and is a judgement, not field statistics. Signs that nobody
looked for say nothing: only what was looked for and is not there speaks against a cause.
"""

import math
import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

from equipment.kinds import SIGN_WORDS, CompressorKind, Sign

TOP = 3
NO_FAULT = "no fault shown by these readings"
NO_CAUSE = "these signs name no cause by themselves: do first what stands above"

# A firm's own counts, against expectations worth 200 faults; half a point is the least that is
# shown, and one point, as much as the lightest sign, the most. Judgement.
EARLIER_FAULTS = 200
SHIFT_STEP, SHIFT_MOST = 0.5, 1.0


@dataclass(frozen=True)
class Known:
    """A cause of the matrix: its words, its signs and its check."""

    slug: str
    words: str
    means: str
    why: str
    prior: float
    weights: Mapping[Sign, float]
    strong: tuple[Sign, ...]
    against: tuple[Sign, ...]
    needs: tuple[Sign, ...]
    kinds: tuple[CompressorKind, ...]
    check: str
    minutes: int
    who: str
    caution: str


@dataclass(frozen=True)
class Cause:
    """A cause that fits, with its reason and the check that proves or clears it.

    `who` is owner, technician or electrician (a licensed one). `counted` says, where the firm's
    own counts moved the cause, by what.
    """

    slug: str
    words: str
    means: str
    because: str
    check: str
    minutes: int
    who: str
    owner_may: bool
    caution: str
    counted: str
    score: float


@dataclass(frozen=True)
class Ranking:
    """What to do first, the causes that fit best, and what tells the first from the second.

    `causes` are the three best; `others` fit less well. `first_check` is that of the cause whose
    check takes less time among the first two, None where nothing fits.
    """

    overrides: tuple[str, ...]
    causes: tuple[Cause, ...]
    others: tuple[Cause, ...]
    first_check: Cause | None
    says: str


def sign(word: str) -> Sign:
    """The sign that a word names.

    word: a word of `Sign`, such as pressure_up, or its short code, such as P_UP.
    Returns the sign.
    Raises ValueError when there is no such sign.
    Source: our own rule.
    """
    if word in Sign.__members__:
        return Sign[word]
    try:
        return Sign(word)
    except ValueError:
        raise ValueError(f"{word!r} is no sign. Use words such as pressure_up.") from None


def ranked(
    present: Collection[str],
    absent: Collection[str] = (),
    *,
    compressor_kind: str | None = None,
    counts: Mapping[str, int] | None = None,
) -> Ranking:
    """The causes that fit what was found, best first.

    present: signs that are there, words of `Sign`, in any order. Circumstances alone (frost, a
        storm) are no finding: pass them beside one.
    absent: signs that were looked for and are not there; one that is also present counts as there.
    compressor_kind: a word of `CompressorKind`; None where nobody knows, then every kind can be.
    counts: how often this firm confirmed each cause, by its slug.
    Returns what to do first, the causes, and a sentence; causes of equal score stand in the
        order of their words. A score is points, never a probability.
    Raises ValueError for a word that is no sign, and for a kind that is none.
    Source: judgement, as causes.toml says; logarithm of a Dirichlet mean for the counts.
    """
    there = frozenset(map(sign, present))
    missing = frozenset(map(sign, absent)) - there
    kind = CompressorKind(compressor_kind) if compressor_kind else None
    shifts = _shifts(counts or {})
    fitting = sorted(
        (
            _cause(known, there, missing, *shifts.get(known.slug, (0.0, "")))
            for known in KNOWN.values()
            if _listed(known, there, kind)
        ),
        key=lambda cause: (-cause.score, cause.words),
    )
    return _ranking(tuple(says for first, says in FIRST.items() if first in there), fitting)


def without(ranking: Ranking, ruled_out: Collection[str]) -> Ranking:
    """A ranking without causes that somebody has looked at and cleared.

    ranking: from `ranked`.
    ruled_out: slugs of causes.
    Returns the ranking with the others moved up, and its sentence anew.
    Source: our own rule.
    """
    left = [one for one in ranking.causes + ranking.others if one.slug not in ruled_out]
    return _ranking(ranking.overrides, left)


def _ranking(overrides, fitting):
    top, others = tuple(fitting[:TOP]), tuple(fitting[TOP:])
    check = min(top[:2], key=lambda cause: cause.minutes, default=None)
    return Ranking(overrides, top, others, check, _sentence(top, check, overrides))


def _listed(known, there, kind):
    if known.kinds and kind and kind not in known.kinds:
        return False
    telling = any(known.weights.get(one, 0) >= WEIGHTS["middle"] for one in there)
    return telling and there.issuperset(known.needs)


def _cause(known, there, missing, shift, counted):
    absent = [one for one in known.strong if one in missing]
    against = [one for one in known.against if one in there]
    score = known.prior + shift + sum(known.weights.get(one, 0) for one in there)
    score -= WEIGHTS["absent"] * len(absent) + WEIGHTS["against"] * len(against)
    return Cause(
        slug=known.slug,
        words=known.words,
        means=known.means,
        because=_because(known, there, absent, against),
        check=known.check,
        minutes=known.minutes,
        who=known.who,
        owner_may=known.who == "owner",
        caution=known.caution,
        counted=counted,
        score=score,
    )


def _because(known, there, absent, against):
    seen = [one for one in known.weights if one in there]
    parts = [f"Found: {_listing(seen)}. {known.why}"]
    if against:
        parts.append(f"Against it: {_listing(against)}.")
    if absent:
        parts.append(f"Looked for and not there: {_listing(absent)}.")
    return " ".join(parts)


def _listing(signs):
    return ", ".join(SIGN_WORDS[one] for one in signs)


def _sentence(top, check, overrides):
    if not top:
        return NO_CAUSE if overrides else NO_FAULT
    if len(top) == 1:
        return f"{top[0].words} fits. Check: {check.check}"
    return (
        f"{top[0].words} fits best, then {_lower(top[1].words)}. To tell them apart: {check.check}"
    )


def _lower(words):
    return words[0].lower() + words[1:]


def _shifts(counts):
    """Points by which the firm's own counts move each cause, with the sentence that says so."""
    found = {slug: max(counts.get(slug, 0), 0) for slug in KNOWN}
    total = sum(found.values())
    if not total:
        return {}
    likely = {slug: 1 + known.prior for slug, known in KNOWN.items()}
    whole = sum(likely.values())
    shifts = {}
    for slug, times in found.items():
        share = likely[slug] / whole
        now = (EARLIER_FAULTS * share + times) / (EARLIER_FAULTS + total)
        steps = math.trunc(math.log2(now / share) / SHIFT_STEP)
        shift = max(-SHIFT_MOST, min(steps * SHIFT_STEP, SHIFT_MOST))
        if shift:
            moved = "Raised" if shift > 0 else "Lowered"
            shifts[slug] = (
                shift,
                f"{moved} because this firm found it {_times(times)} in {total}.",
            )
    return shifts


def _times(count):
    return "once" if count == 1 else f"{count} times"


def _known(slug, row, weights, cautions):
    signs = {
        key: tuple(map(Sign, row.get(key, ())))
        for key in ("strong", "middle", "light", "against", "needs")
    }
    return Known(
        slug=slug,
        words=row["words"],
        means=row["means"],
        why=row["why"],
        prior=row["prior"],
        weights={one: weights[key] for key in ("strong", "middle", "light") for one in signs[key]},
        strong=signs["strong"],
        against=signs["against"],
        needs=signs["needs"],
        kinds=tuple(map(CompressorKind, row.get("kinds", ()))),
        check=row["check"],
        minutes=row["minutes"],
        who=row["who"],
        caution=" ".join(cautions[key] for key in row.get("cautions", ())),
    )


_DATA = tomllib.loads(Path(__file__).with_name("causes.toml").read_text(encoding="utf-8"))
MARK = _DATA["mark"]
WEIGHTS: Mapping[str, float] = _DATA["weights"]
KNOWN: Mapping[str, Known] = {
    slug: _known(slug, row, WEIGHTS, _DATA["cautions"]) for slug, row in _DATA["causes"].items()
}
FIRST: Mapping[Sign, str] = {Sign(row["sign"]): row["do"] for row in _DATA["first"]}
