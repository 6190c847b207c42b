"""The program ``wickstats``: names of commands, exit codes, faults in words.

Exit codes: 0 done; 1 problems found; 2 misuse; 70 internal fault; 130 interrupted.
Commands are loaded only when called, so that ``--help`` stays quick. Leans on click.
"""

import os
import sys
from importlib import import_module

import click

PROBLEMS, MISUSE, FAULT, INTERRUPTED = 1, 2, 70, 130

COMMANDS = {
    "demo": "Write the invented demo trials and run the whole road on them.",
    "new": "Write a commented trial file and empty record tables.",
    "check": "Read the trial and its records; list every problem.",
    "power": "Blocks needed, power and smallest detectable difference.",
    "randomize": "Lay out the plots at random.",
    "papers": "Map, field sheets, labels and checklist for the crew.",
    "rehearse": "Simulate a season and its report, marked SIMULATED.",
    "supply": "Water that plants need, reservoirs and visits.",
    "analyze": "Check and analyze the season; write the report's folder.",
    "audit": "Recompute a report's folder and list findings.",
    "schema": "Print the schemas of the trial file and the record tables.",
}


class LazyGroup(click.Group):
    """A group that knows its commands' names and loads each on demand."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands in the order of a season's work."""
        del ctx
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one command."""
        del ctx
        if cmd_name not in COMMANDS:
            return None
        module = import_module(f"wickstats.cli.commands.{cmd_name}")
        command: click.Command = module.command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Suggest the nearest command for a mistyped one."""
        name = args[0]
        if name not in COMMANDS and not name.startswith("-"):
            from difflib import get_close_matches

            near = get_close_matches(name, COMMANDS, n=1)
            hint = f" Did you mean {near[0]}?" if near else ""
            raise click.UsageError(f"No command {name!r}.{hint}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write names and one line each, without loading them."""
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


def _show_version(ctx: click.Context, param: click.Parameter, value: bool) -> None:  # noqa: FBT001 - click's callback
    del param
    if value:
        from importlib.metadata import version

        click.echo(f"wickstats {version('wickstats')}")
        ctx.exit()


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["--help"]})
@click.option(
    "--version",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_show_version,
    help="Show the version and exit.",
)
def program() -> None:
    """Compare ways of watering plants, and say honestly what is known.

    A season's work runs in the order of the commands below.

    Example: wickstats analyze trial.yaml
    """


def _internal_fault(error: BaseException) -> None:
    import traceback
    from importlib.metadata import version

    from wickstats.core.words import say

    told = say(
        "cli fault",
        version=version("wickstats"),
        python=sys.version.split()[0],
        platform=sys.platform,
        command=" ".join(sys.argv[1:]),
        trace="".join(traceback.format_exception(error)),
    )
    click.echo(told, err=True)


def run(args: list[str] | None = None) -> int:
    """Run the program and return its exit code."""
    try:
        code = program.main(args=args, prog_name="wickstats", standalone_mode=False)
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.ClickException as error:
        error.show()
        return MISUSE
    except (click.Abort, KeyboardInterrupt):
        from wickstats.core.words import say

        click.echo(say("cli interrupted"), err=True)
        return INTERRUPTED
    except BrokenPipeError:
        # the reader went away (for example ``| head``): say nothing more
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return PROBLEMS
    except Exception as error:  # noqa: BLE001 - the last place where a fault can be put in words
        return _from_error(error)
    return code if isinstance(code, int) else 0


def _from_error(error: Exception) -> int:
    from wickstats.core.errors import ProblemsError, WickstatsError

    if isinstance(error, ProblemsError):
        from wickstats.cli.show import show_problems

        show_problems(error.problems)
        return PROBLEMS
    if isinstance(error, WickstatsError):
        click.echo(str(error), err=True)
        return PROBLEMS
    if isinstance(error, OSError) and error.strerror:  # the system refused
        from wickstats.cli.show import refused, show_problems

        show_problems([refused(error)])
        return PROBLEMS
    _internal_fault(error)
    return FAULT


def main() -> None:
    """Entry point of the console script."""
    raise SystemExit(run())
