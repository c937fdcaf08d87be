"""A text shell: commands echoed, answered in lines, closed by a prompt."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from acquire.dialect import Ask, Steps
from acquire.dialect.command_templates import Command, SweepCommand, Table, Text, Timing, filled
from acquire.dialect.reply_checks import checked_reading, numbers, pairs, quoted
from acquire.errors import NoReplyError, ReplyError
from acquire.sweep import Reading, SweepRequest

LINE_ENDS = {"CR": b"\r", "LF": b"\n", "CR LF": b"\r\n"}
QUIET_S = 0.3
"""Silence after which an analyzer is taken to wait for a command."""
STALE_REPLIES = 3
"""How many replies to earlier commands may still come before the one asked for."""


class PromptedWords(Table):
    """What to say to such an analyzer."""

    line_end: Literal["CR", "LF", "CR LF"] = "CR"
    prompt: Annotated[Text, Field(min_length=1)]
    echo: bool = True
    identify: Annotated[Command, Field(min_length=1)]
    set_sweep: SweepCommand = ""
    frequencies: Command = ""
    reflection: Command = ""
    discard: Annotated[int, Field(ge=0, le=10)] = 1
    """How many readings after a setting may still be of the sweep before."""
    all_at_once: SweepCommand = ""
    """In place of the three above: sweeps and answers frequencies and pairs."""

    @model_validator(mode="after")
    def _one_way_to_sweep(self) -> Self:
        apart = ("set_sweep", "frequencies", "reflection")
        given = [name for name in apart if getattr(self, name)]
        if self.all_at_once and given:
            raise ValueError(f"give all_at_once or {given[0]}, not both")
        if not self.all_at_once and len(given) < len(apart):
            missing = next(name for name in apart if name not in given)
            raise ValueError(f"lacks {missing}; write it, or all_at_once in place of all three")
        return self


class PromptedDialect:
    """Speaks with a text shell."""

    any_order = False

    def __init__(self, words: PromptedWords, timing: Timing) -> None:
        self._words = words
        self._timing = timing
        self._line_end = LINE_ENDS[words.line_end]
        prompt = words.prompt.encode("ascii")
        # After an echo the prompt stands at the beginning of a line, and only there is it one.
        self._end = b"\n" + prompt if words.echo else prompt

    def resynchronise(self) -> Steps[None]:
        """End a command that was half sent, hear out what still comes, and wait for the prompt."""
        reply_s = self._timing.reply_s
        yield Ask(self._line_end, quiet_s=QUIET_S, deadline_s=reply_s, fresh=True)
        prompt = self._words.prompt.encode("ascii")
        yield Ask(self._line_end, until=prompt, deadline_s=reply_s)
        yield Ask(quiet_s=QUIET_S, deadline_s=reply_s)

    def identify(self) -> Steps[str]:
        """Return what the analyzer says it is, its lines joined."""
        command = self._words.identify
        lines = yield from self._lines(command, fresh=True)
        if not lines or (len(lines) == 1 and lines[0].endswith("?")):
            reply = quoted(lines[0]) if lines else "nothing"
            raise ReplyError(
                f'The analyzer answered {reply} to "{command}". Correct words.identify in the '
                f"profile, "
                "or choose another profile."
            )
        return "; ".join(lines)

    def sweep(self, request: SweepRequest) -> Steps[Reading]:
        """Take one pass; see `Dialect.sweep`."""
        if self._words.all_at_once:
            return (yield from self._sweep_all_at_once(request))
        return (yield from self._sweep_apart(request))

    def _sweep_all_at_once(self, request: SweepRequest) -> Steps[Reading]:
        command = filled(self._words.all_at_once, request)
        lines = yield from self._lines(command, request.points, fresh=True)
        parsed = pairs(lines, request.points, command, placed=True)
        # An empty line is answered by nothing: else what was read is an earlier sweep's reply, and
        # this is the one that was asked for.
        if (yield from self._lines("")):
            raise _out_of_step()
        frequency_hz, reflection, alike = parsed
        return checked_reading(request, frequency_hz, reflection, alike=alike)

    def _sweep_apart(self, request: SweepRequest) -> Steps[Reading]:
        words, timing = self._words, self._timing
        command = filled(words.set_sweep, request)
        answer = yield from self._lines(command, fresh=True)
        if answer:
            raise ReplyError(
                f'The analyzer answered {quoted(answer[0])} to "{command}", which should get '
                "no answer. Correct words.set_sweep, or the limits, in the profile."
            )
        sweep_s = timing.sweep_s(request.points)
        for _ in range(words.discard):
            yield Ask(quiet_s=sweep_s, deadline_s=sweep_s + timing.reply_s)
            yield from self._lines(words.reflection, request.points)
        lines = yield from self._lines(words.reflection, request.points)
        _, reflection, alike = pairs(lines, request.points, words.reflection)
        # Asked last: an analyzer that reset itself on the way sweeps something else by now.
        lines = yield from self._lines(words.frequencies)
        frequency_hz = numbers(lines, 1, request.points, words.frequencies)[:, 0]
        return checked_reading(request, frequency_hz, reflection, alike=alike)

    def _lines(self, command: str, points: int = 0, *, fresh: bool = False) -> Steps[list[str]]:
        """Send a command and return the lines between its echo and the prompt.

        points : of the sweep that the analyzer may have to make first.
        An analyzer obeys in order, so replies without the echo belong to earlier commands and are
        passed over, once: within a sweep there is nothing earlier, unless a reply came twice.
        """
        ask = Ask(
            command.encode("ascii") + self._line_end,
            until=self._end,
            deadline_s=self._timing.deadline_s(points),
            busy_s=self._timing.busy_s(points),
            fresh=fresh,
        )
        for _ in range(1 + STALE_REPLIES):
            try:
                reply = yield ask
            except NoReplyError as fault:
                if self._words.echo and fault.received.endswith(self._end.lstrip()):
                    raise self._not_repeated(command) from fault
                raise
            text = reply[: -len(self._end)].decode("utf-8", "replace")
            if not self._words.echo or not command:
                return _filled_lines(text)
            # A shell that does not know the command says it once more, with a question mark.
            echoes = list(re.finditer(re.escape(command) + r"(?=[\r\n]|$)", text))
            if not fresh and len(echoes) != 1:
                raise _out_of_step()
            if echoes:
                return _filled_lines(text[echoes[-1].end() :])
            ask = replace(ask, write=b"", fresh=False)
        raise self._not_repeated(command)

    def _not_repeated(self, command: str) -> ReplyError:
        return ReplyError(
            f'The analyzer did not repeat "{command}" before its answer. If it never repeats what '
            f"it "
            "is sent, write echo = false under [words] in the profile."
        )


def _out_of_step() -> ReplyError:
    return ReplyError(
        "The analyzer's replies are out of step: one came twice, or was cut in two. Sweep again; "
        "if it "
        "stays so, check the cable and the profile's prompt."
    )


def _filled_lines(text: str) -> list[str]:
    return [stripped for line in text.splitlines() if (stripped := line.strip())]
