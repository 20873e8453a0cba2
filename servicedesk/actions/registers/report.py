"""What loading a register did, or would do."""

from dataclasses import dataclass, field

from servicedesk.registers.files import Fault


class RegisterRefused(Exception):
    """Nothing was written: each fault names its row and column and says what to do."""

    def __init__(self, faults: list[Fault]):
        super().__init__(f"{len(faults)} cells have to be corrected first; nothing was written.")
        self.faults = sorted(faults, key=lambda fault: (fault.row, fault.column))


@dataclass
class Count:
    new: int = 0
    changed: int = 0
    same: int = 0


@dataclass(frozen=True)
class Change:
    row: int
    what: str  # such as "pond P-033"
    column: str
    before: str
    after: str


@dataclass
class Report:
    rows: int
    dry_run: bool
    counts: dict[str, Count] = field(default_factory=dict)
    changes: list[Change] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def count(self, kind):
        return self.counts.setdefault(kind, Count())

    def total(self):
        counts = self.counts.values()
        return Count(*(sum(getattr(c, n) for c in counts) for n in ("new", "changed", "same")))

    def sentence(self):
        total = self.total()
        verb = "Would write" if self.dry_run else "Written"
        return (
            f"{self.rows} rows read. {verb}: {total.new} new, {total.changed} changed, "
            f"{total.same} the same."
        )

    def as_json(self):
        return {
            "rows": self.rows,
            "dry_run": self.dry_run,
            "counts": {kind: vars(count) for kind, count in self.counts.items()},
            "changes": [vars(change) for change in self.changes],
            "warnings": self.warnings,
        }
