"""What every page may name."""


def house(request):
    """The firm, which `servicedesk.middleware.Reader` has fetched already."""
    return {"firm": getattr(request, "firm", None)}
