"""Field calculators: a figure worked out at the pond. Nothing is kept and nothing changes."""

from django.http import Http404
from django.shortcuts import render
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from servicedesk.forms.calculators import BY_KEY, GROUPS, CalculatorForm, plain_words


@require_safe
def calculations(request):
    """Every calculator, in groups."""
    return render(request, "calculators/calculations.html", {"groups": GROUPS})


@require_safe
def calculation(request, key):
    """One calculator; its figures stand in the address, so that a result can be sent on."""
    calculator = BY_KEY.get(key)
    if calculator is None:
        raise Http404(_("There is no such calculator."))
    system = request.user.units
    asked = request.GET or not calculator.asks
    form = CalculatorForm(request.GET if asked else None, calculator=calculator, system=system)
    done = asked and form.is_valid()
    context = {
        "calculator": calculator,
        "form": form,
        "done": done,
        "lines": form.lines() if done else None,
        "many": form.many() if done else None,
        "does": more_than(calculator.title, plain_words(form.described["does"])),
        "source": plain_words(form.described["source"]),
        "mark": form.described["mark"],
        "example": urlencode(calculator.example(system)),
    }
    return render(request, "calculators/calculation.html", context)


def more_than(title, does):
    """What a calculation does, unless the title says the same."""
    return "" if does.lower().removeprefix("the ").strip(". ") == title.lower() else does
