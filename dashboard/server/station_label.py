"""The label of an antenna that was tested at a station, as a picture to print."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from acceptance.pictures.label_picture import label_picture
from dashboard.bench.parts.station import BenchStation
from dashboard.server.downloads import Answer


def label_of(station: BenchStation) -> Answer:
    """Serve a label by its record's folder, `/station/GW-0012_.../label.svg`; 404 for no such."""

    async def serve(request: Request) -> Response:
        found = station.tested(request.path_params["record"])
        if found is None:
            return PlainTextResponse("Not found", 404)
        drawing = label_picture(
            found.serial,
            found.answer.word,
            found.at,
            found.short_sum,
            station.station.name,
            doubt=bool(found.doubt),
        )
        headers = {"Cache-Control": "no-store"}
        return Response(drawing.svg(), media_type="image/svg+xml", headers=headers)

    return serve
