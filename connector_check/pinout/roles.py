"""Roles guessed from contact names by written rules: common practice in naming, no source.

A guess is never more than that: `new_map` marks it in the file until a person confirms it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from connector_check.pinout.pinmap import DATA, GROUND, POWER, RESERVED, SHELL, Net

OVERLINED = re.compile(r"~\{([^{}]*)\}")
"""A name with a line over it, as KiCad 6 and later write it."""
NUMBERED = r"(?:[_ ]?\d{1,2})?"
SUPPLY = r"(?:[AD]?V(?:CC|DD|IN|OUT|IO|BUS|BATT?|SYS)?(?:IO)?|USB|PWR|POWER|SUPPLY|RAIL)"
SUFFIX = r"(?:[_ ]?(?:SB|STBY|STANDBY|AUX|USB|MAIN|IN|OUT|ALW|SYS|SW|DC|CC|DD|VCC|VDD|IO|PWR|RAIL|A|D|S))?"
SIGN = r"(?P<sign>[+-]|[PN](?=\d))?"


@dataclass(frozen=True)
class Guess:
    """A role, the nominal volts when the name carries them (power only), and the rule that said so."""

    role: str
    volts: float | None
    rule: str


@dataclass(frozen=True)
class Rule:
    """A pattern for the whole name in capitals; the volts of its supplies, taken from the name when it has them."""

    pattern: re.Pattern[str]
    role: str
    says: str
    volts: float | None = None


def _rule(pattern: str, role: str, says: str, volts: float | None = None) -> Rule:
    return Rule(re.compile(pattern), role, says, volts)


UNCONNECTED = r"N\.?[/]?C\.?|NOT?[_ ]?CONN(?:ECT(?:ED|ION)?)?|DNC|DNU|RSVD?|RESERVED|RFU|UNUSED|SPARE"
MOUNTING = r"SH|SHLD|SHIELD|SHELL|MP|CHASSIS|HOUSING|PAD|MOUNT(?:ING)?[_ ]?(?:PIN|PAD|TAB)"
GROUNDED = r"(?:[A-Z0-9+]+[_ /.-])*[A-Z]?(?:GND|GROUND|VSS)(?:[A-Z]|IO)?"
GROUND_OF = r"(?:[_ ](?:[ADPS]|USB|SIG|DRAIN))?"
TOLD_OF = r"(?![_ ]?(?:EN|ENABLE|OK|GOOD|PG|SENSE|SNS|FB|DET|DETECT|CTRL|ON|OFF|MON|SEL|FAULT|REF|ADC|ADJ)(?![A-Z]))"
"""Not what tells of a supply: its enable, sense, fault and so on."""
VBUS_OF = r"(?:[_ ](?:IN|OUT|SYS|RAW|SW|USB|HOST|DEV|FUSED|[A-F]))?"
VOLTS = r"(?P<whole>\d{1,3})(?:V(?P<part>\d{0,2})|[.,P](?P<part2>\d{1,2})V)"
LEAST = r"[+]?\d{1,2}(?:[._,V]\d{1,2})?V?"
UNKNOWN_VOLTS = (
    r"[ADP]?V(?:CC|DD)(?:IO|AUX|[A-D])?|V(?:EE|PP|IN|OUT|BATT?|SYS|AUX|STBY|SB|AA|TREF|SUPPLY)|V[+-]|VS\+?"
    r"|BAT(?:T(?:ERY)?)?\+?|B\+|(?:PWR|POWER|SUPPLY)(?:[_ ]?(?:IN|OUT)|\+)?|[+-]VE?"
    r"|V[_ ](?:IN|OUT|BATT?|SYS|SUPPLY)|[AD]?V(?:CC|DD)[_ ]" + TOLD_OF + r"[A-Z0-9]+"
)

RULES = (
    _rule(rf"KEY|(?:{UNCONNECTED})(?:[_ ]?[A-Z]?\d{{1,3}})?", RESERVED, "named as not connected, reserved or key"),
    _rule(rf"(?:{MOUNTING}){NUMBERED}", SHELL, "named as a shield, shell or mounting pad"),
    _rule(r".+[_ ]SHIELD", GROUND, "named as the shield of a pair"),
    _rule(r"[+-]?0+(?:\.0+)?V0*", GROUND, "named 0 V"),
    _rule(GROUNDED + NUMBERED + GROUND_OF, GROUND, "named as a ground"),
    _rule(r"(?:[A-Z0-9+.-]+[_ ])?(?:RTN|RETURN)" + NUMBERED, GROUND, "named as a return"),
    _rule(r"B(?:AT(?:T(?:ERY)?)?)?-", GROUND, "named as a battery's negative pole"),
    _rule(r"(?:[A-Z]+[_ ])?EARTH", GROUND, "named as earth"),
    _rule(r"(?:(?:DC|ISO)[_ ])?COM(?:MON)?", GROUND, "named common, which is ground where supplies are"),
    _rule(rf"(?:USB[_ ]?)?VBUS{NUMBERED}{VBUS_OF}", POWER, "named VBUS, 5 V nominal on USB", 5.0),
    _rule(
        rf"(?:{SUPPLY}[_ ]?)?{LEAST}-(?P<whole>\d{{1,3}})(?:[.,](?P<part>\d{{1,2}}))?V{SUFFIX}",
        POWER,
        "named as a supply with its least and most volts; the most stand here",
    ),
    _rule(SIGN + r"(?P<whole>12)V[1-6]", POWER, "named as a numbered 12 V rail"),
    _rule(rf"(?:{SUPPLY}[_ ]?)?{SIGN}{VOLTS}{SUFFIX}{NUMBERED}", POWER, "named as a supply with its volts"),
    _rule(r"V[_ ]?(?P<whole>\d{1,2})[.P](?P<part>\d{1,2})", POWER, "named as a supply with its volts"),
    _rule(rf"(?:{UNKNOWN_VOLTS}){NUMBERED}", POWER, "named as a supply without its volts"),
)
"""The first that fits the whole name decides."""

SHOWN_FIRST = (POWER, GROUND, SHELL, DATA, RESERVED)
MOST_SHOWN = 8
OTHERWISE = Guess(DATA, None, "no rule fits the name")


def guess(name: str) -> Guess:
    """The role that the trade's naming suggests for a contact.

    name: as in a pinout table, a symbol or a net list; case does not matter, `~{X}` reads as X.

    >>> guess("AGND").role, guess("+3V3").volts, guess("N12V").volts, guess("VDD").volts, guess("EN_5V").role
    ('ground', 3.3, -12.0, None, 'data')
    """
    plain = OVERLINED.sub(r"\1", name).strip().upper()
    for rule in RULES:
        match = rule.pattern.fullmatch(plain)
        if match:
            return Guess(rule.role, rule.volts if rule.volts is not None else _volts(match.groupdict()), rule.says)
    return OTHERWISE


def guessed_line(nets: Iterable[Net]) -> str:
    """What a map still holds of guesses, for a person to confirm; empty when there are none.

    >>> guessed_line([Net("VIN", "power", ("1",), 5.0, guessed="a rule"), Net("TX", "data", ("2",))])
    'roles guessed: 1 (VIN power 5 V): confirm them in the map, each by deleting its mark'
    """
    found = sorted((net for net in nets if net.guessed), key=lambda net: SHOWN_FIRST.index(net.role))
    if not found:
        return ""
    words = [f"{net.name} {net.role}" + (f" {net.volts:g} V" if net.volts is not None else "") for net in found]
    more = [f"and {len(words) - MOST_SHOWN} more"] if len(words) > MOST_SHOWN else []
    listed = ", ".join([*words[:MOST_SHOWN], *more])
    return f"roles guessed: {len(found)} ({listed}): confirm them in the map, each by deleting its mark"


def _volts(parts: dict[str, str | None]) -> float | None:
    if parts.get("whole") is None:
        return None
    volts = float(f"{parts['whole']}.{parts.get('part') or parts.get('part2') or '0'}")
    return -volts if parts.get("sign") in ("-", "N") else volts
