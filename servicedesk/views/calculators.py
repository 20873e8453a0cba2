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
    context = {
        "calculator": calculator,
        "form": form,
        "lines": form.lines() if asked and form.is_valid() else None,
        "gives": plain_words(form.described["result"]),
        "does": plain_words(form.described["does"]),
        "source": plain_words(form.described["source"]),
        "mark": form.described["mark"],
        "example": urlencode(calculator.example(system)),
    }
    return render(request, "calculators/calculation.html", context)
