"""`ports`: which serial ports there are, and who answers at one of them."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

import typer
from rich.text import Text

from acceptance.verdict.plan_verdict import source_as_json
from acquire.analyzer.profile import Profile
from acquire.port.port_list import list_ports
from acquire.printable_text import plain
from dashboard.command_line.named_profile import named_profile
from dashboard.command_line.options import Json, ProfileName, TrustProfile, clock_of
from dashboard.sweeping.connection import connected
from dashboard.terminal.output import say, show, show_json, table, working


def ports(
    context: typer.Context,
    *,
    ask: Annotated[
        str | None,
        typer.Option(
            "--ask",
            metavar="ADDRESS",
            help="Open this port and identify the device on it. No other port is opened.",
        ),
    ] = None,
    profile: ProfileName = None,
    trust_profile: TrustProfile = False,
    as_json: Json = False,
) -> None:
    """List the serial ports, or identify the device on one.

    Listing opens no port. Only --ask opens one.
    """
    if ask is not None:
        _ask(context, ask, named_profile(profile, trust=trust_profile), as_json=as_json)
    elif profile is not None:
        raise typer.BadParameter("--profile says how to talk to the port that --ask names")
    else:
        _list(as_json=as_json)


def _list(*, as_json: bool) -> None:

    found = list_ports()
    if as_json:
        show_json({"ports": [asdict(port) for port in found]})
        return
    if not found:
        say(
            "No serial port is there. Plug the analyzer in and look again; without one, virtual: "
            "is "
            "a simulated analyzer."
        )
        return
    rows = table("port", "description", "USB id", "serial number")
    for port in found:
        rows.add_row(
            *(
                Text(plain(each))
                for each in (port.device, port.description, port.usb_id, port.serial_number)
            )
        )
    show(rows)
    say(f"None was touched. `bandwright ports --ask {found[0].device}` asks that one who it is.")


def _ask(context: typer.Context, address: str, profile: Profile | None, *, as_json: bool) -> None:

    with (
        working(f"Asking {address}"),
        connected(
            address, profile=profile, record=None, bench=None, clock=clock_of(context)
        ) as analyzer,
    ):
        identity, source, answers = analyzer.identity, analyzer.source, analyzer.profile
    limits = answers.limits
    if as_json:
        show_json(
            {
                "address": address,
                "identity": identity,
                "profile": answers.name,
                "label": answers.label,
                "unproven": answers.unproven,
                "low_hz": limits.low_hz,
                "high_hz": limits.high_hz,
                "points": limits.points,
                "source": source_as_json(source),
            }
        )
        return
    say(f"{address} answers: {identity}")
    say(f"Profile: {answers.name}, {answers.label}.")
    say(f"It sweeps {limits.words}, at most {limits.points} points a pass.")
    if answers.unproven:
        say("This profile is unproven on hardware: hold the readings against something known.")
    if source.analyzer_corrected:
        say(
            "The analyzer corrects its readings itself; a calibration is laid over that, and holds "
            "only while the analyzer's own does not change."
        )
