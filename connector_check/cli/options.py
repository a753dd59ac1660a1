"""The options that choose a board and a scope, shared by every command that reads a job."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click
from click.shell_completion import CompletionItem

if TYPE_CHECKING:
    from connector_check.analysis.examine import Settings


def complete_map(_ctx: click.Context, _: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Pin map ids, and files for those who name one."""
    from connector_check.pinout.library import list_ids

    found = [CompletionItem(map_id) for map_id in list_ids() if map_id.startswith(incomplete)]
    return found or [CompletionItem(incomplete, type="file")]


def _chosen_map(ctx: click.Context) -> Any:
    from connector_check.errors import InputError
    from connector_check.pinout.library import find_pin_map

    # While an option still lacks its value, click leaves the words before it in ctx.args.
    named = ctx.params.get("map_name") or next(iter(ctx.args), "")
    try:
        return find_pin_map(named)
    except InputError:
        return None


def complete_layout(ctx: click.Context, _: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Layouts of the map named before on the line."""
    pin_map = _chosen_map(ctx)
    layouts = pin_map.layouts if pin_map else ()
    return [CompletionItem(one.id, help=one.title) for one in layouts if one.id.startswith(incomplete)]


def complete_variant(ctx: click.Context, _: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Variants of the map named before on the line."""
    pin_map = _chosen_map(ctx)
    variants = pin_map.variants if pin_map else ()
    return [CompletionItem(one.id, help=one.title) for one in variants if one.id.startswith(incomplete)]


def complete_pin(ctx: click.Context, _: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Contacts and joints of the map named before on the line."""
    pin_map = _chosen_map(ctx)
    if pin_map is None:
        return []
    names = dict.fromkeys([*pin_map.net_of, *(joint.name for one in pin_map.layouts for joint in one.joints)])
    return [CompletionItem(name, help=pin_map.names.get(name, "")) for name in names if name.startswith(incomplete)]


METER_HELP = (
    "The meter: must sound below, must be silent above, in ohms; or its file from meter-test. "
    "Default: the job's '# meter:' line, CONNECTOR_CHECK_METER, your own from meter-test, else 10:250."
)


def complete_like(_ctx: click.Context, _: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Names of kept sets of good boards, and files."""
    from connector_check.testlog.good_boards import names

    found = [CompletionItem(name) for name in names() if name.startswith(incomplete)]
    return [*found, CompletionItem(incomplete, type="file")]


JOB_OPTIONS = (
    click.option(
        "--map",
        "map_name",
        default="",
        metavar="ID|FILE",
        shell_complete=complete_map,
        help="Pin map; goes before the job's own '# map:' line.",
    ),
    click.option(
        "--layout",
        default="",
        metavar="L",
        shell_complete=complete_layout,
        help="Layout of the part; default: the job's, else the map's first.",
    ),
    click.option(
        "--variant",
        default="",
        metavar="V",
        shell_complete=complete_variant,
        help="Revision or wiring, where the map has several.",
    ),
    click.option(
        "--scope",
        type=click.Choice(["near", "wide", "all"]),
        default="near",
        show_default=True,
        help="Which pairs must be proven apart: neighbours in line of sight, neighbours at all, every pair.",
    ),
    click.option("--shorts-only", is_flag=True, help="Leave the contact of single signals out of the verdict."),
    click.option(
        "--meter",
        default="",
        metavar="FILE|10:250",
        help=METER_HELP,
    ),
    click.option(
        "--notes", default="", metavar="BOARD.yaml", help="What is special about this board, from board-notes."
    ),
    click.option(
        "--role",
        "roles",
        multiple=True,
        metavar="1=power 5",
        help="Role of contacts that the map does not know, say '1=power 5, 2..4=ground'; may be repeated.",
    ),
    click.option(
        "--like",
        multiple=True,
        metavar="NAME|GOOD.csv",
        shell_complete=complete_like,
        help="A board known to be good: a job, or a name kept by good-board; may be given again. What stands in both "
        "is by design, differences are findings.",
    ),
)


def job_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Adds them; the command gets map_name, layout, variant, scope, shorts_only, meter, notes, roles and like."""
    for option in reversed(JOB_OPTIONS):
        command = option(command)
    return command


def connector_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Those that choose a connector alone; the command gets map_name, layout and variant."""
    for option in reversed(JOB_OPTIONS[:3]):
        command = option(command)
    return command


def loading(given: dict[str, Any]) -> dict[str, Any]:
    """The part of the options that `job.load_job` takes."""
    return {key: given[key] for key in ("map_name", "layout", "variant", "meter", "notes", "like", "roles")}


def settings_of(given: dict[str, Any], order: str = "row") -> Settings:
    """The part of the options that `check` takes; order: of the rework list."""
    from connector_check.analysis.examine import Settings

    return Settings(given["scope"], given["shorts_only"], order)
