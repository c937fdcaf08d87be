"""`bands`: look bands up, and write a plan to start from."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.table import Column
from rich.text import Text

from acceptance.bands.band_table import Band, BandTable, Link, Region, Service, Span
from acceptance.bands.channels import lte_channel, nr_channel
from acceptance.bands.load import load_bands, load_regions, load_services
from acceptance.bands.search import SYSTEM_OF, WRITTEN_BAND
from acceptance.errors import BandError, PlanError
from acceptance.limits.limit import Limit
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.region_plan import region_plan_text
from acquire.printable_text import plain
from dashboard.command_line.options import Json
from dashboard.terminal.output import number, say, show, show_json, table

SUGGESTION = "A suggestion to edit, not a statement of what is licensed where."
READ = "specification read"
"""How sure nearly all rows are; the others say so."""


def bands(
    names: Annotated[
        list[str] | None,
        typer.Argument(metavar="BAND", help="Bands to show, such as 20, n78, lte20. Default: all."),
    ] = None,
    *,
    mhz: Annotated[
        float | None,
        typer.Option("--mhz", metavar="MHZ", help="Show the bands that contain this frequency."),
    ] = None,
    earfcn: Annotated[
        int | None,
        typer.Option(
            "--earfcn", metavar="N", help="Show the frequency of this LTE channel number."
        ),
    ] = None,
    nr_arfcn: Annotated[
        int | None,
        typer.Option(
            "--nr-arfcn", metavar="N", help="Show the frequency of this NR channel number."
        ),
    ] = None,
    region: Annotated[
        str | None,
        typer.Option("--region", metavar="NAME", help="Suggest the bands used in this region."),
    ] = None,
    write: Annotated[
        Path | None,
        typer.Option(
            "--write",
            metavar="FILE",
            help="Write a plan with these bands to a new file.",
        ),
    ] = None,
    return_loss: Annotated[
        float | None,
        typer.Option(
            "--return-loss", metavar="DB", help="Limit for --write, as return loss. Default: 10."
        ),
    ] = None,
    vswr: Annotated[
        float | None, typer.Option("--vswr", metavar="S", help="Limit for --write, as VSWR.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Look up operating bands, and write a plan to start from."""
    choices = [names or None, mhz, earfcn, nr_arfcn, region]
    if sum(each is not None for each in choices) > 1:
        raise typer.BadParameter(
            "give only one of: bands, --mhz, --earfcn, --nr-arfcn and --region"
        )
    if write is None and not (return_loss is None and vswr is None):
        raise typer.BadParameter("--return-loss and --vswr are limits for the plan of --write")

    table = load_bands()
    services: Sequence[Service] = ()
    regions: Sequence[Region] = ()
    chosen: Sequence[Row]
    heading = ""
    if names:
        chosen = _rows(_named(names, table))
    elif mhz is not None:
        chosen = [row for row in _rows(table) if row[2][0] <= mhz * 1e6 <= row[2][1]]
        services = [each for each in load_services() if each.low_hz <= mhz * 1e6 <= each.high_hz]
        heading = f"{mhz:g} MHz lies in {_count(chosen)}."
    elif earfcn is not None or nr_arfcn is not None:
        chosen, heading = _channel(earfcn, nr_arfcn, table)
    elif region is not None:
        regions = _of_region(region, load_regions())
        chosen = _rows(table.find(row.system, number) for row in regions for number in row.numbers)
        heading = f"Region {region}. {SUGGESTION}"
    else:
        chosen = _rows(table)

    if write is not None:
        if names is None and region is None:
            raise typer.BadParameter("--write needs bands, or --region, to write a plan for")
        text = _plan_text(region, [band for band, _, _ in chosen], _limit(return_loss, vswr))
        _write_new(write, text, table)
    if as_json:
        _print_json(heading, chosen, services, regions)
    else:
        _print(heading, chosen, services, regions)
        if write is not None:
            _say_written(write)


Row = tuple["Band", "Link", "Span"]


def _named(names: Sequence[str], table: BandTable) -> list[Band]:
    """Find bands as a person writes them; a number alone means that of either system."""
    found: list[Band] = []
    for name in re.split(r"[\s,]+", re.sub(r"(?i)\b(lte|nr)\s+(?=n?\d)", r"\1", " ".join(names))):
        match = WRITTEN_BAND.fullmatch(re.sub("(?i)^nrn", "n", name))
        if match is None:
            raise BandError(f'"{name}" is no band. Write a number, such as 20, n78 or lte20.')
        systems, number = SYSTEM_OF.get((match[1] or "").lower()), int(match[2])
        if systems is not None:
            found.append(table.find(systems[0], number))
            continue
        either = [band for band in table if band.number == number]
        found += either or [table.find("lte", number)]
    return found


def _rows(bands: Iterable[Band]) -> list[Row]:
    return [(band, link, span) for band in bands for link, span in band.spans]


def _channel(earfcn: int | None, nr_arfcn: int | None, table: BandTable) -> tuple[list[Row], str]:

    if earfcn is not None:
        channel, name = lte_channel(earfcn, table), "EARFCN"
    else:
        channel, name = nr_channel(nr_arfcn or 0, table), "NR-ARFCN"
    chosen: list[Row] = [
        (band, link, span)
        for band, heard in channel.bands
        for link, span in band.spans
        if link == heard
    ]
    where = f"{channel.frequency_hz / 1e6:.10g} MHz, which lies in {_count(chosen)}"
    return chosen, f"{name} {channel.number} is {where}."


def _of_region(name: str, regions: Sequence[Region]) -> list[Region]:
    rows = [row for row in regions if row.name == name]
    if not rows:
        names = ", ".join(sorted({row.name for row in regions}))
        raise BandError(f'There is no region "{name}". There are: {names}.')
    return rows


def _limit(return_loss: float | None, vswr: float | None) -> Limit:

    if return_loss is not None and vswr is not None:
        raise typer.BadParameter("give --return-loss or --vswr, not both")
    if vswr is not None:
        return Limit("vswr", vswr)
    return Limit.return_loss(10.0 if return_loss is None else return_loss)


def _plan_text(region: str | None, chosen: Iterable[Band], limit: Limit) -> str:

    if region is not None:
        return region_plan_text(region, limit, load_regions())
    entries = [
        f"\n[[band]]\n{band.system} = {band.number}\n{limit.metric} = {limit.value:g}\n"
        for band in dict.fromkeys(chosen)
    ]
    return f'# {SUGGESTION}\nname = "my plan"\n' + "".join(entries)


def _write_new(path: Path, text: str, table: BandTable) -> None:
    """Write a plan that is known to be a good one; never over another file."""
    parse_plan(text, str(path), table)
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise PlanError(f"{path} already exists. Choose another name.") from None


def _say_written(path: Path) -> None:

    say(f"Written to {path}: edit its limits, then use it with --plan {path}.")


def _count(chosen: Sequence[Row]) -> str:
    if not chosen:
        return "no band of the table"
    return "1 band" if len(chosen) == 1 else f"{len(chosen)} bands"


def _print(
    heading: str, chosen: Sequence[Row], services: Sequence[Service], regions: Sequence[Region]
) -> None:

    if heading:
        say(heading)
    if chosen:
        rows = table("band", "link", number("MHz"), "duplex", Column(header="also called, limits"))
        for band, link, (low_hz, high_hz) in chosen:
            sure = "" if band.certainty == READ else band.certainty
            remark = "; ".join(part for part in (band.common_name, band.note, sure) if part)
            rows.add_row(
                Text(band.name),
                Text(link),
                Text(f"{low_hz / 1e6:g} - {high_hz / 1e6:g}"),
                Text(band.duplex),
                Text(plain(remark)),
            )
        show(rows)
        sources = dict.fromkeys((band.source, band.certainty) for band, _, _ in chosen)
        say("; ".join(f"{source}: {certainty}" for source, certainty in sources) + ".")
    for each in services:
        say(
            f"{each.service}, {each.name}: {each.low_hz / 1e6:g} - {each.high_hz / 1e6:g} MHz, "
            f"{each.region} ({each.evidence})."
        )
    for row in regions:
        say(
            f"{row.system.upper()} ({row.certainty}, looked at on {row.looked_at}): "
            f"{row.evidence}. Source: {row.source}."
        )


def _print_json(
    heading: str, chosen: Sequence[Row], services: Sequence[Service], regions: Sequence[Region]
) -> None:

    content: dict[str, Any] = {
        "answer": heading,
        "bands": [
            {
                "name": band.name,
                "system": band.system,
                "number": band.number,
                "link": link,
                "low_hz": low_hz,
                "high_hz": high_hz,
                "duplex": band.duplex,
                "common_name": band.common_name,
                "note": band.note,
                "certainty": band.certainty,
                "source": band.source,
            }
            for band, link, (low_hz, high_hz) in chosen
        ],
        "services": [
            {
                "service": each.service,
                "name": each.name,
                "low_hz": each.low_hz,
                "high_hz": each.high_hz,
                "region": each.region,
                "evidence": each.evidence,
            }
            for each in services
        ],
        "evidence": [row.evidence for row in regions],
        "regions": [
            {
                "system": row.system,
                "certainty": row.certainty,
                "source": row.source,
                "looked_at": row.looked_at,
            }
            for row in regions
        ],
    }
    show_json(content)
