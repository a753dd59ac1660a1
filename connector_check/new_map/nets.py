"""The nets of a new map: names that can be names, roles and volts told or guessed. Pure."""

from __future__ import annotations

from connector_check.errors import Problem
from connector_check.files.text import printable
from connector_check.new_map.records import SHELL_NET, Names, NewNet, Pin, is_shell
from connector_check.new_map.roles_and_volts import unknown_volts
from connector_check.pinout.names import NAME, SHELL_JOINT
from connector_check.pinout.pinmap import POWER, SHELL, SHELL_CONTACT
from connector_check.pinout.ranges import expand
from connector_check.pinout.roles import guess


def check_names(names: Names, problems: list[Problem]) -> None:
    """Every contact and every net has a name that a pin map can hold, and each net one role; problems: added to."""
    first: dict[str, Pin] = {}
    for pin in names.pins:
        if not NAME.match(pin.name):
            what = f"'{printable(pin.name)[:40]}' cannot be a net's name"
            remedy = "at most 32 characters; a table given with --table can name it anew"
            problems.append(Problem(names.file, pin.line, what, remedy))
        if not is_shell(pin):
            problems += _number_problem(pin, names.file)
        other = first.setdefault(pin.name, pin)
        if other.role != pin.role:
            roles = f"'{other.role or 'none'}' at pin {other.number} and '{pin.role or 'none'}' at pin {pin.number}"
            what = f"'{pin.name}' has role {roles}"
            problems.append(Problem(names.file, pin.line, what, "one name is one net: give one role"))


def _number_problem(pin: Pin, file: str) -> list[Problem]:
    if not NAME.match(pin.number) or expand(pin.number) != [pin.number]:
        what = f"'{printable(pin.number)[:40]}' cannot be a contact"
        return [Problem(file, pin.line, what, "a number or a short name without spaces, commas, quotes or @")]
    if pin.number == SHELL_CONTACT or SHELL_JOINT.match(pin.number):
        remedy = "SH, SH1 ... are the shell's joints: rename it, or give it role shell"
        return [Problem(file, pin.line, f"contact '{pin.number}' is not the shell", remedy)]
    return []


def make_nets(names: Names, volts: dict[str, float], problems: list[Problem]) -> list[NewNet]:
    """A net for each name, the shell last. volts: nominal volts by name; problems: supplies of unknown volts, added."""
    asked = unknown_volts(names, volts)
    if asked:
        options = " ".join(f"--volts {name}=V" for name in asked[:3])
        remedy = f"give each its nominal volts, {options}; if it is no supply: --role {asked[0]}=data"
        problems.append(Problem(names.file, 0, f"the volts of {', '.join(asked)} are not known", remedy))
    members: dict[str, list[Pin]] = {}
    shells = [pin for pin in names.pins if is_shell(pin)]
    for pin in names.pins:
        if not is_shell(pin):
            members.setdefault(pin.name, []).append(pin)
    if shells and SHELL_NET in members:
        problems.append(Problem(names.file, 0, "a contact that is not the shell is named SHELL", "rename it"))
    nets = [_net(name, pins, volts) for name, pins in members.items()]
    if shells:
        nets.append(NewNet(SHELL_NET, SHELL, None, (SHELL_CONTACT,), _role_rule(shells[0])))
    return nets


def _net(name: str, pins: list[Pin], volts: dict[str, float]) -> NewNet:
    guessed = guess(name)
    role, rule = pins[0].role or guessed.role, _role_rule(pins[0])
    nominal = volts.get(name, guessed.volts) if role == POWER else None
    if name in volts:
        rule = ""
    elif role == POWER and not rule:
        rule = "the volts, from the name"
    return NewNet(name, role, nominal, tuple(pin.number for pin in pins), rule)


def _role_rule(pin: Pin) -> str:
    """What guessed the role of a pin, empty when a person told it."""
    return "" if pin.role and not pin.rule else pin.rule or guess(pin.name).rule
