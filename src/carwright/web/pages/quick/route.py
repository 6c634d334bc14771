"""What to look at, in order; what is cheap to cure, what ends the deal, and what to offer."""

from __future__ import annotations

from collections.abc import Mapping

from fastapi import APIRouter
from starlette.responses import HTMLResponse

from carwright.verdict.quick_check import deal_of, usual_check
from carwright.web.asked import Asking
from carwright.web.fields import Typed
from carwright.web.pages import Bar

router = APIRouter(include_in_schema=False)
BAR = Bar("Quick check", 20, "/quick", of_car=False)
_MONEY = ("worth", "asked", "hour")


@router.get("/quick")
def quick(asking: Asking) -> HTMLResponse:
    """The page; what was ticked stands in its address, so that it can be gone back to and is kept nowhere."""
    usual = usual_check()
    offered = {check.id: {answer.id for answer in check.answers} for check in usual.checks}
    sent = dict(asking.request.query_params)
    found = {name: value for name, value in sent.items() if value in offered.get(name, ())}
    money, faults = _money(sent)
    deal = deal_of(
        usual,
        found,
        asking.desk.words.remedies,
        worth=money.get("worth"),
        asked=money.get("asked"),
        hour=money.get("hour") or 0.0,
    )
    return asking.page(
        "quick/quick.html", 422 if faults else 200, quick=usual, found=found, deal=deal, typed=Typed(sent, faults)
    )


def _money(sent: Mapping[str, str]) -> tuple[dict[str, float], dict[str, list[str]]]:
    """Sums that were typed, and what is wrong with the others."""
    money, faults = {}, {}
    for name in _MONEY:
        text = sent.get(name, "").strip().replace(",", ".")
        if not text:
            continue
        try:
            value = float(text)
        except ValueError:
            value = -1.0
        if 0 <= value < 1e7:  # noqa: PLR2004 - no model costs more
            money[name] = value
        else:
            faults[name] = [f"cannot read {text[:20]!r}: expected a sum such as 24.50"]
    return money, faults
