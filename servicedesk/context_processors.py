"""What every page may name."""

from customers.models import Firm


def house(request):
    return {"firm": Firm.objects.first()}
