"""How the present antenna's acceptance stands, as the page receives it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from dashboard.acceptance_run.running_acceptance import AcceptanceState, ConditionState
from dashboard.bench.snapshot import Obstacle, Snapshot


def accept_header(now: Snapshot) -> dict[str, Any]:
    run = now.acceptance
    several = len(run.conditions) > 1
    left = [each for each in run.conditions if not each.words]
    against = now.obstacle
    put_back = run.check_wanted != "" and now.bench is None  # a virtual hand does it by itself
    if run.check_wanted:
        against = None  # what is on is no antenna, and is judged as none
    if put_back:
        button = "It is connected. Sweep it and write the record"
    elif several and not left:
        against = None  # all is swept and kept: signing off needs no sweep
        button = "Sign off and write the record"
    elif several:
        button = f"Sweep it: {left[0].label}"
    else:
        button = "Write the record"
        if now.verdict is not None:
            button += f": {now.verdict.words}"
    if run.batch_due:
        against = against or Obstacle(
            f"{run.batch_due} Connect one, then check the batch.", "batch"
        )
    if len(left) <= 1:
        against = against or now.touch_wanted
    return {
        "ready": against is None,
        "why": "" if against is None else against.words,
        "mended_at": "" if against is None else against.mended_at,
        "button": button,
        "headline": _headline(run, left, against, put_back=put_back)
        if several and now.verdict
        else None,
        "antenna": run.antenna,
        "condition": left[0].name if several and left else None,
        "batch": run.batch_words,
        "put_back": put_back,
        "instruction": left[0].instruction if several and left else run.check_wanted,
        "conditions": [
            {
                "name": each.name,
                "label": each.label,
                "judged": each.judged,
                "words": each.words,
            }
            for each in run.conditions
        ]
        if several
        else [],
        "others": list(run.others),
        "changes": None if run.changes is None else asdict(run.changes),
    }


def _headline(
    run: AcceptanceState,
    left: list[ConditionState],
    against: Obstacle | None,
    *,
    put_back: bool,
) -> dict[str, str]:
    """What the hands should do now to get through the plan's conditions, and how far one has come.

    Without a verdict the usual sentence says what is missing.
    """
    done = [each for each in run.conditions if each.words]
    so_far = "; ".join(f"{each.label}: {each.words}" for each in done)
    if against is not None:
        text, tone = against.words, "unsure"
    elif left:
        text, tone = f"{left[0].instruction} Then press Next.", "ask"
        counted = f"Condition {len(done) + 1} of {len(run.conditions)}, {left[0].label}."
        so_far = f"{counted} Swept so far: {so_far}." if so_far else counted
    elif put_back:
        text = "Reconnect the short or the open and take your hands off. Then press Next."
        tone, so_far = "ask", "It shows that nothing moved while the antenna was swept."
    else:
        text, tone = "Every condition is swept. Press Next to sign off and write the record.", "ask"
    return {"text": text, "aside": so_far, "tone": tone, "mark": "withheld"}
