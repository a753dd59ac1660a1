"""The residual risk as text, its assumptions with it."""

from __future__ import annotations

from connector_check.analysis.residual import Residual


def residual_lines(found: Residual) -> list[str]:
    """The risk that a bridge is still there, with what it assumes."""
    inside = f"{found.in_scope:.2g} in scope, {found.pairs_in_scope} joint pairs"
    beyond = f"{found.beyond_scope:.2g} beyond it, {found.pairs_beyond} pairs"
    counted = f"{inside}, {found.unprobed_in_scope} of them not probed; {beyond}"
    risk = f"residual risk: {found.risk:.2g} that a solder bridge is still there ({counted})"
    return [risk, *found.assumptions.lines()]
