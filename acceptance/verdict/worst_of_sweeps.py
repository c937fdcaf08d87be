"""Several sweeps of something that moves: each is judged, and the worst one decides band by band.

Averaging them could make a pass of two fails; see `calibration.capture.averaging`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from acceptance.errors import VerdictError
from acceptance.limits.decision import most_severe
from acceptance.verdict.band_verdict import BandVerdict
from acceptance.verdict.false_pass import overall_of
from acceptance.verdict.plan_verdict import Verdict


def worst_of(verdicts: Sequence[Verdict]) -> Verdict:
    """The verdict of all the sweeps: in each band that of the sweep in which it was worst.

    verdicts : one a sweep, of one plan. Raises VerdictError where there is none.
    """
    if not verdicts:
        raise VerdictError("There is no sweep to judge. Take one.")
    if len(verdicts) == 1:
        return verdicts[0]
    bands = tuple(_worst(each) for each in zip(*(v.bands for v in verdicts), strict=True))
    risks = [each.false_pass_risk for each in verdicts if each.false_pass_risk is not None]
    risk = max(risks, default=None)
    note = f"The reading moved: each band is judged by the worst of {len(verdicts)} sweeps."
    return replace(
        verdicts[-1],
        overall=overall_of(bands, risk, verdicts[-1].false_pass_risk_wanted),
        bands=bands,
        false_pass_risk=risk,
        notes=(*verdicts[-1].notes, note),
    )


def _worst(bands: Sequence[BandVerdict]) -> BandVerdict:
    state = most_severe(band.state for band in bands)
    alike = [band for band in bands if band.state is state]
    return min(
        alike, key=lambda band: 0.0 if band.margin_or_bound_db is None else band.margin_or_bound_db
    )
