"""``wickstats audit``: recompute a report's folder without touching it."""

from pathlib import Path

import click

from wickstats.cli.show import clean, echo_json


@click.command("audit")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path, file_okay=False))
@click.option(
    "--against",
    metavar="OTHER",
    type=click.Path(path_type=Path, file_okay=False),
    help="A second report's folder that should say the same.",
)
@click.option(
    "--out",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Where to write the audit's page; DIR-audit.html beside DIR when left out.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the findings for programs.")
def command(folder: Path, *, against: Path | None, out: Path | None, as_json: bool) -> int:
    """Recompute a report's folder, opened read-only; exit 1 when a finding is serious.

    Example: wickstats audit report-quarry-oaks
    """
    from wickstats.api import audit
    from wickstats.core.codec import to_plain, write_whole
    from wickstats.core.words import say
    from wickstats.recheck.page import audit_page

    outcome = audit(folder, against=against)
    place = folder.resolve()
    page = out if out is not None else place.with_name(f"{place.name}-audit.html")
    write_whole(page, audit_page(outcome))
    if as_json:
        echo_json(to_plain(outcome))
    else:
        if outcome.simulated:
            click.echo(say("simulated audit"))
        for finding in outcome.findings:
            click.echo(clean(f"{finding.weight}: {finding.place}: {finding.sentence}"))
        click.echo(
            say(
                "cli audit outcome",
                recomputed=say("count recomputed", n=outcome.recomputed),
                serious=say("count serious", n=outcome.serious),
                questions=say("count questions", n=outcome.questions),
            )
        )
        click.echo(page.resolve().as_uri())
    return 1 if outcome.serious else 0
