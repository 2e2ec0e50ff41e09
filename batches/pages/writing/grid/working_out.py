"""What stands on a sheet worked out, for a page that asks as its rows are left. Nothing is written or posted."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string
from django.views.decorators.http import require_POST

from batches.pages.common import record_or_404, sheet_or_404
from batches.pages.results import as_tables
from batches.pages.writing.forms import EntryForm
from batches.pages.writing.grid.comes_to import comes_to
from batches.pages.writing.grid.heads import VesselHeads
from batches.pages.writing.grid.worked_out import CameTo
from batches.sheets.site import Site
from distillery import figures
from distillery.clock.reading import books_now, site_day
from distillery.people.roles import WRITERS, needs

NUMBER = "number"


@needs(WRITERS)
@require_POST
def worked_out(request: HttpRequest, kind: str) -> HttpResponse:
    """The gauges of a sheet as it stands in the boxes, those of its lines, and what they come to together.

    `number` in the address names the record it goes on, whose other figures count too.
    """
    sheet, site, now = sheet_or_404(kind), Site(), books_now()
    number = request.GET.get(NUMBER, "")
    written = record_or_404(kind, number) if number else None
    on_page = [moment for moment in sheet.moments if any(one.name in request.POST for one in sheet.fields_of(moment))]
    entry = EntryForm(
        sheet,
        site,
        moments=on_page or sheet.moments,
        posted=request.POST,
        initial=written.typed if written else None,
        rows=written.rows if written else (),
        day=site_day(written.record.happened_from) if written else None,
    )
    entry.work_out(now, number)
    heads = VesselHeads(site, entry.day)
    return JsonResponse(
        {
            "gauges": {prefix: _shown(came) for prefix, came in entry.came.items()},
            "lines": {
                str(place): next((_shown(came) for came in line.values()), _shown(CameTo()))
                for place, line in entry.came_of_line.items()
            },
            "vessels": {one.vessel: heads.about(entry.stands(one.vessel), one.by) for one in sheet.gauges},
            "names": {one.vessel: heads.name(entry.stands(one.vessel)) for one in sheet.gauges},
            "sums": render_to_string(
                "batches/sheet/comes_to.html",
                {"sums": comes_to(entry, heads, number), "results": as_tables(entry.results)},
            ),
        }
    )


def _shown(came: CameTo) -> dict[str, str]:
    quantity = came.quantity
    if quantity is None:
        return {"litres": "", "percent": "", "lpa": "", "why": came.why}
    return {
        "litres": figures.litres(quantity.litres20),
        "percent": figures.percent(quantity.percent20, 2),
        "lpa": figures.lpa(quantity.pure_ul),
        "why": "",
    }
