"""The residual risk as text and for a machine, its assumptions with it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from connector_check.analysis.residual import Residual


def residual_lines(found: Residual) -> list[str]:
    """The risk that a bridge is still there, that a joint makes no contact, and what both assume."""
    inside = f"{found.in_scope:.2g} in scope, {found.pairs_in_scope} joint pairs"
    beyond = f"{found.beyond_scope:.2g} beyond it, {found.pairs_beyond} pairs"
    counted = f"{inside}, {found.unprobed_in_scope} of them not probed; {beyond}"
    risk = f"residual risk: {found.risk:.2g} that a solder bridge is still there ({counted})"
    untested = f"{found.joints} joints, {found.untested} of them not tested"
    contact = f"residual risk: {found.no_contact:.2g} that a joint makes no contact ({untested})"
    return [risk, contact, *found.assumptions.lines()]


def residual_json(found: Residual) -> dict[str, Any]:
    """The same for a machine: probabilities, what was weighed, and every assumption by its name."""
    return {
        "solder_bridge_left": found.risk,
        "in_scope": found.in_scope,
        "beyond_scope": found.beyond_scope,
        "pairs_in_scope": found.pairs_in_scope,
        "unprobed_in_scope": found.unprobed_in_scope,
        "pairs_beyond": found.pairs_beyond,
        "joint_without_contact": found.no_contact,
        "joints": found.joints,
        "joints_not_tested": found.untested,
        "assumptions": asdict(found.assumptions),
    }
