"""Lists: what stands in their columns, what they can be narrowed by, how they are paged."""

from django.core.paginator import EmptyPage, PageNotAnInteger

PAGE_SIZES = [25, 50, 100]


def lay_out(table, request):
    """Sorts and pages a table as the address says; an impossible page shows the first."""
    asked = request.GET.get("per_page", "")
    size = int(asked) if asked.isdecimal() and int(asked) in PAGE_SIZES else PAGE_SIZES[1]
    if sort := request.GET.getlist("sort"):
        table.order_by = sort
    try:
        table.paginate(page=request.GET.get("page", 1), per_page=size)
    except (EmptyPage, PageNotAnInteger):
        table.paginate(page=1, per_page=size)
    return table
