"""Field calculators: what each asks, in groups, and the form that reads what was typed."""

from django import forms
from django.utils.translation import gettext as _

from equipment.physics.units import typed_number
from servicedesk.forms.calculators import airs, machines, others, waters
from servicedesk.forms.calculators.asks import (
    Ask,
    Calculator,
    Kind,
    Measure,
    Shape,
    Table,
    unit_name,
)
from servicedesk.forms.calculators.results import Line, Rows, figure, lines_of, rows_of
from servicedesk.planning.calculations import CalculationRefused, calculated, found

GROUPS = (
    waters.WATER,
    waters.POND,
    airs.AIR,
    airs.LINES,
    machines.COMPRESSOR,
    others.UNITS,
    others.DISTANCES,
    others.DAYS,
    others.WEAR,
)
BY_KEY = {calculator.key: calculator for group in GROUPS for calculator in group.calculators}
HIDDEN = {"Pa"}  # a unit that calculations take and nobody reads off a gauge
MOST_LINES = 200


class CalculatorForm(forms.Form):
    """The figures of one calculator, as a person types them; each with the unit beside it."""

    def __init__(self, typed, *, calculator: Calculator, system: str):
        """`typed` is what an address holds, or None where nothing was asked yet.

        A figure without a unit counts in the reader's own, and the page says so.
        """
        usual = calculator.usual_units(system)
        super().__init__(None if typed is None else usual | {k: typed[k] for k in typed})
        self.calculator, self.system = calculator, system
        self.described = found(calculator.name)[0].described()
        self.outer = found(calculator.name)[0].inputs
        for ask in calculator.asks:
            if isinstance(ask, Table):
                self._add_table(ask)
            else:
                self._add_ask(ask)

    def _add_ask(self, ask):
        choices, kind = ask.choices, forms.CharField
        widget = forms.TextInput(attrs={"autocomplete": "off"})
        if ask.kind in {Kind.NUMBER, Kind.WHOLE}:
            widget.attrs["inputmode"] = "decimal" if ask.kind == Kind.NUMBER else "numeric"
        elif ask.kind == Kind.DAY:
            kind, widget = forms.DateField, forms.DateInput({"type": "date"}, "%Y-%m-%d")
        elif ask.kind == Kind.CHOICE:
            kind, widget = forms.ChoiceField, forms.Select()
        more = {"choices": choices} if ask.kind == Kind.CHOICE else {}
        self.fields[ask.name] = kind(
            label=ask.label,
            required=ask.required,
            widget=widget,
            help_text=self._help(ask),
            error_messages={"required": _("Enter this.")},
            **more,
        )
        if ask.measure:
            offered = [(u, unit_name(u)) for u in ask.measure.offered if u not in HIDDEN]
            self._add_unit(ask, offered, ask.measure.usual(self.system))

    def _add_table(self, table):
        sides = [(side, _columns(table, side)) for side in ("us", "metric")]
        self.fields[table.name] = forms.CharField(
            label=table.label,
            widget=forms.Textarea(attrs={"rows": 7, "autocomplete": "off"}),
            help_text=_("Spaces, tabs or semicolons between the figures of a line."),
            error_messages={"required": _("Enter this.")},
        )
        if table.measured:
            self._add_unit(table, sides, self.system)

    def _add_unit(self, ask, offered, usual):
        table = isinstance(ask, Table)
        label = _("Units") if table else _("Unit of: %s") % ask.label
        self.fields[f"{ask.name}_in"] = forms.ChoiceField(
            label=label,
            choices=offered,
            initial=usual,
            widget=forms.Select({} if table else {"aria-label": label}),
        )

    def _help(self, ask):
        span = self._span(ask)
        if ask.measure:
            unit = self._unit(ask)
            said = ask.help or ""
            if span:
                low, high = (figure(ask.measure.converted(v, ask.unit, unit)) for v in span)
                reach = _("%(low)s to %(high)s %(unit)s")
                reach %= {"low": low, "high": high, "unit": unit_name(unit)}
                said = f"{said} {reach}".strip()
            return said
        if ask.help is not None:
            return ask.help
        said = plain_words(self._of(ask, "inputs") or "")
        return said[:1].upper() + said[1:]

    def _of(self, ask, part):
        """What the calculation says of an input; it may know it by another name."""
        said = self.described[part]
        names = (ask.name, *(name for name, own in self.outer.items() if own == ask.name))
        return next((said[name] for name in names if name in said), None)

    def _span(self, ask):
        return self._of(ask, "ranges") if ask.kind in {Kind.NUMBER, Kind.WHOLE} else None

    def _unit(self, ask):
        chosen = self.data.get(f"{ask.name}_in")
        return chosen if chosen in ask.measure.offered else ask.measure.usual(self.system)

    def rows(self):
        """Each field with the choice of its unit, if it has one."""
        names = {f"{ask.name}_in" for ask in self.calculator.asks}
        for name in self.fields:
            if name not in names:
                unit = self[f"{name}_in"] if f"{name}_in" in self.fields else None
                yield self[name], unit

    def clean(self):
        typed = super().clean()
        inputs = dict(self.calculator.fixed)
        for ask in self.calculator.asks:
            if ask.name in typed and typed[ask.name] not in {"", None}:
                read = self._table if isinstance(ask, Table) else self._figure
                try:
                    inputs |= read(ask, typed[ask.name])
                except ValueError as wrong:
                    self.add_error(ask.name, str(wrong))
        if not self.errors:
            try:
                self.result = calculated(self.calculator.name, inputs)
            except CalculationRefused as refused:
                about = refused.about if refused.about in self.fields else None
                self.add_error(about, sentence(refused.said))
        return typed

    def _figure(self, ask: Ask, text):
        if ask.kind not in {Kind.NUMBER, Kind.WHOLE}:
            return {ask.name: text.isoformat() if ask.kind == Kind.DAY else text}
        number = typed_number(text)
        unit = self._unit(ask) if ask.measure else ""
        value = ask.measure.converted(number, unit, ask.unit) if ask.measure else number
        span = self._span(ask)
        if span and not _within(value, *span):
            low, high = span
            if ask.measure:
                low, high = (ask.measure.converted(v, ask.unit, unit) for v in span)
            raise ValueError(
                _("This lies between %(low)s and %(high)s %(unit)s. Look again, and at the unit.")
                % {"low": figure(low), "high": figure(high), "unit": unit_name(unit)}
            )
        return {ask.name: value}

    def _table(self, table: Table, text):
        lines = [line for line in text.splitlines() if line.strip()]
        if len(lines) > MOST_LINES:
            raise ValueError(_("At most %s lines.") % MOST_LINES)
        side = "us" if self.data.get(f"{table.name}_in") == "us" else "metric"
        rows = [_row(table, side, n, line) for n, line in enumerate(lines, 1)]
        if table.shape == Shape.PAIRS:
            return {table.name: rows}
        names = [column.name for column in table.columns]
        if table.shape == Shape.RECORDS:
            return {table.name: [dict(zip(names, row, strict=True)) for row in rows]}
        return {name: [row[i] for row in rows] for i, name in enumerate(names)}

    def lines(self) -> list[Line]:
        """The single figures of the result, in the reader's units."""
        return lines_of(self.result, self.calculator, self.system)

    def many(self) -> Rows | None:
        """The rows of the result, where it has several of a kind."""
        return rows_of(self.result, self.calculator, self.system)


def plain_words(text: str) -> str:
    """What a calculation says of itself, with units as they are printed on a page."""
    for word, printed in (("degC", "°C"), ("degF", "°F"), ("m3", "m³"), ("m2", "m²")):
        text = text.replace(word, printed)
    return text.replace("[", "(").replace("]", ")")


def sentence(text: str) -> str:
    text = plain_words(text.strip())
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def _within(value, low, high):
    slack = 1e-9 * max(abs(low), abs(high))  # 100 m typed in feet is still 100 m
    return low - slack <= value <= high + slack


def _columns(table, side):
    """The units of a table's columns, as one choice."""
    units = [unit_name(c.measure.usual(side)) for c in table.columns if c.measure]
    return ", ".join(units)


def _row(table, side, number, line):
    """The figures of a typed line, in the units that the calculation takes."""
    if "\t" in line or ";" in line:
        parts = [part for part in line.replace("\t", ";").split(";") if part.strip()]
    else:
        parts = line.split()
    if len(parts) != len(table.columns):
        wanted = ", ".join(str(column.label) for column in table.columns)
        raise ValueError(
            _("Line %(number)s has %(found)s figures; it needs %(count)s: %(wanted)s.")
            % {
                "number": number,
                "found": len(parts),
                "count": len(table.columns),
                "wanted": wanted,
            }
        )
    try:
        values = [typed_number(part) for part in parts]
    except ValueError as wrong:
        raise ValueError(
            _("Line %(number)s: %(wrong)s") % {"number": number, "wrong": wrong}
        ) from None
    return [
        c.measure.converted(value, c.measure.usual(side), c.unit) if c.measure else value
        for c, value in zip(table.columns, values, strict=True)
    ]


__all__ = ["BY_KEY", "GROUPS", "CalculatorForm", "Measure", "plain_words", "sentence"]
