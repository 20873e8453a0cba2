"""Lists: what stands in their columns, what they can be narrowed by, how they are paged."""

from django.core.paginator import EmptyPage, PageNotAnInteger
from django_tables2.data import TableQuerysetData

PAGE_SIZES = [25, 50, 100]


class PageFirst(TableQuerysetData):
    """Finds out which rows stand on a page before it asks what stands in them.

    A database works out all columns of the rows that a later page leaves behind as well.
    """

    def __getitem__(self, key):
        if not isinstance(key, slice):
            return super().__getitem__(key)
        ordered = self.data.order_by(*self.data.query.order_by, "pk")
        keys = list(ordered.values_list("pk", flat=True)[key])
        rows = self.data.order_by().in_bulk(keys)
        return [rows[pk] for pk in keys if pk in rows]


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
