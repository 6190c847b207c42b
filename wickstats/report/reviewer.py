"""The reviewer's part: methods, strata, layout, deviations, queries, inputs, software.

Leans on pages, report and core.
"""

from wickstats.core.numbers import number
from wickstats.core.results import Results
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Items, Note, Pairs, Section, Table, Text
from wickstats.report.effects import strata_table
from wickstats.report.facts import Scene, capped, heads, or_dash
from wickstats.report.methods import methods_used


def reviewer_part(scene: Scene) -> Section:
    """Return the part for the reviewer."""
    results = scene.results
    overlap = results.layout.type in ("incomplete block", "row-column")
    note = say("strata note overlap") if overlap else None
    strata = [strata_table(r, r.strata, note) for r in results.responses]
    sections = [
        Section(say("methods title"), (Items(methods_used(results)),)),
        Section(say("layout title"), (Pairs(_facts(results)),)),
        Section(say("structure title"), (_structure(results),)),
        Section(say("strata title"), tuple(table for table in strata if table is not None)),
        Section(say("deviations title"), (_deviations(results),)),
        Section(say("queries title"), (_queries(results),)),
        Section(say("exclusions title"), (_exclusions(results),)),
        Section(say("inputs title"), (*_place_in_inputs(results), _inputs(results))),
        Section(say("second title"), (_second(results),)),
        Section(
            say("software title"), (Text(say("software words", version=results.wickstats)),)
        ),
    ]
    return Section(say("reviewer title"), (), tuple(s for s in sections if s.blocks))


def _facts(results: Results) -> tuple[tuple[str, str], ...]:
    trial, layout = results.trial, results.layout
    families = "; ".join(
        say("family words", name=c.name or c.factor, compare=c.compare, adjustment=c.adjustment)
        for c in trial.comparisons
    )
    matters = "; ".join(
        f"{name}: " + ", ".join(f"{kind} {number(size)}" for kind, size in sizes.items())
        for name, sizes in trial.matters.items()
    )
    site = "; ".join(f"{key}: {value}" for key, value in trial.site.items())
    people = "; ".join(f"{key}: {value}" for key, value in trial.people.items())
    units = "; ".join(say("unit count", term=t, n=n) for t, n in layout.units.items())
    pairs = (
        ("fact type", layout.type),
        ("fact drawn", layout.drawn),
        ("fact seed", None if layout.seed is None else str(layout.seed)),
        ("fact scheme", layout.scheme),
        ("fact hash", layout.hash),
        ("fact units", units),
        ("fact keeps", layout.keeps),
        ("fact plan", say("plan written" if trial.planned else "plan missing")),
        ("fact primary", trial.primary),
        ("fact secondary", ", ".join(trial.secondary)),
        ("fact families", families),
        ("fact matters", matters),
        ("fact browsing", trial.browsing),
        ("fact site", site),
        ("fact people", people),
    )
    return tuple((say(key), text) for key, text in pairs if text)


def _structure(results: Results) -> Table:
    return Table(
        say("structure caption"),
        heads("stratum", "term", "df", numeric=(2,)),
        tuple((row.stratum, row.term, str(row.df)) for row in results.degrees_of_freedom),
    )


def _deviations(results: Results) -> Block:
    if not results.deviations:
        return Text(say("deviations none"))
    return Table(
        say("deviations caption"),
        heads("what", "plan", "done", "claimed"),
        tuple((d.what, d.planned, d.done, or_dash(d.claimed_on)) for d in results.deviations),
    )


def _queries(results: Results) -> Block:
    if not results.queries:
        return Text(say("queries none"))
    table = Table(
        say("queries caption"),
        heads("place", "code", "found", "expected", "fix"),
        tuple((q.place, q.code, q.found, q.expected, q.fix) for q in results.queries),
    )
    return capped(table, "queries.csv")


def _exclusions(results: Results) -> Block:
    if not results.exclusions:
        return Text(say("exclusions none"))
    table = Table(
        say("exclusions caption"),
        heads("file", "row", "reason", numeric=(1,)),
        tuple((e.file, str(e.row), e.reason) for e in results.exclusions),
    )
    return capped(table, "exclusions.csv")


def _place_in_inputs(results: Results) -> tuple[Block, ...]:
    """A site that is not shared exactly still stands in the trial file under inputs/."""
    share = results.trial.site.get("share", "exact")
    told = share == "withheld" or "latitude" in results.trial.site
    if share == "exact" or not told:
        return ()
    return (Note(say("site in inputs", share=share), "caution"),)


def _inputs(results: Results) -> Table:
    return Table(
        say("inputs caption"),
        heads("file", "rows", "digest", numeric=(1,)),
        tuple((f.path, str(f.rows), f.sha256) for f in results.inputs),
    )


def _second(results: Results) -> Block:
    if not results.second_engine:
        return Text(say("second none"))
    rows: list[tuple[str, ...]] = []
    for row in results.second_engine:
        if row.agrees is None:
            outcome = say("not checked", why=row.not_checked or "")
        else:
            outcome = say("agrees" if row.agrees else "differs")
        rows.append((row.what, number(row.ours, 8), number(row.theirs, 8), outcome))
    table = Table(
        say("second caption"),
        heads("what", "ours", "theirs", "outcome", numeric=(1, 2)),
        tuple(rows),
    )
    return capped(table, "second-engine.csv")
