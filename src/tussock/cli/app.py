"""The commands, and how typer's own complaints become ours."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any

import typer

from tussock.cli import (
    audit_command,
    check_command,
    demo_command,
    hotspots_command,
    log_commands,
    permit_commands,
    plan_command,
    region_commands,
    return_command,
)
from tussock.cli.failures import INTERRUPTED, say

USAGE_EXIT = 2
app = typer.Typer(
    name="tussock",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
app.command("plan")(plan_command.plan)
app.command("check")(check_command.check)
app.command("audit")(audit_command.audit)
app.command("return")(return_command.file_return)
app.command("hotspots")(hotspots_command.hotspots)
app.command("demo")(demo_command.demo)
app.add_typer(region_commands.app, name="region")
app.add_typer(permit_commands.app, name="permit")
app.add_typer(log_commands.app, name="log")


def _version(asked: bool) -> None:
    if asked:
        from tussock import __version__

        typer.echo(f"tussock {__version__}")
        raise typer.Exit


@app.callback()
def tussock(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and end.")
    ] = False,
) -> None:
    """Release sites for licensed snake relocators: plan, with the reasons, on a map.

    Advice to a licensed person, not permission: check your own permit and local wildlife law.
    Exit codes: 0 done; 1 done and something needs attention (no site); 2 usage; 3 bad input; 4 data missing.
    """


def run(arguments: Sequence[str] | None) -> int:
    """Run a command; return its exit code."""
    given = None if arguments is None else list(arguments)
    try:
        code: Any = app(args=given, prog_name="tussock", standalone_mode=False)
    except typer.Abort:
        return INTERRUPTED
    except Exception as error:
        if not _of_typer(error):
            raise
        return _complained(error)
    return code if isinstance(code, int) else 0


def _of_typer(error: Exception) -> bool:
    """Return whether typer complains about the command line; newer versions carry classes of their own."""
    return isinstance(error, typer.BadParameter.__mro__[2])


def _complained(error: Any) -> int:
    """Print a usage error with the way to the help; return exit code 2."""
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "tussock"
    message = error.format_message()
    if not message.strip() or type(error).__name__ == "NoArgsIsHelpError":
        say(message or f"Do: see {path} --help.")
        return USAGE_EXIT
    message = message.rstrip(".")
    say(f"Error: {message}. Do: see {path} --help.")
    return USAGE_EXIT
