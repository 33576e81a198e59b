"""The JSON form of proposals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from taskdb.core.plain import fields_plain, metres, or_none
from taskdb.core.proposing.criteria import BY_NAME
from taskdb.services.tasks.plain import fitted_plain

if TYPE_CHECKING:
    from taskdb.services.tasks.fitting import Fitted
    from taskdb.services.tasks.proposal_values import Proposal, Proposed


def proposed_plain(found: Proposed) -> dict[str, Any]:
    """Return what was found; a figure that is not known of a course is null."""
    return {
        "set": found.set_at,
        "from": found.home.code,
        "shape": found.shape.value,
        "start": found.start.value,
        "distance_m": [metres(found.least_m), metres(found.most_m)],
        "earth": found.earth.value,
        "turn_points": found.candidates,
        "total": found.total,
        "shown": len(found.proposals),
        "proposals": [_proposal_plain(proposal) for proposal in found.proposals],
        "apart_m": metres(found.apart_m),
        "criteria": [
            {
                "criterion": name,
                "weight": weight,
                "unit": BY_NAME[name].unit,
                "figure": BY_NAME[name].words,
                "scale": BY_NAME[name].scale,
                "why": BY_NAME[name].good,
                "usual_value": found.usual.get(name),
            }
            for name, weight in found.weights.items()
        ],
        "left_out": [{"criterion": name, "reason": reason} for name, reason in found.left_out.items()],
        "notes": list(found.notes),
        "saved": list(found.saved),
        "areas": None if found.areas is None else fields_plain(found.areas),
        "page": None if found.page is None else fields_plain(found.page),
    }


def _proposal_plain(proposal: Proposal) -> dict[str, Any]:
    return {
        "codes": list(proposal.codes),
        "distance_m": metres(proposal.distance_m),
        "perimeter_m": or_none(metres, proposal.perimeter_m),
        "margin_percent": proposal.margin_percent,
        "score": proposal.score,
        "figures": dict(proposal.figures),
        "values": dict(proposal.values),
        "like": list(proposal.like),
        "areas": None if proposal.areas is None else _areas_plain(proposal.areas),
    }


def _areas_plain(areas: Fitted) -> dict[str, Any]:
    """Return of a proposal's areas what `task fit` says of a task's."""
    found = fitted_plain(areas)
    said = ("time_s", "radius_m", "cap_m", "slowest", "fastest", "time_window_s")
    return {key: found[key] for key in said}
